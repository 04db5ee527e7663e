"""Two measured folders compared: composes store, measures, findings, history and publish, and writes the files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cattrs
from attrs import evolve, frozen

from midfoot import history
from midfoot.findings.engine import find
from midfoot.history import Foretold
from midfoot.measures.registry import rep_measures
from midfoot.publish import compare_page
from midfoot.records.findings import Found
from midfoot.records.history import Comparison
from midfoot.records.measures import Measurement
from midfoot.store import REVIEW, draft_from_json, read_measurement, write_whole

NUMBERS, PAGE = "compare.json", "compare.html"
COMPARE_ID = "midfoot/comparison/1"


@frozen(kw_only=True)
class Compared:
    """Two sets and what came of holding them against each other."""

    first: Measurement
    second: Measurement
    comparison: Comparison


def compare_folders(first: Path, second: Path) -> Compared:
    """Compare two measured folders, the earlier one first.

    Predictions come from the first folder's review, without one from its findings.

    Raises
    ------
    StoreError
        When a folder is not measured.
    history.CompareError
        When the sets cannot be compared at all.
    """
    sets = read_measurement(first), read_measurement(second)
    definitions = rep_measures(sets[0].data.asked.lift)
    names = (first.resolve().name, second.resolve().name)
    comparison = history.compare(
        *sets,
        titles={d.id: d.title for d in definitions},
        good={d.id: d.good for d in definitions},
        names=names if names[0] != names[1] else (f"{names[0]} (1)", f"{names[1]} (2)"),
    )
    followed = history.follow(*sets, _foretold(first, sets[0]))
    return Compared(first=sets[0], second=sets[1], comparison=evolve(comparison, followed=followed))


def _foretold(folder: Path, one: Measurement) -> tuple[Foretold, ...]:
    """Give what the earlier review predicted: of the parts that went out, else of the first three findings."""
    found = one.found
    if found == Found():
        found = find(one.data, one.measured, one.context, one.warnings)
    against = {f.id: f.evidence[0].reference_rep for f in found.findings if f.evidence}
    out: list[Foretold] = []
    for part in _parts(folder):
        if part.prediction is not None and part.about in against:
            out.append(
                Foretold(finding=part.about, title=part.caption, change=part.try_text, prediction=part.prediction,
                         against_rep=against[part.about])
            )  # fmt: skip
    if out:
        return tuple(out)
    for finding in found.findings:
        for change in finding.changes[:1]:
            if change.prediction is not None:
                out.append(
                    Foretold(finding=finding.id, title=finding.title, change=change.text,
                             prediction=change.prediction, against_rep=against.get(finding.id))
                )  # fmt: skip
    return tuple(out[:3])


def _parts(folder: Path) -> tuple[Any, ...]:
    """Give the parts that an earlier review let out; none where there is no review or it cannot be read."""
    file = folder / REVIEW
    if not file.is_file():
        return ()
    try:
        document = json.loads(file.read_text("utf-8"))
        out = {p["id"] for p in document["parts"] if p["status"] in ("open", "kept")}
        return tuple(p for p in draft_from_json(document).parts if p.id in out)
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def write_comparison(done: Compared, folder: Path) -> list[str]:
    """Write compare.json and compare.html; gives the names of the files.

    Raises
    ------
    StoreError
        When the disk is full or the folder cannot be written to.
    """
    files = {
        NUMBERS: json.dumps(document_of(done.comparison), indent=1, allow_nan=False, ensure_ascii=False) + "\n",
        PAGE: compare_page.compare_html(done.comparison, done.first, done.second),
    }
    for name, text in files.items():
        with write_whole(folder / name) as beside:
            beside.write_text(text, "utf-8")
    return list(files)


def document_of(comparison: Comparison) -> dict[str, Any]:
    """Turn a comparison into plain dicts and lists."""
    converter = cattrs.Converter()
    converter.register_unstructure_hook(float, lambda number: round(number, 6))
    plain = {"schema": COMPARE_ID, **converter.unstructure(comparison)}
    return dict(json.loads(json.dumps(plain, allow_nan=False)))
