"""Possible causes held against the clip: what speaks for and against each; nobody says that one is it."""

from __future__ import annotations

import math

from midfoot.findings.definition import Clue, PossibleCause
from midfoot.findings.look import CLEAR_SDS, Look
from midfoot.findings.words import amount
from midfoot.records.findings import Cause

AGAINST_SHARE = 0.5
MOST_CAUSES = 3


def causes_of(
    causes: tuple[PossibleCause, ...], look: Look, worst: int, reference: int | None
) -> tuple[Cause, ...]:
    """Hold each possible cause against the rep that shows the finding most; the best supported come first."""
    tested = [_tested(cause, look, worst, reference) for cause in causes]
    ranked = sorted(tested, key=lambda c: len(c.against) - len(c.speaks_for))
    return tuple(ranked[:MOST_CAUSES])


def _tested(cause: PossibleCause, look: Look, worst: int, reference: int | None) -> Cause:
    speaks_for: list[str] = []
    against: list[str] = []
    for clue in cause.clues:
        if not isinstance(clue, Clue):
            words = clue.test(look.context)
            if words:
                speaks_for.append(words)
            continue
        found = _size(clue, look, worst, reference)
        if found is None:
            continue
        size, sd, unit = found
        if size >= clue.clear and size > CLEAR_SDS * sd and clue.says_for:
            speaks_for.append(f"{clue.says_for} ({amount(size, sd, unit)})")
        elif size < AGAINST_SHARE * clue.clear and CLEAR_SDS * sd <= clue.clear and clue.says_against:
            against.append(clue.says_against)
    return Cause(cause.id, cause.text, tuple(speaks_for), tuple(against))


def _size(clue: Clue, look: Look, worst: int, reference: int | None) -> tuple[float, float, str] | None:
    here = look.read(clue.measure, worst)
    if here is None or here.value is None:
        return None
    if clue.against == "nothing":
        away, sd = here.value, math.hypot(here.sd or 0.0, here.sd_common or 0.0)
    else:
        at = reference if reference is not None else look.best
        there = look.read(clue.measure, at) if at is not None and at != worst else None
        if there is None or there.value is None:
            return None
        away, sd = here.value - there.value, math.hypot(here.sd or 0.0, there.sd or 0.0)
    size = abs(away) if clue.worse == "away" else away if clue.worse == "more" else -away
    return size, sd, here.unit
