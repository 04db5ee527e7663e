"""Joints that bones allow to infer: a hidden joint between two seen ones, and feet that stand still.

Lengths come from the same clip, where both ends were clear. The error of an inferred joint follows from the
errors of its neighbours and from how much the bone's length varied in the picture; where that becomes large
the joint stays hidden.
"""

from __future__ import annotations

import numpy as np

from midfoot.body.search import HIPS
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, INFERRED, LANDMARKS, SEEN

CHAINS = tuple(
    (INDEX[f"{s}_{a}"], INDEX[f"{s}_{b}"], INDEX[f"{s}_{c}"])
    for s in ("left", "right")
    for a, b, c in (("hip", "knee", "ankle"), ("shoulder", "elbow", "wrist"), ("shoulder", "hip", "knee"))
)
"""(end, hidden middle, end)."""
FEET = tuple(INDEX[f"{s}_{j}"] for s in ("left", "right") for j in ("ankle", "heel", "foot_index"))
KNEES = (INDEX["left_knee"], INDEX["right_knee"])
KNEE_MOVES_M, HIP_MOVES_M = 0.03, 0.05
"""What knees and hips of a lifter on the bench may do while they cannot be seen; hips come off by this much."""
LEAST_FRAMES = 8
MOST_SPREAD = 0.12
"""Relative spread of a bone's length from which it does not serve: the bone turns toward the camera."""
MOST_SD = 0.11
"""Largest error of an inferred joint, in metres; beyond it the joint stays hidden."""
STILL = 0.04
"""A foot counts as standing still when it was seen within this distance (m) before and after."""
STILL_S = 12.0


def infer(
    t_s: FloatArray,
    xy: FloatArray,
    sd: FloatArray,
    state: np.ndarray,
    metre_px: float,
    *,
    near_side: str | None = None,
    lying: bool = False,
) -> tuple[FloatArray, FloatArray, np.ndarray]:
    """Fill hidden joints of (n, 33, 2) where bones, standing feet or a body lying on a bench allow it.

    `metre_px` is a metre at the body, px. Where the near side is known, bones serve on that side only: on the
    other the network's own errors are too much alike. Returns copies of `xy`, `sd` and `state`.
    """
    xy, sd, state = xy.copy(), sd.copy(), state.copy()
    for k in FEET:
        _still(t_s, xy, sd, state, k, metre_px, 0.01)
    if lying:
        for k in KNEES:
            _still(t_s, xy, sd, state, k, metre_px, KNEE_MOVES_M)
        for k in HIPS:
            _still(t_s, xy, sd, state, k, metre_px, HIP_MOVES_M)
    seen_once = state.copy()
    for a, b, c in CHAINS:
        if near_side is None or LANDMARKS[b].startswith(near_side):
            _between(xy, sd, state, seen_once, (a, b, c), metre_px)
    return xy, sd, state


def _still(
    t_s: FloatArray, xy: FloatArray, sd: FloatArray, state: np.ndarray, k: int, metre_px: float, moves_m: float
) -> None:
    """Carry a joint that was seen at the same place before and after; `moves_m` is what it may do unseen."""
    seen = np.flatnonzero(state[:, k] == SEEN)
    if len(seen) < LEAST_FRAMES:
        return
    for row in np.flatnonzero(state[:, k] == HIDDEN):
        at = int(np.searchsorted(seen, row))
        if at == 0 or at == len(seen):
            continue
        before, after = seen[max(0, at - 5) : at], seen[at : at + 5]
        if t_s[after[0]] - t_s[before[-1]] > STILL_S:
            continue
        p, q = np.median(xy[before, k], axis=0), np.median(xy[after, k], axis=0)
        apart = float(np.hypot(*(p - q)))
        if apart > STILL * metre_px:
            continue
        xy[row, k] = (p + q) / 2
        own = float(np.median(sd[np.concatenate([before, after]), k]))
        sd[row, k] = np.hypot(own, max(apart, moves_m * metre_px))
        state[row, k] = INFERRED


def bone(xy: FloatArray, state: np.ndarray, a: int, b: int) -> tuple[float, float] | None:
    """Give a bone's length in the picture and its spread, px, from frames with both ends seen."""
    both = (state[:, a] == SEEN) & (state[:, b] == SEEN)
    if both.sum() < LEAST_FRAMES:
        return None
    length = np.hypot(*(xy[both, a] - xy[both, b]).T)
    low, middle, high = np.percentile(length, (5, 50, 95))  # hidden postures may be the extreme ones
    spread = (high - low) / 2
    return None if spread > MOST_SPREAD * middle else (float(middle), float(spread))


def _between(
    xy: FloatArray,
    sd: FloatArray,
    state: np.ndarray,
    seen: np.ndarray,
    chain: tuple[int, int, int],
    metre_px: float,
) -> None:
    a, b, c = chain
    first, second = bone(xy, seen, a, b), bone(xy, seen, b, c)
    side = _usual_side(xy, seen, chain)
    if first is None or second is None or side == 0.0:
        return
    for row in np.flatnonzero((state[:, b] == HIDDEN) & (state[:, a] != HIDDEN) & (state[:, c] != HIDDEN)):
        at, error = middle_joint(xy[row, a], xy[row, c], first, second, side, sd[row, a], sd[row, c])
        if np.isfinite(error) and error < MOST_SD * metre_px:
            xy[row, b], sd[row, b], state[row, b] = at, error, INFERRED


def _usual_side(xy: FloatArray, seen: np.ndarray, chain: tuple[int, int, int]) -> float:
    """Give +1 or -1 for the side of the line end-end on which the middle joint lies, 0 when it is not settled."""
    a, b, c = chain
    rows = (seen[:, list(chain)] == SEEN).all(axis=1)
    if rows.sum() < LEAST_FRAMES:
        return 0.0
    u, v = xy[rows, c] - xy[rows, a], xy[rows, b] - xy[rows, a]
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    bent = np.abs(cross) > 0.05 * (u**2).sum(axis=1)
    if bent.sum() < LEAST_FRAMES // 2:
        return 0.0
    share = float((cross[bent] > 0).mean())
    return 1.0 if share > 0.9 else -1.0 if share < 0.1 else 0.0


def middle_joint(
    a: FloatArray,
    c: FloatArray,
    first: tuple[float, float],
    second: tuple[float, float],
    side: float,
    sd_a: float,
    sd_c: float,
) -> tuple[FloatArray, float]:
    """Place the joint between ends a and c (2,), px, from two bone lengths (length, spread) on a side of the line.

    Returns
    -------
    place (2,), sd per axis, never better than the ends are known; NaN where the ends are too far apart for the
    bones by more than their errors.
    """
    apart = float(np.hypot(*(c - a)))
    reach = first[0] + second[0]
    slack = np.hypot(np.hypot(first[1], second[1]), np.hypot(sd_a, sd_c))
    if apart > reach + 2 * slack or apart < abs(first[0] - second[0]) - 2 * slack or apart < 1e-6:
        return np.full(2, np.nan), float("nan")
    place = _meet(a, c, first[0], second[0], side)
    axes = np.eye(2)
    changes = [_meet(a + sd_a * d, c, first[0], second[0], side) - place for d in axes]
    changes += [_meet(a, c + sd_c * d, first[0], second[0], side) - place for d in axes]
    changes += [_meet(a, c, first[0] + first[1], second[0], side) - place]
    changes += [_meet(a, c, first[0], second[0] + second[1], side) - place]
    variance = float((np.array(changes) ** 2).sum() / 2)
    return place, max(float(np.sqrt(variance)), sd_a, sd_c)


def _meet(a: FloatArray, c: FloatArray, r: float, s: float, side: float) -> FloatArray:
    """Give where circles of radius r round a and s round c meet, on `side`; on the line where they do not."""
    line = c - a
    apart = float(np.hypot(*line))
    unit = line / apart
    along = (apart**2 + r**2 - s**2) / (2 * apart)
    along = float(np.clip(along, -r, r))
    off = np.sqrt(max(r**2 - along**2, 0.0))
    out: FloatArray = a + along * unit + side * off * np.array([-unit[1], unit[0]])
    return out
