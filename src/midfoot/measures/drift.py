"""Which rep is the lifter's best, and how each measure moves over the set: on random errors alone."""

from __future__ import annotations

import math

import numpy as np

from midfoot.measures.definition import RepMeasure
from midfoot.records.measures import Drift, Measure

LEAST_REPS = 3
CLEAR_SDS = 1.96
"""A change is clear beyond 1.96 sds of the difference: with equal errors that is 1.96 sqrt(2) SEM, the smallest
detectable change at 95 % (Weir 2005, JSCR 19:231-240)."""


def best_rep(
    reps: tuple[tuple[Measure, ...], ...],
    numbers: tuple[int, ...],
    completed: tuple[bool, ...],
    definitions: tuple[RepMeasure, ...],
) -> int | None:
    """Give the number of the completed rep nearest to the set's medians.

    The smallest sum of standardised departures from the medians; the earlier rep on ties; None below three
    completed reps. A departure is counted in units of the set's own spread (1.4826 x median absolute deviation)
    and of the measure's random error together, so that a measure that hardly moves does not decide by its noise.
    Only measures that every completed rep has take part.

    Parameters
    ----------
    reps : measures of every rep.
    numbers : the reps' numbers.
    completed : whether each rep was completed.
    definitions : of this lift's measures; those marked `typical` count.
    """
    rows = [i for i, done in enumerate(completed) if done]
    if len(rows) < LEAST_REPS:
        return None
    sums = np.zeros(len(rows))
    counted = 0
    for definition in definitions:
        if not definition.typical:
            continue
        found = [_of(reps[i], definition.id) for i in rows]
        known = [m for m in found if m is not None and m.value is not None]
        if len(known) < len(rows):
            continue
        values = np.array([m.value for m in known], float)
        errors = np.array([m.sd or 0.0 for m in known])
        away = np.abs(values - np.median(values))
        spread = math.hypot(1.4826 * float(np.median(away)), float(np.median(errors)))
        if spread > 0:
            sums += away / spread
            counted += 1
    if not counted:
        return None
    # Equal to a billionth is a tie: sums of the same departures in another order differ that much.
    least = float(sums.min())
    return numbers[rows[int(np.flatnonzero(sums <= least + 1e-9 * max(1.0, least))[0])]]


def drifts(
    reps: tuple[tuple[Measure, ...], ...],
    numbers: tuple[int, ...],
    best: int | None,
    definitions: tuple[RepMeasure, ...],
) -> tuple[Drift, ...]:
    """Give the drift of every measure that at least two reps have.

    Changes are against the best rep, without one against the first rep that has the measure.
    """
    out = []
    for definition in definitions:
        row = [_of(measures, definition.id) for measures in reps]
        if sum(m is not None and m.value is not None for m in row) >= 2:
            out.append(drift_of(definition, row, numbers, best))
    return tuple(out)


def drift_of(
    definition: RepMeasure, row: list[Measure | None], numbers: tuple[int, ...], best: int | None
) -> Drift:
    """Give the drift of one measure over the reps."""
    known = [i for i, m in enumerate(row) if m is not None and m.value is not None]
    values = {i: float(row[i].value) for i in known}  # type: ignore[union-attr, arg-type]
    sds = {i: float(row[i].sd or 0.0) for i in known}  # type: ignore[union-attr]
    reference = next((i for i in known if numbers[i] == best), known[0])
    change = {i: values[i] - values[reference] for i in known}
    clear = {i: _clear(change[i], sds[i], sds[reference]) for i in known if i != reference}
    first, last = known[0], known[-1]
    return Drift(
        measure=definition.id,
        per_rep_change=tuple(change.get(i) for i in range(len(row))),
        change_first_last=values[last] - values[first],
        sd=math.hypot(sds[first], sds[last]),
        clear_from_rep=_clear_from(known, reference, change, clear, numbers),
        trend=_trend(definition.good, known, values, sds, reference, clear, best),
    )


def _clear(change: float, a: float, b: float) -> bool:
    return abs(change) > CLEAR_SDS * math.hypot(a, b) and abs(change) > 0


def _clear_from(
    known: list[int], reference: int, change: dict[int, float], clear: dict[int, bool], numbers: tuple[int, ...]
) -> int | None:
    """Give the rep from which on every rep differs clearly, and to the same side, from the reference."""
    after: int | None = None
    side = 0.0
    for i in reversed(known):
        if i == reference or not clear[i] or (side and math.copysign(1.0, change[i]) != side):
            break
        side = math.copysign(1.0, change[i])
        after = i
    return None if after is None else numbers[after]


def _trend(
    good: str,
    known: list[int],
    values: dict[int, float],
    sds: dict[int, float],
    reference: int,
    clear: dict[int, bool],
    best: int | None,
) -> str:
    """Say where the measure goes from first to last; `mixed` when it goes both ways or no way is better."""
    if not any(clear.values()):
        return "none"
    first, last = known[0], known[-1]
    goes = _clear(values[last] - values[first], sds[last], sds[first])
    if good == "same" and best is None:
        return "mixed"
    worth = {i: _worth(good, values[i], values[reference]) for i in known}
    if good == "same":
        # Nothing is better than the best rep: what counts is whether the set ends farther from it than it began.
        goes = _clear(worth[last] - worth[first], sds[last], sds[first])
    if not goes:
        return "mixed"
    return "better" if worth[last] > worth[first] else "worse"


def _worth(good: str, value: float, reference: float) -> float:
    if good == "more":
        return value
    if good == "less":
        return -value
    return -abs(value) if good == "zero" else -abs(value - reference)


def _of(measures: tuple[Measure, ...], measure_id: str) -> Measure | None:
    return next((m for m in measures if m.id == measure_id), None)
