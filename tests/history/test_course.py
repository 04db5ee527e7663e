"""What is kept of a set for the course over the weeks, and which sets may stand on one line."""

from __future__ import annotations

import json
import math

import pytest
from attrs import evolve
from sets import made_measurement

from midfoot.history import numbers_of, why_not_together
from midfoot.records.measures import Measure


def test_levels_are_means_of_the_completed_reps() -> None:
    """path_departure_mm is 0 and 12 mm, sd 1.3 random and 0.1 common: mean 6; scatter 12/sqrt(2) over two reps is
    6 mm, with 0.1 beside it: sqrt(36.01). What was not seen is not in it."""
    numbers = numbers_of(made_measurement())

    level = numbers["levels"]["path_departure_mm"]
    assert (level["value"], level["unit"], level["reps"]) == (6.0, "mm", 2)
    assert level["sd"] == pytest.approx(math.sqrt(36.01), abs=1e-4)
    assert "squat_depth_mm" not in numbers["levels"]
    assert numbers["levels"]["velocity_loss_pct"] == {"value": 12.0, "sd": 2.0, "unit": "%", "reps": 0}
    assert (numbers["view"], numbers["scale_pct"], numbers["reps"]) == (
        {"class": "side", "yaw_deg": 1.0}, 0.7, 2,
    )  # fmt: skip
    assert json.loads(json.dumps(numbers, allow_nan=False)) == numbers


def test_a_missed_rep_is_no_part_of_a_level() -> None:
    made = made_measurement()
    first, second = made.data.reps.reps
    reps = evolve(made.data.reps, reps=(first, evolve(second, outcome="missed")))

    numbers = numbers_of(evolve(made, data=evolve(made.data, reps=reps)))

    assert numbers["levels"]["path_departure_mm"]["value"] == 0.0
    assert numbers["reps"] == 1


def test_a_clip_without_bar_has_numbers_too() -> None:
    made = made_measurement(seen=False)
    numbers = numbers_of(evolve(made, measured=evolve(made.measured, reps=(), whole=())))

    assert (numbers["levels"], numbers["scale_pct"]) == ({}, None)


@pytest.mark.parametrize(
    ("unit", "other", "words"),
    [
        ("mm", {}, ""),
        ("mm", {"view": {"class": "front", "yaw_deg": 85.0}}, "filmed from the side and from the front"),
        ("deg", {"view": {"class": "side", "yaw_deg": -10.2}}, "11 degrees apart"),
        ("deg", {"view": {"class": "side", "yaw_deg": -8.0}}, ""),
        ("s", {"view": {"class": "unknown", "yaw_deg": 0.0}}, ""),
        ("deg", {"view": {"class": "unknown", "yaw_deg": 0.0}}, "could not be told"),
        ("m_s", {"scale_pct": 3.0}, "plate of one"),
        ("mm", {"scale_pct": None}, "plate of one"),
        ("deg", {"scale_pct": None}, ""),
    ],
)
def test_only_what_may_be_held_together_stands_on_one_line(unit: str, other: dict, words: str) -> None:
    """The bounds are those of comparing two sets: 10 degrees of yaw, a scale known better than 2.9 %."""
    first = {"view": {"class": "side", "yaw_deg": 1.0}, "scale_pct": 0.7}

    said = why_not_together(unit, first, {**first, **other})

    assert (words in said) if words else (said == "")


def test_measures_keep_their_unit() -> None:
    made = made_measurement()
    rows = tuple(
        (*row, Measure("bar_tilt_deg", 1.5, "deg", 0.2, 0.1, "measured", "x")) for row in made.measured.reps
    )

    numbers = numbers_of(evolve(made, measured=evolve(made.measured, reps=rows)))

    assert numbers["levels"]["bar_tilt_deg"]["unit"] == "deg"
