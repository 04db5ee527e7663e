"""The bar's vertical velocity: filtered height, its slope, and how far that slope can be trusted."""

from __future__ import annotations

from functools import cache

import numpy as np
from attrs import frozen
from scipy.interpolate import CubicSpline

from midfoot.measures.bar import BarReader
from midfoot.numeric import low_pass, resample, runs
from midfoot.records.base import FloatArray

LOWEST_HZ, HIGHEST_HZ = 4.0, 10.0
"""Cut-offs used for bar points in lifting studies lie between 4 and 10 Hz, 6 Hz the commonest (from memory of the
literature)."""
CUTOFF_SHARE = 0.25
"""The cut-off never lies above this share of the frame rate."""
NOISE_M_S = 0.012
"""The cut-off is the highest that leaves no more noise than this in the velocity: a clean track keeps its sharp
peaks, a noisy one is smoothed."""
GAP_S = 0.2
"""Stretches without a seen frame longer than this have no velocity."""
SLOW_S = 0.3
"""The slow part of the path's error is taken to change by itself in this time: about a phase of a lift (judgement;
trials found errors of the plate's centre slow against the frame interval)."""
LOWEST_FPS = 15.0


@frozen(eq=False)
class Velocity:
    """Height and vertical velocity on an even grid of times over the whole clip; NaN inside gaps."""

    t_s: FloatArray
    up_mm: FloatArray
    velocity_m_s: FloatArray
    sd_m_s: FloatArray
    cutoff_hz: float

    def span(self, start_s: float, end_s: float) -> np.ndarray:
        """Give the indices of the grid inside a stretch."""
        return np.flatnonzero((self.t_s >= start_s - 1e-9) & (self.t_s <= end_s + 1e-9))


def velocity(bar: BarReader, interval_s: float) -> Velocity | None:
    """Differentiate the path's height; None when there are too few frames."""
    return filtered(bar, interval_s, cutoff_hz(bar.white_mm[1], 1.0 / interval_s)) if interval_s > 0 else None


def cutoff_hz(white_mm: float, rate_hz: float) -> float:
    """Choose the cut-off for a track whose height is off by `white_mm` from frame to frame."""
    highest = min(HIGHEST_HZ, CUTOFF_SHARE * rate_hz)
    for cutoff in np.arange(highest, LOWEST_HZ, -0.5):
        if white_mm / 1000.0 * slope_gain(float(cutoff), rate_hz) <= NOISE_M_S:
            return float(cutoff)
    return min(LOWEST_HZ, highest)


def filtered(bar: BarReader, interval_s: float, cutoff: float) -> Velocity | None:
    """Differentiate with a cut-off of one's own (how much the cut-off takes off a peak is told by two)."""
    if len(bar.t_s) < 20 or interval_s <= 0:
        return None
    rate = 1.0 / interval_s
    # Bridged rows carry a position for the eye; only seen ones are differentiated.
    seen = bar.path.seen & np.isfinite(bar.path.up_mm)
    if seen.sum() < 20:
        return None
    even = resample(bar.path.t_s, np.where(seen, bar.path.up_mm, np.nan), rate, GAP_S)
    smooth = low_pass(even.x, rate, cutoff)
    speed = slope(smooth, rate) / 1000.0
    noise = np.hypot(bar.white_mm[1] * slope_gain(cutoff, rate), bar.slow_mm(1) * np.sqrt(2.0) / SLOW_S) / 1000.0
    sd = np.where(np.isfinite(speed), noise, np.nan)
    return Velocity(even.t_s, smooth, speed, sd, cutoff)


def slope(x: FloatArray, rate_hz: float) -> FloatArray:
    """Differentiate a filtered signal on an even grid by a cubic spline, run by run; NaN stays.

    Central differences lose 6 % of a 3 Hz movement at 30 frames a second (sin(w)/w), which is what peaks are made
    of; the spline loses under 0.2 %.
    """
    out = np.full(x.shape, np.nan)
    for run in runs(np.isfinite(x)):
        n = run.stop - run.start
        if n >= 4:
            out[run] = CubicSpline(np.arange(n) / rate_hz, x[run]).derivative()(np.arange(n) / rate_hz)
    return out


@cache
def slope_gain(cutoff: float, rate_hz: float) -> float:
    """Give the sd of the filtered slope per unit of white noise, 1/s: the length of the weights of all frames."""
    half = max(int(np.ceil(3.0 * rate_hz / cutoff)), 6)
    impulse = np.zeros(4 * half + 1)
    impulse[2 * half] = 1.0
    return float(np.linalg.norm(slope(low_pass(impulse, rate_hz, cutoff), rate_hz)))
