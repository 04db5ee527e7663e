"""What may be proposed: changes with predictions, within what the lifter's context and safety allow."""

from __future__ import annotations

import math
from collections.abc import Sequence

from attrs import evolve

from midfoot.findings.definition import FindingDefinition, PossibleChange
from midfoot.findings.look import Look, Shown
from midfoot.records.context import MEET_CLOSE_WEEKS, MEET_NEAR_WEEKS, Context
from midfoot.records.findings import Change, Finding, Note, Prediction, TryAt
from midfoot.records.reps import NOT_ALONE

MOST_CHANGES = 3
OPPOSITE = {"more": "less", "less": "more", "away": "zero"}
EASY_RPE = 6.0
DIGITS = {"s": 2, "m_s": 2, "ratio": 2}
"""Places of a prediction by unit; whole millimetres, degrees and per cent."""

PAIN = Note(
    "pain",
    "Something hurts: nothing here is advice about load or drills. Leave out what hurts, stop if it gets worse, "
    "and "
    "see a licensed clinician.",
)
MINOR = Note("minor", "The lifter is under 18: no load is advised here; train with a qualified adult present.")
MISSED = Note("missed_rep", "A rep was missed: no load is advised from this set.")
UNGUARDED = Note(
    "no_safeties",
    "Nobody said that safeties or a spotter were set: no load is advised here. Set them before the next heavy "
    "set.",
)
UNGUARDED_PULL = Note(
    "no_safeties", "Nobody said who was there or what the bar stands on: no load is advised here."
)
NEAR = Note(
    "competition_near",
    "The competition is four weeks away or less: rules first, and no change of grip, stance, bar position or "
    "heels.",
)
COMING = Note("competition_coming", "The competition is less than ten weeks away: one change, and no more.")


def advise(
    raised: Sequence[tuple[FindingDefinition, Finding, Shown]], look: Look
) -> tuple[tuple[Finding, ...], tuple[Note, ...]]:
    """Give findings their changes: the first allowed of each, three in all; the rest as what else there is.

    Parameters
    ----------
    raised : findings in order of importance with their definitions and carrying signs.
    look : the set and what was said of it.
    """
    context = look.context
    left = most_changes(context)
    notes: dict[str, Note] = {}
    if context.hurts:
        notes["pain"] = PAIN
    out = []
    for definition, finding, main in raised:
        allowed = []
        for possible in definition.changes if finding.nature == "fault" else ():
            if not _suits(possible, main):
                continue
            refused = refusal(possible, look)
            if refused is not None:
                notes[refused.id] = refused
                continue
            allowed.append(_change(possible, main, look))
        take = 1 if allowed and left > 0 and finding.confidence != "hint" else 0
        left -= take
        out.append(evolve(finding, changes=tuple(allowed[:take]), other_changes=tuple(allowed[take:])))
    weeks = context.weeks_to_competition
    if weeks is not None and MEET_CLOSE_WEEKS < weeks <= MEET_NEAR_WEEKS and any(f.changes for f in out):
        notes["competition_coming"] = COMING
    return tuple(out), tuple(notes.values())


def _suits(change: PossibleChange, main: Shown) -> bool:
    """Tell whether a change goes the way that this finding asks for: hands wider or narrower."""
    if not change.suits:
        return True
    worst = main.worst
    return worst is not None and (main.sign.measure, 1 if main.by_rep[worst].above else -1) in change.suits


def most_changes(context: Context) -> int:
    """Give how many changes may be proposed for a set."""
    weeks = context.weeks_to_competition
    return 1 if weeks is not None and weeks <= MEET_NEAR_WEEKS else MOST_CHANGES


def refusal(change: PossibleChange, look: Look) -> Note | None:
    """Give why a change is not proposed in this context, None when it may be."""
    context = look.context
    weeks = context.weeks_to_competition
    if context.hurts and change.kind in ("load", "drill"):
        return PAIN
    if change.kind == "load":
        if context.minor:
            return MINOR
        if any(r.outcome in NOT_ALONE for r in look.reps):
            return MISSED
        if not context.guarded:
            return UNGUARDED_PULL if look.data.asked.lift == "deadlift" else UNGUARDED
    if weeks is not None and weeks <= MEET_CLOSE_WEEKS and change.alters:
        return NEAR
    return None


def _change(possible: PossibleChange, main: Shown, look: Look) -> Change:
    try_at = None
    if possible.max_load_pct is not None or possible.max_rpe is not None:
        try_at = TryAt(possible.max_load_pct, possible.max_rpe)
        if look.context.hurts or look.context.minor:
            # No figure of load then: only that it be easy.
            try_at = TryAt(None, min(possible.max_rpe or EASY_RPE, EASY_RPE))
    return Change(
        id=possible.id,
        kind=possible.kind,
        text=possible.text,
        try_at=try_at,
        prediction=_prediction(possible, main, look),
        alters=possible.alters,
        by_mm=possible.by_mm,
    )


def _prediction(possible: PossibleChange, main: Shown, look: Look) -> Prediction | None:
    """What the next set should show: the named measure, or where this clip does not have it the finding's own."""
    for measure_id, direction in ((possible.measure, possible.direction), (main.sign.measure, "")):
        found = _moved(measure_id, main, look)
        if found is None:
            continue
        size, sd, unit = found
        way = direction or OPPOSITE[main.sign.worse]
        share = 0.0 if way == "same" else possible.share
        digits = DIGITS.get(unit, 0)
        least = 10.0**-digits
        return Prediction(measure_id, way, round(share * size, digits), max(round(sd, digits), least), unit)
    return None


def _moved(measure_id: str, main: Shown, look: Look) -> tuple[float, float, str] | None:
    """How far a measure is from where it should be in the rep that shows the finding most."""
    worst = main.worst
    assert worst is not None
    here = look.whole(measure_id) if main.sign.of_set else look.read(measure_id, worst)
    if here is None or here.value is None:
        return None
    # A set a week later scatters at least by this much.
    natural = max(main.limit.natural, 0.2 * main.floor) if measure_id == main.sign.measure else 0.0
    natural *= 0.0 if main.sign.as_pct else 1.0
    there = look.read(measure_id, main.reference) if main.reference is not None else None
    if there is None or there.value is None:
        return abs(here.value), math.hypot(here.sd or 0.0, natural), here.unit
    return abs(here.value - there.value), math.hypot(here.sd or 0.0, there.sd or 0.0, natural), here.unit
