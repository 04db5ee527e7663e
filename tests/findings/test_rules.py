"""How sure a finding is, against which rep, and whether it stands out: the rules of the engine by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from attrs import evolve
from lab.made_sets import made_set
from scipy.stats import t

from midfoot.findings import FINDINGS, defaults, definition, find
from midfoot.findings.definition import Sign
from midfoot.findings.look import Look, absolute, confidence_of
from midfoot.findings.scatter import (
    CHANCE,
    CHANCE_TIRES,
    STEADY,
    chance_alone,
    chance_of,
    consistency,
    left_of_square,
    rising,
    share_of,
    stands_out,
    together,
)
from midfoot.findings.thresholds import with_own
from midfoot.records.base import Warned
from midfoot.records.context import Context
from midfoot.records.measures import Measure, Measured, SetData

# SEM and smallest detectable change as published: BMC Sports Sci Med Rehabil 2020, doi 10.1186/s13102-020-00179-8,
# table 2 (read through this project's collection of check values, not in print).
PUBLISHED = ((10.66, 29.55), (9.85, 27.30), (9.04, 25.06), (9.09, 25.20))


@pytest.mark.parametrize(("sem", "change"), PUBLISHED)
def test_a_difference_is_told_from_nothing_at_the_published_smallest_change(sem: float, change: float) -> None:
    """Two readings of that SEM: a hundredth below the published change is nothing, a hundredth above it is."""
    sd = np.hypot(sem, sem)

    assert confidence_of(change - 0.02, sd, floor=10.0) is None
    assert confidence_of(change + 0.02, sd, floor=10.0) is not None


def test_the_steps_of_confidence() -> None:
    """Floor 20, sd 1: sure from 21.645, likely from 17, a hint from 12."""
    assert confidence_of(21.65, 1.0, 20.0) == "sure"
    assert confidence_of(21.64, 1.0, 20.0) == "likely"
    assert confidence_of(17.0, 1.0, 20.0) == "likely"
    assert confidence_of(16.99, 1.0, 20.0) == "hint"
    assert confidence_of(12.0, 1.0, 20.0) == "hint"
    assert confidence_of(11.99, 1.0, 20.0) is None
    assert confidence_of(-30.0, 1.0, 20.0) is None
    assert confidence_of(30.0, 20.0, 20.0) is None


def rows(data: SetData, measured: Measured, measure: str, values: list[float], **changes: object) -> Measured:
    """The set with a measure's values replaced."""
    out = []
    for row, value in zip(measured.reps, values, strict=True):
        kept = [m for m in row if m.id != measure]
        old = next((m for m in row if m.id == measure), Measure(measure, 0, "mm", 0.6, 3.0, "measured", "made"))
        out.append((*kept, evolve(old, value=value, **changes)))
    return evolve(measured, reps=tuple(out))


def steady(lift: str = "squat", count: int = 3, **more: object) -> tuple[SetData, Measured]:
    """A set that repeats every rep."""
    return made_set(lift, count, np.random.default_rng(5), vary=0.05, **more)  # type: ignore[arg-type]


def raised(data: SetData, measured: Measured, name: str, **more: object):
    """The finding of that id, None when it is not raised."""
    found = find(data, measured, **more)  # type: ignore[arg-type]
    return next((f for f in found.findings if f.id == name), None)


@pytest.mark.parametrize(
    ("lift", "name", "values"),
    [
        # Truth of two rendered clips, what lies behind the vertical being nothing: the best rep by the medians
        # shows the fault itself, and the cleanest one is the yardstick.
        ("deadlift", "deadlift_bar_leaves", [0.0, 35.0, 42.0]),
        ("squat", "squat_bar_forward", [0.0, 17.5, 42.0]),
    ],
)
@pytest.mark.parametrize("best", [1, 2, 3])
def test_the_cleanest_rep_is_the_yardstick_where_the_best_one_shows_the_fault(
    lift: str, name: str, values: list[float], best: int
) -> None:
    data, measured = steady(lift)
    measured = evolve(rows(data, measured, "path_forward_mm", values), best_rep=best)

    finding = raised(data, measured, name)

    assert finding is not None
    assert finding.confidence == "sure"
    assert finding.reps == (2, 3)
    assert finding.size.value == pytest.approx(values[2] - values[0])
    assert finding.evidence[0].reference_rep == 1


def test_the_best_rep_stays_the_yardstick_where_none_is_much_cleaner() -> None:
    """Half the floor is 7.5 mm: 7 mm cleaner does not count, 8 mm does."""
    data, measured = steady()
    sign = definition("squat_bar_forward").signs[0]
    for cleaner, expected in ((3.0, 1), (2.0, 0)):
        changed = evolve(rows(data, measured, "path_forward_mm", [cleaner, 10.0, 40.0]), best_rep=2)
        look = Look(data, changed, Context(), (), defaults())
        assert look.reference(sign, 15.0, look.values("path_forward_mm")) == expected


def test_oblique_views_ask_for_twice_as_much_of_a_path_and_not_of_a_height() -> None:
    data, measured = steady(view="front_oblique")
    forward = rows(data, measured, "path_forward_mm", [0.0, 0.0, 20.0])
    higher = rows(data, measured, "low_height_change_mm", [0.0, 0.0, 30.0])

    assert raised(data, forward, "squat_bar_forward").confidence == "hint"
    side, plain = steady()
    plain = rows(side, plain, "path_forward_mm", [0.0, 0.0, 20.0])
    assert raised(side, plain, "squat_bar_forward").confidence == "sure"
    assert raised(data, higher, "squat_shallower").confidence == "sure"


def test_what_is_inferred_weak_or_doubtful_is_never_sure() -> None:
    data, measured = steady()
    far = [0.0, 0.0, 60.0]
    plain = rows(data, measured, "path_forward_mm", far)
    inferred = rows(data, measured, "path_forward_mm", far, status="inferred")
    weak = rows(data, measured, "path_forward_mm", far, basis="near plate; weak from the front at an angle")

    assert raised(data, plain, "squat_bar_forward").confidence == "sure"
    for changed in (inferred, weak):
        finding = raised(data, changed, "squat_bar_forward")
        assert finding.confidence == "likely"
        assert finding.doubts
    for warned, confidence in (("bar_unsure", "likely"), ("lift_doubtful", "hint")):
        finding = raised(data, plain, "squat_bar_forward", warnings=(Warned(warned, "in doubt"),))
        assert finding.confidence == confidence
    slow = rows(data, measured, "ascent_time_s", [1.2, 1.2, 2.0])
    doubtful = (Warned("time_base_doubtful", "in doubt"),)
    assert raised(data, slow, "squat_slowing", warnings=doubtful).confidence == "hint"


def test_an_inferred_foot_is_a_hint() -> None:
    """Feet are never sure from the side; behind plates a bundled clip's were put 58 mm from where they stood."""
    data, measured = steady()
    moved = [0.0, 0.0, 90.0]
    seen = rows(data, measured, "foot_move_mm", moved)
    inferred = rows(data, measured, "foot_move_mm", moved, status="inferred")

    assert raised(data, seen, "squat_feet_move").confidence == "likely"
    assert raised(data, inferred, "squat_feet_move").confidence == "hint"


def test_an_absolute_carries_both_kinds_of_error_and_a_difference_the_random_one() -> None:
    sign = definition("squat_bar_dips").signs[0]
    measure = Measure("downward_movement_mm", 12.0, "mm", 3.0, 4.0, "measured")

    assert absolute(sign, measure) == (12.0, 5.0)
    data, measured = steady()
    finding = raised(data, rows(data, measured, "path_forward_mm", [0.0, 0.0, 60.0], sd=3.0), "squat_bar_forward")
    assert finding.size.sd == pytest.approx(np.hypot(3.0, 3.0))


def test_pieces_of_a_cut_clip_have_their_own_common_errors() -> None:
    data, measured = steady()
    changed = rows(data, measured, "path_forward_mm", [0.0, 0.0, 60.0], sd=1.0, sd_common=12.0)

    whole = raised(data, changed, "squat_bar_forward")
    cut = raised(data, changed, "squat_bar_forward", warnings=(Warned("cut_in_clip", "two pieces"),))

    assert whole.size.sd < 2
    assert cut.size.sd > 16


def test_the_same_millimetres_stand_out_of_a_steady_set_and_not_of_a_restless_one() -> None:
    """By hand: natural 10, five reps, four alike and one 30 off: its contrast is 30 / sqrt(1 + 1/4), nothing left.

    The scatter is sqrt(10 x 100 / 13) with 13 degrees of freedom; 4 steps, 4 odd reps and a drift are looked for.
    """
    odd = [0.0, 0.0, 30.0, 0.0, 0.0]
    by_hand = 9 * t.sf(30.0 / np.sqrt(1.25) / np.sqrt(1000.0 / 13.0), 13)

    assert chance_of(odd, 0.0, 10.0, 1.0, "more") == pytest.approx(by_hand, rel=1e-6)
    assert stands_out(by_hand) == "hint"
    assert stands_out(chance_of(odd, 0.0, 10.0, 0.3, "more")) == "sure"
    assert stands_out(chance_of([0.0, 20.0, -20.0, 14.0, -8.0], 0.0, 10.0, 1.0, "more")) == ""
    assert chance_of([30.0], 0.0, 10.0, 1.0, "more") == 1.0


def test_a_step_that_stays_or_a_drift_is_clearer_than_one_odd_rep() -> None:
    """By hand, natural 10, four reps: a step of 30 in the middle has the contrast 30 / sqrt(1/2 + 1/2)."""
    step, drift, odd = [0.0, 0.0, 30.0, 30.0], [0.0, 10.0, 20.0, 30.0], [0.0, 30.0, 0.0, 0.0]

    def chance(row: list[float], worse: str = "more") -> float:
        return chance_of(row, 0.0, 10.0, 1.0, worse)

    assert chance(step) == pytest.approx(7 * t.sf(30.0 / np.sqrt(1000.0 / 12.0), 12), rel=1e-6)
    assert chance(step) < chance(odd)
    assert chance(step, "less") > 0.5
    assert chance(step[::-1], "less") == chance(step)
    assert chance(step, "away") == pytest.approx(2 * chance(step))
    left = np.sum((np.array(drift) - 15.0) ** 2) - 10.0**2 * 5.0
    assert left == pytest.approx(0.0)
    assert chance(drift) <= 7 * t.sf(10.0 * np.sqrt(5.0) / np.sqrt(1000.0 / 12.0), 12) + 1e-9


def test_reps_that_get_slower_are_asked_for_as_a_rise_before_all() -> None:
    """By hand, natural 6, three reps 9 and 10 slower in turn: 19 / sqrt(2) against the scatter.

    What is left beside the rise from first to last is the middle rep's half, a sixth of its square. The rise has
    two thirds of what chance may do.
    """
    slower, odd, back = [100.0, 109.0, 119.0], [100.0, 124.0, 100.0, 100.0], [119.0, 109.0, 100.0]

    def chance(row: list[float]) -> float:
        return chance_of(row, 0.0, 6.0, 1.0, "more", tires=True)

    scatter = np.sqrt((360.0 + 1.0 / 6.0) / 11.0)
    assert chance(slower) == pytest.approx(1.5 * t.sf(19.0 / np.sqrt(2.0) / scatter, 11), rel=1e-6)
    assert stands_out(chance(slower), tires=True) == "likely"
    assert stands_out(chance_of(slower, 0.0, 6.0, 1.0, "more")) == ""
    assert chance(odd) == pytest.approx(min(1.0, 3.0 * chance_of(odd, 0.0, 6.0, 1.0, "more")))
    assert chance(back) > 0.5
    draws = np.random.default_rng(6).normal(100.0, 6.0, (3000, 4))
    passed = [np.mean([chance(list(row)) <= CHANCE_TIRES[c] for row in draws]) for c in ("sure", "likely")]
    assert passed[0] <= 0.018
    assert 0.01 <= passed[1] <= 0.036


def test_signs_of_one_event_are_clearer_together_and_chance_stays_what_it_says() -> None:
    """By hand: two signs alike, natural 10, no error: twice the row, sqrt(1 + 1 + 2 x 0.5) times the scatter."""
    row = [0.0, 0.0, 20.0, 24.0]
    values, sd, natural = together([(row, 0.0, 10.0), (row, 0.0, 10.0)], 1.0)

    assert values == pytest.approx([v / 5.0 for v in row])
    assert (sd, natural) == (0.0, pytest.approx(np.sqrt(3.0)))
    alone = chance_of(row, 0.0, 10.0, 1.0, "more")
    assert chance_of(values, sd, natural, 1.0, "more") < 0.6 * alone
    common, own = np.random.default_rng(8).normal(size=(2, 2000, 4)), np.random.default_rng(9)
    passed = []
    for shared in common[0]:
        signs = [(np.sqrt(0.5) * (shared + own.normal(size=4)) * 10.0, 0.0, 10.0) for _ in range(3)]
        both, sd, natural = together([(list(s), e, n) for s, e, n in signs], 1.0)
        passed.append(chance_of(both, sd, natural, 1.0, "more") <= 0.05)
    assert 0.01 <= np.mean(passed) <= 0.055


@pytest.mark.parametrize("count", [2, 3, 5, 8])
def test_the_rise_fits_every_step_alike_and_no_other_contrast_fits_its_worst_step_better(count: int) -> None:
    """Abelson and Tukey 1963: the best worst case. Rising rows are sums of steps, so steps are the worst cases."""
    steps = np.array([np.where(np.arange(count) < k, -1.0 / k, 1.0 / (count - k)) for k in range(1, count)])
    steps /= np.linalg.norm(steps, axis=1, keepdims=True)
    worst = steps @ rising(count)
    others = np.random.default_rng(7).normal(size=(2000, count))
    others -= others.mean(axis=1, keepdims=True)
    others /= np.linalg.norm(others, axis=1, keepdims=True)

    assert np.ptp(worst) < 1e-9
    assert (others @ steps.T).min(axis=1).max() <= worst.min() + 1e-9


def test_what_is_held_against_zero_may_be_the_same_in_every_rep() -> None:
    """Forearms that lean 25 degrees in every rep differ from nothing, not from each other."""
    lean = [25.0, 24.0, 26.0]

    assert chance_of(lean, 1.0, 2.0, 1.0, "away") > CHANCE["hint"]
    assert chance_of(lean, 1.0, 2.0, 1.0, "away", absolute=True) < CHANCE["sure"]
    # Shoulders that creep 10 mm a rep from where they lay at the start, against readings of 4 mm.
    creep = [-10.0, -20.0, -30.0]
    assert chance_of(creep, 4.0, 2.5, 1.0, "away", absolute=True) < CHANCE["sure"]
    assert chance_of(creep, 4.0, 2.5, 1.0, "away") > CHANCE["likely"]


def test_signs_that_may_carry_one_finding_share_its_chance() -> None:
    """By Bonferroni's inequality: shares that add up to one keep the finding at what one question is allowed."""
    for others in range(1, 5):
        assert share_of(True, others) + others * share_of(False, others) == pytest.approx(1.0)
        assert share_of(True, others) >= share_of(False, others)
    assert share_of(True, 0) == share_of(False, 0) == 1.0


def test_a_sign_alone_may_be_said_where_it_may_not_beside_another() -> None:
    """The touch moves by what chance makes in one set of 100; with the late travel measured there are two goes."""
    data, measured = made_set("bench", 6, np.random.default_rng(5), vary=1.0)
    first, touch = definition("bench_toward_feet").signs

    def said(size: float, signs: tuple[Sign, ...]) -> tuple[float, str | None]:
        look = Look(
            data, rows(data, measured, "path_at_low_mm", [80.0] * 5 + [80.0 + size]), Context(), (), defaults()
        )
        shown = look.shown(touch, signs=signs).by_rep[5]
        return shown.size, shown.confidence

    alone = next(z for z in np.arange(20.0, 90.0, 0.5) if said(z, (touch,))[1] == "sure")

    assert said(alone, (touch,)) == (pytest.approx(alone), "sure")
    assert said(alone, (first, touch))[1] in ("hint", None)
    assert said(1.5 * alone, (first, touch))[1] == "sure"


def test_a_single_value_is_held_against_what_chance_makes_of_one() -> None:
    """Two sides of Student's t with the ten degrees of freedom that the expected scatter weighs."""
    scatter = np.hypot(6.0, 7.0)

    assert chance_alone(25.0, 7.0, 6.0, 1.0, "away") == pytest.approx(2 * t.sf(25.0 / scatter, 10))
    assert chance_alone(-25.0, 7.0, 6.0, 1.0, "away") == chance_alone(25.0, 7.0, 6.0, 1.0, "away")
    assert chance_alone(25.0, 7.0, 6.0, 1.0, "more") == pytest.approx(t.sf(25.0 / scatter, 10))
    assert chance_alone(25.0, 7.0, 6.0, 1.0, "less") > 0.95
    assert chance_alone(25.0, 0.0, 0.0, 1.0, "more") == 0.0


def test_an_unrack_that_chance_makes_is_a_hint_at_the_most() -> None:
    """A shoulder that is read to 7 mm and lies 22 mm off is nothing that a steady bencher could not show."""
    data, measured = steady("bench", 4)
    first = [m for m in measured.reps[0] if m.id != "unrack_shoulder_shift_mm"]

    def said(value: float) -> str | None:
        shift = Measure("unrack_shoulder_shift_mm", value, "mm", 8.0, 4.0, "measured", "made")
        found = raised(data, evolve(measured, reps=((*first, shift), *measured.reps[1:])), "bench_unrack_shift")
        return found.confidence if found is not None else None

    assert said(24.0) in (None, "hint")
    assert said(60.0) == "likely"


@pytest.mark.parametrize("count", [3, 5, 8])
def test_chance_is_what_it_says(count: int) -> None:
    """Normal scatter of the expected size passes a chance of 5 % in at most 5 % of sets, and in some."""
    draws = np.random.default_rng(5).normal(0.0, 10.0, (3000, count))
    passed = np.mean([chance_of(list(row), 0.0, 10.0, 1.0, "more") <= 0.05 for row in draws])

    assert 0.01 <= passed <= 0.055


def test_one_event_is_one_finding() -> None:
    """Late travel and a lower touch, or the hips' lead with the trunk's tip: one finding, both in its evidence."""
    data, measured = steady("bench")
    measured = rows(data, measured, "late_descent_travel_mm", [22.0, 22.0, 60.0])
    measured = rows(data, measured, "path_at_low_mm", [80.0, 80.0, 130.0])

    found = [f for f in find(data, measured).findings if f.nature == "fault"]

    assert [f.id for f in found] == ["bench_toward_feet"]
    assert {"late_descent_travel_mm", "path_at_low_mm"} <= {e.measure for e in found[0].evidence}
    assert found[0].text.count("In rep 3") == 2

    data, measured = steady("squat")
    measured = rows(data, measured, "hip_lead_ratio", [1.15, 1.15, 1.6])
    measured = rows(data, measured, "trunk_tip_deg", [2.0, 2.0, 30.0])
    measured = rows(data, measured, "knee_back_travel_mm", [30.0, 30.0, 120.0])
    found = [f for f in find(data, measured).findings if f.nature == "fault"]
    assert [f.id for f in found] == ["squat_hips_first"]


def test_depth_on_the_line_is_a_hint_and_calibrated_depth_may_be_sure() -> None:
    data, measured = steady()
    marked = "left hip and knee, calibrated by marks of this clip"

    on_line = rows(data, measured, "squat_depth_mm", [60.0, 60.0, 5.0], sd=4.0, sd_common=6.0)
    above = rows(data, measured, "squat_depth_mm", [60.0, 60.0, -60.0], sd=4.0, sd_common=6.0)
    sure = rows(data, measured, "squat_depth_mm", [60.0, 60.0, -60.0], sd=4.0, sd_common=6.0, basis=marked)

    assert raised(data, on_line, "squat_depth_near_rule").confidence == "hint"
    assert raised(data, on_line, "squat_depth_near_rule").reps == (3,)
    assert "not stand clearly below" in raised(data, on_line, "squat_depth_near_rule").text
    wide = rows(data, measured, "squat_depth_mm", [60.0, -50.0, -80.0], sd=4.0, sd_common=65.0)
    assert raised(data, wide, "squat_depth_near_rule").text.endswith(
        "as far as this clip can tell. Rep 2: likewise."
    )
    assert raised(data, above, "squat_depth_near_rule").confidence == "likely"
    assert raised(data, sure, "squat_depth_near_rule").confidence == "sure"


def test_without_a_bar_none_of_the_bar_findings_is_raised() -> None:
    """Body weight squats: every measure says something, but no bar was followed."""
    data, measured = steady()
    for measure, values in {
        "path_forward_mm": [0.0, 0.0, 80.0], "low_height_change_mm": [0.0, 0.0, 90.0],
        "downward_movement_mm": [0.0, 0.0, 40.0], "lockout_shortfall_mm": [0.0, 0.0, 50.0],
        "hold_sway_mm": [0.0, 0.0, 90.0], "hip_lead_ratio": [1.1, 1.1, 2.0],
    }.items():  # fmt: skip
        measured = rows(data, measured, measure, values)
    without = evolve(data, path=None, track=evolve(data.track, status="not_found", source="none"))

    with_bar = {f.id for f in find(data, measured).findings}
    found = {f.id for f in find(without, measured).findings}

    assert len(with_bar) >= 6
    assert not {f.id for f in FINDINGS if f.needs_bar} & found


def test_a_set_without_reps_or_with_one_rep() -> None:
    """Nothing to compare: no findings of differences, no best rep, no failure."""
    data, measured = steady(count=1)
    assert find(data, measured).findings == ()
    empty = evolve(data, reps=evolve(data.reps, reps=()))
    assert find(empty, Measured((), ())).findings == ()


def test_a_missed_or_helped_rep_is_judged_by_its_path_and_not_by_its_lockout_or_time() -> None:
    data, measured = steady(count=4)
    measured = rows(data, measured, "path_forward_mm", [0.0, 0.0, 0.0, 60.0])
    measured = rows(data, measured, "lockout_shortfall_mm", [0.0, 0.0, 0.0, 300.0])
    measured = rows(data, measured, "ascent_time_s", [1.2, 1.2, 1.2, 4.0])
    names = {"squat_soft_lockout", "squat_slowing", "squat_bar_forward"}

    assert names <= {f.id for f in find(data, measured).findings}
    for outcome in ("missed", "assisted"):
        reps = tuple(evolve(r, outcome=outcome) if r.n == 4 else r for r in data.reps.reps)
        found = {f.id for f in find(evolve(data, reps=evolve(data.reps, reps=reps)), measured).findings}
        assert found & names == {"squat_bar_forward"}


def test_a_rep_that_the_clip_cuts_is_not_judged() -> None:
    data, measured = steady(count=4)
    measured = rows(data, measured, "path_forward_mm", [0.0, 0.0, 0.0, 60.0])
    reps = tuple(evolve(r, outcome="cut_off") if r.n == 4 else r for r in data.reps.reps)

    assert raised(data, measured, "squat_bar_forward") is not None
    assert raised(evolve(data, reps=evolve(data.reps, reps=reps)), measured, "squat_bar_forward") is None


def with_pauses(measured: Measured, *values: float | None) -> Measured:
    """The pause of every rep; None: a stop too short to be told at 30 frames a second."""
    out = []
    for row, value in zip(measured.reps, values, strict=True):
        kept = [m for m in row if m.id != "pause_time_s"]
        if value is not None:
            pause = Measure("pause_time_s", value, "s", 0.02, 0.0, "measured", "made")
        else:
            pause = Measure("pause_time_s", None, "s", None, None, "not_seen", reason="no stop", at_most=0.15)
        out.append((*kept, pause))
    return evolve(measured, reps=tuple(out))


def test_a_pause_that_is_gone_is_said_where_others_paused_or_the_variation_asks_for_it() -> None:
    data, measured = steady("bench")
    gone = raised(data, with_pauses(measured, 0.6, 0.62, None), "bench_pause_short")

    assert gone.confidence in ("sure", "likely")
    assert gone.reps == (3,)
    assert gone.text == "In rep 3 the bar did not rest on the chest as it did in rep 2."
    # Between nothing and 0.15 s: the middle of it, with the sd of an even spread (by hand 0.15 / sqrt 12 = 0.043).
    assert gone.size.value == pytest.approx(0.62 - 0.075)
    assert gone.size.sd == pytest.approx(np.hypot(0.02, 0.0433), abs=1e-3)
    never = with_pauses(measured, None, None, None)
    assert raised(data, never, "bench_pause_short") is None
    assert raised(data, never, "bench_pause_short", context=Context(variation="touch and go")) is None
    said = raised(data, never, "bench_pause_short", context=Context(variation="paused bench"))
    assert said.confidence == "likely"
    assert said.reps == (1, 2, 3)
    assert "did not rest on the chest, and the set was said to be paused" in said.text
    both = with_pauses(measured, 0.6, 0.62, None)
    again = raised(data, both, "bench_pause_short", context=Context(variation="competition"))
    assert again.text == gone.text


def test_what_one_rep_hardly_shows_has_not_been_seen_to_hold() -> None:
    """Hips at 18, 20 and 18 mm, the last known to 20 mm only: they may have been 50 mm up."""
    data, measured = steady("bench")
    alike = rows(data, measured, "hip_lift_mm", [18.0, 20.0, 18.0], sd=2.0)
    *first, last = alike.reps
    hidden = evolve(alike, reps=(*first, tuple(evolve(m, sd=20.0) if m.id == "hip_lift_mm" else m for m in last)))

    def praised(measured: Measured) -> set[str]:
        held = find(data, rows(data, measured, "path_at_low_mm", [0.0, 60.0, 120.0])).held
        return set() if held is None else {e.measure for e in held.evidence}

    for measure in ("pause_time_s", "path_departure_mm", "lockout_shortfall_mm"):
        alike, hidden = (rows(data, m, measure, [0.0, 60.0, 120.0]) for m in (alike, hidden))
    assert "hip_lift_mm" in praised(alike)
    assert "hip_lift_mm" not in praised(hidden)


def test_hips_that_rise_first_show_in_all_their_signs_or_less_surely() -> None:
    """The hips' lead of one size: with the trunk's tip and the knees' way back, and with both as they were."""
    data, measured = steady()
    alone = rows(data, measured, "hip_lead_ratio", [1.15, 1.15, 1.40], sd=0.07)
    event = rows(data, alone, "trunk_tip_deg", [2.0, 2.0, 14.0], sd=2.0)
    event = rows(data, event, "trunk_angle_slowest_deg", [30.0, 30.0, 42.0], sd=2.0)
    event = rows(data, event, "knee_back_travel_mm", [30.0, 30.0, 70.0], sd=8.0)

    found = {f.id: f for f in find(data, alone).findings}
    assert "squat_hips_first" not in found or found["squat_hips_first"].confidence == "hint"
    assert raised(data, event, "squat_hips_first").confidence in ("sure", "likely")


def test_how_far_a_clean_path_runs_back_counts_for_whether_chance_made_it_run_forward() -> None:
    """A bar that stays behind its vertical goes forward by nothing, however far behind it stays."""
    data, measured = steady("deadlift")
    forward = rows(data, measured, "path_forward_mm", [0.0, 30.0, 34.0], sd=0.6)
    near = rows(data, forward, "path_departure_mm", [-2.0, 30.0, 34.0], sd=0.6)
    behind = rows(data, forward, "path_departure_mm", [-25.0, 30.0, 34.0], sd=0.6)

    restless = with_own({"forward_drift": {"floor": 15.0, "natural": 30.0}}, "test")
    order = ["sure", "likely", "hint", None]
    sure = [
        next(
            (f.confidence for f in find(data, m, limits=restless).findings if f.id == "deadlift_bar_leaves"), None
        )
        for m in (near, behind)
    ]
    assert order.index(sure[1]) < order.index(sure[0]), sure
    sizes = [raised(data, m, "deadlift_bar_leaves").size.value for m in (near, behind)]
    assert sizes[0] == sizes[1] == pytest.approx(34.0)


@pytest.mark.parametrize(("kept", "of", "high"), [(650, 1000, 1.01), (26, 40, 1.08), (5, 7, 1.3), (3, 4, 1.42)])
def test_trimmed_steps_tell_the_scatter_and_a_few_of_them_rather_too_much(kept: int, of: int, high: float) -> None:
    """Drawn: of normal steps the smallest are kept; their mean square over what theory leaves of many."""
    squares = np.sort(np.random.default_rng(9).normal(size=(2000 if of > 100 else 20000, of)) ** 2, axis=1)[
        :, :kept
    ]

    assert 0.99 <= float(squares.mean()) / left_of_square(kept / of) <= high
    assert left_of_square(1.0) == 1.0


def test_a_difference_that_is_read_in_less_than_half_of_the_reps_is_a_hint() -> None:
    data, measured = steady("deadlift", 5)
    slack = rows(data, measured, "slack_time_s", [0.9, 0.9, 0.9, 0.9, 0.2])
    few = evolve(
        slack,
        reps=tuple(
            tuple(m for m in row if m.id != "slack_time_s" or i in (0, 4)) for i, row in enumerate(slack.reps)
        ),
    )

    assert raised(data, slack, "deadlift_slack").confidence == "likely"
    finding = raised(data, few, "deadlift_slack")
    assert finding.confidence == "hint"
    assert any("most reps" in doubt for doubt in finding.doubts)


class _Set:
    """What `consistency` asks of a look: the lift, and values by measure."""

    def __init__(self, lift: str, rng: np.random.Generator, errors: float, reps: int = 8) -> None:
        self.data = SimpleNamespace(asked=SimpleNamespace(lift=lift))
        self._values = {
            name: [
                (100.0 + rng.normal(0, wide) + rng.normal(0, errors * wide), errors * wide) for _ in range(reps)
            ]
            for name, wide in STEADY[lift].items()
        }

    def values(self, name: str) -> dict[int, Measure]:
        return {i: Measure(name, v, "mm", sd, 0.0, "measured") for i, (v, sd) in enumerate(self._values[name])}


def test_a_badly_seen_lifter_is_not_taken_for_a_restless_one() -> None:
    """What is off by more than a lifter's scatter tells nothing of him: where nothing is told, 1 is taken."""
    rng = np.random.default_rng(4)
    seen = [consistency(_Set("bench", rng, 0.0), "") for _ in range(60)]  # type: ignore[arg-type]
    hardly = [consistency(_Set("bench", rng, 1.5), "") for _ in range(20)]  # type: ignore[arg-type]

    assert float(np.median(seen)) == pytest.approx(1.0, abs=0.1)
    assert hardly == [1.0] * 20
