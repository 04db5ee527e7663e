"""One measure held against one rule: inside, outside, too close to tell, or not seen."""

from __future__ import annotations

import math

from attrs import frozen

from midfoot.records.measures import Measure, Measured
from midfoot.records.reps import Rep
from midfoot.records.rules import Margin, RuleCheck
from midfoot.rules.book import Rule, RuleBook

CLEAR_SDS = 1.96
"""A margin beyond 1.96 of its sd is clear: 95 % by the normal law, both kinds of error in the sd."""
ONE_END = (
    "only one end of the bar is seen, and the rule speaks of the whole bar; film from 20-40 degrees off the side "
    "with both ends in view"
)
NEAR = "the margin is smaller than what this clip resolves"
NO_MEASURE = "this clip's measures do not hold it"


@frozen
class _Row:
    """A rep with its measures by id."""

    rep: Rep
    measures: dict[str, Measure]


def check(lift: str, reps: tuple[Rep, ...], measured: Measured, book: RuleBook) -> tuple[RuleCheck, ...]:
    """Hold every rule of a lift against every rep.

    Parameters
    ----------
    lift : of the set.
    reps : in the order of `measured.reps`.
    measured : the measures; absolute values are used with both kinds of error.
    book : the rule set.

    Returns
    -------
    tuple of RuleCheck
        Rep by rep in the book's order. A rep that the clip does not show whole is not seen where it is cut.
    """
    rows = [_Row(r, {m.id: m for m in row}) for r, row in zip(reps, measured.reps, strict=True)]
    return tuple(_one(rule, row, book) for row in rows for rule in book.rules[lift])


def _one(rule: Rule, row: _Row, book: RuleBook) -> RuleCheck:
    whole = row.measures.get(rule.whole)
    both_ends = whole is not None and whole.value is not None
    measure = whole if both_ends else row.measures.get(rule.measure)
    verdict, margin, reason = "not_seen", None, rule.unseen or NO_MEASURE
    if measure is not None and (measure.value is None or measure.sd is None):
        reason = measure.reason or NO_MEASURE
    elif measure is not None:
        verdict, margin, reason = _held(rule, measure, one_end=bool(rule.whole) and not both_ends)
    return RuleCheck(
        id=rule.id,
        rep=row.rep.n,
        verdict=verdict,
        margin=margin,
        at_s=_moment(rule.at, row.rep),
        rulebook=book.cited,
        clause=rule.clause,
        title=rule.title,
        reason=reason,
        measure=rule.whole if both_ends else rule.measure,
        source=rule.source,
    )


def _held(rule: Rule, measure: Measure, *, one_end: bool) -> tuple[str, Margin, str]:
    assert measure.value is not None
    assert measure.sd is not None
    sd = math.hypot(measure.sd, measure.sd_common or 0.0)
    value = abs(measure.value) if rule.inside == "size_at_most" else measure.value
    room = value - rule.limit if rule.inside == "at_least" else rule.limit - value
    margin = Margin(room, measure.unit, sd)
    if room > CLEAR_SDS * sd:
        return "clear", margin, ""
    if room >= -CLEAR_SDS * sd:
        return "close", margin, NEAR
    if one_end:
        return "close", margin, ONE_END
    if rule.most == "close":
        return "close", margin, rule.why_most
    return "not_met", margin, ""


def _moment(at: str, rep: Rep) -> float | None:
    """Give the moment of the rep to look at, s; None where the clip does not show it."""
    low = rep.low_start or rep.low_end
    finish = rep.top_start or rep.end
    if at == "ascent":
        span = rep.ascent_s
        return sum(span) / 2 if span is not None else None
    named = {"start": (rep.start,), "low": (low,), "finish": (finish,)}
    found = next((m for m in named.get(at, (rep.start, low, finish)) if m is not None), None)
    return None if found is None else found.t_s
