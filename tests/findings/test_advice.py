"""What the context lets be said: pain, minors, missed reps, no safeties, competitions; causes; texts."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from attrs import evolve
from findings.test_rules import raised, rows, steady

from midfoot.findings import definition, find
from midfoot.findings.advice import most_changes
from midfoot.records.context import Competition, Context
from midfoot.records.findings import Found
from midfoot.records.measures import Measured, SetData

TODAY = date(2031, 5, 1)
SAFE = Context(safeties="pins", rpe=7.0)


def meet(weeks: float, **more: object) -> Context:
    """A lifter with safeties who competes in so many weeks."""
    day = TODAY + timedelta(days=round(7 * weeks))
    return Context(safeties="pins", competition=Competition(on=day), read_on=TODAY, **more)  # type: ignore[arg-type]


def five_faults() -> tuple[SetData, Measured]:
    """A squat set with many faults in its last rep."""
    data, measured = steady(count=4)
    for measure, value in {
        "path_forward_mm": 70.0, "low_height_change_mm": 90.0, "downward_movement_mm": 30.0,
        "hip_lead_ratio": 1.8,
        "lockout_shortfall_mm": 50.0,
    }.items():  # fmt: skip
        clean = measured.of(0, measure).value  # type: ignore[union-attr]
        measured = rows(data, measured, measure, [clean, clean, clean, value])
    return data, measured


def changes(found: Found) -> list[str]:
    """Ids of what is proposed."""
    return [c.id for f in found.findings for c in f.changes]


def everything(found: Found) -> list[str]:
    """Ids of what is proposed or could be tried instead."""
    return [c.id for f in found.findings for c in (*f.changes, *f.other_changes)]


def kinds(found: Found) -> set[str]:
    """Kinds of everything that could be tried."""
    return {c.kind for f in found.findings for c in (*f.changes, *f.other_changes)}


def test_three_changes_at_the_most_one_a_finding() -> None:
    data, measured = five_faults()
    found = find(data, measured, SAFE)

    assert len([f for f in found.findings if f.confidence == "sure"]) >= 5
    assert len(changes(found)) == 3
    assert max(len(f.changes) for f in found.findings) == 1
    assert "load" in kinds(found)


@pytest.mark.parametrize(("weeks", "most"), [(3, 1), (9.5, 1), (11, 3)])
def test_before_a_competition_one_change(weeks: float, most: int) -> None:
    data, measured = five_faults()
    assert most_changes(meet(weeks)) == most
    assert len(changes(find(data, measured, meet(weeks)))) == most


def test_four_weeks_before_nothing_of_the_position_changes() -> None:
    """The bench's late travel knows a change of grip: far from a competition it may be tried."""
    data, measured = steady("bench")
    measured = rows(data, measured, "late_descent_travel_mm", [22.0, 22.0, 70.0])

    far, near = find(data, measured, meet(20)), find(data, measured, meet(3.9))

    assert "bench_feet_grip" in everything(far)
    assert "bench_feet_grip" not in everything(near)
    assert [n.id for n in near.notes] == ["competition_near"]
    assert not [c for f in near.findings for c in (*f.changes, *f.other_changes) if c.alters]


@pytest.mark.parametrize("said", [{"pain": "left knee"}, {"injury": "shoulder, last spring"}])
def test_with_pain_no_load_no_drill_and_a_word_to_see_a_clinician(said: dict[str, str]) -> None:
    data, measured = five_faults()
    found = find(data, measured, Context(safeties="pins", **said))  # type: ignore[arg-type]

    assert kinds(found) <= {"cue", "setup", "equipment"}
    assert "clinician" in next(n.text for n in found.notes if n.id == "pain")
    for change in (c for f in found.findings for c in (*f.changes, *f.other_changes)):
        assert change.try_at is None or change.try_at.max_load_pct is None


@pytest.mark.parametrize(
    ("context", "note"),
    [(Context(safeties="pins", age_years=16), "minor"), (Context(), "no_safeties")],
    ids=["a minor", "nobody named safeties"],
)
def test_no_load_is_advised(context: Context, note: str) -> None:
    data, measured = five_faults()
    found = find(data, measured, context)

    assert "load" not in kinds(found)
    assert note in {n.id for n in found.notes}


def test_no_load_after_a_missed_rep() -> None:
    data, measured = five_faults()
    reps = tuple(evolve(r, outcome="missed") if r.n == 4 else r for r in data.reps.reps)
    found = find(evolve(data, reps=evolve(data.reps, reps=reps)), measured, SAFE)

    assert "load" not in kinds(found)
    assert "missed_rep" in {n.id for n in found.notes}


def test_a_very_hard_set_explains_slowing_and_nothing_else() -> None:
    data, measured = five_faults()
    measured = rows(data, measured, "ascent_time_s", [1.2, 1.2, 1.2, 2.4])

    for context in (Context(safeties="pins", rpe=9.0), Context(safeties="pins", rir=1.0)):
        found = find(data, measured, context)
        for finding in found.findings:
            said = " ".join(w for c in finding.possible_causes for w in c.speaks_for)
            assert ("RPE 9" in said) == (finding.id == "squat_slowing"), finding.id
    easy = raised(data, measured, "squat_slowing", context=Context(rpe=8.5))
    assert "RPE" not in str(easy.possible_causes)
    assert easy.nature == "information"
    assert easy.changes == easy.other_changes == ()


def test_causes_are_held_against_the_clip() -> None:
    """Hips that lead speak for one cause; a low in its old place speaks against another; neither is claimed."""
    data, measured = steady()
    measured = rows(data, measured, "path_forward_mm", [5.0, 5.0, 60.0])
    measured = rows(data, measured, "hip_lead_ratio", [1.15, 1.15, 1.6])
    measured = rows(data, measured, "path_at_low_mm", [5.0, 5.0, 5.0])

    finding = raised(data, measured, "squat_bar_forward")

    causes = {c.id: c for c in finding.possible_causes}
    assert finding.possible_causes[0].id == "hips_lead"
    assert any("hips rise more" in w and "0.45" in w for w in causes["hips_lead"].speaks_for)
    assert causes["forward_at_low"].against == ("the low lies where it did",)
    assert causes["forward_at_low"].speaks_for == ()


def test_a_clue_that_the_clip_cannot_resolve_says_nothing() -> None:
    data, measured = steady()
    measured = rows(data, measured, "path_forward_mm", [5.0, 5.0, 60.0])
    measured = rows(data, measured, "hip_lead_ratio", [1.15, 1.15, 1.17], sd=0.4)

    causes = {c.id: c for c in raised(data, measured, "squat_bar_forward").possible_causes}

    assert not [w for w in causes["hips_lead"].against if "hips and bar" in w]


def test_a_change_predicts_what_the_next_set_can_refute() -> None:
    """60 mm too far forward, half of it should go: 30 mm less, give or take a lifter's scatter."""
    data, measured = steady()
    measured = rows(data, measured, "path_forward_mm", [0.0, 0.0, 60.0], sd=1.0)

    prediction = raised(data, measured, "squat_bar_forward", context=SAFE).changes[0].prediction

    assert (prediction.measure, prediction.direction, prediction.unit) == ("path_forward_mm", "less", "mm")
    assert prediction.size == 30.0
    assert prediction.sd == round(float(np.hypot(np.hypot(1, 1), 10.0)))


def test_a_measure_that_the_clip_does_not_have_is_not_predicted() -> None:
    """A trunk's change stands for the hips' lead where the plate hides the hip."""
    data, measured = steady(without=("hip_lead_ratio", "trunk_tip_deg"))
    measured = rows(data, measured, "trunk_angle_slowest_deg", [30.0, 30.0, 60.0], unit="deg")

    finding = raised(data, measured, "squat_hips_first", context=SAFE)

    assert finding.confidence == "likely"
    assert finding.changes[0].prediction.measure == "trunk_angle_slowest_deg"
    assert finding.changes[0].prediction.direction == "less"


def test_texts_say_reps_and_figures() -> None:
    data, measured = steady(count=4)
    measured = rows(data, measured, "path_forward_mm", [0.0, 0.0, 40.0, 52.0], sd=1.0)

    finding = raised(data, measured, "squat_bar_forward")

    assert finding.text == (
        "In rep 4 the bar went 52 mm (sd 1) farther forward on the way up than in rep 1. Rep 3: 40 mm."
    )
    assert finding.reps == (3, 4)
    assert finding.worst_rep == 4
    assert len(finding.at_s) == 2
    assert finding.size.resolution == pytest.approx(1.96 * np.sqrt(2.0))
    assert finding.why == definition("squat_bar_forward").why


def test_the_good_of_a_set_is_what_held_and_the_rep_to_copy() -> None:
    data, measured = steady()
    clean = find(data, measured)
    assert clean.findings == ()
    assert "The depth" in clean.held.text
    assert clean.held.text.endswith("held through all 3 reps.")
    assert all(w > 0 for w in clean.held.within)

    faulty = rows(data, measured, "low_height_change_mm", [0.0, 0.0, 90.0])
    found = find(data, faulty)
    assert "depth" not in found.held.text
    assert found.held.best_rep in (1, 2)
    worse = evolve(faulty, best_rep=3)
    assert find(data, worse).held.best_rep == 1
    assert "the one to copy" in find(data, worse).held.best_text


def test_what_moves_more_than_it_may_has_not_held() -> None:
    """13 mm of depth is more than half of the 25 that would matter, and more than the clip's error."""
    data, measured = steady()
    assert "depth" not in find(data, rows(data, measured, "low_height_change_mm", [0.0, 6.0, 13.0])).held.text
    assert "depth" in find(data, rows(data, measured, "low_height_change_mm", [0.0, 6.0, 12.0])).held.text


@pytest.mark.parametrize(("value", "way"), [(-40.0, "toward the head"), (40.0, "toward the feet")])
def test_texts_say_which_way(value: float, way: str) -> None:
    """Forward is toward the feet on the bench."""
    data, measured = steady("bench")
    measured = rows(data, measured, "hip_shift_mm", [0.0, 0.0, value], sd=1.0, sd_common=1.0)

    text = raised(data, measured, "bench_body_creeps").text

    assert text == f"In rep 3 the hips lay 40 mm (sd 1) {way} from their place at the first start."
