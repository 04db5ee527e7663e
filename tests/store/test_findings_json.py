"""Findings survive measurement.json: written by the contract's names, read back as they were, damage is named."""

from __future__ import annotations

import json

import pytest
from attrs import evolve
from sets import made_measurement

from midfoot.records.base import RecordError
from midfoot.records.findings import (
    Cause,
    Change,
    Evidence,
    Finding,
    Found,
    Held,
    Note,
    Prediction,
    Size,
    TryAt,
)
from midfoot.store import finding_from_json, finding_to_json, found_from_json, to_json, validate

SHOWN = Evidence(measure="path_departure_mm", title="Departure", unit="mm", values=(0.0, None), sds=(1.3, None))
FINDING = Finding(
    id="bar_forward", by="measured", title="The bar leaves forward", reps=(2,), at_s=(6.1,),
    size=Size(24.0, "mm", 2.0, 3.9), worst_rep=2, confidence="sure", text="Rep 2: 24 mm.", why="It costs.",
    doubts=("one of them",), evidence=(SHOWN,),
    possible_causes=(Cause("slack", "The back gives", ("hips lead",), ("trunk holds",)),),
    changes=(
        Change("push_back", "cue", "Push your back into the bar.", TryAt(80.0, 7.0),
               Prediction("path_departure_mm", "less", 15.0, 6.0, "mm")),
    ),
    other_changes=(Change("film", "setup", "Film both ways.", None, None, "stance"),),
)  # fmt: skip
FOUND = Found(
    findings=(FINDING, evolve(FINDING, id="seen", by="coach", size=None, worst_rep=None)),
    held=Held(text="Depth held.", evidence=(SHOWN,), within=(8.0,), best_rep=1, best_text="nearest the middle"),
    notes=(Note("pain", "No load advice: something hurts."),),
)


def test_findings_come_back_from_the_document_as_they_went_in() -> None:
    """Through text and the schema and back."""
    document = to_json(evolve(made_measurement(), found=FOUND))

    again = json.loads(json.dumps(document, allow_nan=False))

    validate(again)
    assert found_from_json(again) == FOUND


def test_the_contract_names_are_the_ones_written() -> None:
    """Names of the contract for measurement.json, section 6 of this project's own design."""
    written = finding_to_json(FINDING)

    assert {"id", "by", "title", "reps", "at_s", "size", "confidence", "possible_causes", "changes"} <= set(
        written
    )
    assert written["possible_causes"][0]["for"] == ["hips lead"]
    assert written["size"] == {"value": 24.0, "unit": "mm", "sd": 2.0, "resolution": 3.9}
    assert written["changes"][0]["try_at"] == {"max_load_pct": 80.0, "max_rpe": 7.0}
    assert set(written["changes"][0]["prediction"]) == {"measure", "direction", "size", "sd", "unit"}


def test_a_file_without_findings_has_none() -> None:
    """Measured folders from before there were findings read as empty."""
    assert found_from_json({"findings": [], "set": {"measures": {}}}) == Found()


def test_damage_is_named() -> None:
    """A finding whose confidence is no word of ours is refused with that word in the text."""
    with pytest.raises(ValueError, match="perhaps"):
        finding_from_json({**finding_to_json(FINDING), "confidence": "perhaps"})
    with pytest.raises(ValueError, match="title"):
        finding_from_json({k: v for k, v in finding_to_json(FINDING).items() if k != "title"})


def test_records_refuse_what_does_not_fit() -> None:
    """An sd below zero, a held measure without its limit."""
    with pytest.raises(RecordError, match="sd: expected at least 0"):
        Size(1.0, "mm", -1.0, 2.0)
    with pytest.raises(RecordError, match="within: expected one for each of 1"):
        Held(text="", evidence=(SHOWN,))
