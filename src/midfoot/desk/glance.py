"""What the inbox says of a measured set at a glance: what can be judged from this view, and the first findings.

Pure. A finding counts as one that can be judged where a measure in which it shows was seen in this clip; what the
clip has no occasion for (a walkout that was not filmed) is not counted at all.
"""

from __future__ import annotations

from typing import Any

from midfoot.findings.definition import FindingDefinition, Sign
from midfoot.findings.registry import findings_of
from midfoot.measures.views import VIEW_WORDS, rules
from midfoot.records.measures import Measure, Measurement

FIRST_FINDINGS = 4
SEEN = ("measured", "inferred")
HIDDEN = "hidden here: "
"""Begins what is said where no other view would help: a reason, and no way to film."""


def summary_of(measurement: Measurement) -> dict[str, Any]:
    """Give the summary as plain JSON; keys are only ever added.

    Returns
    -------
    dict
        lift, reps, outcomes, best_rep, bar (found, unsure, not_found), view and view_words, judged {can, of, film
        [{how, what[]}]}, findings [{id, title, confidence, nature, reps, text}], warnings [{id, text, remedy}].
    """
    data = measurement.data
    return {
        "lift": data.asked.lift,
        "reps": len(data.reps.reps),
        "outcomes": [rep.outcome for rep in data.reps.reps],
        "best_rep": measurement.measured.best_rep,
        "bar": data.track.status,
        "view": data.view.view_class,
        "view_words": VIEW_WORDS[data.view.view_class],
        "judged": judged(measurement),
        "findings": [
            {"id": f.id, "title": f.title, "confidence": f.confidence, "nature": f.nature, "reps": list(f.reps),
             "text": f.text}
            for f in measurement.found.findings[:FIRST_FINDINGS]
        ],
        "warnings": [{"id": w.id, "text": w.text, "remedy": w.remedy} for w in measurement.warnings],
    }  # fmt: skip


def judged(measurement: Measurement) -> dict[str, Any]:
    """Count the findings that this clip can show, and say how to film for the others, most frequent way first."""
    rows, whole = _by_id(measurement)
    states = _states(measurement)
    film: dict[str, list[str]] = {}
    for definition, seen in states:
        if not seen:
            film.setdefault(_film(definition, rows, whole, measurement), []).append(definition.title)
    ways = sorted(film.items(), key=lambda item: -len(item[1]))
    return {"can": sum(seen for _, seen in states), "of": len(states),
            "film": [{"how": how, "what": what} for how, what in ways]}  # fmt: skip


def can_judge(measurement: Measurement) -> tuple[str, ...]:
    """Give the ids of the findings that this clip can show, whether it does or not, sorted."""
    return tuple(sorted(definition.id for definition, seen in _states(measurement) if seen))


def _states(measurement: Measurement) -> list[tuple[FindingDefinition, bool]]:
    """Give every finding that the clip had an occasion for, and whether a measure in which it shows was seen."""
    rows, whole = _by_id(measurement)
    out = []
    for definition in findings_of(measurement.data.asked.lift):
        states = [_state(sign, rows, whole) for sign in definition.signs]
        if definition.needs_bar and measurement.data.track.status == "not_found":
            states = ["not_seen"]
        if not all(state == "not_applicable" for state in states):
            out.append((definition, "seen" in states))
    return out


def _by_id(measurement: Measurement) -> tuple[list[dict[str, Measure]], dict[str, Measure]]:
    measured = measurement.measured
    return [{m.id: m for m in rep} for rep in measured.reps], {m.id: m for m in measured.whole}


def _state(sign: Sign, rows: list[dict[str, Measure]], whole: dict[str, Measure]) -> str:
    found = [whole.get(sign.measure)] if sign.of_set else [row.get(sign.measure) for row in rows]
    known = [m for m in found if m is not None and m.status != "not_applicable"]
    if not known:
        return "not_applicable"
    return "seen" if any(m.status in SEEN for m in known) else "not_seen"


def _film(
    definition: FindingDefinition,
    rows: list[dict[str, Measure]],
    whole: dict[str, Measure],
    measurement: Measurement,
) -> str:
    """Say how to film: another view where this one cannot give it, else what the measure says of this clip."""
    sign = definition.signs[0]
    rule = rules()[sign.measure]
    if rule.grade(measurement.data.view) == "none":
        return rule.film
    found = [whole.get(sign.measure)] if sign.of_set else [row.get(sign.measure) for row in rows]
    reasons = [m.reason for m in found if m is not None and m.status == "not_seen" and m.reason]
    if not reasons:
        return rule.film
    remedy = next((part.strip() for part in reasons[0].split(";") if part.strip().startswith("film")), "")
    return remedy or f"{HIDDEN}{reasons[0].split(';')[0]}"
