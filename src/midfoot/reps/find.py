"""Reps of a set: composed from heights, excursions, rests, moments, outcomes, phases and what was given."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import evolve

from midfoot.numeric import runs
from midfoot.records.bar import BarPath, BarTrack
from midfoot.records.base import LIFTS, RecordError, Warned
from midfoot.records.body import BodyTrack, People
from midfoot.records.clip import ClipInfo
from midfoot.records.reps import Rep, RepSet
from midfoot.reps.alone import path_from_body
from midfoot.reps.dips import LEAST_MM, Dip, dips_of, range_of_set, reps_among
from midfoot.reps.fits import doubt, leans_deg, lift_fits
from midfoot.reps.given import GivenReps
from midfoot.reps.heights import GRID_S, HOLD_S, Heights, Stretch
from midfoot.reps.helped import helped, untold
from midfoot.reps.moments import BAND_MM
from midfoot.reps.override import overridden
from midfoot.reps.phases import phases_of
from midfoot.reps.put_right import put_right
from midfoot.reps.resting import heights_of, hip_heights, least_mm, resting_of, seated
from midfoot.reps.rests import EDGE_S, TURNED_MM
from midfoot.reps.slack import slack_spans
from midfoot.reps.tries import Try, rep_of, tries_of

MOVING_EDGE = 0.2
"""Share of the range from which a movement that the clip's edge cuts is counted as (part of) a rep."""
CUT_SHARE = 0.5
"""An excursion with one side under this share of the other may be cut by the clip's edge, or be half of one."""
LONE = 2.0
"""Where nothing goes and comes back, a movement that an edge cuts must be this many times the least range."""
RACK_SHARE = 0.75
"""A fall of less than this share of the range after which the bar stays is racking, not a rep cut off."""
OTHER_SIZE = 1.8
"""A movement cut by the clip's edge and this much larger than the set's reps is not one of them."""
LAY_S = 0.6
"""A bar that lies this long before it is first lifted was fetched from there."""
LAID_S = 0.5
"""Stillness of this length on a last short fall is the bar lying on its hooks."""
HALT_SHARE, HALT_S = 0.15, 0.8
"""So is so little of such a fall in so long a time, somewhere on its way: a camera that sinks meanwhile hides the
stillness. A descent that is halted so long is none; one at 50 mm/s goes on."""
TURNED_SHARE = 0.1
"""A last fall of less than `RACK_SHARE` that turns back by this share of itself is racking too."""
BENT_DEG = 35.0
"""A trunk that leans more than this at the highest point of a pull is not erect."""
BEND_MM = 30.0
"""Hands rise by 20-60 mm before the plates do and come down as much after them: the bar bends (common practice, no
source); half of it and more is not known."""
GAP_TOLD_S = 1.5
"""A hole in the track as long as a quick rep is told."""


def find_reps(
    path: BarPath | None,
    body: BodyTrack,
    *,
    lift: str,
    info: ClipInfo,
    track: BarTrack | None = None,
    given: GivenReps | None = None,
    people: People | None = None,
) -> RepSet:
    """Find the phases of a set and the moments and outcome of every rep.

    Parameters
    ----------
    path : BarPath or None
        The bar's heights; None to work from the body alone (hips for a squat, wrists else; larger sd).
    body : BodyTrack
        Used for the lift that fits, for an erect lockout, and where there is no path.
    lift : str
        The lift asked for; its rule of moments is applied even when the motion fits another (then warned).
    info : ClipInfo
    track : BarTrack, optional
    given : GivenReps, optional
        Moments from a person; they override the measured ones.
    people : People, optional
        Everybody of the first look: without them nobody can be seen to help.

    Returns
    -------
    RepSet
        `outcome` is `cut_off` where the clip does not show whether the rep was completed; a rep whose lockout is
        seen is `completed` even if the clip starts after its start (`start_seen` false) or, for a deadlift,
        ends before the bar is down (`end_seen` false). A moment that the clip does not show is None.
    """
    if lift not in LIFTS:
        raise RecordError(f"lift: expected one of {', '.join(LIFTS)}, got {lift!r}")
    warnings: list[Warned] = []
    alone = path is None or not np.isfinite(path.up_mm).any()
    used = path_from_body(body, lift) if path is None or alone else path
    if used is None:
        found: list[Rep] = []
        parts: list[Heights] = []
        span = (0.0, info.duration_s)
        warnings.append(
            Warned(
                "no_reps",
                "Neither the bar nor the joints that move with it were seen, so no rep was found.",
                "Give the bar's place with --bar-at X,Y@S, or the moments with --reps FILE.",
            )
        )
    else:
        parts = heights_of(used, lift, info)
        tries = _tries(parts, lift, hands=alone or used.source == "hands")
        if lift == "deadlift":
            tries = [_erect(t, body) for t in tries]
            if alone or used.source == "hands":
                tries = [_bends(t) for t in tries]
        elif not alone:
            tries = [helped(t, body, people, track) for t in tries]
            warnings += untold(tries) if given is None else []
        found = [rep_of(t, n) for n, t in enumerate(tries, start=1)]
        span = (float(used.t_s[0]), float(used.t_s[-1]))
        warnings += _holes(parts, used, span)
        if not found and given is None:
            warnings.append(_nothing(lift, alone))
    hips = hip_heights(body, info) if alone else []
    resting = resting_of(hips or (parts if found else []))
    fits, evidence = lift_fits(
        resting, body, track, bar_followed=not alone, hips=bool(hips), sits=seated(body, hips)
    )
    moves = hips or any(np.ptp(h.x_mm) >= min(LEAST_MM.values()) for h in parts)
    doubted = doubt(lift, evidence) if moves else None
    if evidence.seat and lift == "squat" and given is None:
        found = []
    if doubted is not None:
        warnings.append(doubted)
    if given is not None:
        found = overridden(put_right(found, given, parts, lift, info), given, lift, info)
    slack = slack_spans(found, body, track, path) if lift == "deadlift" and not alone else []
    return RepSet(tuple(found), tuple(phases_of(parts, found, lift, span, slack)), tuple(warnings), fits)


def _tries(parts: Sequence[Heights], lift: str, *, hands: bool) -> list[Try]:
    least = {id(h): least_mm(h, lift) for h in parts}
    range_mm = range_of_set([(h, dips_of(h, least[id(h)])) for h in parts])
    if range_mm is None:
        return []
    out: list[Try] = []
    for h in parts:
        dips = [d for d in reps_among(h, range_mm, least[id(h)], lift) if not _racked(h, d, range_mm, lift)]
        dips = _cut_by_edges(h, dips, range_mm, least[id(h)], lift)
        whole = [d for d in dips if d.paired_mm >= 0.25 * range_mm]
        if not whole:
            dips = [d for d in dips if d.depth_mm >= LONE * least[id(h)]]
        dips = [d for d in dips if d in whole or not _picked_up(h, d, dips, whole, lift)]
        if hands and whole:
            # Hands come to the bar and leave it: what the clip's edge cuts may be empty hands.
            dips = whole
        out += tries_of(h, dips, range_mm)
    return out


def _lasts(still: Stretch, seconds: float) -> bool:
    return (still.past - still.first) * GRID_S >= seconds


def _racked(h: Heights, dip: Dip, range_mm: float, lift: str) -> bool:
    """Say whether an excursion at the clip's edge is the bar in the rack before or after the set."""
    if lift == "deadlift":
        return False
    near = round(0.3 / GRID_S)
    forward = h.forward_mm
    if dip.rise_mm < CUT_SHARE * dip.fall_mm:
        stays = bool(np.ptp(h.slow_mm[-near:]) < max(BAND_MM, h.swing_mm))
        back = lift == "bench" and forward[dip.before] - forward[dip.at] > 30.0
        turned = dip.rise_mm > TURNED_SHARE * dip.fall_mm
        lay = any(s.first > dip.before and s.past < dip.at and _lasts(s, LAID_S) for s in h.still)
        lay |= _halted(h, dip)
        short = dip.fall_mm < RACK_SHARE * range_mm
        return bool((stays and (short or back)) or ((turned or lay) and short))
    if dip.fall_mm < CUT_SHARE * dip.rise_mm:
        stood = bool(np.ptp(h.slow_mm[:near]) < max(BAND_MM, h.swing_mm))
        back = lift == "bench" and forward[dip.after] - forward[dip.at] > 30.0
        return stood and (dip.rise_mm < RACK_SHARE * range_mm or bool(back))
    return False


def _halted(h: Heights, dip: Dip) -> bool:
    """Say whether the bar, once down by a quarter of its fall, hardly goes on for a while."""
    fallen = h.slow_mm[dip.before] - h.slow_mm[dip.before : dip.at + 1]
    under = np.flatnonzero(fallen > 0.25 * dip.fall_mm)
    steps = round(HALT_S / GRID_S)
    if not len(under) or len(fallen) - under[0] < steps:
        return False
    spans = np.ptp(np.lib.stride_tricks.sliding_window_view(fallen[under[0] :], steps), axis=1)
    return bool(spans.min() < max(BAND_MM, h.swing_mm, HALT_SHARE * dip.fall_mm))


def _picked_up(h: Heights, dip: Dip, dips: list[Dip], whole: list[Dip], lift: str) -> bool:
    """Say whether a movement at the clip's edge is the bar being fetched or put down, not a squat or press.

    It comes from (goes to) a place where the bar stays, and no rep of the set has its low there.
    """
    if lift == "deadlift":
        return False
    if whole:
        return dip.depth_mm > OTHER_SIZE * max(d.depth_mm for d in whole)
    lay = round(LAY_S / GRID_S)
    fetched = bool(np.ptp(h.slow_mm[:lay]) < max(TURNED_MM, h.swing_mm))
    fetched &= dips[0].fall_mm < 0.25 * dips[0].depth_mm
    if dip is dips[0]:
        return fetched
    back = abs(float(h.x_mm[dip.at] - h.x_mm[dips[0].at])) < 0.15 * dip.depth_mm
    return fetched and back and dip.rise_mm < 0.25 * dip.depth_mm


def _cut_by_edges(h: Heights, dips: list[Dip], range_mm: float, least_mm: float, lift: str) -> list[Dip]:
    """Add a movement toward or from rest that the clip's edge cuts short of `REP_SHARE`."""
    steps = round(EDGE_S / GRID_S)
    due = max(MOVING_EDGE * range_mm, 0.5 * least_mm)
    out = list(dips)
    end = out[0].before if out else len(h) - 1
    first = int(np.argmax(h.x_mm[: end + 1]))
    rise = float(h.x_mm[first] - h.x_mm[0])
    if (not out or out[0].at > steps) and rise >= due and np.mean(h.v_mm_s[:steps]) > 3 * h.still_mm_s and out:
        out.insert(0, Dip(0, 0, first, 0.0, rise))
    begin = out[-1].after if out else 0
    last = begin + int(np.argmax(h.x_mm[begin:]))
    fall = float(h.x_mm[last] - h.x_mm[-1])
    ends = len(h) - 1
    cut = not out or out[-1].at < ends - steps
    if cut and fall >= due and np.mean(h.v_mm_s[-steps:]) < -3 * h.still_mm_s and out:
        falling = Dip(ends, last, ends, fall, 0.0)
        if not _racked(h, falling, range_mm, lift):
            out.append(falling)
    return out


def _bends(t: Try) -> Try:
    """Widen what is known of when plates leave and meet the floor where only the hands were followed."""
    before, after = (
        None if rest is None else evolve(rest, sd_mm=float(np.hypot(rest.sd_mm, BEND_MM)))
        for rest in (t.before, t.after)
    )
    return evolve(t, before=before, after=after)


def _erect(t: Try, body: BodyTrack) -> Try:
    """Call a pull missed where the body is seen bent at its highest point and it did not rest there."""
    if t.outcome != "completed":
        return t
    h, at = t.h, t.dip.at
    lean = leans_deg(body, float(h.t_s[at]))
    held = any(s.overlaps(at - 20, at + 20) and (s.past - s.first) * GRID_S > 2 * HOLD_S for s in h.still)
    if lean is None or lean < BENT_DEG or held:
        return t
    return evolve(t, outcome="missed", note=f"the trunk leans {lean:.0f} degrees at the highest point")


def _holes(parts: Sequence[Heights], path: BarPath, span: tuple[float, float]) -> list[Warned]:
    holes: list[tuple[float, float]] = []
    for h in parts:
        holes += [(float(h.t_s[g.start]), float(h.t_s[min(g.stop, len(h) - 1)])) for g in runs(h.gap)]
    if parts:
        holes += [(span[0], float(parts[0].t_s[0])), (float(parts[-1].t_s[-1]), span[1])]
    told = [(a, b) for a, b in holes if b - a >= GAP_TOLD_S]
    if not told:
        return []
    where = ", ".join(f"{a:.1f}-{b:.1f} s" for a, b in told[:4])
    return [
        Warned(
            "bar_unseen",
            f"The bar was not seen at {where}; what happened there is not counted.",
            "Film so that nothing passes before the plate, or give the moments with --reps FILE.",
        )
    ]


def _nothing(lift: str, alone: bool) -> Warned:
    what = "Nothing in the body's movement" if alone else "Nothing in the bar's movement"
    return Warned(
        "no_reps",
        f"{what} goes {'up and down' if lift == 'deadlift' else 'down and up'} as a {lift} does.",
        "Check the lift and the part of the clip (--from, --to), or give the moments with --reps FILE.",
    )
