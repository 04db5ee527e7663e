"""The table of reps: one row a measure, one column a rep, value with unit and sd, "not seen" with its reason."""

from __future__ import annotations

from typing import Any

from midfoot.publish.moments import said, written
from midfoot.records.measures import Measure, Measurement

UNIT_WORDS = {"deg": "°", "m_s": "m/s", "ratio": "", "s": "s", "mm": "mm", "pct": "%", "count": ""}


def plain_name(measure_id: str) -> str:
    """Turn a measure's id into words: unit off, underscores to spaces."""
    words = measure_id
    for tail in ("_m_s", "_mm", "_deg", "_ratio", "_pct", "_count", "_s"):
        if words.endswith(tail):
            words = words[: -len(tail)]
            break
    return words.replace("_", " ")


def rows_of(measurement: Measurement) -> list[dict[str, Any]]:
    """Give a row per measure that at least one rep has a value or a reason for.

    Each row has `id`, `name`, `unit`, `cells` (one per rep: text, sd, note) and `common` (sd shared by the clip).
    Measures seen in no rep come last, with the reason once.
    """
    by_id: dict[str, list[Measure | None]] = {}
    count = len(measurement.measured.reps)
    for place, measures in enumerate(measurement.measured.reps):
        for measure in measures:
            by_id.setdefault(measure.id, [None] * count)[place] = measure
    seen: list[dict[str, Any]] = []
    unseen: list[dict[str, Any]] = []
    for measure_id, cells in by_id.items():
        known = [m for m in cells if m is not None and m.value is not None]
        if not known and all(m is None or m.status == "not_applicable" for m in cells):
            continue
        row = {
            "id": measure_id,
            "name": plain_name(measure_id),
            "unit": _unit(cells),
            "cells": [_cell(m) for m in cells],
            "common": _common(known),
            "basis": next((m.basis for m in known if m.basis), ""),
            "reason": "" if known else next((m.reason for m in cells if m is not None and m.reason), ""),
        }
        (seen if known else unseen).append(row)
    return seen + unseen


def set_rows(measurement: Measurement) -> list[dict[str, str]]:
    """Give a row per measure of the whole set: name, words."""
    return [
        {"name": plain_name(m.id), "words": said(m) if m.value is not None else f"not seen: {m.reason}"}
        for m in measurement.measured.whole
        if m.status != "not_applicable"
    ]


def _unit(cells: list[Measure | None]) -> str:
    unit = next((m.unit for m in cells if m is not None), "")
    return UNIT_WORDS.get(unit, unit)


def _cell(measure: Measure | None) -> dict[str, str]:
    if measure is None or measure.status == "not_applicable":
        return {"text": "–", "sd": "", "note": measure.reason if measure is not None else ""}
    if measure.value is None:
        return {"text": "not seen", "sd": "", "note": measure.reason}
    value, sd = written(measure.value, measure.sd)
    return {"text": value, "sd": sd, "note": "inferred" if measure.status == "inferred" else ""}


def _common(known: list[Measure]) -> str:
    largest = max((m.sd_common or 0.0 for m in known), default=0.0)
    return written(0.0, largest)[1] if largest > 0 else ""
