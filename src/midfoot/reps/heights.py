"""Heights over time, made fit for segmentation: even grid, known noise, known gaps.

Everything later works on `Heights.x_mm`, which falls from the place where the bar rests between reps to the
extreme of the rep and returns: for squat and bench it is the bar's height, for the deadlift its negative (the
bar rests on the floor and its extreme is the top). One segmentation then serves all three lifts.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from attrs import frozen
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from midfoot.numeric import runs
from midfoot.records.base import BoolArray, FloatArray

GRID_S = 0.01
"""Step of the even grid; a tenth of the shortest thing looked for (a hold of 0.25 s)."""
GAP_FRAMES = 3.5
GAP_S = 0.12
"""A hole of more than this many frames and this long is a gap: what happens inside is not seen."""
BRIDGED_SD_MM = 25.0
"""A bridged row is used while its own sd says it is still worth more than a straight line across the gap."""
SPIKE_MM = 10.0
SPIKE_MM_S2 = 12_000.0
"""A single row this far (and 6 noise sds) off its neighbours' curve is a slip of the tracking, unless turning
round with somewhat more than gravity's acceleration would leave as much between frames this far apart."""
JUMP_MM = 40.0
"""A cut in the picture over which the bar's height goes on within this is no cut in the bar's path."""
STILL_MM_S = 20.0
"""Slower than this is still: standing sway of 5 mm at 0.5 Hz stays below, the slowest grinding ascents stay above
except where they really stick (common practice in human movement work, no single source)."""


@frozen
class Stretch:
    """A stretch of the grid, first index and one past the last."""

    first: int
    past: int

    def overlaps(self, first: int, past: int) -> bool:
        """Say whether it shares a grid point with [first, past)."""
        return self.first < past and first < self.past


@frozen(kw_only=True)
class Heights:
    """One uninterrupted piece of a clip on an even grid.

    Attributes
    ----------
    t_s : (n,) s, step `GRID_S`
    x_mm : (n,) mm
        Lightly smoothed; `sign` x height (see the module's text).
    slow_mm : (n,) mm
        The same smoothed as the slope is; for asking where the bar is at all, not when.
    v_mm_s : (n,) mm/s
        Slope of x over about 0.3 s, longer where the track is noisy.
    forward_mm : (n,) mm, NaN where not known
    gap : (n,) bool
        Inside a hole of the track.
    still : tuple of Stretch
        Where |v| stays below `still_mm_s` for at least `hold_s`.
    noise_mm : float
        Random error of one row of the track, one sd.
    wander_mm : float
        What the smoothed heights still wander by while the bar is held: noise left over and the lifter's sway.
    frame_s : float
        Median interval of the rows.
    sharp_s : float
        Sigma of the smoothing of x.
    """

    sign: int
    t_s: FloatArray
    x_mm: FloatArray
    slow_mm: FloatArray
    v_mm_s: FloatArray
    forward_mm: FloatArray
    gap: BoolArray
    still: tuple[Stretch, ...]
    still_mm_s: float
    noise_mm: float
    wander_mm: float
    frame_s: float
    sharp_s: float

    def __len__(self) -> int:
        return len(self.t_s)

    @property
    def swing_mm(self) -> float:
        """How far noise alone moves the height within a second or two: some 4 sds from one side to the other."""
        return 4 * max(self.wander_mm, self.noise_mm)

    def index(self, t_s: float) -> int:
        """Give the grid point nearest a time."""
        return int(np.clip(round((t_s - self.t_s[0]) / GRID_S), 0, len(self.t_s) - 1))

    def gap_length_s(self, index: int) -> float:
        """Give the length of the hole that a grid point lies in, 0 outside holes."""
        if not self.gap[index]:
            return 0.0
        seen = np.flatnonzero(~self.gap)
        before, after = seen[seen < index], seen[seen > index]
        first = before[-1] if len(before) else 0
        last = after[0] if len(after) else len(self) - 1
        return float(self.t_s[last] - self.t_s[first])


def pieces(
    t_s: FloatArray,
    up_mm: FloatArray,
    *,
    sd_mm: FloatArray,
    seen: BoolArray,
    forward_mm: FloatArray,
    sign: int,
    cuts_s: tuple[float, ...] = (),
) -> list[Heights]:
    """Give the pieces of a path between cuts of the clip, each on an even grid.

    Rows that are NaN are left out; bridged rows (`seen` false) only help while their sd is small. Pieces under
    half a second are dropped: no rep fits in.
    """
    usable = np.isfinite(up_mm) & np.isfinite(t_s)
    usable &= seen | (np.nan_to_num(sd_mm, nan=np.inf) <= BRIDGED_SD_MM)
    t, up, sd, fwd = t_s[usable], up_mm[usable], sd_mm[usable], forward_mm[usable]
    keep = np.concatenate([[True], np.diff(t) > 1e-6]) if len(t) else np.zeros(0, dtype=bool)
    t, up, sd, fwd = t[keep], up[keep], sd[keep], fwd[keep]
    if len(t) < 4:
        return []
    noise = _noise(t, up, sd)
    kept = ~_spikes(t, up, noise)
    t, up, fwd = t[kept], up[kept], fwd[kept]
    edges = [0, *(_real_cut(t, up, c) for c in cuts_s), len(t)]
    out = []
    for first, past in pairwise(edges):
        if past - first >= 4 and t[past - 1] - t[first] >= 0.5:
            out.append(_piece(t[first:past], up[first:past], fwd[first:past], noise, sign))
    return out


def _real_cut(t: FloatArray, up: FloatArray, cut_s: float) -> int:
    """Index of the first row after a cut, 0 (no piece) where the bar's height simply goes on."""
    after = int(np.searchsorted(t, cut_s))
    if after < 3 or after > len(t) - 3:
        return 0
    ahead = up[after - 1] + (up[after - 1] - up[after - 3]) / (t[after - 1] - t[after - 3]) * (
        t[after] - t[after - 1]
    )
    return 0 if abs(up[after] - ahead) < JUMP_MM else after


def _residual(t: FloatArray, up: FloatArray) -> FloatArray:
    """Distance of each inner row from the line between its neighbours, in sds of a row of white noise."""
    share = (t[1:-1] - t[:-2]) / (t[2:] - t[:-2])
    line = up[:-2] * (1 - share) + up[2:] * share
    return np.asarray((up[1:-1] - line) / np.sqrt(1 + share**2 + (1 - share) ** 2))


def _noise(t: FloatArray, up: FloatArray, sd: FloatArray) -> float:
    """Take the larger of what the track says of itself and what its quietest part shows.

    The lower quartile of the rows' residuals (0.3186 sd in white noise) is hardly touched by the movement.
    """
    shown = float(np.quantile(np.abs(_residual(t, up)), 0.25)) / 0.3186
    known = sd[np.isfinite(sd)]
    said = float(np.median(known)) if len(known) else 0.0
    return max(said, shown, 0.2)


def _spikes(t: FloatArray, up: FloatArray, noise: float) -> BoolArray:
    """Rows that leave the curve through their four neighbours, more than theirs do, and come back at once."""
    out = np.zeros(len(t), dtype=bool)
    if len(t) < 9:
        return out
    around = np.stack([np.arange(2, len(t) - 2) + k for k in (-2, -1, 1, 2)])
    off = np.abs(up[2:-2] - _cubic(t[around], up[around], t[2:-2]))
    turning = 0.5 * SPIKE_MM_S2 * (0.5 * (t[3:-1] - t[1:-3])) ** 2
    back = np.minimum(np.abs(up[2:-2] - up[1:-3]), np.abs(up[2:-2] - up[3:-1])) > 0.5 * off
    off = np.where(back & (off > np.maximum(max(SPIKE_MM, 6 * noise), turning)), off, 0.0)
    near = np.pad(off, 2)
    around_most = np.max([near[k : len(off) + k] for k in (0, 1, 3, 4)], axis=0)
    out[2:-2] = (off > 0) & (off >= around_most)
    return out


def _cubic(t: FloatArray, up: FloatArray, at: FloatArray) -> FloatArray:
    """Value at `at` (n,) of the cubics through the four points of each column of `t` and `up` (4, n)."""
    value = np.zeros(len(at))
    for i in range(4):
        weight = np.ones(len(at))
        for k in range(4):
            if k != i:
                weight *= (at - t[k]) / (t[i] - t[k])
        value += weight * up[i]
    return value


def _piece(t: FloatArray, up: FloatArray, fwd: FloatArray, noise: float, sign: int) -> Heights:
    frame = float(np.median(np.diff(t)))
    grid = np.arange(t[0], t[-1] + GRID_S / 2, GRID_S)
    x = sign * PchipInterpolator(t, up)(np.clip(grid, t[0], t[-1]))
    hole = np.flatnonzero(np.diff(t) > max(GAP_S, GAP_FRAMES * frame))
    gap = np.zeros(len(grid), dtype=bool)
    for i in hole:
        gap |= (grid > t[i]) & (grid < t[i + 1])
    forward = np.full(len(grid), np.nan)
    if np.isfinite(fwd).sum() >= 2:
        known = np.isfinite(fwd)
        forward = np.interp(grid, t[known], fwd[known])
    sharp = float(np.clip(max(0.015 + 0.005 * noise, 0.35 * frame), 0.015, 0.12))
    slope = float(np.clip(0.06 + 0.012 * noise, 0.06, 0.25))
    smooth = low_pass(x, sharp)
    slow = low_pass(x, max(slope, 0.5 * frame))
    v = np.gradient(slow, GRID_S)
    still_mm_s = float(np.clip(6 * noise, STILL_MM_S, 90.0))
    still = still_stretches(v, gap, still_mm_s)
    return Heights(
        sign=sign, t_s=grid, x_mm=smooth, slow_mm=slow, v_mm_s=v, forward_mm=forward, gap=gap, still=still,
        still_mm_s=still_mm_s, noise_mm=noise, wander_mm=_wander(smooth, still, noise), frame_s=frame,
        sharp_s=sharp,
    )  # fmt: skip


def low_pass(x: FloatArray, sigma_s: float) -> FloatArray:
    """Gaussian, no delay; the ends are continued by point reflection so that their slope survives.

    Not the Butterworth of `midfoot.numeric`: that one overshoots where a movement starts or ends, by some
    percent of the step, just where the band of 10 mm is crossed.
    """
    sigma = sigma_s / GRID_S
    pad = min(len(x) - 1, int(4 * sigma) + 1)
    wide = np.pad(x, pad, mode="reflect", reflect_type="odd")
    return np.asarray(gaussian_filter1d(wide, sigma)[pad : len(wide) - pad], dtype=np.float64)


HOLD_S = 0.25
"""Shorter stillness is a turning point, not a hold."""


def still_stretches(v: FloatArray, gap: BoolArray, still_mm_s: float) -> tuple[Stretch, ...]:
    """Where the slope stays small for at least `HOLD_S`, holes of the track left out."""
    least = round(HOLD_S / GRID_S)
    quiet = runs((np.abs(v) < still_mm_s) & ~gap)
    return tuple(Stretch(q.start, q.stop) for q in quiet if q.stop - q.start >= least)


def _wander(x: FloatArray, still: tuple[Stretch, ...], noise: float) -> float:
    """Pooled sd about each second of stillness; at least half the noise of a row
    (choosing what is still chooses what wanders little).

    The error of a track is correlated over some 0.15 s, so a second's mean takes 2 x 0.15 of the variance along;
    that is given back.
    """
    squares: list[float] = []
    span = round(1.0 / GRID_S)
    for stretch in still:
        for first in range(stretch.first, stretch.past, span):
            part = x[first : min(first + span, stretch.past)]
            if len(part) >= round(HOLD_S / GRID_S):
                squares.append(float(np.var(part)))
    if sum(s.past - s.first for s in still) * GRID_S < 1.0 or not squares:
        return max(0.7 * noise, 0.2)
    return max(float(np.sqrt(np.median(squares) / 0.7)), 0.5 * noise, 0.2)
