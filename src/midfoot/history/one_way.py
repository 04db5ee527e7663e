"""A path's departure told one way: what a change of its sign may and may not say.

`path_departure_mm` is the largest distance from the vertical, whichever way it goes. Of a rep that went 20 mm back
it says that the rep went 0 to 20 mm forward, and no more. Where two reps depart in different ways, their
difference is therefore not that of their paths: +20 beside -21 mm may be two paths that are alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from attrs import evolve

from midfoot.records.measures import Measure

BOTH_WAYS = ("path_departure_mm",)
"""Measures that give the larger of two ways by its sign."""

Row = Sequence[Measure | None]


def one_way(measure_id: str, *rows: Row) -> tuple[list[Measure | None], ...]:
    """Give rows of a measure so that they can be held against each other.

    Where some values go one way and some the other, those that go back stand for the forward reach that they leave
    open: anything from nothing to their own size, the middle of it with the sd of an even spread (size / sqrt 12),
    which more reps do not make smaller.
    Other measures, and rows that all go one way, stay as they are.
    """
    known = [m.value for row in rows for m in row if m is not None and m.value is not None]
    if measure_id not in BOTH_WAYS or not (any(v > 0 for v in known) and any(v < 0 for v in known)):
        return tuple(list(row) for row in rows)
    return tuple([_forward(m) for m in row] for row in rows)


def _forward(measure: Measure | None) -> Measure | None:
    if measure is None or measure.value is None or measure.value >= 0:
        return measure
    size = -measure.value
    spread = size / math.sqrt(12)
    return evolve(
        measure, value=size / 2, sd=math.hypot(measure.sd or 0.0, spread),
        sd_common=math.hypot(measure.sd_common or 0.0, spread),
    )  # fmt: skip
