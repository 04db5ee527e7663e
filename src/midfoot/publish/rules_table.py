"""What the rules say, as far as the camera can tell: one row a rule, one column a rep."""

from __future__ import annotations

from typing import Any

from midfoot.publish.moments import written
from midfoot.publish.tables import UNIT_WORDS
from midfoot.records.measures import Measurement
from midfoot.records.rules import RuleCheck

VERDICT_WORDS = {
    "clear": "inside", "close": "too close to call", "not_met": "outside", "not_seen": "not seen",
}  # fmt: skip
"""Of the rule, not of the lift: whether a lift is good is said by nobody but the referees."""


def rule_rows(measurement: Measurement) -> list[dict[str, Any]]:
    """Give a row per rule: `title`, `clause`, `seen`, `cells` (one per rep: word, margin with unit, sd), `why`.

    `why` is the first reason that says more than that the margin is within the error; cells hold the others.

    Rules that no rep shows come last.
    """
    by_id: dict[str, list[RuleCheck]] = {}
    for check in measurement.rule_checks:
        by_id.setdefault(check.id, []).append(check)
    numbers = [r.n for r in measurement.data.reps.reps]
    rows = []
    for checks in by_id.values():
        of = {c.rep: c for c in checks}
        first = checks[0]
        seen = any(c.margin is not None for c in checks)
        rows.append(
            {
                "title": first.title[:1].upper() + first.title[1:],
                "clause": first.clause,
                "cells": [_cell(of.get(n)) for n in numbers],
                "seen": seen,
                "why": next((c.reason for c in checks if c.reason and not _only_near(c)), ""),
            }
        )
    return sorted(rows, key=lambda r: not r["seen"])


def rulebook_of(measurement: Measurement) -> str:
    """Name the rulebook that was used, "" when none was."""
    return measurement.rule_checks[0].rulebook if measurement.rule_checks else ""


def _only_near(check: RuleCheck) -> bool:
    """Tell whether a margin within 1.96 sd is all there is to say: the verdict's own words say it."""
    margin = check.margin
    return check.verdict == "close" and margin is not None and abs(margin.value) <= 1.96 * margin.sd


def _cell(check: RuleCheck | None) -> dict[str, str]:
    if check is None:
        return {"word": "–", "margin": "", "sd": "", "verdict": "", "note": ""}
    margin, sd = written(check.margin.value, check.margin.sd) if check.margin is not None else ("", "")
    if check.margin is not None and check.margin.value > 0:
        margin = f"+{margin.removeprefix('+')}"
    if check.margin is not None:
        unit = UNIT_WORDS.get(check.margin.unit, check.margin.unit)
        margin += unit if unit == "°" else f" {unit}"
    at = f"look at {check.at_s:.2f} s" if check.at_s is not None else ""
    note = "; ".join(w for w in (at, check.reason) if w)
    return {
        "word": VERDICT_WORDS[check.verdict],
        "margin": margin,
        "sd": sd,
        "verdict": check.verdict,
        "note": note,
    }
