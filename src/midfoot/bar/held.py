"""Whether the hands of a lifter hold a bar at all: how the arms are while a bar is held in each of the lifts.

Hands go up and down in many ways without a bar: crossed before the chest, on the knees, stretched out. Nothing in
how they move tells; how they are held does. Whoever squats with empty hands where a bar would be, at the ears, is
not told from a lifter. Hanging arms are everybody's: without a disc near them a pull stays `unsure`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.records.bar import Candidate
from midfoot.records.base import FloatArray
from midfoot.records.body import INDEX, SEEN, BodyTrack

LEAST_SHARE = 0.6
"""Of the frames in which hands are seen where a bar may be: so many must show the sign."""
HANGS, HANGING_STRAIGHT = 1.0, 0.96
"""Pull: from the shoulder down to the fist in trunk lengths, anatomically 1.3 (0.332 + 0.054 of the stature
against 0.288: Winter, Biomechanics and Motor Control of Human Movement, from memory), less from above; and how
straight the arm is, from shoulder to wrist over the way by the elbow (bent by 30 degrees: 0.966)."""
AT_SHOULDERS = (-0.5, 0.25)
"""Squat: a bar on the back or the front of the shoulders, fists this far below them in trunk lengths (0.5 m): with
the bar low on the back 0.1, at the ears -0.3 (common practice, no source)."""
BENT = 0.9
"""... on arms that are bent: straighter ones are stretched out forward."""
REACH = 0.45
"""... and from the side no farther from the shoulder than this."""
SIDE_SPAN = 0.25
"""Shoulders nearer to each other than this share of the trunk: a side view."""
GRIP = 0.9
"""... and from elsewhere as wide as the shoulders at least: nobody holds a bar with crossed arms before his chest,
but for a front squat's crossed hands, which a plate must show."""
ABOVE, LOCKED_ABOVE = 0.1, 0.5
"""Bench: fists this far above the shoulders in the picture all the time, and so far locked out, trunk lengths."""
NEAR_DISC = 1.5
"""A disc that may be the bar's end lies within this many trunk lengths of a fist (0.75 m)."""


@frozen
class Sign:
    """Whether the hands hold a bar: `yes`, `perhaps` or `no`, and the sentence it rests on."""

    held: str
    why: str


def sign_of_bar(
    body: BodyTrack,
    left: FloatArray,
    right: FloatArray,
    use: NDArray[np.bool_],
    trunk_px: float,
    lift: str,
    candidates: Sequence[Candidate] = (),
) -> Sign:
    """Tell from the arms whether they hold a bar.

    Parameters
    ----------
    body : the lifter.
    left, right : (n, 2) px, his fists, NaN where hidden.
    use : (n,) frames in which the hands are where a bar may be.
    trunk_px : length of his trunk.
    lift : squat, bench or deadlift.
    candidates : discs that may be the bar's end: near a fist, one of them is a second sign.
    """
    disc = _disc_near(body, left, right, trunk_px, candidates)
    if not np.isfinite(trunk_px) or trunk_px <= 0:
        return Sign("perhaps" if disc else "no", "the trunk is never seen")
    signs = [_arm(body, side, fist, trunk_px) for side, fist in (("left", left), ("right", right))]
    if lift == "deadlift":
        hangs = _share([(down >= HANGS) & ~(straight < HANGING_STRAIGHT) for down, _, straight in signs], use)
        if hangs >= LEAST_SHARE:
            return Sign("yes" if disc else "perhaps", "the arms hang straight")
        return Sign("no", "the arms do not hang straight as they do from a bar")
    if lift == "bench":
        above = _share([down <= -ABOVE for down, _, _ in signs], use)
        highest = max((float(np.nanpercentile(-d[use], 90)) for d, _, _ in signs if np.isfinite(d[use]).any()),
                      default=0.0)  # fmt: skip
        if above >= LEAST_SHARE and highest >= LOCKED_ABOVE:
            return Sign("yes", "the hands are above the shoulders")
        return Sign("no", "the hands are not above the shoulders as they are under a bar")
    low, high = AT_SHOULDERS
    narrow = _before_the_chest(body, left, right, trunk_px)
    at = [(down >= low) & (down <= high) & ~(straight > BENT) & ~narrow for down, _, straight in signs]
    if _is_side(body, trunk_px):
        at = [one & (reach <= REACH) for one, (_, reach, _) in zip(at, signs, strict=True)]
    if _share(at, use) >= LEAST_SHARE:
        return Sign("yes", "the hands are at the shoulders")
    if disc:
        return Sign("yes", "a disc is near the hands")
    return Sign("no", "the hands are not at the shoulders as they are on a bar")


def _arm(
    body: BodyTrack, side: str, fist: FloatArray, trunk_px: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give how far the fist is below its shoulder and away from it, trunk lengths, and how straight the arm is."""
    a, b, c = (INDEX[f"{side}_{n}"] for n in ("shoulder", "elbow", "wrist"))
    shoulder = np.where((body.state[:, a] == SEEN)[:, None], body.xy_px[:, a], np.nan)
    away = (fist - shoulder) / trunk_px
    known = (body.state[:, [a, b, c]] == SEEN).all(axis=1)
    elbow, wrist = body.xy_px[:, b], body.xy_px[:, c]
    way = np.hypot(*(elbow - shoulder).T) + np.hypot(*(wrist - elbow).T)
    straight = np.where(known, np.hypot(*(wrist - shoulder).T) / np.maximum(way, 1e-9), np.nan)
    return away[:, 1], np.hypot(away[:, 0], away[:, 1]), straight


def _share(signs: list[NDArray[np.bool_]], use: NDArray[np.bool_]) -> float:
    """Share of the frames in which either arm shows the sign."""
    return float((signs[0] | signs[1])[use].mean()) if use.any() else 0.0


def _is_side(body: BodyTrack, trunk_px: float) -> bool:
    return _shoulders(body)[1] < SIDE_SPAN * trunk_px


def _shoulders(body: BodyTrack) -> tuple[FloatArray, float]:
    """Give the vector from the right to the left shoulder (n, 2), and its median length."""
    both = [INDEX["left_shoulder"], INDEX["right_shoulder"]]
    known = (body.state[:, both] == SEEN).all(axis=1)
    across = np.where(known[:, None], body.xy_px[:, both[0]] - body.xy_px[:, both[1]], np.nan)
    return across, float(np.nanmedian(np.hypot(*across[known].T))) if known.any() else 0.0


def _before_the_chest(body: BodyTrack, left: FloatArray, right: FloatArray, trunk_px: float) -> NDArray[np.bool_]:
    """Tell where both fists are seen nearer to each other, along the shoulders, than the shoulders are."""
    across, width = _shoulders(body)
    if width < SIDE_SPAN * trunk_px:
        return np.zeros(len(body.t_s), bool)
    with np.errstate(invalid="ignore", divide="ignore"):
        along = ((left - right) * across).sum(axis=1) / np.hypot(*across.T) ** 2
    return np.asarray(along < GRIP)


def _disc_near(
    body: BodyTrack, left: FloatArray, right: FloatArray, trunk_px: float, candidates: Sequence[Candidate]
) -> bool:
    for one in candidates:
        row = int(np.argmin(np.abs(body.t_s - one.at_s)))
        away = [np.hypot(f[row, 0] - one.x_px, f[row, 1] - one.y_px) for f in (left, right)]
        if np.nanmin([*away, np.inf]) <= max(NEAR_DISC * trunk_px, one.radius_px):
            return True
    return False
