"""Both ends of a bar whose shaft is followed: discs of the first look that lie on its line, one on either side.

Edge-on nothing tells which of them is the nearer, and their boxes say little of their size. How far apart they
are is known (rulebook), and that is a length in the picture.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import frozen

from midfoot.bar.coarse import Coarse
from midfoot.records.base import FloatArray

OFF_LINE_M, STEADY_M = 0.10, 0.07
"""How far off the line of the shaft an end may lie, and how much its place along it may scatter."""
NEAREST_M, FARTHEST_M = 0.40, 1.15
"""Where ends are, from the middle of the fists: 0.72 m, at a scale known to a third."""
MOST_LOPSIDED = 1.5
LEAST_ROWS = 8
LOOK_S = 0.1


@frozen(eq=False)
class Placed:
    """The middle between the fists (n, 2) px on the shaft's line at `t_s` (n,), and its direction (n, 2)."""

    t_s: FloatArray
    middle_px: FloatArray
    along: FloatArray
    px_per_m: float


def ends_of(placed: Placed, hypotheses: Sequence[Coarse]) -> tuple[float, float] | None:
    """Give how far the near and the far end are along the line, px, + to the right; None unless both are told.

    Parameters
    ----------
    placed : the shaft frame by frame, NaN where it is not seen.
    hypotheses : things that may be the bar's ends, from `link`.
    """
    sides: dict[int, tuple[float, float, float]] = {}
    for one in hypotheses:
        got = _on_line(placed, one)
        if got is None:
            continue
        side = 1 if got > 0 else -1
        if side not in sides or one.score > sides[side][0]:
            sides[side] = one.score, got, float(np.nanmedian(one.radius_px))
    if len(sides) < 2:
        return None
    (_, left, left_radius), (_, right, right_radius) = sides[-1], sides[1]
    if not 1.0 / MOST_LOPSIDED <= -left / right <= MOST_LOPSIDED:
        return None
    # the nearer one looks larger, and farther from the middle
    near_is_left = -left * left_radius > right * right_radius
    return (left, right) if near_is_left else (right, left)


def _on_line(placed: Placed, one: Coarse) -> float | None:
    """Place along the line of what goes along with it as an end does, px; None where it does not."""
    if one.status == "not_found" or len(one.t_s) < LEAST_ROWS:
        return None
    row = np.clip(np.searchsorted(placed.t_s, one.t_s), 0, len(placed.t_s) - 1)
    close = (np.abs(placed.t_s[row] - one.t_s) <= LOOK_S) & np.isfinite(placed.middle_px[row]).all(axis=1)
    if close.sum() < LEAST_ROWS:
        return None
    away, along = one.xy_px[close] - placed.middle_px[row[close]], placed.along[row[close]]
    places = (away * along).sum(axis=1)
    off = away[:, 1] * along[:, 0] - away[:, 0] * along[:, 1]
    middle = float(np.median(places))
    spread = 1.4826 * float(np.median(np.abs(places - middle)))
    unit = placed.px_per_m
    if abs(float(np.median(off))) > OFF_LINE_M * unit or spread > STEADY_M * unit:
        return None
    return middle if NEAREST_M * unit <= abs(middle) <= FARTHEST_M * unit else None
