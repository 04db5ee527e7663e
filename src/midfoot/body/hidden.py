"""Which joints were seen: by the height of the heat map beside the landmark, stricter where the plate covers.

The network always answers. Where a joint is covered it imagines one, and says so only in its heat map: under a
peak of 0.5 most joints were more than 75 mm off, above 0.7 hardly any. Its own `visibility` tells much less.
"""

from __future__ import annotations

import numpy as np

from midfoot.body.search import CORE
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, LANDMARKS, SEEN

DISC_MARGIN = 1.1
"""The near disc is taken this much larger: a joint at its rim is put beside it."""
LEAST = {"full": (0.5, 0.7), "heavy": (0.55, 0.75)}
"""Least peak in the open and inside the near disc, by network (measured on rendered bodies)."""
LEAST_FAR = 0.65
"""Least peak on the side away from the camera: the body itself covers it, and the network guesses it well enough
to be sure of itself."""
CORE_DOUBT, CORE_LEAST = 0.6, 0.6
"""Where the two clearest of shoulder, hip and knee (of each the clearer side) have a mean peak under the first,
the whole pose is doubtful and a joint needs the second."""
LIMB_DOUBT, LIMB_PEAK = 0.25, 0.7
"""With `heavy`: a limb longer or shorter by exp(0.25) than usual needs this peak."""
SD_MM = {"full": (1.52, -5.59, 6.19), "heavy": (-1.36, -2.20, 5.37)}
"""log of the error in mm as a polynomial of the peak, highest power first; offsets of the network included."""
SD_WIDENED = 1.3
"""So that one standard deviation covers two thirds on rendered bodies, offsets of the network included."""
SEGMENTS_M = (
    ((11, 23), 0.49), ((12, 24), 0.49), ((23, 25), 0.42), ((24, 26), 0.42), ((25, 27), 0.42), ((26, 28), 0.42),
)  # fmt: skip
"""Trunk, thigh and shank between the network's joints and their lengths for a person of 1.72 m: 0.285, 0.245 and
0.246 of stature (Winter, Biomechanics and Motor Control of Human Movement, 4th ed., figure 4.1)."""
LIMBS = (
    (11, 13), (13, 15), (12, 14), (14, 16), (11, 23), (12, 24), (23, 25), (25, 27), (24, 26), (26, 28),
)  # fmt: skip


def sd_px(peak: FloatArray, metre_px: float, model: str) -> FloatArray:
    """Give one standard deviation per axis (n, k), px, from peaks (n, k) and a metre at the body, px."""
    mm = np.exp(np.polyval(SD_MM[model], np.clip(peak, 0.05, 0.95))) * SD_WIDENED
    out: FloatArray = mm * (metre_px / 1000.0)
    return out


def metre_at_body_px(xy: FloatArray, peak: FloatArray, fallback_px: float) -> float:
    """Give how many px a metre takes at the body, from its longest clear segments; good to about 15 %.

    Only for weighing errors. `fallback_px` is given back where no segment was ever clear.
    """
    found = [usual_px(xy, peak, pair, 0.5) / metres for pair, metres in SEGMENTS_M]
    known = [f for f in found if np.isfinite(f)]
    return float(np.median(known)) if known else fallback_px


def in_disc(xy: FloatArray, disc_px: FloatArray, radius_px: FloatArray | float) -> np.ndarray:
    """Tell for joints (n, k, 2) whether they lie inside the disc at (n, 2); unknown discs cover nothing."""
    away = np.hypot(*(xy - disc_px[:, None, :]).transpose(2, 0, 1))
    reach = np.broadcast_to(np.asarray(radius_px, np.float64) * DISC_MARGIN, (len(xy),))
    inside: np.ndarray = np.nan_to_num(away, nan=np.inf) < reach[:, None]
    return inside


def states(
    xy: FloatArray,
    peak: FloatArray,
    disc_px: FloatArray,
    radius_px: FloatArray | float,
    model: str,
    near_side: str | None = None,
) -> np.ndarray:
    """Give HIDDEN or SEEN (n, 33) for joints (n, 33, 2) with peaks (n, 33).

    `disc_px` (n, 2) and `radius_px` are the near disc; `near_side` is the side toward the camera, where known.
    """
    open_least, covered_least = LEAST[model]
    covered = in_disc(xy, disc_px, radius_px)
    least = np.where(covered, covered_least, open_least)
    if near_side is not None:
        far = ["left", "right"][near_side == "left"]
        away = [i for i, name in enumerate(LANDMARKS) if name.startswith(far) or name.endswith(far)]
        least[:, away] = np.maximum(least[:, away], LEAST_FAR)
    doubtful = _core(peak, covered) < CORE_DOUBT
    least[doubtful] = np.maximum(least[doubtful], CORE_LEAST)
    keep = peak >= least
    if model == "heavy":
        keep &= (peak >= LIMB_PEAK) | ~_odd_limbs(xy, peak)
    return np.where(keep, SEEN, HIDDEN).astype(np.int8)


def _core(peak: FloatArray, covered: np.ndarray) -> FloatArray:
    """Give the mean peak (n,) of the two clearest of shoulder, hip and knee, less what the disc covers.

    Of each the clearer side, and two of three: from the head end of a bench the legs are never clear.
    """
    pairs = np.where(covered, -1.0, peak)[:, CORE].reshape(len(peak), -1, 2).max(axis=2)
    best = np.sort(pairs, axis=1)[:, -2:]
    known = best >= 0
    out: FloatArray = np.where(known, best, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    return out


def limb_px(xy: FloatArray, peak: FloatArray, pair: tuple[int, int]) -> FloatArray:
    """Give a limb's length in every frame (n,), px."""
    out: FloatArray = np.hypot(*(xy[:, pair[0]] - xy[:, pair[1]]).T)
    return out


def usual_px(xy: FloatArray, peak: FloatArray, pair: tuple[int, int], least: float = 0.6) -> float:
    """Give the 90th percentile of a limb's length where both ends are clear, NaN with under 5 such frames."""
    clear = (peak[:, list(pair)] >= least).all(axis=1)
    if clear.sum() < 5:
        return float("nan")
    return float(np.percentile(limb_px(xy, peak, pair)[clear], 90))


def _odd_limbs(xy: FloatArray, peak: FloatArray) -> np.ndarray:
    odd = np.zeros(peak.shape, bool)
    for a, b in LIMBS:
        usual = usual_px(xy, peak, (a, b))
        if not np.isfinite(usual):
            continue
        doubt = np.abs(np.log(np.maximum(limb_px(xy, peak, (a, b)), 1e-6) / usual)) > LIMB_DOUBT
        odd[:, a] |= doubt
        odd[:, b] |= doubt
    return odd
