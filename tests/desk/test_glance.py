"""What the inbox says of a set at a glance, on sets made from formulas."""

from __future__ import annotations

import json

import attrs
import pytest
from sets import made_measurement

from midfoot.desk.glance import summary_of
from midfoot.findings.registry import findings_of
from midfoot.records.measures import Measure


def test_the_summary_is_plain_json_and_counts_what_can_be_judged() -> None:
    """The made squat has the bar's measures and no depth: what shows in neither is not counted as seen."""
    summary = json.loads(json.dumps(summary_of(made_measurement())))

    assert (summary["lift"], summary["reps"], summary["bar"], summary["view"]) == ("squat", 2, "found", "side")
    assert summary["warnings"][0]["id"] == "plate_diameter_assumed"
    judged = summary["judged"]
    assert 0 < judged["can"] <= judged["of"] <= len(findings_of("squat"))
    assert sum(len(way["what"]) for way in judged["film"]) == judged["of"] - judged["can"]


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        ("the plate hides the hip; film from 20-30 degrees to the front", "film from 20-30 degrees to the front"),
        ("the plate hides the hip", "hidden here: the plate hides the hip"),
    ],
)
def test_where_the_view_would_do_the_clip_says_why(reason: str, said: str) -> None:
    """From the side nobody is told to film from the side: the measure's own reason or remedy is given."""
    measurement = made_measurement()
    hidden = Measure("squat_depth_mm", None, "mm", None, None, "not_seen", "", reason)
    rows = tuple((*(m for m in row if m.id != "squat_depth_mm"), hidden) for row in measurement.measured.reps)
    measured = attrs.evolve(measurement.measured, reps=rows)

    judged = summary_of(attrs.evolve(measurement, measured=measured))["judged"]

    assert said in [way["how"] for way in judged["film"]]


def test_a_set_without_a_bar_is_still_summed_up() -> None:
    summary = summary_of(made_measurement(seen=False))

    assert summary["bar"] == "not_found"
    assert summary["findings"] == []
