"""Changes of set-up with what mechanics makes of them: only where told or seen, never with pain or near a meet."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from attrs import evolve
from findings.test_rules import raised, rows, steady
from measures.built import rendered_set
from sets import made_measurement

from midfoot import findings, review
from midfoot.findings.registry import findings_of
from midfoot.measures import measure
from midfoot.mechanics import predictions, the_lifter
from midfoot.publish.coach_page import coach_html, geometry_words
from midfoot.records.context import Competition, Context
from midfoot.records.findings import Change, Found, Prediction
from midfoot.records.measures import Measurement
from midfoot.records.mechanics import Length
from midfoot.review.library import load
from midfoot.set_up_change import _of_seen, lifter_of, with_geometry
from midfoot.store import to_json

TALL = Context(safeties="pins", rpe=7.0, stature_m=1.78, body_mass_kg=80.0, sex="male")


def set_with(finding_id: str, lift: str, context: Context, **size: float) -> Measurement:
    """A made set in which this finding is raised from made measures."""
    data, measured = steady(lift)
    for name, worst in size.items():
        clean = measured.of(0, name)
        base = clean.value if clean is not None and clean.value is not None else 0.0
        measured = rows(data, measured, name, [base, base, worst])
    found = findings.find(data, measured, context)
    assert finding_id in {f.id for f in found.findings}
    return evolve(made_measurement(lift=lift), data=data, measured=measured, context=context, found=found)


def changes(one: Measurement) -> dict[str, Change]:
    return {c.id: c for f in one.found.findings for c in (*f.changes, *f.other_changes)}


def test_a_wider_grip_is_foretold_as_mechanics_foretells_it() -> None:
    """The same numbers as `mechanics.predictions` gives for the same lifter: composed, not made up again."""
    one = set_with("bench_toward_feet", "bench", TALL, late_descent_travel_mm=70.0)
    grip = changes(with_geometry(one))["bench_feet_grip"]
    assert (grip.alters, grip.by_mm) == ("grip", 38.0)
    lifter = lifter_of(one)
    assert lifter is not None
    assert grip.geometry == predictions("bench", lifter, "grip", 38.0)
    by = {p.measure: p for p in grip.geometry}
    assert by["touch_point_mm"].direction == "less"  # common practice: wider hands touch higher
    assert "worth trying, film both" in grip.text.lower()
    assert "touch_point_mm less by" in geometry_words(grip)
    assert "sd" in geometry_words(grip)


@pytest.mark.parametrize(
    "context", [evolve(TALL, stature_m=None), evolve(TALL, pain="left shoulder")], ids=["nothing known", "pain"]
)
def test_nothing_is_foretold(context: Context) -> None:
    one = set_with("bench_toward_feet", "bench", context, late_descent_travel_mm=70.0)
    assert all(c.geometry == () for c in changes(with_geometry(one)).values())


@pytest.mark.parametrize(("lean", "wanted"), [(25.0, "bench_forearms_grip"), (-25.0, "bench_forearms_wider")])
def test_forearms_that_lean_ask_for_the_grip_that_stands_them_up(lean: float, wanted: str) -> None:
    """Wrists toward the feet of the elbows: a narrower grip brings the elbows toward the feet; else wider.

    The model's own upright forearm says the same: the elbow's place along the body is the touch point.
    """
    data, measured = steady("bench")
    measured = rows(data, measured, "forearm_angle_deg", [lean] * 3, sd=2.0, unit="deg")
    one = raised(data, measured, "bench_forearms", context=TALL)
    both = {"bench_forearms_grip", "bench_forearms_wider"}
    assert {c.id for c in (*one.changes, *one.other_changes)} & both == {wanted}
    by_mm = next(c.by_mm for c in findings_of_bench() if c.id == wanted)
    (touch,) = (p for p in predictions("bench", the_lifter("male", 1.78, 80), "grip", by_mm)
                if p.measure == "touch_point_mm")  # fmt: skip
    assert touch.direction == ("more" if lean > 0 else "less")


def findings_of_bench() -> list[Change]:
    return [c for f in findings_of("bench") for c in f.changes]  # type: ignore[misc]


def test_the_lifter_reads_a_direction_and_a_range_the_coach_value_unit_sd() -> None:
    one = with_geometry(set_with("bench_toward_feet", "bench", TALL, late_descent_travel_mm=70.0))
    done = review.apply(review.draft_of(one, load()), ())
    (trial,) = (p for p in done.parts if p.id == "film:trial")
    assert "worth trying, film both" in trial.text
    assert "nearer the shoulders" in trial.text
    assert " cm" in trial.text
    assert "mm" not in trial.text
    page = coach_html(one, done, review.script_of(done, review.moment_words(one)))
    assert "touch_point_mm less by" in page


def test_no_trial_before_a_meet() -> None:
    """Four weeks away nothing alters the position; ten weeks away there is time for one change only."""
    for days in (20, 60):
        meet = evolve(TALL, competition=Competition(on=date(2031, 5, 1)), read_on=date(2031, 5, 1 - 0))
        meet = evolve(meet, read_on=date.fromordinal(date(2031, 5, 1).toordinal() - days))
        one = with_geometry(set_with("bench_toward_feet", "bench", meet, late_descent_travel_mm=70.0))
        assert ("bench_feet_grip" in changes(one)) == (days > 28)
        assert not [p for p in review.draft_of(one, load()).parts if p.id == "film:trial"]


def test_geometry_goes_through_the_file() -> None:
    one = with_geometry(set_with("bench_toward_feet", "bench", TALL, late_descent_travel_mm=70.0))
    document = to_json(one)
    back = Found(findings=tuple(f for f in found_of(document)))
    kept = {c.id: c for f in back.findings for c in (*f.changes, *f.other_changes)}["bench_feet_grip"]
    first = changes(one)["bench_feet_grip"]
    assert kept.by_mm == first.by_mm
    assert [(p.measure, p.direction) for p in kept.geometry] == [(p.measure, p.direction) for p in first.geometry]


def found_of(document: dict[str, object]) -> tuple[object, ...]:
    from midfoot.store.findings_json import found_from_json

    return found_from_json(document).findings


def test_segments_that_are_seen_stand_for_a_stature_that_nobody_told(shared_clips: Path) -> None:
    """What is foretold from them agrees with what the rendered rig's own stature (its truth file) gives."""
    data, truth = rendered_set(shared_clips, "squat_side", noise_px=1.5)
    seen = lifter_of(Measurement(data, measure(data), ()))
    told = lifter_of(Measurement(data, measure(data), (), context=evolve(TALL, stature_m=truth["stature"])))
    assert seen is not None
    assert told is not None
    one, other = (predictions("squat", who, "stance", 100.0) for who in (seen, told))
    assert [p.measure for p in one] == [p.measure for p in other] == ["range_of_motion_mm"]
    assert one[0].size == pytest.approx(other[0].size, abs=2 * other[0].sd)


def test_segments_that_contradict_each_other_are_nobodys() -> None:
    """A thigh as long as a tall lifter's on the shank of a child."""
    seen = {"thigh": Length(0.50, 0.01, 50), "shank": Length(0.25, 0.01, 50), "trunk": Length(0.50, 0.01, 50)}
    assert _of_seen("male", seen) is None


def test_every_change_that_says_by_how_much_says_to_film_both() -> None:
    for lift in ("squat", "bench", "deadlift"):
        for one in (c for f in findings_of(lift) for c in f.changes if c.by_mm is not None):
            assert one.alters
            assert one.kind in ("setup", "equipment")
            assert one.text.startswith("An experiment worth trying, film both")


def test_a_prediction_that_nobody_can_say_is_left_to_the_coach() -> None:
    from midfoot.review.changes import foreseen_by

    odd = Change(
        "x", "setup", "", None, None, "grip", 38.0, (Prediction("elbow_depth_mm", "more", 9.0, 2.0, "mm"),)
    )
    assert foreseen_by(odd) == ""
