"""What was found, as the report shows it: a row a finding, with its size, its sd and its evidence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from midfoot.publish.moments import written
from midfoot.publish.stills import Still, finding_stills
from midfoot.publish.tables import UNIT_WORDS
from midfoot.records.findings import Evidence, Finding
from midfoot.records.measures import Measurement

CONFIDENCE_WORDS = {"sure": "sure", "likely": "likely", "hint": "a hint"}
MOST_EVIDENCE = 3


def finding_rows(measurement: Measurement, shown: Mapping[Still, dict[str, Any]]) -> list[dict[str, Any]]:
    """Give a row per finding for the report.

    Each has `title`, `size`, `confidence`, `text`, `why`, `doubts`, `evidence` (a measure over the reps),
    `causes`, `changes` and `still` (what `shown` holds of its picture, or None).
    """
    numbers = [r.n for r in measurement.data.reps.reps]
    stills = {still.name: still for still in finding_stills(measurement)}
    return [
        {
            "title": finding.title,
            "size": size_words(finding),
            "confidence": CONFIDENCE_WORDS[finding.confidence],
            "text": finding.text,
            "why": finding.why,
            "doubts": finding.doubts,
            "evidence": [_evidence(e, numbers) for e in finding.evidence[:MOST_EVIDENCE]],
            "causes": finding.possible_causes,
            "changes": finding.changes,
            "still": shown.get(stills[finding.title]) if finding.title in stills else None,
        }
        for finding in measurement.found.findings
    ]


def size_words(finding: Finding) -> str:
    """Write the size of a finding: value, sd, unit."""
    if finding.size is None:
        return ""
    value, sd = written(finding.size.value, finding.size.sd)
    unit = UNIT_WORDS.get(finding.size.unit, finding.size.unit)
    return f"{value} ± {sd} {unit}".replace(" °", "°").strip() if sd else f"{value} {unit}".strip()


def _evidence(evidence: Evidence, numbers: list[int]) -> dict[str, Any]:
    unit = UNIT_WORDS.get(evidence.unit, evidence.unit)
    cells = []
    for n, value, sd in zip(numbers, evidence.values, evidence.sds, strict=False):
        text, error = written(value, sd) if value is not None else ("–", "")
        cells.append({"n": n, "text": text, "sd": error, "reference": n == evidence.reference_rep})
    return {"title": evidence.title, "unit": unit, "cells": cells}
