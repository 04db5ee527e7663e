"""Smoothing, differentiating and resampling of measured signals; pure functions, shared by every stage.

Time is each sample's own timestamp. NaN means not seen: gaps up to a stated length are bridged on a straight line,
longer ones stay gaps, and nothing is ever filtered across them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from attrs import frozen

from midfoot.records.base import BoolArray, FloatArray, bool_field, float_field

MAX_GAP_S = 0.2
PASSES = 2


@frozen(kw_only=True)
class Uniform:
    """A signal on an even grid: `t_s` (m,), `x` (m,) with NaN in gaps, `measured` false where bridged or gap."""

    t_s: FloatArray = float_field(None)
    x: FloatArray = float_field(None)
    measured: BoolArray = bool_field(None)
    rate_hz: float


def median_rate_hz(t_s: FloatArray) -> float:
    """Samples a second by the median interval of the timestamps; NaN below two samples."""
    if t_s.size < 2:
        return math.nan
    step = float(np.median(np.diff(t_s)))
    return 1.0 / step if step > 0.0 else math.nan


def resample(t_s: FloatArray, x: FloatArray, rate_hz: float, max_gap_s: float = MAX_GAP_S) -> Uniform:
    """Bring a signal onto an even grid by its timestamps.

    Parameters
    ----------
    t_s : (n,) s
        Increasing.
    x : (n,)
        NaN where not seen.
    rate_hz : float
        Of the grid, which starts at `t_s[0]`.
    max_gap_s : float
        Longest time between two seen samples that is bridged by a straight line.

    Returns
    -------
    Uniform
    """
    if t_s.size == 0:
        return Uniform(t_s=t_s, x=x, measured=np.zeros(0, dtype=bool), rate_hz=rate_hz)
    grid = t_s[0] + np.arange(math.floor((t_s[-1] - t_s[0]) * rate_hz + 1e-6) + 1) / rate_hz
    ok = np.isfinite(x)
    if not ok.any():
        return Uniform(
            t_s=grid, x=np.full(grid.shape, np.nan), measured=np.zeros(grid.shape, dtype=bool), rate_hz=rate_hz
        )
    seen = t_s[ok]
    out = np.interp(grid, seen, x[ok])
    slack = 1e-6 / rate_hz
    after = np.clip(np.searchsorted(seen, grid - slack, side="left"), 0, seen.size - 1)
    before = np.clip(np.searchsorted(seen, grid + slack, side="right") - 1, 0, seen.size - 1)
    gap = seen[after] - seen[before]
    # the grid may run half a step past the samples: that much is no gap
    outside = np.maximum(seen[0] - grid, grid - seen[-1])
    lost = (gap > max_gap_s) | (outside > 0.5 / rate_hz)
    # bridged: a frame between the two seen samples was looked at and not seen
    missing = np.cumsum(~ok)
    place = np.flatnonzero(ok)
    bridged = missing[place[after]] > missing[place[before]]
    return Uniform(t_s=grid, x=np.where(lost, np.nan, out), measured=~(lost | bridged), rate_hz=rate_hz)


def two_pass_correction(passes: int = PASSES) -> float:
    """Give by how much a cut-off falls when a second-order Butterworth filter runs `passes` times.

    (2^(1/n) - 1)^(1/4): 0.802 for two passes (Winter, Biomechanics and Motor Control of Human Movement, 2009).
    """
    return float((2.0 ** (1.0 / passes) - 1.0) ** 0.25)


def butterworth(cutoff_hz: float, rate_hz: float, passes: int = PASSES) -> tuple[FloatArray, FloatArray]:
    """Give a second-order low-pass whose gain after `passes` passes is 0.7071 at the cut-off.

    The correction is applied to the warped frequency tan(pi fc / fs) (Winter/Robertson form). Dividing the cut-off
    itself by 0.802 is only good far below the frame rate: at 30 fps and 6 Hz it leaves 0.78.

    Returns
    -------
    b, a : (3,) each
        As `scipy.signal.lfilter` takes them.
    """
    if not 0.0 < cutoff_hz < 0.5 * rate_hz:
        raise ValueError(f"cutoff_hz: expected between 0 and half the rate {rate_hz:g} Hz, got {cutoff_hz:g}")
    w = math.tan(math.pi * cutoff_hz / rate_hz) / two_pass_correction(passes)
    k1, k2 = math.sqrt(2.0) * w, w * w
    a0 = k2 / (1.0 + k1 + k2)
    k3 = 2.0 * a0 / k2
    return np.array([a0, 2.0 * a0, a0]), np.array([1.0, 2.0 * a0 - k3, -(1.0 - 2.0 * a0 - k3)])


def runs(ok: BoolArray) -> Iterator[slice]:
    """Give the unbroken stretches of True."""
    edge = np.flatnonzero(np.diff(np.concatenate([[False], ok, [False]]).astype(np.int8)))
    for start, stop in edge.reshape(-1, 2):
        yield slice(int(start), int(stop))


def low_pass(x: FloatArray, rate_hz: float, cutoff_hz: float) -> FloatArray:
    """Filter forward and backward (no lag) with the corrected Butterworth; NaN stays, and is not filtered across.

    Parameters
    ----------
    x : (m,)
        On an even grid.

    Returns
    -------
    (m,)
        Stretches of fewer than four samples are given back as they are. A cut-off at or above 0.45 of the rate
        leaves everything as it is: there is nothing to cut.
    """
    from scipy.signal import filtfilt  # late: it takes 0.3 s to load, before the first word

    out = np.array(x, dtype=np.float64)
    if cutoff_hz >= 0.45 * rate_hz:
        return out
    b, a = butterworth(cutoff_hz, rate_hz)
    pad = math.ceil(1.5 * rate_hz / cutoff_hz)
    for run in runs(np.isfinite(out)):
        n = run.stop - run.start
        if n >= 4:
            out[run] = filtfilt(b, a, out[run], padtype="odd", padlen=min(pad, n - 1))
    return out


def smoothed(
    t_s: FloatArray, x: FloatArray, cutoff_hz: float, max_gap_s: float = MAX_GAP_S
) -> tuple[FloatArray, FloatArray]:
    """Smooth a signal at its own timestamps, and differentiate it there.

    Returns
    -------
    smooth, rate : (n,) each
        Value and time derivative; NaN where a gap is longer than `max_gap_s`.
    """
    rate_hz = median_rate_hz(t_s)
    if not math.isfinite(rate_hz):
        return np.array(x, dtype=np.float64), np.full(x.shape, np.nan)
    even = resample(t_s, x, rate_hz, max_gap_s)
    flat = low_pass(even.x, rate_hz, cutoff_hz)
    return _back(even.t_s, flat, t_s), _back(even.t_s, derivative(flat, rate_hz), t_s)


def _back(grid_s: FloatArray, x: FloatArray, t_s: FloatArray) -> FloatArray:
    """Bring an even signal back to the samples' own times; NaN where the nearest grid points are."""
    if grid_s.size < 2:
        return np.full(t_s.shape, np.nan)
    step = grid_s[1] - grid_s[0]
    nearest = np.clip(np.rint((t_s - grid_s[0]) / step).astype(int), 0, grid_s.size - 1)
    ok = np.isfinite(x)
    if not ok.any():
        return np.full(t_s.shape, np.nan)
    return np.where(ok[nearest], np.interp(t_s, grid_s[ok], x[ok]), np.nan)


def derivative(x: FloatArray, rate_hz: float) -> FloatArray:
    """Central differences on an even grid, one-sided at the ends of every stretch; NaN where alone."""
    out = np.full(x.shape, np.nan)
    for run in runs(np.isfinite(x)):
        if run.stop - run.start >= 2:
            out[run] = np.gradient(x[run], 1.0 / rate_hz)
    return out


def derivative_sd(
    t_s: FloatArray, sd: FloatArray, cutoff_hz: float | None = None, rate_hz: float | None = None
) -> FloatArray:
    """Give the sd of the derivative that `smoothed` gives for independent errors `sd` of the samples.

    The errors run through filter and difference: sd_v^2 = sum over samples of (weight sd)^2. Without a cut-off it
    is that of central differences, sd fs / sqrt(2).

    Parameters
    ----------
    t_s : (n,) s
    sd : (n,)
        NaN where not seen; filled with the nearest for this purpose.
    """
    rate = rate_hz if rate_hz is not None else median_rate_hz(t_s)
    if not math.isfinite(rate) or not np.isfinite(sd).any():
        return np.full(sd.shape, np.nan)
    weights = derivative_weights(rate, cutoff_hz)
    known = np.isfinite(sd)
    filled = np.interp(t_s, t_s[known], sd[known])
    half = weights.size // 2
    padded = np.pad(filled**2, half, mode="edge")
    return np.sqrt(np.convolve(padded, (weights**2)[::-1], mode="valid"))


def derivative_weights(rate_hz: float, cutoff_hz: float | None) -> FloatArray:
    """Give what each sample counts in the derivative at the middle one, (2k + 1,) in 1/s."""
    if cutoff_hz is None or cutoff_hz >= 0.45 * rate_hz:
        return np.array([-0.5, 0.0, 0.5]) * rate_hz
    half = max(math.ceil(2.5 * rate_hz / cutoff_hz), 3)
    impulse = np.zeros(4 * half + 1)
    impulse[2 * half] = 1.0
    answer = derivative(low_pass(impulse, rate_hz, cutoff_hz), rate_hz)
    return np.asarray(answer[half : 3 * half + 1][::-1])


def smoothed_sd(sd: float, rate_hz: float, cutoff_hz: float) -> float:
    """Give the sd that is left of independent errors `sd` after `low_pass`."""
    half = max(math.ceil(2.5 * rate_hz / cutoff_hz), 3)
    impulse = np.zeros(4 * half + 1)
    impulse[2 * half] = 1.0
    return sd * math.sqrt(float(np.sum(low_pass(impulse, rate_hz, cutoff_hz) ** 2)))


def residuals(x: FloatArray, rate_hz: float, cutoffs_hz: FloatArray) -> FloatArray:
    """Give the rms of what each cut-off takes away, (k,)."""
    ok = np.isfinite(x)
    if not ok.any():
        return np.full(cutoffs_hz.shape, np.nan)
    left = [(x - low_pass(x, rate_hz, f))[ok] for f in cutoffs_hz]
    return np.array([math.sqrt(float(np.mean(r**2))) for r in left])


def residual_cutoff_hz(x: FloatArray, rate_hz: float, lowest_hz: float = 1.0) -> float:
    """Choose a cut-off by residual analysis.

    Above the signal's band the residual over cut-off is a straight line of noise; that line's value at 0 Hz is the
    noise's rms, and the cut-off is where the residual equals it (Winter 2009). The tail is the upper half of the
    frequencies up to 0.4 of the rate. Needs 1 s of signal; NaN otherwise.
    """
    if np.isfinite(x).sum() < max(rate_hz, 16):
        return math.nan
    top = 0.4 * rate_hz
    cutoffs = np.linspace(min(0.5, 0.1 * top), top, 80)
    left = residuals(x, rate_hz, cutoffs)
    tail = cutoffs >= 0.5 * top
    slope, noise = np.polyfit(cutoffs[tail], left[tail], 1)
    if noise <= 0.0 or slope > 0.0:
        return float(top)
    below = np.flatnonzero(left <= noise)
    if below.size == 0:
        return float(top)
    i = int(below[0])
    if i == 0:
        return float(max(cutoffs[0], lowest_hz))
    share = (left[i - 1] - noise) / max(left[i - 1] - left[i], 1e-300)
    return float(max(cutoffs[i - 1] + share * (cutoffs[i] - cutoffs[i - 1]), lowest_hz))


def local_polynomial_weights(window: int, degree: int, order: int = 0) -> FloatArray:
    """Give the weights of a least-squares polynomial through an odd window, at its middle.

    For its value (`order` 0) or a derivative (Savitzky & Golay 1964). Per sample interval to the power of `order`.
    """
    if window % 2 == 0 or window <= degree:
        raise ValueError(f"window: expected odd and more than degree {degree}, got {window}")
    place = np.arange(window) - window // 2
    powers = np.vander(place.astype(np.float64), degree + 1, increasing=True)
    return np.asarray(np.linalg.pinv(powers)[order] * math.factorial(order))
