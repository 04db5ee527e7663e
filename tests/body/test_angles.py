"""Angles of made bodies, and their errors against shaken joints."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.body import angles
from midfoot.records.body import HIDDEN, INDEX, INFERRED, LANDMARKS, SEEN, BodyTrack

K = len(LANDMARKS)


def body(
    places: dict[str, tuple[float, float]], state: dict[str, int] | None = None, sd: float = 3.0
) -> BodyTrack:
    xy, kind = np.full((1, K, 2), np.nan), np.full((1, K), HIDDEN, np.int8)
    for name, place in places.items():
        xy[0, INDEX[name]], kind[0, INDEX[name]] = place, SEEN
    for name, value in (state or {}).items():
        kind[0, INDEX[name]] = value
        if value == HIDDEN:
            xy[0, INDEX[name]] = np.nan
    flat = np.full((1, K), 0.8)
    return BodyTrack(
        status="seen", model="full", t_s=np.zeros(1), xy_px=xy, sd_px=np.full((1, K), sd), state=kind, peak=flat,
        depth_m=flat, world_m=np.zeros((1, K, 3)), near_side="left",
    )  # fmt: skip


@given(st.floats(-80, 80))
def test_a_leaning_trunk(lean: float) -> None:
    up = 200 * np.array([np.sin(np.radians(lean)), -np.cos(np.radians(lean))])
    got = angles.segment(
        body({"left_hip": (300, 400), "left_shoulder": tuple(np.array([300, 400]) + up)}), "trunk"
    )
    assert got.deg[0] == pytest.approx(lean, abs=1e-6)
    assert got.sd_deg[0] == pytest.approx(np.degrees(3 * np.sqrt(2) / 200))


def test_a_tilted_picture_is_righted() -> None:
    tilted = body({"left_hip": (0, 0), "left_shoulder": (-100 * np.sin(0.1), -100 * np.cos(0.1))})
    assert angles.segment(tilted, "trunk", roll_deg=np.degrees(0.1)).deg[0] == pytest.approx(0, abs=1e-6)


@given(st.floats(5, 175), st.floats(-3, 3))
def test_a_bent_knee_whatever_way_it_lies(bend: float, turn: float) -> None:
    a, b = turn, turn + np.radians(bend)
    knee = np.array([300.0, 300.0])
    made = body(
        {
            "left_hip": tuple(knee + 120 * np.array([np.cos(a), np.sin(a)])),
            "left_knee": tuple(knee),
            "left_ankle": tuple(knee + 110 * np.array([np.cos(b), np.sin(b)])),
        }
    )
    assert angles.joint(made, "knee").deg[0] == pytest.approx(bend, abs=1e-6)


def test_the_error_is_what_shaken_joints_give() -> None:
    chance = np.random.default_rng(3)
    places = {"left_hip": (200.0, 300.0), "left_knee": (310.0, 330.0), "left_ankle": (290.0, 440.0)}
    stated = angles.joint(body(places), "knee").sd_deg[0]
    shaken = [
        angles.joint(
            body({n: tuple(np.array(p) + chance.normal(0, 3, 2)) for n, p in places.items()}), "knee"
        ).deg[0]
        for _ in range(1500)
    ]
    assert stated == pytest.approx(np.std(shaken), rel=0.1)


def test_hidden_is_not_a_number_and_inferred_is_marked() -> None:
    places = {"left_hip": (200.0, 300.0), "left_knee": (310.0, 330.0), "left_ankle": (290.0, 440.0)}
    assert np.isnan(angles.joint(body(places, {"left_knee": HIDDEN}), "knee").deg[0])
    got = angles.joint(body(places, {"left_knee": INFERRED}), "knee")
    assert np.isfinite(got.deg[0])
    assert got.inferred[0] == 1


def test_far_from_side_on_there_is_no_angle() -> None:
    made = body({"left_hip": (300, 400), "left_shoulder": (300, 200)})
    assert np.isnan(angles.segment(made, "trunk", yaw_deg=40).deg[0])
    near, oblique = (angles.segment(made, "trunk", yaw_deg=y).sd_common_deg for y in (5, 30))
    assert near < oblique


def test_the_bar_stands_for_the_shoulder() -> None:
    class Seen:
        t_s = np.array([-0.1, 0.1])
        xy_px = np.array([[400.0, 200.0], [400.0, 200.0]])

    made = body({"left_hip": (300, 400)})
    assert angles.trunk_to_bar(made, Seen()).deg[0] == pytest.approx(np.degrees(np.arctan2(100, 200)))
