"""measurement.json obeys its schema, carries no NaN and says why what is missing is missing."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest
from attrs import evolve
from sets import made_measurement

from midfoot.records.measures import Measure
from midfoot.store import SCHEMA_ID, schema, to_json, validate
from midfoot.store.measurement_read import measurement_from


@pytest.mark.parametrize("seen", [True, False], ids=["seen", "nothing seen"])
@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_document_is_valid_and_plain_json(lift: str, seen: bool) -> None:
    """It survives a strict round trip and the schema."""
    document = to_json(made_measurement(lift=lift, seen=seen))

    again = json.loads(json.dumps(document, allow_nan=False))

    validate(again)
    assert again == document
    assert again["schema"] == SCHEMA_ID


def test_schema_is_itself_a_schema() -> None:
    """Checked against JSON Schema draft 2020-12 by the jsonschema library."""
    jsonschema.Draft202012Validator.check_schema(schema())


def test_schema_refuses_what_breaks_the_contract() -> None:
    """A missing part, an unknown verdict, a NaN written as text are refused."""
    document = to_json(made_measurement())
    for spoil in (
        lambda d: d.pop("view"),
        lambda d: d["bar"].update(status="maybe"),
        lambda d: d["reps"][0]["measures"]["range_of_motion_mm"].update(value="NaN"),
        lambda d: d["clip"].update(sha256="short"),
    ):
        spoiled = json.loads(json.dumps(document))
        spoil(spoiled)
        with pytest.raises(jsonschema.ValidationError):
            validate(spoiled)


def test_every_number_keeps_value_unit_sd_and_basis() -> None:
    """A measure comes out as it went in; the path has a row a frame."""
    document = to_json(made_measurement())

    measure = document["reps"][1]["measures"]["path_departure_mm"]
    assert measure == {
        "value": 12.0, "unit": "mm", "sd": 1.3, "sd_common": 0.1, "status": "measured", "basis": "plate",
        "reason": "",
    }  # fmt: skip
    hidden = document["reps"][0]["measures"]["squat_depth_mm"]
    assert hidden["value"] is None
    assert "plate hides" in hidden["reason"]
    assert len(document["bar"]["path"]) == 240
    assert document["bar"]["path"][0]["up_mm"] == 0.0


def test_what_is_too_small_to_be_told_keeps_its_bound() -> None:
    made = made_measurement()
    short = Measure("pause_time_s", None, "s", None, None, "not_seen", reason="no stop", at_most=0.15)
    reps = ((*made.measured.reps[0], short), *made.measured.reps[1:])
    document = to_json(evolve(made, measured=evolve(made.measured, reps=reps)))
    body = made.data.body
    words = [["seen"] * body.state.shape[1]] * len(body.t_s)
    arrays: Any = {"t_s": body.t_s, "xy_px": body.xy_px, "sd_px": body.sd_px, "status": words}

    validate(document)
    assert document["reps"][0]["measures"]["pause_time_s"]["at_most"] == 0.15
    assert measurement_from(document, arrays).measured.of(0, "pause_time_s") == short


def test_deadlift_moments_have_their_own_names() -> None:
    """Moments that a lift does not have are left out; those the clip does not show are null."""
    document = to_json(made_measurement())
    rep = document["reps"][0]

    assert "top_start_s" not in rep
    assert rep["low_start_s"] == pytest.approx(2.1)
    assert rep["start_sd_s"] == pytest.approx(0.01)
