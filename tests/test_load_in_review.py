"""Mechanics and strength in a review: what a drift costs, the estimated maximum; nothing where safety forbids."""

from __future__ import annotations

from pathlib import Path

import pytest
from attrs import evolve
from measures.built import rendered_set

from midfoot import findings, review
from midfoot.drift_cost import hip_cost
from midfoot.measures import measure
from midfoot.publish.coach_page import coach_html
from midfoot.records.context import Context
from midfoot.records.measures import Measurement
from midfoot.records.review import Part
from midfoot.review.words import about_load
from midfoot.review_pictures import load_panel
from midfoot.reviewing import load_says


@pytest.fixture(scope="module")
def squat(shared_clips: Path) -> Measurement:
    """The rendered squat, whose third rep is planted 42 mm forward, at 140 kg and effort 8."""
    data, truth = rendered_set(shared_clips, "squat_side", noise_px=1.5)
    data = evolve(data, asked=evolve(data.asked, load_kg=140.0, rpe=8.0))
    said = Context(body_mass_kg=83.0, stature_m=truth["stature"], sex="male", safeties="pins", rpe=8.0)
    return told(Measurement(data, measure(data), (), context=said), said)


def told(one: Measurement, context: Context) -> Measurement:
    found = findings.find(one.data, one.measured, context)
    return evolve(one, context=context, found=found)


def parts(one: Measurement) -> dict[str, Part]:
    drafted = review.draft_of(one, review.load_library(None), load=load_says(one))
    return {p.id: p for p in drafted.parts}


def test_a_clear_drift_says_what_it_costs_the_hips(squat: Measurement) -> None:
    """The lifter reads a range of kilograms that holds the value worked out, the coach N·m and kg with sd."""
    cost = hip_cost(squat)
    assert cost is not None
    assert cost.as_kg is not None
    low, high = load_says(squat).costs_kg["squat_bar_forward"]
    assert low < cost.as_kg.value < high
    why = parts(squat)["change:squat_bar_forward"].why
    assert about_load(low, high) in why
    assert "hips" in why
    drafted = review.apply(review.draft_of(squat, review.load_library(None), load=load_says(squat)), ())
    script = review.script_of(drafted, review.moment_words(squat))
    page = coach_html(squat, drafted, script, load_panel(squat))
    assert "What the load says" in page
    assert "N·m (sd" in page
    assert "kg (sd" in page


def test_the_maximum_stands_in_the_next_session(squat: Measurement) -> None:
    found = parts(squat)["next:maximum"].text
    assert load_says(squat).maximum in found
    assert " to " in load_says(squat).maximum


@pytest.mark.parametrize(
    ("said", "cost", "maximum"),
    [({"pain": "low back"}, False, False), ({"age_years": 16}, True, False), ({"safeties": None}, True, False),
     ({"body_mass_kg": None}, False, True)],
    ids=["pain", "a minor", "no safeties", "no body mass"],
)  # fmt: skip
def test_nothing_is_said_that_safety_or_knowledge_forbids(
    squat: Measurement, said: dict[str, object], cost: bool, maximum: bool
) -> None:
    one = told(squat, evolve(squat.context, **said))
    assert bool(load_says(one).costs_kg) == cost
    assert ("next:maximum" in parts(one)) == maximum


def test_without_a_drift_that_is_raised_the_panel_keeps_quiet(squat: Measurement) -> None:
    quiet = evolve(squat, found=evolve(squat.found, findings=()))
    assert [name for name, _ in load_panel(quiet)] == ["estimated maximum", "the same for the lifter"]
    assert load_says(quiet).costs_kg == {}


@pytest.mark.parametrize(
    ("low", "high", "words"), [(3.0, 9.0, "2.5 to 10 kg"), (0.0, 4.0, "up to 5 kg"), (5.0, 7.5, "5 to 7.5 kg")]
)
def test_kilograms_are_rounded_outward(low: float, high: float, words: str) -> None:
    assert about_load(low, high) == words
