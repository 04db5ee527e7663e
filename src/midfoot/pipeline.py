"""The main job: composes the stages, in looks over the clip, and never knows a shell.

1. first look (one decode): discs and the camera's own movement, everybody in view, cuts and light;
2. a few dozen chosen frames: what the near plate looks like, averaged in its own frame;
3. second look: the bar in every frame; the lifter's body, which does not wait for 2 (a decode of its own);
4. only where no plate tells the bar and two hands hold it: its shaft at the hands (another decode).

Then, without pictures: camera, path, reps, measures. Memory grows by a row of numbers per frame only.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import cv2
import numpy as np
from attrs import evolve, frozen

from midfoot import __version__, bar, body, findings, footage, measures, pieces, reps, rules
from midfoot.records.bar import BarPath, BarTrack, Scale, Sightings, View
from midfoot.records.base import NotMeasured, Value, Warned
from midfoot.records.body import BodyTrack, People
from midfoot.records.clip import Asked, ClipInfo, DepthMarks, JointMark, KnownLength, Reading, Tap
from midfoot.records.context import Context
from midfoot.records.measures import Measured, Measurement, SetData, Step
from midfoot.records.reps import Phase
from midfoot.reps import GivenReps
from midfoot.set_up_change import with_geometry
from midfoot.warned import clip_warnings, said_warnings, set_warnings

DEFAULT_RULES = "ipf-2026"
"""The rule set that a set is held against when nobody named one."""
NO_RULES = "none"
CARRIED_OFFSET_SD_MM = 12.0
"""Of a depth offset carried over from an earlier clip when its sd was not told (common practice, no source)."""

SOON_MEGAPIXELS = 2000.0
"""Of all frames together: some 4 s of decoding, as long as the plate is learnt."""

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of it that is done, 0..1."""


@frozen
class Request:
    """One clip to be measured and how.

    `models` is the folder of the pose network's files, None for the user's data folder; `network` is `full`,
    `heavy` or None for the default. `context` is what else was said; `rules` names a rule set, `none` for no
    checks, and None takes the competition's or the default. `limits` are thresholds of findings, None for the
    package's own. `length` and `joints` are what a person told of the scale and marked of the body.
    """

    clip: Path
    asked: Asked
    reading: Reading = Reading()
    bar_at: Tap | None = None
    lifter_at: Tap | None = None
    given: GivenReps | None = None
    models: Path | None = None
    network: str | None = None
    context: Context = Context()
    rules: str | None = None
    depth_marks: DepthMarks | None = None
    limits: findings.Limits | None = None
    length: KnownLength | None = None
    joints: tuple[JointMark, ...] = ()


def measure_clip(
    request: Request, *, progress: Progress | None = None, stop: threading.Event | None = None
) -> Measurement:
    """Measure a set from one clip.

    Parameters
    ----------
    request : what to measure.
    progress : called often with the current step's name and share.
    stop : when set, the work ends soon with `footage.Stopped`.

    Returns
    -------
    Measurement
        Also when no bar or nobody was found: then the measures say "not seen" and why.

    Raises
    ------
    footage.FootageError
        When the clip cannot be read.
    body.ModelsError
        When the pose network's files are missing and cannot be fetched.
    """
    tell = progress or (lambda _step, _share: None)
    _heed(stop)
    info = footage.probe(request.clip, request.reading)
    files = body.ensure_models(
        request.models, heavy=request.network == "heavy", say=lambda words: tell(words, 0.0)
    )
    _heed(stop)
    with _one_thread_a_call():
        return _measured(request, info, files, tell, stop)


def _measured(
    request: Request, info: ClipInfo, files: body.ModelFiles, tell: Progress, stop: threading.Event | None
) -> Measurement:
    look = _First(request, info, files, tell, stop)
    info = evolve(
        info,
        cuts_s=look.watched.cuts_s,
        median_luma=look.watched.median_luma,
        time_base_doubtful=info.time_base_doubtful or look.watched.repeat_doubt,
    )
    _heed(stop)
    parts = pieces.readings(info, request.reading) if info.cuts_s else ()
    if parts:
        return _measure_pieces(request, info, files, look, parts, tell, stop)
    data, warnings = _set_of(_second_look(request, info, files, look, tell, stop), request.given)
    warnings = (*clip_warnings(info, look.watched), *warnings)
    return _whole(request, data, measures.measure(data), warnings)


@contextmanager
def _one_thread_a_call() -> Iterator[None]:
    """Keep OpenCV to the thread that calls it: consumers share out the cores, and waiting for helpers costs."""
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        yield
    finally:
        cv2.setNumThreads(before)


def _measure_pieces(
    request: Request,
    info: ClipInfo,
    files: body.ModelFiles,
    look: _First,
    parts: tuple[Reading, ...],
    tell: Progress,
    stop: threading.Event | None,
) -> Measurement:
    """Measure every piece of a cut clip by itself, with both looks of its own, and join them."""
    spans: list[tuple[float, float]] = []
    followed: list[_Followed] = []
    for number, part in enumerate(parts, start=1):

        def told(step: str, share: float, number: int = number) -> None:
            tell(f"piece {number} of {len(parts)}: {step}", share)

        span = _span(part, info)
        own = evolve(request, reading=part, bar_at=_within(request.bar_at, span),
                     lifter_at=_within(request.lifter_at, span))  # fmt: skip
        if own.depth_marks is not None and _within(own.depth_marks.crease, span) is None:
            own = evolve(own, depth_marks=None)
        if own.length is not None and _within(own.length.a, span) is None:
            own = evolve(own, length=None)
        own = evolve(own, joints=tuple(m for m in own.joints if _within(m.at, span) is not None))
        piece = evolve(footage.probe(request.clip, part), median_luma=info.median_luma)
        first = _First(own, piece, files, told, stop)
        _heed(stop)
        followed.append(_second_look(own, piece, files, first, told, stop))
        spans.append(span)
    found = [_set_of(one, None) for one in followed]
    if request.given is not None:
        shares = pieces.shared_out(request.given, [len(data.reps.reps) for data, _ in found], spans)
        found = [_set_of(one, share) for one, share in zip(followed, shares, strict=True)]
    whole = _span(request.reading, info)
    data, measured, noticed = pieces.joined(
        request.asked, info, [pieces.Piece(*s, *f) for s, f in zip(spans, found, strict=True)], whole
    )
    warnings = (*clip_warnings(info, look.watched, pieces=len(parts)), *noticed)
    return _whole(request, data, measured, warnings)


def _whole(request: Request, data: SetData, measured: Measured, warnings: tuple[Warned, ...]) -> Measurement:
    """Hold the measured set against the rules and against what was said of it."""
    name = rules_asked(request)
    checks = () if name == NO_RULES else rules.check(data.asked.lift, data.reps.reps, measured, rules.load(name))
    said = said_warnings(request.context, data, "" if checks or not data.reps.reps or name == NO_RULES else name)
    warned = _once_each((*warnings, *said))
    found = findings.find(data, measured, request.context, warned, request.limits)
    return with_geometry(
        Measurement(data, measured, warned, _steps(request), __version__, checks, request.context, found)
    )


def rules_asked(request: Request) -> str:
    """Give the name of the rule set to hold the set against, `none` for no checks."""
    competition = request.context.competition
    return request.rules or (competition.rules if competition is not None else None) or DEFAULT_RULES


def _span(reading: Reading, info: ClipInfo) -> tuple[float, float]:
    """From and to on the clip's clock."""
    start = reading.from_s or 0.0
    return start, start + info.duration_s if reading.to_s is None else reading.to_s


def _within(tap: Tap | None, span: tuple[float, float]) -> Tap | None:
    return tap if tap is not None and span[0] <= tap.at_s <= span[1] else None


class _First:
    """The first look over the clip and what came of it."""

    def __init__(
        self,
        request: Request,
        info: ClipInfo,
        files: body.ModelFiles,
        tell: Progress,
        stop: threading.Event | None,
    ) -> None:
        scout, tilt, watch = bar.Scout(info), bar.TiltScout(info), footage.Watch()
        people = body.PeopleScout(files, info, lift=request.asked.lift)
        footage.sweep(
            footage.frames(request.clip, request.reading),
            [scout, people, tilt, watch],
            progress=_share(tell, "looking for the bar and the lifter", info, request.reading),
            stop=stop,
        )
        self.sightings = scout.result()
        self.tilt = tilt.result(self.sightings)
        self.people: People = people.result()
        self.watched = watch.result()
        self.hypotheses = bar.link(
            self.sightings, self.people, lift=request.asked.lift, info=info, tap=request.bar_at
        )


def _second_look(
    request: Request,
    info: ClipInfo,
    files: body.ModelFiles,
    look: _First,
    tell: Progress,
    stop: threading.Event | None,
) -> _Followed:
    coarse = look.hypotheses[0] if look.hypotheses else None
    choice = body.choose_lifter(look.people, coarse, lift=request.asked.lift, info=info, tap=request.lifter_at)
    follower = None
    if coarse is not None and coarse.status != "not_found":
        near = bar.Follower(info, coarse, look.sightings)
        follower = bar.BothEnds(near, info, request.asked, look.sightings, look.tilt)
    pose = None
    if not isinstance(choice, NotMeasured):
        pose = body.LifterPose(files, choice, info, coarse, lift=request.asked.lift)
    told = _share(tell, "following the bar and the body", info, request.reading)
    with ExitStack() as both:
        if pose is not None and follower is not None and _decodes_soon(info):
            # The body does not wait for the plate to be learnt. What takes long to decode is decoded for both.
            own = footage.frames(request.clip, request.reading, every_s=body.EVERY_S)
            both.enter_context(footage.beside(own, [pose], progress=told, stop=stop))
            rest: list[footage.Consumer] = [follower]
        else:
            rest = [one for one in (follower, pose) if one is not None]
        if follower is not None:
            tell("learning the plate", 0.0)
            while follower.sample_times_s:
                chosen = footage.frames_at(request.clip, follower.sample_times_s, request.reading)
                follower.learn(footage.heeding(chosen, stop))
        if rest:
            footage.sweep(footage.frames(request.clip, request.reading), rest, progress=told, stop=stop)
    _heed(stop)
    track = follower.result() if follower is not None else bar.nothing(coarse)
    if pose is not None:
        lifter = body.with_marks(pose.result(track), request.joints)
    else:
        lifter = body.not_seen(choice.reason if isinstance(choice, NotMeasured) else "")
    if track.status != "found" and lifter.status == "seen":
        held = bar.track_from_hands(lifter, request.asked.lift, look.sightings, track.candidates)
        shaft = _by_shaft(request, info, lifter, held, look, tell, stop)
        if track.source == "none" or (shaft is not None and shaft.status == "found"):
            taken = shaft or held
            track = evolve(taken, reason=f"{track.reason} {taken.reason}".strip())
    view, scale, noticed = bar.view_and_scale(track, lifter, request.asked, info, look.tilt, request.length)
    return _Followed(request, info, look.sightings, look.people, track, lifter, view, scale, tuple(noticed))


def _decodes_soon(info: ClipInfo) -> bool:
    """Tell whether decoding the clip once more costs less than an idle core while the plate is learnt."""
    return info.reduced == 1.0 and info.frames * info.width_px * info.height_px <= 1e6 * SOON_MEGAPIXELS


def _by_shaft(
    request: Request,
    info: ClipInfo,
    lifter: BodyTrack,
    held: BarTrack,
    look: _First,
    tell: Progress,
    stop: threading.Event | None,
) -> BarTrack | None:
    """Look for the bar's shaft at the hands that hold it, with a decode of its own; None where it is not told."""
    shaft = bar.Shaft(lifter, request.asked.lift)
    if held.source != "hands" or not shaft.worth:
        return None
    told = _share(tell, "looking for the shaft of the bar", info, request.reading)
    footage.sweep(footage.frames(request.clip, request.reading), [shaft], progress=told, stop=stop)
    return shaft.result(held, look.sightings, look.hypotheses)


@frozen
class _Followed:
    """Bar and lifter of one stretch of the clip, and where the camera stood: all that pictures are needed for."""

    request: Request
    info: ClipInfo
    sightings: Sightings
    people: People
    track: BarTrack
    lifter: BodyTrack
    view: View
    scale: Scale | None
    noticed: tuple[Warned, ...]


def _set_of(one: _Followed, given: GivenReps | None) -> tuple[SetData, tuple[Warned, ...]]:
    """Give path and reps, with those that a person gave, and what all of it warns of."""
    asked, info, span = one.request.asked, one.info, _span(one.request.reading, one.info)
    path = bar.bar_path(one.track, one.view, one.scale, one.lifter, asked, info)
    # moments count on the clip's clock: a part that starts at 30 s holds moments from there on
    clock = evolve(info, duration_s=span[1])
    found = reps.find_reps(
        path, one.lifter, lift=asked.lift, info=clock, track=one.track, given=given, people=one.people
    )
    phases = tuple(
        Phase(p.kind, max(p.start_s, span[0]), min(p.end_s, span[1]))
        for p in found.phases
        if p.end_s > span[0] and p.start_s < span[1]
    )
    found = evolve(found, phases=phases)
    path = _from_first_start(path, found)
    said = one.request.context
    offset = None
    if said.depth_offset_mm is not None:
        sd = CARRIED_OFFSET_SD_MM if said.depth_offset_sd_mm is None else said.depth_offset_sd_mm
        offset = Value(said.depth_offset_mm, sd)
    data = SetData(
        asked, info, one.view, one.scale, one.track, path, one.lifter, found, one.request.depth_marks, offset
    )
    return data, (*one.noticed, *found.warnings, *set_warnings(data, one.sightings))


def _from_first_start(path: BarPath | None, found: reps.RepSet) -> BarPath | None:
    """Put the path's origin where the first rep starts (or where the clip shows it first)."""
    if path is None or not len(path.t_s):
        return path
    first = next((r.start or r.low_start or r.top_start for r in found.reps), None)
    known = np.isfinite(path.up_mm)
    if not known.any():
        return path
    at = first.t_s if first is not None else float(path.t_s[known][0])
    near = np.flatnonzero(known & (np.abs(path.t_s - at) <= 0.05))
    if not len(near):
        near = np.flatnonzero(known)[[np.argmin(np.abs(path.t_s[known] - at))]]
    return path.moved(float(np.mean(path.forward_mm[near])), float(np.mean(path.up_mm[near])))


def _once_each(warnings: tuple[Warned, ...]) -> tuple[Warned, ...]:
    return tuple({w.id: w for w in reversed(warnings)}.values())[::-1]


def _heed(stop: threading.Event | None) -> None:
    if stop is not None and stop.is_set():
        raise footage.Stopped


def _share(tell: Progress, step: str, info: ClipInfo, reading: Reading) -> Callable[[float], None]:
    start = reading.from_s or 0.0

    def told(t_s: float) -> None:
        tell(step, min(1.0, max(0.0, (t_s - start) / max(info.duration_s, 1e-9))))

    return told


def _steps(request: Request) -> tuple[Step, ...]:
    reading = request.reading
    return (
        Step(
            "footage",
            footage.VERSION,
            {"mirrored": reading.mirrored, "real_speed": reading.real_speed, "from_s": reading.from_s,
             "to_s": reading.to_s},
        ),
        Step("bar", bar.VERSION, {"bar_at": _place(request.bar_at), **_told(request.length)}),
        Step(
            "body",
            body.VERSION,
            {"lifter_at": _place(request.lifter_at), "network": request.network or "full",
             **({"marked": {m.joint: _place(m.at) for m in request.joints}} if request.joints else {})},
        ),
        Step("reps", reps.VERSION, {"given": request.given is not None}),
        Step("measures", measures.VERSION, {**measures.parameters(), **_depth(request)}),
        Step("rules", rules.VERSION, {"rules": rules_asked(request), "clear_sds": rules.CLEAR_SDS}),
        Step("findings", findings.VERSION, findings.parameters(request.limits)),
    )  # fmt: skip


def _depth(request: Request) -> dict[str, object]:
    marks = request.depth_marks
    return {
        "crease": _place(marks.crease if marks else None),
        "knee_top": _place(marks.knee_top if marks else None),
        "depth_offset_mm": request.context.depth_offset_mm,
    }


def _told(length: KnownLength | None) -> dict[str, object]:
    """Name the length that was told, where one was."""
    if length is None:
        return {}
    return {"length": {"a": _place(length.a), "b": _place(length.b), "mm": length.mm}}


def _place(tap: Tap | None) -> list[float] | None:
    return None if tap is None else [tap.x_px, tap.y_px, tap.at_s]
