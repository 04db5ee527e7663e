"""Of the lines of all frames, the way of one that keeps its place beside the fists: the bar's shaft.

First by where the lines are, then once more by what lies around them, the bar's own edges averaged over the clip.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from midfoot.bar.hands import running_median
from midfoot.bar.shaft_lines import AROUND_PX, GROUPS, HALF_LONG_M, KEPT, UNIT, Lines
from midfoot.records.base import FloatArray

NOTHING = 0.05
"""What a frame without the bar is worth beside a line's score."""
STEP_M, STEP_SLOPE, STEP_COST, MOST_STEP = 0.010, 0.015, 0.03, 0.35
"""A step of so many metres, or of so much slope, from frame to frame beside the fists costs so much score; no step
costs more than the last. It counts for 1/30 s, longer for longer steps in time."""
LEAVE_COST = 0.04
LEVELS, NEAR_M, ASIDE_M = 12, 0.012, 0.06
"""Heights of the fists at which it is asked where lines are, each to so much; how far off them the bar lies."""
OFF_M, OFF_SLOPE, OFF_COST = 0.03, 0.05, 0.10
"""What it costs a line to be so far from where, or so much steeper than, the clip mostly has it."""
WAY_M, SLOW_S = 0.025, 0.5
"""A line farther than this from the running median of the way beside the fists is another thing."""
MOST_ASIDE_M = 0.075
FAINT = 0.35
"""A line that scores less than this share of the clip's usual one is another, or too little of it is seen."""
MOST_SHIFT = 4
"""How far a line may lie from where it was found, strip pixels."""
GOOD_LIKENESS, LEAST_LIKENESS, LEAST_WEIGHT = 0.6, 0.3, 0.3
PLACES_M = (np.arange(GROUPS) - 0.5 * (GROUPS - 1)) * 2.0 * HALF_LONG_M / GROUPS
"""Middles of the parts of a line's length."""
SLOPE_TIED = 0.01
"""Holds the slope where one part of the length alone shows the bar."""


@frozen(eq=False)
class Way:
    """The line in each frame: height in metres beside the fists, its sd, slope; NaN where there is none."""

    height_m: FloatArray
    sd_m: FloatArray
    slope: FloatArray


@frozen(eq=False)
class Table:
    """The lines of all frames, (n, KEPT), NaN where there are fewer; `around` (n, KEPT, GROUPS, m)."""

    height_m: FloatArray
    sd_m: FloatArray
    slope: FloatArray
    score: FloatArray
    around: NDArray[np.uint8]


def _usual_m(found: list[Lines], y_px: FloatArray) -> float:
    """Where beside the fists a line is at most of the heights (n,) px that they come to.

    What hangs in the room is there at one height only, however long they stay at it.
    """
    known = np.array([i for i, one in enumerate(found) if len(one.score)], int)
    if not len(known):
        return 0.0
    low, high = np.percentile(y_px[known], [1.0, 99.0])
    floor = np.clip(((y_px[known] - low) / max(high - low, 1e-6) * LEVELS).astype(int), 0, LEVELS - 1)
    grid = np.arange(-MOST_ASIDE_M, MOST_ASIDE_M + 1e-9, 0.0025)
    votes = np.zeros((LEVELS, len(grid)))
    for level, i in zip(floor, known, strict=True):
        off = (grid[:, None] - found[i].height_m[None]) / NEAR_M
        votes[level] += (found[i].score * np.exp(-0.5 * off**2)).max(axis=1)
    count = np.bincount(floor, minlength=LEVELS)
    # a level passed in a moment tells less than one stayed at, but not in the measure of the time
    weight = np.sqrt(np.minimum(count, 10))
    mean = (votes / np.maximum(count, 1)[:, None] * weight[:, None]).sum(axis=0)
    return float(grid[np.argmax(mean * np.exp(-0.5 * (grid / ASIDE_M) ** 2))])


def _table(found: list[Lines]) -> Table:
    """Lay the lines of all frames out, a row per frame."""
    n = len(found)
    height, slope, score = (np.full((n, KEPT), np.nan) for _ in range(3))
    around = np.zeros((n, KEPT, GROUPS, 2 * AROUND_PX + 1), np.uint8)
    for i, one in enumerate(found):
        k = len(one.score)
        height[i, :k], slope[i, :k], score[i, :k], around[i, :k] = one.height_m, one.slope, one.score, one.around
    return Table(height, np.full((n, KEPT), 1.0 / UNIT), slope, score, around)


def _followed(t: FloatArray, found: Table, usual_m: float) -> NDArray[np.intp]:
    """Take the way through the lines of all frames that scores best (Viterbi): a line's index, KEPT for none."""
    n = len(t)
    slope = float(np.nanmedian(found.slope[:, 0])) if np.isfinite(found.slope[:, 0]).any() else 0.0
    off = ((found.height_m - usual_m) / OFF_M) ** 2 + ((found.slope - slope) / OFF_SLOPE) ** 2
    worth = np.column_stack([np.nan_to_num(found.score - OFF_COST * off, nan=-np.inf), np.full(n, NOTHING)])
    best = worth[0].copy()
    came = np.zeros((n, KEPT + 1), np.int8)
    for i in range(1, n):
        pace = max((t[i] - t[i - 1]) * 30.0, 1.0)
        step = np.abs(found.height_m[i][:, None] - found.height_m[i - 1][None]) / (STEP_M * pace)
        step += np.abs(found.slope[i][:, None] - found.slope[i - 1][None]) / (STEP_SLOPE * pace)
        cost = np.full((KEPT + 1, KEPT + 1), LEAVE_COST)
        cost[:KEPT, :KEPT] = np.minimum(STEP_COST * np.nan_to_num(step, nan=np.inf), MOST_STEP)
        cost[KEPT, KEPT] = 0.0
        total = best[None, :] - cost
        came[i] = np.argmax(total, axis=1)
        best = worth[i] + total[np.arange(KEPT + 1), came[i]]
    taken = np.empty(n, np.intp)
    taken[-1] = int(np.argmax(best))
    for i in range(n - 1, 0, -1):
        taken[i - 1] = came[i, taken[i]]
    return taken


def way_of(t: FloatArray, found: list[Lines], middle_y_px: FloatArray) -> Way:
    """Take the lines that are the bar's, learn what lies around them, and with it take and measure them again."""
    usual = _usual_m(found, middle_y_px)
    coarse = _table(found)
    taken = _followed(t, coarse, usual)
    rows = np.flatnonzero(taken < KEPT)
    if len(rows) < 8:
        return Way(*(np.full(len(t), np.nan) for _ in range(3)))
    fine = _measured(coarse, rows, taken[rows])
    taken = _followed(t, fine, usual)
    pick = np.arange(len(t)), np.minimum(taken, KEPT - 1)
    score = np.where(taken < KEPT, fine.score[pick], np.nan)
    seen = score >= FAINT * np.nanmedian(score) if (taken < KEPT).any() else np.zeros(len(t), bool)
    return Way(*(np.where(seen, a[pick], np.nan) for a in (fine.height_m, fine.sd_m, fine.slope)))


def _measured(found: Table, rows: NDArray[np.intp], taken: NDArray[np.intp]) -> Table:
    """Measure all lines by laying on each, part by part of its length, the mean of what lies around those taken.

    The score is then also how alike they are.
    """
    around = found.around[rows, taken].astype(float) / 255.0
    shown = around.max(axis=2) > 0
    look = around[shown].mean(axis=0)
    for _ in range(3):
        shift, likeness = _laid(around, look)
        good = shown & (likeness > GOOD_LIKENESS)
        if good.sum() < 8:
            break
        look = _shifted(around[good], shift[good]).mean(axis=0)
    shift, likeness = _laid(around, look)
    # the lines were found by both edges alike: on the whole what lies around them is not aside of them
    good = shown & (likeness > GOOD_LIKENESS)
    aside = float(np.median(shift[good])) if good.any() else 0.0
    n = len(found.score)
    flat = found.around.reshape(n * KEPT, GROUPS, -1).astype(float) / 255.0
    shift, likeness = _laid(flat, look)
    weight = np.where(flat.max(axis=2) > 0, np.clip(likeness - LEAST_LIKENESS, 0.0, None), 0.0)
    off = (shift - aside) / UNIT
    line = _lines_through(off, weight)
    missed = off - line[:, :1] - line[:, 1:] * PLACES_M
    sd = np.sqrt((weight * missed**2).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-9) / (GROUPS - 2.0))
    told = (weight.sum(axis=1) >= LEAST_WEIGHT) & ((weight > 0).sum(axis=1) >= 2)
    fit = np.where(told, (weight * likeness).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-9), 0.0)
    height, slope, fit, sd = (v.reshape(n, KEPT) for v in (line[:, 0], line[:, 1], fit, sd))
    score = np.where(fit > 0, found.score * fit**2, np.nan)
    return Table(found.height_m + height, sd, found.slope + slope, score, found.around)


def _lines_through(off_m: FloatArray, weight: FloatArray) -> FloatArray:
    """Lay a line through the parts of each length (n, GROUPS), by least squares: its height and slope (n, 2)."""
    s0, s1, s2 = (weight.sum(axis=1) + 1e-9, weight @ PLACES_M, weight @ PLACES_M**2 + SLOPE_TIED)
    y0, y1 = (weight * off_m).sum(axis=1), (weight * off_m) @ PLACES_M
    det = s0 * s2 - s1**2
    return np.column_stack([(y0 * s2 - y1 * s1) / det, (y1 * s0 - y0 * s1) / det])


def _laid(around: FloatArray, look: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where `look` (m,) fits best on each of `around` (n, g, m): shift in strip pixels, and likeness -1..1."""
    inner = look[MOST_SHIFT:-MOST_SHIFT]
    inner = (inner - inner.mean()) / max(float(np.std(inner)), 1e-6)
    windows = np.lib.stride_tricks.sliding_window_view(around, len(inner), axis=2)
    mean = windows.mean(axis=-1)
    spread = np.sqrt(np.maximum((windows**2).mean(axis=-1) - mean**2, 0.0))
    score = (windows @ inner) / len(inner) / np.maximum(spread, 1e-3)
    top = np.clip(np.argmax(score, axis=-1), 1, score.shape[-1] - 2)
    left, here, right = (np.take_along_axis(score, (top + k)[..., None], -1)[..., 0] for k in (-1, 0, 1))
    bend = 2.0 * here - left - right
    part = np.where(bend > 1e-6, 0.5 * (right - left) / np.maximum(bend, 1e-6), 0.0)
    return top - MOST_SHIFT + np.clip(part, -0.5, 0.5), here


def _shifted(rows: FloatArray, shift: FloatArray) -> FloatArray:
    """Move each of `rows` (n, m) up by its `shift` (n,) pixels."""
    at = np.arange(rows.shape[1])
    return np.array([np.interp(at + s, at, row) for row, s in zip(rows, shift, strict=True)])


def cleaned(t: FloatArray, way: Way) -> Way:
    """Leave out what is far from the way around it in time, or from where the clip mostly has it."""
    height = way.height_m
    known = np.isfinite(height)
    if known.sum() < 8:
        return way
    usual = running_median(t, height[:, None], known, SLOW_S)[:, 0]
    with np.errstate(invalid="ignore"):
        off = (np.abs(height - usual) > WAY_M) | (np.abs(height - np.nanmedian(height)) > MOST_ASIDE_M)
    height = np.where(off, np.nan, height)
    return evolve(way, height_m=height)


def noise_of(height_m: FloatArray) -> float:
    """Random error of the heights by their own third differences (white noise: variance 20)."""
    known = height_m[np.isfinite(height_m)]
    third = np.abs(np.diff(known, n=3))
    return float(np.median(third)) / 0.6745 / math.sqrt(20.0) if third.size else 0.0
