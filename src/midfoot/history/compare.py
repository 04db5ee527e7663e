"""Two sets held against each other: a change is real when it is larger than what the two clips can tell.

Two clips share nothing of their common errors (scale, yaw, roll), so the mean of a set carries both kinds of error
and may only be compared where the views are alike and the scale is known. What a measure does over its own set is
free of the common error and is always compared, on the random error alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from midfoot.history.one_way import one_way
from midfoot.records.base import Value
from midfoot.records.history import Comparison, Row, Side
from midfoot.records.measures import Measure, Measurement

CLEAR_SDS = 1.96
"""1.96 sds of a difference of two equal errors is 1.96 sqrt(2) SEM, the smallest detectable change at 95 %
(Weir 2005, JSCR 19:231-240)."""
SAME_YAW_DEG = 10.0
"""Views whose yaw differs by more show the plane of motion differently (this project's classes of views)."""
MOST_SCALE_PCT = 2.9
"""A plate of unknown iron (3 %) is no known scale."""
FREE_UNITS = ("s", "count", "pct")
"""Told by the clock or as a share of the set itself: no scale and no view in them."""
LEVEL, OVER = "level", "over_the_set"


class CompareError(ValueError):
    """Two sets that cannot be compared at all. The text says why and what would do."""


def compare(
    first: Measurement,
    second: Measurement,
    *,
    titles: Mapping[str, str],
    good: Mapping[str, str],
    names: tuple[str, str] = ("first", "second"),
) -> Comparison:
    """Compare two sets of one lift, the earlier one first.

    Parameters
    ----------
    first, second : the measured sets.
    titles, good : of every measure: what it is called, and which way is better (`more`, `less`, `zero`, `same`).
    names : what the sets are called.

    Returns
    -------
    Comparison
        Without predictions; see `predictions.follow`.

    Raises
    ------
    CompareError
        When the lifts differ, or one set has no rep.
    """
    lifts = first.data.asked.lift, second.data.asked.lift
    if lifts[0] != lifts[1]:
        raise CompareError(
            f"The first set is a {lifts[0]}, the second a {lifts[1]}; compare two sets of one lift."
        )
    for name, one in zip(names, (first, second), strict=True):
        if not one.data.reps.reps:
            raise CompareError(f"No rep was found in {name}; measure it again with --bar-at or --reps.")
    view, scale = why_not_views(first, second), why_not_scales(first, second)
    ids = [m.id for m in first.measured.reps[0]]
    ids += [m.id for m in second.measured.reps[0] if m.id not in ids]
    rows: list[Row] = []
    for measure_id in ids:
        title = titles.get(measure_id, measure_id.replace("_", " "))
        better = good.get(measure_id, "same")
        rows += [
            _level(measure_id, title, better, first, second, view, scale),
            _over(measure_id, title, better, first, second),
        ]
    kept = [r for r in rows if r.change is not None or r.reason]
    kept.sort(key=lambda r: ("more less".find(r.verdict) < 0, r.verdict == "cannot_tell", r.kind != LEVEL))
    refused = tuple(w for w in (view, scale) if w)
    sides = (_side(first, names[0]), _side(second, names[1]))
    return Comparison(lift=lifts[0], first=sides[0], second=sides[1], rows=tuple(kept), refused=refused)


def why_not_views(first: Measurement, second: Measurement) -> str:
    """Say why the two views cannot be compared, "" when they can."""
    a, b = first.data.view, second.data.view
    if "unknown" in (a.view_class, b.view_class):
        return "One of the views could not be told, so positions and angles are not compared between the sets."
    if a.view_class != b.view_class:
        return (
            f"One set is filmed from the {a.view_class.replace('_', ' ')}, the other from the "
            f"{b.view_class.replace('_', ' ')}: positions and angles are not compared between the sets."
        )
    apart = abs(a.yaw_deg.value - b.yaw_deg.value)
    if not apart <= SAME_YAW_DEG:
        return (
            f"The cameras stood {apart:.0f} degrees apart: positions and angles are not compared between the sets."
        )
    return ""


def why_not_scales(first: Measurement, second: Measurement) -> str:
    """Say why lengths and velocities cannot be compared, "" when they can."""
    for one, which in ((first, "first"), (second, "second")):
        path = one.data.path
        if one.data.scale is None or path is None:
            return f"The scale of the {which} set is not known: lengths and velocities are not compared."
        if not path.scale_pct < MOST_SCALE_PCT:
            return (
                f"The plate of the {which} set is not known well enough (scale to {path.scale_pct:.0f} %): "
                "lengths and velocities are not compared."
            )
    return ""


def _side(one: Measurement, name: str) -> Side:
    return Side(
        name=name,
        reps=len(one.data.reps.reps),
        load_kg=one.data.asked.load_kg,
        rpe=effort(one),
        view=one.data.view.view_class,
        best_rep=one.measured.best_rep,
    )


def effort(one: Measurement) -> float | None:
    """Give how hard a set was on the scale to 10, by context or by what was asked; None when nobody said."""
    if one.context.effort_rpe is not None:
        return one.context.effort_rpe
    asked = one.data.asked
    return asked.rpe if asked.rpe is not None else None if asked.rir is None else 10.0 - asked.rir


def row_of(one: Measurement, measure_id: str) -> list[Measure | None]:
    """Give a measure of every rep, None where the rep has no value of it or was not completed."""
    out: list[Measure | None] = []
    for k, rep in enumerate(one.data.reps.reps):
        found = one.measured.of(k, measure_id)
        out.append(found if found is not None and found.value is not None and rep.outcome == "completed" else None)
    return out


def _level(
    measure_id: str,
    title: str,
    better: str,
    first: Measurement,
    second: Measurement,
    view: str,
    scale: str,
) -> Row:
    rows = one_way(measure_id, row_of(first, measure_id), row_of(second, measure_id))
    unit = next((m.unit for row in rows for m in row if m is not None), "")
    if not unit:
        return _none(measure_id, title, LEVEL, "")
    reason = "" if unit in FREE_UNITS else view or (scale if unit in ("mm", "m_s") else "")
    if reason:
        return _none(measure_id, title, LEVEL, reason, unit)
    levels = [mean_of(row) for row in rows]
    return _row(measure_id, title, unit, LEVEL, levels[0], levels[1], better)


def mean_of(row: list[Measure | None]) -> Value | None:
    """Give the mean of the reps; its sd from the larger of scatter and random error, with the common error."""
    known = [m for m in row if m is not None and m.value is not None]
    if not known:
        return None
    values = np.array([m.value for m in known], float)
    random = float(np.mean([(m.sd or 0.0) ** 2 for m in known]))
    scatter = float(np.var(values, ddof=1)) if len(values) > 1 else 0.0
    common = float(np.median([m.sd_common or 0.0 for m in known]))
    return Value(float(values.mean()), math.sqrt(max(random, scatter) / len(values) + common**2))


def _over(measure_id: str, title: str, better: str, first: Measurement, second: Measurement) -> Row:
    ends: list[Value | None] = []
    unit = ""
    for row in one_way(measure_id, row_of(first, measure_id), row_of(second, measure_id)):
        known = [m for m in row if m is not None]
        unit = unit or next((m.unit for m in known), "")
        if len(known) < 2:
            ends.append(None)
            continue
        a, b = known[0], known[-1]
        assert a.value is not None
        assert b.value is not None
        ends.append(Value(b.value - a.value, math.hypot(a.sd or 0.0, b.sd or 0.0)))
    return _row(measure_id, title, unit, OVER, ends[0], ends[1], better if better in ("more", "less") else "")


def _row(
    measure_id: str, title: str, unit: str, kind: str, first: Value | None, second: Value | None, better: str
) -> Row:
    if first is None or second is None:
        return _none(measure_id, title, kind, "", unit)
    change = Value(second.value - first.value, math.hypot(first.sd, second.sd))
    smallest = CLEAR_SDS * change.sd
    real = abs(change.value) > smallest and change.value != 0
    verdict = "no_real_change" if not real else "more" if change.value > 0 else "less"
    return Row(
        measure=measure_id, title=title, unit=unit, kind=kind, first=first, second=second, change=change,
        smallest=smallest, verdict=verdict, good=_worth(better, first, second, kind) if real else "",
    )  # fmt: skip


def _worth(better: str, first: Value, second: Value, kind: str) -> str:
    if better == "zero" and kind == LEVEL:
        return "better" if abs(second.value) < abs(first.value) else "worse"
    if better not in ("more", "less"):
        return ""
    return "better" if (second.value > first.value) == (better == "more") else "worse"


def _none(measure_id: str, title: str, kind: str, reason: str, unit: str = "") -> Row:
    return Row(measure=measure_id, title=title, unit=unit, kind=kind, verdict="cannot_tell", reason=reason)
