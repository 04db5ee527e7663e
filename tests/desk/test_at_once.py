"""What a sender is told at once: the view with its doubt, the most that it gives, what to film again."""

from __future__ import annotations

from typing import Any

import pytest
from attrs import evolve

from midfoot.desk.at_once import LEFT_OPEN, said_of
from midfoot.findings.registry import findings_of
from midfoot.glimpse import Glimpse
from midfoot.records.bar import View
from midfoot.records.base import Value


def seen(yaw_deg: float = 0.0, sd: float = 4.0, view_class: str = "side", **more: Any) -> Glimpse:
    nothing = Value(0.0, 1.0)
    view = View(
        near_side="left", facing="image_left", view_class=view_class, yaw_deg=Value(yaw_deg, sd), roll_deg=nothing,
        pitch_deg=nothing, distance_m=Value(4.0, 0.5), height_m=Value(0.8, 0.2),
    )  # fmt: skip
    whole = Glimpse(
        lift="squat", view=view, plate="seen", lifter="seen", plate_cut=0.0, lifter_cut=0.0, hidden=(),
        small=False, moves_px=0.0, long_side_px=1280, dark=False, looked_s=6.0,
    )  # fmt: skip
    return evolve(whole, **more)


@pytest.mark.parametrize(
    ("yaw", "sd", "name", "words"),
    [
        (0, 4, "side", "It seems to be filmed from the side."),
        (30, 5, "front_oblique", "It seems to be filmed from the front at an angle."),
        (-85, 8, "rear", "It seems to be filmed from the rear."),
        (8, 6, "side", "from the side, or from the front at an angle: a first look is not surer"),
        (57, 6, "front_oblique", "from the front at an angle, or from the front: a first look is not surer"),
        (0, 25, "side", LEFT_OPEN), (0, 5, "unknown", LEFT_OPEN),
    ],
)  # fmt: skip
def test_the_view_with_its_doubt(yaw: float, sd: float, name: str, words: str) -> None:
    said = said_of(seen(yaw, sd, name))
    assert words in said["view"]
    assert (said["can"] is None) == (words == LEFT_OPEN)


def test_nobody_made_out_says_nothing_of_the_view() -> None:
    said = said_of(seen(view=None, lifter="not_seen"))
    assert (said["view"], said["can"], said["without"]) == (LEFT_OPEN, None, [])
    assert len(said["again"]) == 1


def test_every_finding_is_counted_once_and_named_where_it_cannot_be_judged() -> None:
    every = {d.title for d in findings_of("squat")}
    from_side, from_front = said_of(seen()), said_of(seen(80, 4, "front"))
    for said in (from_side, from_front):
        named = [title for one in said["without"] for title in one["what"]]
        assert said["of"] == len(every) == said["can"] + len(named)
        assert set(named) <= every
    assert from_front["can"] < from_side["can"], "forward and back are not told from the front"
    knees = next(d.title for d in findings_of("squat") if d.id == "squat_knees_in")
    assert any(knees in one["what"] and "front" in one["how"] for one in from_side["without"])


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ({"plate_cut": 0.5}, "farther back"), ({"lifter_cut": 0.3}, "feet to hands"), ({"small": True}, "nearer"),
        ({"plate": "not_seen"}, "whole plate"), ({"moves_px": 90.0}, "stand it on"),
        ({"dark": True}, "more light"),
    ],
)  # fmt: skip
def test_what_to_film_again(more: dict[str, Any], word: str) -> None:
    (said,) = said_of(seen(**more))["again"]
    assert word in said


def test_what_is_hidden_is_named() -> None:
    assert said_of(seen(hidden=("hip", "knee", "heel")))["hidden"].startswith(
        "Hidden most of the time, on the camera's side: hip, knee and heel."
    )
    assert said_of(seen())["hidden"] == ""


def test_a_good_clip_is_not_to_be_filmed_again() -> None:
    assert said_of(seen())["again"] == []
