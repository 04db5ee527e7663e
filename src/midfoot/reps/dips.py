"""The excursions of a set: from rest to the extreme and back, told from wobbles by the set's own range."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.records.base import FloatArray
from midfoot.reps.heights import GRID_S, Heights

LEAST_MM = {"squat": 120.0, "bench": 60.0, "deadlift": 100.0}
"""Smaller excursions are never called reps: an unrack lifts 20-100 mm and steps jolt by 20-40 mm, a partial squat
is deeper; a bench press with a strong arch and wide grip may be 80-100 mm (common practice, no source)."""
LEAST_NOISE = 6.0
"""An excursion must stand out from the noise of a row by this factor: the extremes of a minute of noise correlated
over 0.15 s lie 3 sds to either side."""
REP_SHARE = {"squat": 0.45, "bench": 0.45, "deadlift": 0.3}
"""Share of the set's typical range from which an excursion is a rep. A squat or bench
press that fails has gone all the way down; a pull that fails may come up by a third of the range."""
ALIKE = (0.55, 1.6)
"""Excursions whose size lies within these factors of each other may belong to one set."""
EDGE_WEIGHT = 0.4
"""Weight of an excursion that the clip's edge cuts, when the set's typical range is looked for."""
SHORTEST_S = 0.25
"""An excursion whose half depth lasts less is a slip of the tracking: 60 mm down and up needs more."""
WANDERS_MM = 500.0
"""Forward travel within one excursion beyond which (and beyond its height) the bar is being carried."""


@frozen
class Dip:
    """One excursion: grid index of its extreme, of the highest x before and after it, and the two falls.

    `fall_mm` from the rest before, `rise_mm` to the rest after; near 0 where the clip's edge cuts that side.
    """

    at: int
    before: int
    after: int
    fall_mm: float
    rise_mm: float

    @property
    def depth_mm(self) -> float:
        """The larger of fall and rise."""
        return max(self.fall_mm, self.rise_mm)

    @property
    def paired_mm(self) -> float:
        """The smaller of fall and rise: how far it goes and comes back."""
        return min(self.fall_mm, self.rise_mm)


def dips_of(h: Heights, least_mm: float) -> list[Dip]:
    """Give all excursions that stand out by `least_mm`, in order.

    Standing out means: between two neighbouring extremes x rises by at least `least_mm` above the shallower
    (topographic prominence). The clip's edges count as rest, so an excursion cut by an edge is kept.
    """
    from scipy.signal import find_peaks  # late: it takes 0.3 s to load, before the first word

    wall = float(np.ptp(h.x_mm)) + 10 * least_mm
    # Two equal minima of a quantised track would both count as the deepest: the earlier is a hair deeper.
    x = h.x_mm + 1e-7 * np.arange(len(h))
    walled = np.concatenate([[h.x_mm.max() + wall], x, [h.x_mm.max() + wall]])
    at = find_peaks(-walled, prominence=least_mm)[0] - 1
    edges = [0, *at.tolist(), len(h) - 1]
    out = []
    for k, i in enumerate(at.tolist(), start=1):
        before = edges[k - 1] + int(np.argmax(h.x_mm[edges[k - 1] : i + 1]))
        after = i + int(np.argmax(h.x_mm[i : edges[k + 1] + 1]))
        fall = float(h.x_mm[before] - h.x_mm[i])
        rise = float(h.x_mm[after] - h.x_mm[i])
        if max(fall, rise) >= least_mm:
            out.append(Dip(int(i), before, after, fall, rise))
    return out


def range_of_set(parts: list[tuple[Heights, list[Dip]]]) -> float | None:
    """Give the typical range of the set's reps in mm, None where nothing goes and comes back.

    Excursions of alike size support each other; the size with the largest sum of squares wins, so one rep
    outweighs a dozen wobbles a quarter of its size, and a set outweighs one odd movement of twice its size.
    """
    sized: list[tuple[float, float]] = []
    for h, dips in parts:
        for dip in dips:
            # What goes down all the way and comes back in part (a missed rep) has the size of its fall.
            size = dip.rise_mm if dip.fall_mm < 0.25 * dip.rise_mm else dip.fall_mm
            weight = 1.0 if dip.paired_mm > 0.5 * dip.depth_mm else EDGE_WEIGHT
            if carried(h, dip):
                weight *= 0.1
            sized.append((size, weight))
    if not sized:
        return None
    sizes = np.array([s for s, _ in sized])
    weights = np.array([w for _, w in sized])
    alike = (sizes[None, :] >= ALIKE[0] * sizes[:, None]) & (sizes[None, :] <= ALIKE[1] * sizes[:, None])
    support = alike @ (weights * sizes**2)
    best = int(np.argmax(support))
    members = sizes[alike[best] & (weights == 1.0)]
    if not len(members):
        members = sizes[alike[best]]
    return float(np.median(members))


def carried(h: Heights, dip: Dip) -> bool:
    """Say whether the bar travels farther forward than up within an excursion, as when it is carried about."""
    forward = h.forward_mm[dip.before : dip.after + 1]
    forward = forward[np.isfinite(forward)]
    if not len(forward):
        return False
    low = h.x_mm[dip.at] + 0.7 * dip.paired_mm
    inside = h.forward_mm[dip.before : dip.after + 1][h.x_mm[dip.before : dip.after + 1] <= low]
    inside = inside[np.isfinite(inside)]
    return bool(len(inside) and np.ptp(inside) > max(WANDERS_MM, dip.depth_mm))


def reps_among(h: Heights, range_mm: float, least_mm: float, lift: str) -> list[Dip]:
    """Give the excursions that are reps of a set with this range."""
    out = []
    for dip in dips_of(h, max(least_mm, REP_SHARE[lift] * range_mm)):
        if too_short(h, dip) or carried(h, dip):
            continue
        out.append(dip)
    return out


def too_short(h: Heights, dip: Dip) -> bool:
    """Say whether an excursion is over faster than a loaded bar can turn round."""
    half = h.x_mm[dip.at] + 0.5 * (dip.paired_mm if dip.paired_mm > 0.25 * dip.depth_mm else dip.depth_mm)
    first, past = run_below(h.x_mm, dip.at, half)
    if first == 0 or past >= len(h):
        return False
    return (past - first) * GRID_S < SHORTEST_S


def run_below(x: FloatArray, at: int, level: float) -> tuple[int, int]:
    """Give the run of points around `at` that stay below `level`: first index and one past the last."""
    above = np.flatnonzero(x > level)
    before, after = above[above < at], above[above > at]
    first = int(before[-1]) + 1 if len(before) else 0
    past = int(after[0]) if len(after) else len(x)
    return first, past
