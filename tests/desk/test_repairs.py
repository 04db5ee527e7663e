"""Repairs: what is kept of them, and the request that they make."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from midfoot.desk.repaired_request import request_with
from midfoot.desk.repairs import Repair, RepairError, repair_of
from midfoot.pipeline import Request
from midfoot.records.clip import Asked, Reading, Tap
from midfoot.reps import GivenReps
from midfoot.reps.given import GivenRep


def base(lift: str = "squat", **more: Any) -> Request:
    return Request(clip=Path("set.mp4"), asked=Asked(lift), **more)


def made(*repairs: tuple[str, dict[str, Any]], request: Request | None = None, undone: int = 0) -> Request:
    rows = [Repair(n, kind, repair_of(kind, body), n == undone) for n, (kind, body) in enumerate(repairs, start=1)]
    return request_with(request or base(), rows)


def test_the_last_of_a_kind_counts_and_an_undone_one_does_not() -> None:
    first = ("bar_at", {"x_px": 10, "y_px": 20, "at_s": 1.0})
    second = ("bar_at", {"x_px": 30, "y_px": 40, "at_s": 2.0})

    assert made(first, second).bar_at == Tap(30, 40, 2.0)
    assert made(first, second, undone=2).bar_at == Tap(10, 20, 1.0)
    assert made(first, undone=1).bar_at is None


def test_places_told_before_the_clip_was_said_to_be_mirrored_stay_on_the_same_thing() -> None:
    """A pixel x of a picture 640 wide is 639 - x in its mirror image."""
    tap = ("lifter_at", {"x_px": 100, "y_px": 50, "at_s": 1.0, "width_px": 640, "mirrored": False})

    got = made(tap, ("mirrored", {"on": True}))

    assert got.reading.mirrored
    assert got.lifter_at == Tap(539, 50, 1.0)
    assert made(tap).lifter_at == Tap(100, 50, 1.0)


def test_times_are_on_the_files_clock_and_follow_its_real_speed() -> None:
    """A clip that plays 8 times slower than life: second 16 of the file is second 2 of the lift."""
    got = made(
        ("bar_at", {"x_px": 1, "y_px": 2, "at_s": 16.0}),
        ("trim", {"from_s": 8.0, "to_s": 80.0}),
        ("moment", {"rep": 1, "moment": "low_end_s", "at_s": 24.0}),
        ("real_speed", {"times_slower": 8}),
    )

    assert got.bar_at == Tap(1, 2, 2.0)
    assert got.reading == Reading(1.0, 10.0, False, 8.0)
    assert (got.asked.from_s, got.asked.to_s) == (1.0, 10.0)
    assert got.given == GivenReps([GivenRep(n=1, low_end_s=3.0)])


def test_moments_add_up_and_join_those_given_before() -> None:
    given = GivenReps([GivenRep(n=1, start_s=1.0), GivenRep(n=3, outcome="missed")])
    got = made(
        ("moment", {"rep": 1, "moment": "end_s", "at_s": 4.0}),
        ("moment", {"rep": 2, "moment": "start_s", "at_s": 5.0}),
        ("moment", {"rep": 1, "moment": "end_s", "at_s": 4.1}),
        ("moment", {"rep": 3, "outcome": "assisted"}),
        request=base(given=given),
    ).given

    assert got == GivenReps(
        [GivenRep(n=1, start_s=1.0, end_s=4.1), GivenRep(n=2, start_s=5.0), GivenRep(n=3, outcome="assisted")]
    )


def test_moments_of_one_number_said_of_two_reps_stay_apart() -> None:
    """Rep 2 was nudged, then the part was cut so that another rep has that number, and that one was nudged too."""
    got = made(
        ("moment", {"rep": 2, "moment": "end_s", "at_s": 9.0, "about_s": 8.0}),
        ("moment", {"rep": 2, "moment": "start_s", "at_s": 7.1, "about_s": 8.1}),
        ("moment", {"rep": 2, "moment": "end_s", "at_s": 14.0, "about_s": 13.0}),
    ).given

    assert got == GivenReps(
        [GivenRep(n=2, start_s=7.1, end_s=9.0, about_s=8.0), GivenRep(n=2, end_s=14.0, about_s=13.0)]
    )


def test_reps_that_were_missed_and_what_is_none_stand_beside_the_moments() -> None:
    """On the clip's clock; said again of the same stretch the last word counts; undone, nothing is left of it."""
    slow = ("real_speed", {"times_slower": 2})
    moment = ("moment", {"rep": 1, "moment": "end_s", "at_s": 8.0, "about_s": 6.0})
    said = [slow, moment, ("rep", {"from_s": 20.0, "to_s": 26.0}), ("rep", {"from_s": 20.4, "to_s": 25.0}),
            ("no_rep", {"rep": 2, "about_s": 12.0})]  # fmt: skip

    got = made(*said).given

    assert got == GivenReps([GivenRep(n=1, end_s=4.0, about_s=3.0)], missing=((10.2, 12.5),), false_at=(6.0,))
    assert made(*said, ("no_rep", {"rep": 3, "about_s": 22.0})).given.missing == ()  # type: ignore[union-attr]
    back = made(*said, ("rep", {"from_s": 11.0, "to_s": 13.0})).given
    assert (back.missing, back.false_at) == (((5.5, 6.5), (10.2, 12.5)), ())  # type: ignore[union-attr]
    assert made(("rep", {"from_s": 2.0, "to_s": 4.0}), undone=1).given is None


def test_what_does_not_belong_to_the_lift_is_left_out() -> None:
    """A deadlift has no low and no depth; said to be one afterwards, what was marked of a squat does not count."""
    got = made(
        ("moment", {"rep": 1, "moment": "low_end_s", "at_s": 4.0}),
        ("depth", {"crease": {"x_px": 1, "y_px": 2}, "knee_top": {"x_px": 3, "y_px": 4}, "at_s": 2.0}),
        ("lift", {"lift": "deadlift", "variation": "sumo"}),
    )

    assert got.asked.lift == "deadlift"
    assert got.asked.variation == "sumo"
    assert got.given is None
    assert got.depth_marks is None


def test_length_plate_and_joints() -> None:
    length = ("length", {"a": {"x_px": 10, "y_px": 20}, "b": {"x_px": 10, "y_px": 170}, "at_s": 1.0, "mm": 450})
    plate = ("plate", {"mm": 400})

    assert made(length).length.px == 150  # type: ignore[union-attr]
    assert made(length, plate).length is None
    assert made(length, plate).asked.plate_mm == 400
    hip = {"joint": "left_hip", "x_px": 5, "y_px": 6, "at_s": 2.0}
    marks = made(("joint", hip), ("joint", {**hip, "x_px": 7}), ("joint", {**hip, "at_s": 3.0})).joints
    assert [(m.at.x_px, m.at.at_s) for m in marks] == [(7, 2.0), (5, 3.0)]


@pytest.mark.parametrize(
    ("kind", "body", "words"),
    [
        ("colour", {}, "no repair 'colour'"),
        ("bar_at", [], "needs its values"),
        ("bar_at", {"x_px": 1, "y_px": 2}, "at_s"),
        ("bar_at", {"x_px": float("nan"), "y_px": 2, "at_s": 1}, "x_px"),
        ("bar_at", {"x_px": True, "y_px": 2, "at_s": 1}, "x_px"),
        ("bar_at", {"x_px": -5, "y_px": 2, "at_s": 1}, "x_px"),
        ("length", {"a": {"x_px": 1, "y_px": 1}, "b": {"x_px": 5, "y_px": 1}, "at_s": 1, "mm": 450}, "4 px apart"),
        ("length", {"a": 3, "b": {"x_px": 5, "y_px": 1}, "at_s": 1, "mm": 450}, "a: expected a place"),
        ("plate", {"mm": 4500}, "100 to 500"),
        ("trim", {"from_s": 3.0, "to_s": 3.2}, "shorter than 1 s"),
        ("moment", {"rep": 1}, "which moment"),
        ("moment", {"rep": 0, "moment": "end_s", "at_s": 1}, "rep"),
        ("moment", {"rep": 1, "moment": "middle_s", "at_s": 1}, "start_s"),
        ("moment", {"rep": 1, "outcome": "splendid"}, "completed"),
        ("rep", {"from_s": 3.0, "to_s": 3.1}, "is no rep"),
        ("rep", {"from_s": 3.0}, "to_s"),
        ("no_rep", {"rep": 1}, "about_s"),
        ("joint", {"joint": "tail", "x_px": 1, "y_px": 2, "at_s": 1}, "landmark"),
        ("mirrored", {"on": "yes"}, "true or false"),
        ("real_speed", {"times_slower": 0}, "0.05 to 64"),
        ("lift", {"lift": "row"}, "squat"),
    ],
)
def test_what_makes_no_sense_is_refused_with_a_remedy(kind: str, body: Any, words: str) -> None:
    with pytest.raises(RepairError, match=words):
        repair_of(kind, body)


def test_nothing_but_what_is_understood_is_kept() -> None:
    assert repair_of("plate", {"mm": 450, "note": "x" * 9999}) == {"mm": 450.0}
