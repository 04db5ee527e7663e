"""The best rep by its rule, and drift on random errors."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve

from midfoot.measures.drift import CLEAR_SDS, best_rep, drift_of, drifts
from midfoot.measures.registry import definition
from midfoot.records.measures import Measure

SPEED = definition("ascent_mean_velocity_m_s", "squat")
SHORT = definition("lockout_shortfall_mm", "squat")
LOW = definition("path_at_low_mm", "squat")
SHIFT = definition("start_shift_mm", "squat")


def row(values: list[float | None], sd: float = 0.01, name: str = SPEED.id) -> list[Measure | None]:
    return [
        Measure(name, v, "m_s", sd, 0.5, "measured") if v is not None
        else Measure(name, None, "m_s", None, None, "not_seen", reason="covered")
        for v in values
    ]  # fmt: skip


def choose(values: list[float | None], sd: float = 0.01, completed: tuple[bool, ...] | None = None) -> int | None:
    reps = tuple((m,) for m in row(values, sd))
    return best_rep(reps, tuple(range(1, len(values) + 1)), completed or (True,) * len(values), (SPEED,))


def test_best_is_nearest_to_the_medians() -> None:
    assert choose([0.60, 0.50, 0.40]) == 2
    assert choose([0.60, 0.58, 0.40, 0.50, 0.55]) == 5


def test_the_earlier_rep_wins_a_tie() -> None:
    assert choose([0.50, 0.40, 0.50, 0.60]) == 1
    assert choose([0.5, 0.5, 0.5]) == 1


def test_none_below_three_completed_reps() -> None:
    assert choose([0.5, 0.4]) is None
    assert choose([0.5, 0.45, 0.4], completed=(True, True, False)) is None


def test_only_completed_reps_count_and_can_be_best() -> None:
    assert choose([0.60, 0.50, 0.40, 0.45], completed=(True, False, True, True)) == 4


def test_a_measure_that_is_missing_for_a_rep_does_not_decide() -> None:
    assert choose([0.60, None, 0.40]) is None


def test_noise_does_not_decide_for_a_measure_that_hardly_moves() -> None:
    lengths = row([500.0, 500.2, 500.9], sd=1.0, name="range_of_motion_mm")
    speeds = row([0.50, 0.60, 0.40], sd=0.005)
    reps = tuple((a, b) for a, b in zip(lengths, speeds, strict=True))
    rom = definition("range_of_motion_mm", "squat")
    assert best_rep(reps, (1, 2, 3), (True,) * 3, (rom, SPEED)) == 1


def test_drift_is_clear_from_the_rep_that_stays_clear() -> None:
    drift = drift_of(SPEED, row([0.60, 0.60, 0.58, 0.50, 0.40]), (1, 2, 3, 4, 5), 2)
    assert drift.per_rep_change == pytest.approx((0.0, 0.0, -0.02, -0.10, -0.20))
    assert drift.clear_from_rep == 4
    assert drift.change_first_last == pytest.approx(-0.20)
    assert drift.sd == pytest.approx(0.01 * np.sqrt(2))
    assert drift.trend == "worse"


def test_a_rep_that_comes_back_is_no_drift() -> None:
    drift = drift_of(SPEED, row([0.60, 0.40, 0.60]), (1, 2, 3), 1)
    assert drift.clear_from_rep is None
    assert drift.trend == "mixed"


def test_what_is_better_depends_on_the_measure() -> None:
    assert drift_of(SPEED, row([0.4, 0.5, 0.6]), (1, 2, 3), 2).trend == "better"
    assert drift_of(SHORT, row([0, 10, 20], 1.0), (1, 2, 3), 1).trend == "worse"
    assert drift_of(SHIFT, row([-20, -8, 1], 1.0), (1, 2, 3), 3).trend == "better"
    assert drift_of(LOW, row([0, 10, 30], 1.0), (1, 2, 3), 1).trend == "worse"
    assert drift_of(LOW, row([0, 30], 1.0), (1, 2), None).trend == "mixed"
    assert drift_of(SPEED, row([0.5, 0.505, 0.495]), (1, 2, 3), 1).trend == "none"


def test_reps_that_were_not_seen_stay_empty() -> None:
    drift = drift_of(SPEED, row([None, 0.60, None, 0.50]), (1, 2, 3, 4), 1)
    assert drift.per_rep_change == (None, 0.0, None, pytest.approx(-0.10))
    assert drift.change_first_last == pytest.approx(-0.10)


def test_common_errors_have_no_say() -> None:
    quiet = row([0.6, 0.55, 0.5])
    loud = [evolve(m, sd_common=50.0) for m in quiet]
    assert drift_of(SPEED, quiet, (1, 2, 3), 1) == drift_of(SPEED, loud, (1, 2, 3), 1)


@pytest.mark.parametrize(("sem", "mdc"), [(10.66, 29.55), (9.85, 27.30), (9.04, 25.06), (9.09, 25.20)])
def test_what_is_clear_is_the_smallest_detectable_change(sem: float, mdc: float) -> None:
    # MDC95 = 1.96 sqrt(2) SEM (Weir 2005); pairs from BMC Sports Sci Med Rehabil 2020, table 2,
    # doi 10.1186/s13102-020-00179-8.
    assert CLEAR_SDS * np.hypot(sem, sem) == pytest.approx(mdc, abs=0.01)
    assert drift_of(LOW, row([0.0, mdc + 0.02], sem), (1, 2), None).clear_from_rep == 2
    assert drift_of(LOW, row([0.0, mdc - 0.02], sem), (1, 2), None).clear_from_rep is None


def test_nothing_seen_is_no_drift_and_no_failure() -> None:
    """No value at all, or one: no drift; a best rep without the measure: held against the first that has it."""
    assert drifts((), (), None, (SPEED,)) == ()
    unseen = tuple((m,) for m in row([None, None, None]))
    assert drifts(unseen, (1, 2, 3), None, (SPEED,)) == ()  # type: ignore[arg-type]
    one = tuple((m,) for m in row([None, 0.5, None]))
    assert drifts(one, (1, 2, 3), 2, (SPEED,)) == ()  # type: ignore[arg-type]
    found = drift_of(SPEED, row([None, 0.6, 0.4]), (1, 2, 3), 1)
    assert found.per_rep_change == (None, 0.0, pytest.approx(-0.2))
    assert found.clear_from_rep == 3
    assert drift_of(SPEED, [None, *row([0.6, 0.4])], (1, 2, 3), None).per_rep_change[0] is None
    bare = [evolve(m, sd=None) for m in row([0.6, 0.4]) if m is not None]
    assert drift_of(SPEED, [*bare], (1, 2), None).sd == 0.0
