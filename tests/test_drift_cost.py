"""What the drift costs, in the report: the statics of a lever, and nothing where nothing is clear."""

from __future__ import annotations

from pathlib import Path

import pytest
from attrs import evolve
from lab.score_mechanics import moments_of, truth_moment
from measures.built import rendered_set
from sets import made_measurement

from midfoot.drift_cost import clear_drift, drift_facts
from midfoot.measures import measure
from midfoot.publish import report_html
from midfoot.records.context import Context
from midfoot.records.measures import Measure, Measurement


def drifting(*values: float | None, sd: float = 1.3, **asked: object) -> Measurement:
    made = made_measurement()
    reps = tuple((Measure("path_forward_mm", v, "mm", sd, 0.1, "measured", "plate"),) for v in values)
    data = evolve(made.data, asked=evolve(made.data.asked, **{"load_kg": 100.0, **asked}))
    return evolve(made, data=data, measured=evolve(made.measured, reps=reps))


def test_cost_is_load_times_gravity_times_drift() -> None:
    """100 kg x 9.80665 x 30 mm = 29.4 N m, by hand."""
    ((name, words),) = drift_facts(drifting(-2.0, 28.0))
    assert name == "cost of the drift"
    assert "rep 2 carries the bar 30 mm (sd 2) farther forward than rep 1: 29 N·m (sd 2) more at the hip" in words
    assert "with 100 kg" in words
    assert "in all" not in words  # neither body mass nor stature was told
    assert "29 N·m" in report_html(drifting(-2.0, 28.0), {}, load_facts=[(name, words)])


@pytest.mark.parametrize(
    "set_",
    [
        drifting(0.0, 8.0), drifting(0.0, -30.0), drifting(0.0, 30.0, sd=20.0), drifting(0.0, 30.0, load_kg=None),
        drifting(0.0, 30.0, lift="bench"), drifting(None, 30.0), drifting(-40.0, -2.0),
        evolve(drifting(0.0, 30.0), context=Context(pain="low back")),
    ],
    ids=["small", "backward", "unsure", "no load", "bench", "one rep", "never forward", "pain"],
)  # fmt: skip
def test_nothing_is_said_where_nothing_is_clear(set_: Measurement) -> None:
    assert drift_facts(set_) == []


def unseen() -> Measure:
    return Measure("path_forward_mm", None, "mm", None, None, "not_seen", reason="covered")


def test_reps_that_were_not_seen_cost_nothing_and_hide_nothing() -> None:
    """A rep without the measure, one whose value has no error, a set measured before there was this measure."""
    seen = drifting(0.0, 30.0)
    drift = clear_drift(seen)
    assert drift is not None
    assert (drift.rep, drift.against, drift.place) == (2, 1, 1)
    assert clear_drift(drifting(None, None)) is None
    assert clear_drift(drifting()) is None
    for reps in (((unseen(),), seen.measured.reps[1]), ((), seen.measured.reps[1]), seen.measured.reps[:1]):
        assert clear_drift(evolve(seen, measured=evolve(seen.measured, reps=reps))) is None
    no_error = tuple((evolve(m, sd=None),) for (m,) in drifting(0.0, 30.0).measured.reps)
    assert clear_drift(evolve(seen, measured=evolve(seen.measured, reps=no_error))) is not None
    older = tuple((evolve(m, id="path_departure_mm"),) for (m,) in drifting(-2.0, 28.0).measured.reps)
    assert drift_facts(evolve(seen, measured=evolve(seen.measured, reps=older)))[0][1].startswith("rep 2 carries")


def test_a_set_of_which_nothing_but_the_drift_is_known_still_has_its_cost() -> None:
    """No path, a path of holes, nobody followed: the lever's cost needs none of them, the whole moment does."""
    made = drifting(0.0, 30.0, stature_m=1.76)
    made = evolve(made, context=Context(body_mass_kg=83.0, stature_m=1.76))
    path = made.data.path
    assert path is not None
    holes = evolve(path, forward_mm=path.forward_mm * float("nan"), up_mm=path.up_mm * float("nan"))
    nobody = evolve(made.data.body, status="not_seen", reason="made without a body")
    for data in (evolve(made.data, path=None), evolve(made.data, path=holes), evolve(made.data, body=nobody)):
        ((_, words),) = drift_facts(evolve(made, data=data))
        assert "29 N·m" in words
        assert "in all" not in words


def test_rendered_squat_says_what_statics_says(shared_clips: Path) -> None:
    """The truth's whole hip moment where rep 3 stands farthest forward, from the rig's joints, within two sds."""
    data, truth = rendered_set(shared_clips, "squat_side", noise_px=1.5)
    data = evolve(data, asked=evolve(data.asked, load_kg=140.0))
    told = Context(body_mass_kg=83.0, stature_m=truth["stature"], sex="male")
    made = Measurement(data, measure(data), (), context=told)
    drift = clear_drift(made)
    assert drift is not None
    assert (drift.rep, drift.against) == (3, 1)
    assert drift.mm == pytest.approx(42, abs=3)  # planted: 42 mm forward; rep 1 stays behind its vertical
    ((_, words),) = drift_facts(made)
    print(words)
    whole, sd = (float(w) for w in words.partition(", of ")[2].partition(") in all")[0].split(" (sd "))
    at_s = dict(moments_of(truth))[3]["farthest"]
    row = min(range(len(truth["t"])), key=lambda k: abs(truth["t"][k] - at_s))
    arm_m, true = truth_moment(truth, row, "hip", 140.0, 83.0)
    assert whole == pytest.approx(true, abs=2 * sd)
    kg, kg_sd = (float(w) for w in words.partition("as much as ")[2].partition(") more")[0].split(" kg (sd "))
    assert kg == pytest.approx(140 * drift.mm / (1000 * arm_m - drift.mm), abs=2 * kg_sd)
