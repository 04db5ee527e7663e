"""The estimated maximum in the report: where it says something, and nowhere else."""

from __future__ import annotations

import pytest
from attrs import evolve
from sets import made_measurement

from midfoot.load_words import load_facts
from midfoot.publish import report_html
from midfoot.records.context import Context
from midfoot.records.measures import Measurement


def told(**more: object) -> Measurement:
    made = made_measurement()
    asked = evolve(made.data.asked, **{"load_kg": 100.0, "rpe": 9.0, **more})
    return evolve(made, data=evolve(made.data, asked=asked))


def test_a_hard_set_says_its_maximum_with_sd() -> None:
    made = told()
    ((name, words), (_, lifters)) = load_facts(made)
    assert lifters.startswith("about ")  # the lifter reads a range in steps of 2.5 kg and no sd
    assert all(float(kg) % 2.5 == 0 for kg in lifters.replace("kg", "").split() if kg not in ("about", "to"))
    assert name == "estimated maximum"
    assert "sd" in words
    assert f"{len(made.data.reps.reps)} repetition" in words
    page = report_html(made, {}, load_facts=load_facts(made))
    assert "estimated maximum" in page
    assert "estimated maximum" not in report_html(made, {})


@pytest.mark.parametrize("more", [{"rpe": 6.0}, {"rpe": None}, {"load_kg": None}, {"rir": 4.0}])
def test_a_set_that_says_little_says_nothing(more: dict[str, float | None]) -> None:
    assert load_facts(told(**more)) == []


@pytest.mark.parametrize("said", [Context(pain="knee"), Context(injury="back"), Context(age_years=16)])
def test_nothing_with_pain_or_for_a_minor(said: Context) -> None:
    assert load_facts(evolve(told(), context=said)) == []


def test_nothing_after_a_miss() -> None:
    made = told()
    reps = made.data.reps
    missed = evolve(reps, reps=(*reps.reps[:-1], evolve(reps.reps[-1], outcome="missed")))
    assert load_facts(evolve(made, data=evolve(made.data, reps=missed))) == []
    assert load_facts(made_measurement(seen=False)) == []
