"""A path's departure that changes its way from rep to rep: no change is made up from a change of sign."""

from __future__ import annotations

import numpy as np
from attrs import evolve
from history.test_compare import compared, row, with_rows
from hypothesis import given
from hypothesis import strategies as st

from midfoot.history import Foretold, follow
from midfoot.history.one_way import one_way
from midfoot.records.findings import Prediction
from midfoot.records.measures import Measure, Measurement


def largest(forward: float, back: float) -> float:
    """The measure of a path that reaches so far each way, by its own definition."""
    return forward if forward >= back else -back


@given(st.floats(1, 30), st.floats(-2, 2), st.floats(-2, 2))
def test_paths_that_are_alike_are_not_told_apart_by_the_sign_of_their_larger_side(
    reach: float, more: float, less: float
) -> None:
    """Both reach as far forward as back, give or take 2 mm: which side is larger is a toss-up."""
    first = [largest(reach + more, reach - more)] * 4
    second = [largest(reach + less, reach - less)] * 4

    found = compared(with_rows(first, sd=1.0), with_rows(second, sd=1.0))

    assert row(found).verdict == "no_real_change" or abs(more - less) > 1.96 * 1.0 / np.sqrt(2)


def test_a_path_that_went_far_forward_is_still_told_from_one_that_hardly_left_the_vertical() -> None:
    found = row(compared(with_rows([45.0] * 4, sd=1.0), with_rows([-3.0] * 4, sd=1.0)))

    assert found.verdict == "less"
    assert found.change is not None
    assert -45.0 < found.change.value < -41.0


def test_other_measures_and_rows_that_go_one_way_stay_as_they_are() -> None:
    one = [Measure("path_departure_mm", v, "mm", 1.0, 0.1, "measured", "plate") for v in (-20.0, -25.0)]
    other = [Measure("bar_tilt_deg", v, "deg", 1.0, 0.1, "measured", "plate") for v in (-2.0, 2.0)]

    assert one_way("path_departure_mm", one) == (one,)
    assert one_way("bar_tilt_deg", other) == (other,)


def test_a_prediction_is_not_held_or_broken_by_a_change_of_sign() -> None:
    """Four reps of 22 mm each way, the sign of the last flips: there is no fault of 44 mm, before or after."""
    said = Prediction("path_departure_mm", "less", 20.0, 3.0, "mm")
    told = Foretold(finding="f", title="t", change="c", prediction=said, against_rep=1)

    def told_of(values: list[float]) -> Measurement:
        one = with_rows(values, sd=1.0)
        return evolve(one, data=evolve(one.data, asked=evolve(one.data.asked, load_kg=100.0, rpe=8.0)))

    flips, steady = told_of([-22.0, -22.0, -22.0, 22.0]), told_of([-22.0, -22.0, -22.0, -22.0])
    assert follow(flips, steady, (told,))[0].verdict != "held"
