"""Predictions of an earlier review held against a later set: held, not held, or it cannot be told.

Only at like load and effort and from a like view. How much of a fault there is, is one number of a set: how far
its worst rep lies from the rep it is held against (or from nothing, where the measure is a difference already). A
change predicted how much less of it there would be; the later set says how much less there is.
"""

from __future__ import annotations

import math

from attrs import frozen

from midfoot.history.compare import CLEAR_SDS, effort, row_of, why_not_scales, why_not_views
from midfoot.history.one_way import one_way
from midfoot.records.base import Value
from midfoot.records.findings import Prediction
from midfoot.records.history import Followed
from midfoot.records.measures import Measurement

LOAD_SHARE, RPE_STEP = 0.10, 1.0
"""Sets are alike at loads within a tenth and efforts within one point (this project's own rule)."""


@frozen(kw_only=True)
class Foretold:
    """What an earlier review predicted: of which finding, by which change, against which rep (None: nothing)."""

    finding: str
    title: str
    change: str
    prediction: Prediction
    against_rep: int | None


def follow(first: Measurement, second: Measurement, foretold: tuple[Foretold, ...]) -> tuple[Followed, ...]:
    """Hold predictions of the first set against the second.

    Parameters
    ----------
    first, second : the sets, the earlier one first.
    foretold : what was predicted.
    """
    why = why_not_alike(first, second)
    return tuple(_one(first, second, told, why) for told in foretold)


def why_not_alike(first: Measurement, second: Measurement) -> str:
    """Say why the sets are too unlike to judge a prediction, "" when they are alike."""
    loads = first.data.asked.load_kg, second.data.asked.load_kg
    if loads[0] is None or loads[1] is None:
        return "the load of both sets has to be said"
    if abs(loads[1] - loads[0]) > LOAD_SHARE * loads[0] + 1e-9:
        return f"the loads are too unlike ({loads[0]:g} and {loads[1]:g} kg; a tenth is allowed)"
    efforts = effort(first), effort(second)
    if efforts[0] is None or efforts[1] is None:
        return "how hard both sets were has to be said"
    if abs(efforts[1] - efforts[0]) > RPE_STEP + 1e-9:
        return f"the efforts are too unlike ({efforts[0]:g} and {efforts[1]:g} of 10; one point is allowed)"
    if why_not_views(first, second):
        return "the sets are not filmed from a like view"
    return ""


def _one(first: Measurement, second: Measurement, told: Foretold, why: str) -> Followed:
    said = told.prediction
    expected = Value(abs(said.size), said.sd)
    lengths = said.unit in ("mm", "m_s") and told.against_rep is None
    reason = why or ("the scale of both sets has to be known" if lengths and why_not_scales(first, second) else "")
    found: Value | None = None
    if not reason:
        held = told.against_rep is not None
        before = amount(first, said, against_rep=held, reference=told.against_rep)
        after = amount(second, said, against_rep=held)
        if before is None or after is None:
            reason = f"the {'first' if before is None else 'second'} set does not show it"
        else:
            found = Value(before.value - after.value, math.hypot(before.sd, after.sd))
    verdict = "cannot_tell" if found is None else _verdict(found, expected)
    if found is not None and verdict == "cannot_tell":
        reason = "what came of it lies within the error, between nothing and what was foretold"
    return Followed(
        finding=told.finding,
        title=told.title,
        change=told.change,
        measure=said.measure,
        unit=said.unit,
        expected=expected,
        found=found,
        verdict=verdict,
        reason=reason,
    )


def _verdict(found: Value, expected: Value) -> str:
    """Held: really less of it, and not clearly less than foretold. Not held: clearly less than foretold."""
    short = expected.value - found.value
    if short > CLEAR_SDS * math.hypot(found.sd, expected.sd):
        return "not_held"
    return "held" if found.value > CLEAR_SDS * found.sd else "cannot_tell"


def amount(one: Measurement, said: Prediction, *, against_rep: bool, reference: int | None = None) -> Value | None:
    """Give how much of a fault a set shows, in the prediction's unit; None where the set does not show it.

    Parameters
    ----------
    one : the set.
    said : the prediction; `less` means that more of the measure is the fault.
    against_rep : the worst rep is held against another one, and there is never less than nothing of it; otherwise
        the measure is a difference already and counts by itself.
    reference : number of that rep; None takes the best one, without one the first.
    """
    numbers = [r.n for r in one.data.reps.reps]
    known = {
        numbers[k]: Value(float(m.value), m.sd or 0.0)
        for k, m in enumerate(one_way(said.measure, row_of(one, said.measure))[0])
        if m is not None and m.value is not None
    }
    if not known or (against_rep and len(known) < 2):
        return None
    if not against_rep:
        return max((Value(_fault(v.value, said.direction), v.sd) for v in known.values()), key=lambda v: v.value)
    held = next((n for n in (reference, one.measured.best_rep) if n in known), min(known))
    base = known.pop(held)
    apart = [
        Value(max(0.0, _fault(v.value - base.value, said.direction)), math.hypot(v.sd, base.sd))
        for v in known.values()
    ]
    worst = max(apart, key=lambda v: v.value)
    if said.unit == "pct" and not said.measure.endswith("_pct"):
        share = 100.0 / abs(base.value) if base.value else math.nan
        return Value(share * worst.value, share * worst.sd) if math.isfinite(share) else None
    return worst


def _fault(value: float, direction: str) -> float:
    """Give how much a value is of what the prediction wants less of."""
    if direction == "less":
        return value
    return -value if direction == "more" else abs(value)
