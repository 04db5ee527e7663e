"""From places frame by frame to the bar's track: outliers out, short gaps bridged, errors stated.

Rule for the next author: only the random part of the error is here. What every frame shares (which edge the rim
is, the scale) travels with `diameter_px`.
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from midfoot.bar.coarse import Coarse
from midfoot.bar.lay import Laid
from midfoot.bar.nothing import unfollowed
from midfoot.bar.parallax import scale_sd_of
from midfoot.bar.plate_look import PlateLook
from midfoot.records.bar import BarTrack, Sightings
from midfoot.records.base import FloatArray, Value

BRIDGE_S = 0.5
SLOW_OF_RADIUS = 0.0015
"""Slow error of the place (light, what is in front of the plate), share of the radius."""
SLOW_OF_TRAVEL = 0.005
"""Slow error of an oblique plate's place where its shape is not the mean one: share of the distance from the mean
place, times the tangent of the plate's turn. Rendered clips with known truth: 0.003-0.006."""
COVERED_OF_RADIUS = 0.1
"""Slow error of a place where part of the plate is covered: share of the radius, times the square of what is
missing of the parts that are shown elsewhere. Drawn plates behind a post (tests/bar/test_follow.py): 0.6 px of 42
with six tenths shown. A blurred or turned plate fits worse as a whole and is not drawn aside."""
PARTED, MOST_PARTED = 0.4, 0.15
"""How far followed and boxed places may lie apart, radii, and in what share of the frames they may lie farther."""
PART_OF_BOXED = 0.7
"""A followed outline so much smaller than the boxes is not theirs: those are off by 0.1-0.2 (docs/proposer.md);
every right one of 41 drawn clips had 0.83 of them or more."""
LEAST_PX = 0.03
LARGER = 1.06
"""A rim this many times as large as the followed ring is another disc's."""
BRIDGED_ACCELERATION = 4.0
"""How hard the bar may swerve while nobody looks, m/s2; a plate's radius is about 0.225 m."""
RADIUS_M = 0.225
COARSE_REACH_S = 0.17
"""The network looks every 0.1 s: one look may miss the plate between two that found it."""
COARSE_SD = 0.08
"""Error of a box's centre, share of the radius: measured medians lie at 0.04-0.11 (docs/proposer.md)."""
COARSE_SIZE = 0.10
"""Error of a box's size, share of it (docs/proposer.md)."""


def finished(
    look: PlateLook, laid: list[Laid], coarse: Coarse, sightings: Sightings | None, boxed_px: float = np.nan
) -> BarTrack:
    """Make the track out of the places found in every frame; `boxed_px` is the radius that was boxed, if any."""
    times = np.array([row.t_s for row in laid])
    xy = np.array([[row.x_px, row.y_px] for row in laid]).reshape(-1, 2)
    radius = np.interp(times, look.t_s, look.radius_px)
    xy = look.rim_at(xy, steady(times, xy, sightings), radius)
    seen = np.isfinite(xy[:, 0])
    seen &= ~_jumps(times, xy, seen, radius)
    xy = np.where(seen[:, None], xy, np.nan)
    sd = _random_sd(times, xy, laid, radius, seen, look.ring.ellipse.aspect)
    xy, sd, seen = _filled(times, xy, sd, seen, coarse, radius)
    xy, sd = _bridged(times, xy, sd, seen, radius)
    middle = float(np.median(radius[seen])) if seen.any() else float(np.median(look.radius_px))
    share = float(seen.mean()) if len(seen) else 0.0
    parted = _parted(times, xy, seen, coarse, radius)
    of_boxed = middle * look.rim.grow / boxed_px
    status, reason = _verdict(coarse, share, parted, of_boxed)
    if look.lag or look.rim.grow > LARGER:
        reason = f"{reason} Smaller discs hang before it: the rim is that of the largest."
    nothing = np.full_like(xy, np.nan)
    return BarTrack(
        status, "plate", times, xy, steady(times, xy, sightings), sd, seen, nothing,
        diameter_px=Value(2 * middle * look.rim.grow, 2 * middle * look.rim.grow * _size_sd(look, of_boxed)),
        aspect=Value(look.rim.ellipse.aspect, look.rim.aspect_sd),
        axis_deg=_axis_deg(look.rim.ellipse.lean_deg),
        candidates=coarse.candidates, reason=reason, camera_scale_sd=scale_sd_of(sightings),
    )  # fmt: skip


def coarsely_followed(
    coarse: Coarse, times_s: list[float], why: str, sightings: Sightings | None = None
) -> BarTrack:
    """A track of the coarse places alone, where they are sure; else one without a place in it and the reason."""
    times = np.array(times_s)
    nowhere = np.full((len(times), 2), np.nan)
    if coarse.status == "found" and len(coarse.t_s) >= 8 and len(times):
        radius = np.full(len(times), float(np.nanmedian(coarse.radius_px)))
        unseen = np.zeros(len(times), bool)
        xy, sd, seen = _filled(times, nowhere, nowhere, unseen, coarse, radius)
        xy, sd = _bridged(times, xy, sd, seen, radius)
        across = 2 * float(radius[0])
        reason = f"{coarse.reason} Followed coarsely, by the network's boxes alone: {why}".strip()
        return BarTrack(
            "found", "plate", times, xy, steady(times, xy, sightings), sd, seen, nowhere,
            diameter_px=Value(across, COARSE_SIZE * across), candidates=coarse.candidates, reason=reason,
        )  # fmt: skip
    status = "unsure" if coarse.candidates else "not_found"
    return unfollowed(times, why, status=status, candidates=coarse.candidates)


def steady(times: FloatArray, xy: FloatArray, sightings: Sightings | None) -> FloatArray:
    """Carry places into the first frame's coordinates, the camera's own movement taken out."""
    if sightings is None or not len(sightings.camera_t_s):
        return xy.copy()
    to_first = sightings.camera_to_first
    rows = np.stack(
        [np.interp(times, sightings.camera_t_s, to_first[:, i, j]) for i in (0, 1) for j in (0, 1, 2)], axis=1
    ).reshape(-1, 2, 3)
    return np.asarray(np.einsum("nij,nj->ni", rows[:, :, :2], xy) + rows[:, :, 2])


def _axis_deg(lean_deg: float) -> float:
    """Direction of the major axis from the picture's x axis, degrees in (-90, 90]."""
    return 90.0 + lean_deg if lean_deg <= 0 else lean_deg - 90.0


def _verdict(coarse: Coarse, share: float, parted: float, of_boxed: float) -> tuple[str, str]:
    if share < 0.3:
        return "unsure", f"The plate was seen in only {share:.0%} of the frames."
    if parted > MOST_PARTED:
        return "unsure", (
            f"In {parted:.0%} of the frames what was followed lies away from the discs that were boxed: something "
            "else may have taken the plate's place."
        )
    if coarse.status == "found" and of_boxed < PART_OF_BOXED:
        return "unsure", (
            f"What was followed measures {of_boxed:.0%} of the discs that were boxed: it may be a ring on the "
            "plate or what hangs before it, and its size no scale."
        )
    return coarse.status, coarse.reason or f"A round plate seen in {share:.0%} of the frames."


def _size_sd(look: PlateLook, of_boxed: float) -> float:
    """Relative sd of the rim; where it may be none, two of it reach as far as the discs that were boxed do."""
    if not of_boxed < PART_OF_BOXED:
        return look.rim.rel_sd
    return float(np.hypot(look.rim.rel_sd, 0.5 * (1.0 / of_boxed - 1.0)))


def _parted(
    times: FloatArray, xy: FloatArray, seen: NDArray[np.bool_], coarse: Coarse, radius: FloatArray
) -> float:
    """Share of the seen frames in which the coarse path, its own offset taken out, lies elsewhere."""
    if len(coarse.t_s) < 8:
        return 0.0
    after = np.clip(np.searchsorted(coarse.t_s, times), 1, len(coarse.t_s) - 1)
    both = seen & (coarse.t_s[after] - coarse.t_s[after - 1] <= 2 * COARSE_REACH_S)
    both &= (times >= coarse.t_s[0]) & (times <= coarse.t_s[-1])
    if both.sum() < 8:
        return 0.0
    place = np.column_stack([np.interp(times[both], coarse.t_s, coarse.xy_px[:, i]) for i in (0, 1)])
    off = xy[both] - place
    return float((np.hypot(*(off - np.median(off, axis=0)).T) > PARTED * radius[both]).mean())


def _jumps(times: FloatArray, xy: FloatArray, seen: NDArray[np.bool_], radius: FloatArray) -> NDArray[np.bool_]:
    """Single places far off both neighbours, and islands that nothing connects to."""
    out = np.zeros(len(times), bool)
    at = np.flatnonzero(seen)
    for before, here, after in zip(at[:-2], at[1:-1], at[2:]):
        share = (times[here] - times[before]) / max(times[after] - times[before], 1e-9)
        between = xy[before] + share * (xy[after] - xy[before])
        if np.linalg.norm(xy[here] - between) > 0.3 * radius[here] and times[after] - times[before] < 0.3:
            out[here] = True
    return out


def _random_sd(
    times: FloatArray,
    xy: FloatArray,
    laid: list[Laid],
    radius: FloatArray,
    seen: NDArray[np.bool_],
    aspect: float,
) -> FloatArray:
    """Frame-to-frame noise from the track's own third differences, spread by each frame's fit; slow part added."""
    sd = np.full_like(xy, np.nan)
    if seen.sum() < 8:
        sd[seen] = 0.05 * radius[seen, None]
        return sd
    rows = xy[seen]
    third = np.diff(rows, n=3, axis=0)
    # The third difference of white noise has variance 20; quiet stretches (lower half) are least bent by motion.
    noise = np.median(np.abs(third), axis=0) / 0.6745 / np.sqrt(20.0)
    fit = np.array([row.fit for row in laid])[seen]
    shown = np.array([row.shown for row in laid])[seen]
    missing = np.clip(1.0 - shown / max(float(np.quantile(shown, 0.7)), 1e-3), 0.0, 1.0)
    hidden = COVERED_OF_RADIUS * radius[seen, None] * missing[:, None] ** 2
    looseness = np.sqrt((1.0 - np.clip(fit, 0, 0.995)) / (1.0 - min(0.995, float(np.quantile(fit, 0.7)))))
    base = np.maximum(noise, LEAST_PX)
    tangent = np.sqrt(max(0.0, 1.0 / max(aspect, 0.3) ** 2 - 1.0))
    travel = SLOW_OF_TRAVEL * tangent * np.abs(rows - np.median(rows, axis=0))
    slow = np.sqrt((SLOW_OF_RADIUS * radius[seen, None]) ** 2 + travel**2 + hidden**2)
    sd[seen] = np.hypot(base[None] * np.maximum(1.0, looseness)[:, None] ** 2, slow)
    return sd


def _filled(
    times: FloatArray,
    xy: FloatArray,
    sd: FloatArray,
    seen: NDArray[np.bool_],
    coarse: Coarse,
    radius: FloatArray,
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Take the coarse place where the averaged disc did not fit but the network boxed the plate close by in time.

    The coarse path's own offset against the seen places is taken out; what is left of its error is stated.
    """
    if len(coarse.t_s) < 2:
        return xy, sd, seen
    after = np.clip(np.searchsorted(coarse.t_s, times), 1, len(coarse.t_s) - 1)
    close = (times - coarse.t_s[after - 1] <= COARSE_REACH_S) & (coarse.t_s[after] - times <= COARSE_REACH_S)
    place = np.column_stack([np.interp(times, coarse.t_s, coarse.xy_px[:, i]) for i in (0, 1)])
    both = seen & close
    offset = np.median(xy[both] - place[both], axis=0) if both.sum() >= 8 else np.zeros(2)
    fill = ~seen & close & np.isfinite(place).all(axis=1)
    xy, sd = xy.copy(), sd.copy()
    xy[fill] = place[fill] + offset
    sd[fill] = COARSE_SD * radius[fill, None]
    return xy, sd, seen | fill


def _bridged(
    times: FloatArray, xy: FloatArray, sd: FloatArray, seen: NDArray[np.bool_], radius: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Fill short gaps between seen places with an error that grows into the gap."""
    at = np.flatnonzero(seen)
    xy, sd = xy.copy(), sd.copy()
    for before, after in itertools.pairwise(at):
        gap = times[after] - times[before]
        if after == before + 1 or gap > BRIDGE_S:
            continue
        inner = np.arange(before + 1, after)
        share = (times[inner] - times[before]) / gap
        xy[inner] = xy[before] + share[:, None] * (xy[after] - xy[before])
        px_per_m = radius[inner] / RADIUS_M
        swerve = 0.5 * BRIDGED_ACCELERATION * (times[inner] - times[before]) * (times[after] - times[inner])
        ends = np.maximum(sd[before], sd[after])
        sd[inner] = np.sqrt(ends[None] ** 2 + (swerve * px_per_m)[:, None] ** 2)
    return xy, sd
