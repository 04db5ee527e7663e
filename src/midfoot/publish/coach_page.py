"""The coach's view of a review: every part with value, unit and sd, what speaks for and against, what was left."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from midfoot.publish import look
from midfoot.publish.moments import written
from midfoot.publish.page_template import page_template
from midfoot.publish.report import COLOURS
from midfoot.publish.review_page import figure_words, headings_of, title_of, with_unit
from midfoot.records.findings import Change, Evidence, Finding, Size, TryAt
from midfoot.records.measures import Measurement
from midfoot.records.review import Part, Review, Script


def coach_html(
    measurement: Measurement, review: Review, script: Script, facts: Sequence[tuple[str, str]] = ()
) -> str:
    """Write the page; it holds private words and stays in the house.

    `facts` are name and words of what mechanics and strength make of the load.
    """
    findings = {f.id: f for f in measurement.found.findings}
    return page_template("coach.html.j2").render(
        title=title_of(measurement),
        waiting=waiting(review, script),
        reps=[r.n for r in measurement.data.reps.reps],
        parts=[_part(p, findings.get(p.about), review) for p in review.parts],
        held_back=review.draft.held_back,
        facts=facts,
        script=script,
        notes=[n.text for n in review.notes if not n.part],
        colours={name: look.css(colour) for name, colour in COLOURS.items()},
        style=(Path(__file__).parent / "templates" / "review.css").read_text("utf-8"),
    )


def waiting(review: Review, script: Script) -> list[str]:
    """Give what the coach has still to do before anything goes out."""
    out = [f"Write this one yourself: {p.caption or p.id}" for p in review.parts if p.needs_words and p.shown]
    out += [a.question for a in review.asks]
    out += [f"The script: {c}" for c in script.complaints]
    if review.unseen:
        out.append(
            f"{len(review.unseen)} of {len(review.parts)} parts are not looked at yet: nothing goes out unread."
        )
    return out


def _part(part: Part, finding: Finding | None, review: Review) -> dict[str, Any]:
    heading = headings_of(review)[part.section]
    where = ", ".join(f"rep {n} at {t:.2f} s" for n, t in zip(part.reps, part.at_s, strict=False))
    said = part.prediction
    foretold = ""
    if said is not None:
        size = figure_words(Size(said.size, said.unit, said.sd, 0.0))
        foretold = f"{said.measure} {said.direction} by {size}"
    tried_too = next((c for c in finding.changes[:1]), None) if finding is not None else None
    if tried_too is not None and tried_too.geometry and part.try_text.startswith(tried_too.text):
        foretold = "; ".join(s for s in (foretold, geometry_words(tried_too)) if s)
    return {
        "id": part.id,
        "heading": f"{heading}: {part.caption}" if part.caption else heading,
        "where": where,
        "text": part.text,
        "why": part.why,
        "aloud": part.aloud,
        "try_text": part.try_text,
        "try_at": limits_words(part.try_at),
        "prediction": foretold,
        "value": _value(part),
        "evidence": [_evidence(e) for e in finding.evidence] if finding is not None else [],
        "causes": finding.possible_causes if finding is not None else (),
        "others": [_other(c) for c in finding.other_changes] if finding is not None else [],
        "doubts": finding.doubts if finding is not None else (),
        "confidence": part.confidence,
        "by": "the program" if part.by == "measured" else "you",
        "status": f"{part.status}{f' ({part.reason})' if part.reason else ''}",
        "notes": [n.text for n in review.notes if n.part == part.id],
    }


def limits_words(tried: TryAt | None) -> str:
    """Write how light a change is tried first, "" where nothing limits it."""
    limits = []
    if tried is not None and tried.max_load_pct is not None:
        limits.append(f"at no more than {tried.max_load_pct:.0f} % of the load")
    if tried is not None and tried.max_rpe is not None:
        limits.append(f"effort {tried.max_rpe:g} of 10 at most")
    return ", ".join(limits)


def geometry_words(change: Change) -> str:
    """Write what this lifter's segments make of a change: measure, value, unit, sd."""
    said = [
        f"{p.measure} {p.direction} by {figure_words(Size(p.size, p.unit, p.sd, 0.0))}" for p in change.geometry
    ]
    return f"by geometry, in every rep: {', '.join(said)} (worth trying, film both)" if said else ""


def _other(change: Change) -> str:
    geometry = geometry_words(change)
    return f"{change.text} Foretold {geometry}." if geometry else change.text


def _value(part: Part) -> str:
    figure = part.figure
    if figure is None:
        return ""
    where = f" on rep {figure.rep}" if figure.rep is not None else ""
    least = with_unit(f"{figure.size.resolution:.2g}", figure.size.unit)
    return f"{figure_words(figure.size)}{where}; this clip can tell {least}; the lifter reads {figure.words}"


def _evidence(evidence: Evidence) -> dict[str, Any]:
    """Give a row's head and, for each rep, the value with its unit and the sd that stands below it."""
    cells: list[tuple[str, str]] = []
    for value, sd in zip(evidence.values, evidence.sds, strict=True):
        if value is None:
            cells.append(("not seen", ""))
            continue
        number, spread = written(value, sd)
        cells.append((with_unit(number, evidence.unit), f"sd {spread}" if spread else ""))
    against = f", against rep {evidence.reference_rep}" if evidence.reference_rep is not None else ""
    return {"title": f"{evidence.title}{against}", "cells": cells}
