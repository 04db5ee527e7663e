"""Smoothing by timestamps: the curve that stays near trusted points and bends as little as it can.

Minimises the sum of weight (y - x)^2 dt plus `stiffness` times the sum of (second derivative)^2 dt, with the
derivative taken over the real, unequal intervals. For equal weights of 1 it passes slow movement and halves
what swings at about 1 / (2 pi stiffness^(1/4)) Hz (stiffness 1e-4 s^4: 1.6 Hz).
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import solveh_banded

from midfoot.records.base import FloatArray

STIFFNESS_S4 = 1e-4
WEIGHT_SD_M = 0.02
"""Standard deviation that has weight 1."""


def whittaker(
    t_s: FloatArray, y: FloatArray, weight: FloatArray, stiffness_s4: float = STIFFNESS_S4
) -> FloatArray:
    """Smooth columns of y (n, k) at rising times (n,) with weights (n,); rows of weight 0 are filled in.

    A straight line comes back unchanged whatever the weights. With fewer than two weighted rows, or fewer than
    three rows, y comes back as it is.
    """
    n = len(t_s)
    use = (weight > 0) & np.isfinite(y).all(axis=1)
    if n < 3 or use.sum() < 2:
        return y.copy()
    interval = np.diff(t_s)
    share = np.concatenate([[interval[0] / 2], (interval[:-1] + interval[1:]) / 2, [interval[-1] / 2]])
    w = np.where(use, weight, 0.0) * share
    before, after = interval[:-1], interval[1:]
    a, c = 2 / (before * (before + after)), 2 / (after * (before + after))
    b = -(a + c)
    k = stiffness_s4 * share[1:-1]
    bands = np.zeros((3, n))  # upper form of solveh_banded: row 2 the diagonal, row 1 and 0 above it
    bands[2] = w
    bands[2, :-2] += k * a * a
    bands[2, 1:-1] += k * b * b
    bands[2, 2:] += k * c * c
    bands[1, 1:-1] += k * a * b
    bands[1, 2:] += k * b * c
    bands[0, 2:] += k * a * c
    middle = float(np.average(t_s[use], weights=w[use]))
    line = [np.polyfit(t_s[use] - middle, y[use, j], 1, w=np.sqrt(w[use])) for j in range(y.shape[1])]
    trend = np.stack([np.polyval(p, t_s - middle) for p in line], axis=1)
    rest = np.where(use[:, None], np.nan_to_num(y) - trend, 0.0)
    smooth: FloatArray = trend + solveh_banded(bands, w[:, None] * rest)
    return smooth
