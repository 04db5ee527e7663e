"""The first seconds' look at a clip, before it is measured: what seems to be in it, and how sure that is.

The same stages as in the main job, over a few seconds at ten frames a second: discs and people are looked for, the
lifter chosen, and the view inferred from his joints and the disc's rough size. Nothing here is a measurement and
no bar is followed: where the camera stood, whether plate and lifter are whole in the picture, light, shake.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from attrs import evolve, frozen

from midfoot import bar, body, footage
from midfoot.pipeline import Progress
from midfoot.records.bar import BarTrack, Sightings, View
from midfoot.records.base import FloatArray, NotMeasured, Value
from midfoot.records.body import HIDDEN, INDEX, SEEN, BodyTrack
from midfoot.records.clip import Asked, ClipInfo, Frame, Reading
from midfoot.warned import clip_warnings

MOST_S = 6.0
"""So much of a clip is looked at, about its middle: a set is under way there more often than at its ends."""
STEP_S = 0.1
PLATE_SIZE_SD, ASPECT_SD = 0.12, 0.1
"""Of one clip's median proposal: relative error of the size, error of minor over major axis. The network's own
figures are larger for a single frame (lab/proposer)."""
LEAST_LOOKS = 5
NEEDED = ("shoulder", "hip", "knee", "ankle", "heel", "wrist")
HIDDEN_SHARE = 0.5
"""A joint seen in a smaller share of the looks is hidden for most of the set."""
EDGE_PX = 3.0
ENDS = ("ankle", "foot_index", "hip", "shoulder", "wrist")
"""Joints of a lifter who is whole in the picture."""
SMALL_SHARE = 0.35
"""A standing lifter under this share of the picture's height is small (common practice, no source)."""
MOVES_SHARE = 0.03
"""Of the picture's long side: as in the main job."""


@frozen(kw_only=True)
class Glimpse:
    """What a first look saw. Nothing of it is measured.

    Attributes
    ----------
    lift : str
    view : View or None
        None where nobody was made out.
    plate, lifter : str
        `seen`, `unsure`, `not_seen`.
    plate_cut, lifter_cut : float
        Share of the looks in which the plate, or feet, hips, shoulders or hands of the lifter, were over the edge.
    hidden : tuple of str
        Joints of the nearer side, and the head's, that were neither seen nor inferred in half of the looks.
    small : bool
        The lifter is so small in the picture that joints will be unsure.
    moves_px : float
        How far the camera's picture moved, px of the picture looked at; NaN where it could not be told.
    dark : bool
        The main job would warn of too little light.
    looked_s : float
        How much of the clip was looked at.
    """

    lift: str
    view: View | None
    plate: str
    lifter: str
    plate_cut: float
    lifter_cut: float
    hidden: tuple[str, ...]
    small: bool
    moves_px: float
    long_side_px: int
    dark: bool
    looked_s: float

    @property
    def moves(self) -> bool:
        """Whether the camera moves more than a stand lets it."""
        return bool(self.moves_px > MOVES_SHARE * self.long_side_px)


def glimpse(
    clip: Path, asked: Asked, *, models: Path | None = None, progress: Progress | None = None,
    stop: threading.Event | None = None,
) -> Glimpse:  # fmt: skip
    """Take a first look at a clip.

    Parameters
    ----------
    clip : a file that was decoded before, such as the browser's proxy.
    asked : what was said of the set; the lift must be known.
    models : folder of the pose network's files, None for the user's data folder.
    progress, stop : as for the main job.

    Raises
    ------
    footage.FootageError
        When the clip cannot be read.
    footage.Stopped
        When `stop` was set.
    body.ModelsError
        When the pose network's files are missing and cannot be fetched.
    """
    tell = progress or (lambda _step, _share: None)
    info = footage.probe(clip)
    files = body.ensure_models(models, say=lambda words: tell(words, 0.0))
    reading = _part(info)
    scout, people, watch = bar.Scout(info), body.PeopleScout(files, info, lift=asked.lift), footage.Watch()
    tell("looking where it was filmed from", 0.2)
    footage.sweep(_seldom(footage.heeding(footage.frames(clip, reading), stop)), [scout, people, watch], stop=stop)
    sightings, everybody = scout.result(), people.result()
    found = bar.link(sightings, everybody, lift=asked.lift, info=info)
    coarse = found[0] if found else None
    choice = body.choose_lifter(everybody, coarse, lift=asked.lift, info=info)
    tell("looking where it was filmed from", 0.6)
    lifter = body.not_seen("")
    if not isinstance(choice, NotMeasured):
        pose = body.LifterPose(files, choice, info, coarse, lift=asked.lift)
        footage.sweep(_seldom(footage.heeding(footage.frames(clip, reading), stop)), [pose], stop=stop)
        lifter = pose.result(bar.nothing(coarse))
    track = _track(coarse, sightings)
    view = None
    if lifter.status == "seen":
        view, _, _ = bar.view_and_scale(track, lifter, asked, info)
    return Glimpse(
        lift=asked.lift, view=view, plate=_plate(coarse), lifter="seen" if lifter.status == "seen" else "not_seen",
        plate_cut=_plate_cut(coarse, info), lifter_cut=_lifter_cut(lifter, info), hidden=_hidden(lifter),
        small=_small(lifter, info),
        moves_px=_moves(sightings, info), long_side_px=max(info.width_px, info.height_px),
        dark=_dark(info, watch.result()),
        looked_s=min(info.duration_s, MOST_S),
    )  # fmt: skip


def _dark(info: ClipInfo, watched: footage.Watched) -> bool:
    info = evolve(info, median_luma=watched.median_luma)
    return any(w.id == "low_light" for w in clip_warnings(info, evolve(watched, frames=info.frames)))


def _part(info: ClipInfo) -> Reading:
    if info.duration_s <= MOST_S:
        return Reading()
    start = (info.duration_s - MOST_S) / 2
    return Reading(from_s=start, to_s=start + MOST_S)


def _seldom(frames: Iterator[Frame]) -> Iterator[Frame]:
    """Give about ten frames a second."""
    last = -np.inf
    for frame in frames:
        if frame.t_s - last >= STEP_S - 2e-3:
            last = frame.t_s
            yield frame


def _plate(coarse: bar.Coarse | None) -> str:
    if coarse is None or coarse.source != "plate" or len(coarse.t_s) < LEAST_LOOKS:
        return "not_seen"
    return {"found": "seen", "unsure": "unsure"}.get(coarse.status, "not_seen")


def _track(coarse: bar.Coarse | None, sightings: Sightings) -> BarTrack:
    """Make a track of the rough path: where looked, how large, how round; never for anything but the view."""
    if coarse is None or _plate(coarse) != "seen":
        return bar.nothing(coarse)
    steady = coarse.xy_px.copy()
    for row, t_s in enumerate(coarse.t_s):
        k = int(np.argmin(np.abs(sightings.camera_t_s - t_s)))
        steady[row] = sightings.camera_to_first[k] @ [*coarse.xy_px[row], 1.0]
    radius = float(np.nanmedian(coarse.radius_px))
    round_ = _aspects(coarse, sightings)
    return BarTrack(
        status="found", source="plate", t_s=coarse.t_s, xy_px=coarse.xy_px, steady_px=steady,
        sd_px=np.full_like(steady, 0.1 * radius), seen=np.ones(len(coarse.t_s), bool),
        far_xy_px=np.full_like(steady, np.nan),
        diameter_px=Value(2 * radius, 2 * radius * PLATE_SIZE_SD) if np.isfinite(radius) else None,
        aspect=Value(float(np.median(round_)), ASPECT_SD) if len(round_) >= LEAST_LOOKS else None, axis_deg=90.0,
        reason="a first look",
    )  # fmt: skip


def _aspects(coarse: bar.Coarse, sightings: Sightings) -> FloatArray:
    """Give minor over major axis of the discs that the path goes through."""
    out = []
    for t_s, xy, radius in zip(coarse.t_s, coarse.xy_px, coarse.radius_px, strict=True):
        k = int(np.argmin(np.abs(sightings.boxes_t_s - t_s)))
        if abs(sightings.boxes_t_s[k] - t_s) > STEP_S / 2:
            continue
        near = [b for b in sightings.boxes[k] if np.hypot(b.x_px - xy[0], b.y_px - xy[1]) < 0.3 * radius]
        if near:
            out.append(max(near, key=lambda b: b.score).aspect)
    return np.array(out)


def _plate_cut(coarse: bar.Coarse | None, info: ClipInfo) -> float:
    if coarse is None or _plate(coarse) == "not_seen":
        return 0.0
    x, y, r = coarse.xy_px[:, 0], coarse.xy_px[:, 1], float(np.nanmedian(coarse.radius_px))
    over = (x < r) | (y < r) | (x > info.width_px - r) | (y > info.height_px - r)
    return float(over.mean())


def _lifter_cut(lifter: BodyTrack, info: ClipInfo) -> float:
    """Give in what share of the looks feet, hips, shoulders or hands lie at or over the picture's edge."""
    if lifter.status != "seen":
        return 0.0
    joints = [INDEX[f"{side}_{joint}"] for side in ("left", "right") for joint in ENDS]
    xy, seen = lifter.xy_px[:, joints], lifter.state[:, joints] >= SEEN
    with np.errstate(invalid="ignore"):
        over = (xy < EDGE_PX).any(axis=2) | (xy[:, :, 0] > info.width_px - EDGE_PX) | (
            xy[:, :, 1] > info.height_px - EDGE_PX
        )  # fmt: skip
    return float((over & seen).any(axis=1).mean())


def _hidden(lifter: BodyTrack) -> tuple[str, ...]:
    """Name joints that are mostly not seen, by the side on which more is seen."""
    if lifter.status != "seen":
        return ()
    seen = {
        side: {j: float((lifter.state[:, INDEX[f"{side}_{j}"]] > HIDDEN).mean()) for j in NEEDED}
        for side in ("left", "right")
    }
    near = lifter.near_side or max(seen, key=lambda side: sum(seen[side].values()))
    return tuple(joint for joint, share in seen[near].items() if share < HIDDEN_SHARE)


def _small(lifter: BodyTrack, info: ClipInfo) -> bool:
    if lifter.status != "seen":
        return False
    known = np.flatnonzero(np.isfinite(lifter.xy_px[:, :, 0]).sum(axis=1))
    rows = lifter.xy_px[known]
    spread = np.nanmax(rows, axis=1) - np.nanmin(rows, axis=1)
    long = float(np.percentile(spread.max(axis=1), 90.0))
    return bool(long < SMALL_SHARE * min(info.width_px, info.height_px))


def _moves(sightings: Sightings, info: ClipInfo) -> float:
    if len(sightings.camera_t_s) < 2 or not sightings.camera_ok.any():
        return float("nan")
    middle = np.array([info.width_px / 2, info.height_px / 2, 1.0])
    shift = sightings.camera_to_first @ middle
    return float((shift.max(axis=0) - shift.min(axis=0)).max())
