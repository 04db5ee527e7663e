"""Two clips of one set: reps matched whatever the clocks say, and only what the first does not show is taken."""

from __future__ import annotations

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st
from sets import made_measurement

from midfoot.records.measures import Measure, Measurement
from midfoot.records.reps import Moment, Rep
from midfoot.second_view import ViewsError, join, matched


def rep(n: int, start_s: float, length_s: float = 1.0) -> Rep:
    return Rep(n=n, outcome="completed", start_seen=True, end_seen=True, start=Moment(start_s - 1.2, 0.01),
               low_start=Moment(start_s - 0.2, 0.01), low_end=Moment(start_s, 0.01),
               end=Moment(start_s + length_s, 0.01))  # fmt: skip


@given(
    st.lists(st.tuples(st.floats(2.5, 8.0), st.floats(0.6, 2.5)), min_size=2, max_size=6),
    st.floats(-100, 100),
    st.integers(0, 1),
    st.integers(0, 1),
)
def test_the_same_set_is_matched_whatever_the_clocks_and_the_cut(
    steps: list[tuple[float, float]], offset_s: float, before: int, after: int
) -> None:
    """A second phone that started earlier or later, and missed the first or the last rep."""
    at, reps = 5.0, []
    for k, (gap, length) in enumerate(steps):
        reps.append(rep(k + 1, at, length))
        at += gap + length
    shown = list(range(len(reps)))[before : len(reps) - after]
    if len(shown) < 2:
        return
    other = tuple(
        rep(k + 1, reps[i].low_end.t_s + offset_s, steps[i][1])  # type: ignore[union-attr]
        for k, i in enumerate(shown)
    )

    pairs = matched(tuple(reps), other)

    if pairs or not (before or after):  # a rhythm that fits in two ways is matched in none
        assert pairs == {i: j for j, i in enumerate(shown)}


def test_another_set_is_not_matched() -> None:
    """Other lengths, other gaps."""
    one = tuple(rep(k + 1, 5.0 + 4.0 * k, 1.0) for k in range(4))
    slow = tuple(rep(k + 1, 5.0 + 4.0 * k, 2.0) for k in range(4))
    uneven = tuple(rep(k + 1, t, 1.0) for k, t in enumerate((5.0, 12.0, 14.5, 30.0)))

    assert matched(one, slow) == {}
    assert matched(one, uneven) == {}
    assert matched(one, ()) == {}


def test_a_rhythm_that_fits_in_two_ways_fits_in_none() -> None:
    """Even reps of which the other phone has one less: it may have missed the first or the last."""
    even = tuple(rep(k + 1, 5.0 + 4.0 * k) for k in range(4))

    assert matched(even, even) == {k: k for k in range(4)}
    assert matched(even, even[1:]) == {}
    assert matched(even, even[:1]) == {}
    assert matched(even[:1], even[2:3]) == {0: 0}


def from_front(one: Measurement) -> Measurement:
    """The same set as a front view gives it: knees seen, path not, another number for what both show."""
    rows = tuple(
        (
            Measure("range_of_motion_mm", 520.0, "mm", 9.0, 3.0, "measured", "plate"),
            Measure("path_departure_mm", None, "mm", None, None, "not_seen", "", "front"),
            Measure("squat_depth_mm", 12.0 + k, "mm", 4.0, 3.0, "measured", "hip and knee"),
        )
        for k in range(2)
    )
    return evolve(one, measured=evolve(one.measured, reps=rows, whole=()))


def test_only_what_the_first_view_does_not_show_is_taken_and_says_so() -> None:
    """The first clip's own number stays, also where the other has one; what does not apply stays so."""
    first = made_measurement()

    both = join(first, from_front(first), "front/")

    depth = both.measured.of(1, "squat_depth_mm")
    assert depth is not None
    assert (depth.value, depth.status, depth.basis) == (13.0, "measured", "front/: hip and knee")
    assert both.measured.of(0, "range_of_motion_mm") == first.measured.of(0, "range_of_motion_mm")
    assert both.measured.of(0, "pause_time_s") == first.measured.of(0, "pause_time_s")
    assert both.data is first.data
    moved = next(d for d in both.measured.drift if d.measure == "squat_depth_mm")
    assert moved.change_first_last == pytest.approx(1.0)


def test_reps_that_the_other_clip_misses_stay_unseen_and_are_named() -> None:
    one = made_measurement()
    reps = (rep(1, 3.0), rep(2, 6.0, 1.3), rep(3, 11.5))
    row = one.measured.reps[0]
    first = evolve(one, data=evolve(one.data, reps=evolve(one.data.reps, reps=reps)),
                   measured=evolve(one.measured, reps=(row, row, row)))  # fmt: skip
    late = evolve(first.data.reps, reps=reps[1:])
    second = evolve(from_front(first), data=evolve(first.data, reps=late))

    both = join(first, second)

    assert both.measured.of(0, "squat_depth_mm").value is None  # type: ignore[union-attr]
    assert both.measured.of(1, "squat_depth_mm").value == 12.0  # type: ignore[union-attr]
    assert both.measured.of(2, "squat_depth_mm").value == 13.0  # type: ignore[union-attr]
    assert [w.id for w in both.warnings][-1] == "views_do_not_match"


def test_what_is_not_one_set_is_refused() -> None:
    with pytest.raises(ViewsError, match="one set"):
        join(made_measurement(), made_measurement(lift="bench"))
    with pytest.raises(ViewsError, match="fall together"):
        join(made_measurement(), made_measurement(seen=False))
