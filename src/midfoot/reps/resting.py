"""Heights that go up and down: of the bar or, where none was followed, of the hips; and where they rest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from midfoot.records.bar import BarPath
from midfoot.records.body import BodyTrack
from midfoot.records.clip import ClipInfo
from midfoot.reps.alone import path_from_body
from midfoot.reps.dips import LEAST_MM, LEAST_NOISE, dips_of
from midfoot.reps.fits import Resting
from midfoot.reps.heights import GRID_S, Heights, pieces
from midfoot.reps.seat import sits_at

END_STEPS = round(0.4 / GRID_S)
"""Stillness as near as this to the clip's first or last moment is how the clip starts or ends."""


def least_mm(h: Heights, lift: str) -> float:
    """Give the least excursion that may be a rep in these heights."""
    return max(LEAST_MM[lift], LEAST_NOISE * h.wander_mm, LEAST_NOISE * h.noise_mm)


def heights_of(path: BarPath, lift: str, info: ClipInfo) -> list[Heights]:
    """Give the pieces of a path as heights that fall from rest."""
    # What a hand's sway and rows read one after the other leave is slow: no noise that smoothing would take out.
    of_frames = np.sqrt(np.maximum(path.sd_up_mm**2 - path.hand_mm**2 - path.rolled_mm**2, 0.0))
    return pieces(
        path.t_s, path.up_mm, sd_mm=of_frames, seen=path.seen, forward_mm=path.forward_mm,
        sign=-1 if lift == "deadlift" else 1, cuts_s=info.cuts_s,
    )  # fmt: skip


def hip_heights(body: BodyTrack, info: ClipInfo) -> list[Heights]:
    """Give the height of the hips, empty unless they go up and down as in a squat or pull."""
    path = path_from_body(body, "squat")
    parts = heights_of(path, "squat", info) if path is not None else []
    goes = [float(np.ptp(h.x_mm)) for h in parts]
    return parts if any(g >= least_mm(h, "squat") for g, h in zip(goes, parts, strict=True)) else []


def seated(body: BodyTrack, hips: Sequence[Heights]) -> bool:
    """Say whether the lifter is seen to sit where the hips are low between two rises."""
    lows: list[float] = []
    tops: list[float] = []
    for h in hips:
        for dip in dips_of(h, least_mm(h, "squat")):
            lows.append(float(h.t_s[dip.at]))
            tops += [float(h.t_s[i]) for i, way in ((dip.before, dip.fall_mm), (dip.after, dip.rise_mm))
                     if way > 0.5 * dip.depth_mm]  # fmt: skip
    return bool(lows) and sits_at(body, lows, tops)


def resting_of(parts: Sequence[Heights]) -> Resting:
    """Say whether the height rests low or high: where it stands still, the clip's ends above all."""
    if not parts:
        return Resting(None)
    seconds = {"low": 0.0, "high": 0.0}
    ends: list[str | None] = [None, None]
    bottom = min(float(np.min(h.sign * h.x_mm)) for h in parts)
    top = max(float(np.max(h.sign * h.x_mm)) for h in parts)
    for h in parts:
        for s in h.still:
            share = (float(np.median(h.sign * h.x_mm[s.first : s.past])) - bottom) / max(top - bottom, 1.0)
            level = "low" if share < 0.25 else "high" if share > 0.75 else None
            if level is not None:
                seconds[level] += (s.past - s.first) * GRID_S
            if h is parts[0] and s.first <= END_STEPS and ends[0] is None:
                ends[0] = level
            if h is parts[-1] and s.past >= len(h) - END_STEPS:
                ends[1] = level
    if ends[0] is not None and ends[0] == ends[1]:
        return Resting(ends[0], True)
    for level, other in (("low", "high"), ("high", "low")):
        if seconds[level] > 2 * seconds[other] and seconds[level] > 1.0:
            return Resting(level)
    return Resting(None)
