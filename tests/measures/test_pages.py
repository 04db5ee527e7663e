"""The registry, views.toml and the pages say the same, and say all of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from attrs import evolve

from midfoot.measures import pages
from midfoot.measures.registry import PER_REP, PER_SET, definition, rep_measures, set_measures
from midfoot.measures.views import GRADES, ViewRule, rules
from midfoot.records.bar import VIEW_CLASSES, View
from midfoot.records.base import LIFTS, Value

DOCS = Path(__file__).resolve().parents[2] / "docs" / "measures"

# The ids that other people's scripts rely on; names and lifts change only by adding.
PROMISED = {
    "range_of_motion_mm": LIFTS, "ascent_time_s": LIFTS, "descent_time_s": LIFTS,
    "low_time_s": ("squat", "bench"), "top_time_s": ("deadlift",), "pause_time_s": ("squat", "bench"),
    "ascent_mean_velocity_m_s": LIFTS, "ascent_peak_velocity_m_s": LIFTS, "path_range_mm": LIFTS,
    "path_at_low_mm": ("squat", "bench"), "path_departure_mm": LIFTS, "path_forward_mm": LIFTS,
    "lockout_shortfall_mm": LIFTS,
    "low_height_change_mm": ("squat", "bench"), "sticking_velocity_m_s": LIFTS, "sticking_height_mm": LIFTS,
    "squat_depth_mm": ("squat",), "trunk_angle_start_deg": ("squat", "deadlift"),
    "trunk_angle_low_deg": ("squat",), "hip_lead_ratio": ("squat", "deadlift"), "touch_point_mm": ("bench",),
    "late_descent_travel_mm": ("bench",), "forearm_angle_deg": ("bench",), "hip_lift_mm": ("bench",),
    "shoulder_shift_mm": ("bench",), "unrack_lift_mm": ("squat", "bench"), "unrack_travel_mm": ("squat", "bench"),
    "knee_lockout_gap_deg": ("squat", "deadlift"), "hip_lockout_gap_deg": ("deadlift",),
    "downward_movement_mm": LIFTS, "slack_time_s": ("deadlift",), "bar_tilt_deg": LIFTS, "grip_width_mm": LIFTS,
}  # fmt: skip
TAILS = {"mm": "_mm", "s": "_s", "m_s": "_m_s", "deg": "_deg", "ratio": "_ratio", "pct": "_pct", "count": "_count"}


def test_every_promised_id_is_there_for_its_lifts() -> None:
    for measure_id, lifts in PROMISED.items():
        for lift in lifts:
            assert definition(measure_id, lift).id == measure_id


@pytest.mark.parametrize("lift", LIFTS)
def test_ids_are_unique_in_a_lift_and_end_in_their_unit(lift: str) -> None:
    found = [*rep_measures(lift), *set_measures(lift)]
    assert len({m.id for m in found}) == len(found)
    for m in found:
        assert m.id.endswith(TAILS[m.unit]), m.id


def test_views_and_registry_name_the_same_measures() -> None:
    assert set(rules()) == {m.id for m in (*PER_REP, *PER_SET)}


def test_every_measure_is_described() -> None:
    for m in (*PER_REP, *PER_SET):
        for words in (m.title, m.what, m.formula, m.lies, m.film, m.source):
            assert len(words) > 3, m.id


def test_the_pages_are_fresh() -> None:
    found = pages()
    assert {p.name for p in DOCS.glob("*.md")} == set(found)
    for name, text in found.items():
        assert (DOCS / name).read_text("utf-8") == text, f"docs/measures/{name}: run python -m lab.gen_measures"


def test_pages_name_every_measure_and_its_views() -> None:
    found = pages()
    for m in (*PER_REP, *PER_SET):
        assert f"`{m.id}`" in found["README.md"]
        for lift in m.lifts:
            assert f"`{m.id}`" in found[f"{lift}.md"]


def test_oblique_views_get_worse_with_yaw() -> None:
    rule = ViewRule(dict.fromkeys(VIEW_CLASSES, "good"), "film", 30.0, 45.0)
    still = Value(0.0, 1.0)
    view = View("left", "image_left", "front_oblique", still, still, still, still, still)
    grades = [rule.grade(evolve(view, yaw_deg=Value(yaw, 1.0))) for yaw in (15.0, 35.0, -50.0)]
    assert grades == list(GRADES)
    assert rule.grade(evolve(view, view_class="side", yaw_deg=Value(50.0, 1.0))) == "good"
