"""The pinhole: published formulas, an independent projection, and its own inverse."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pinhole import Shot, disc, place, project

from midfoot.bar.camera import Camera, focal_from_view_angle


def camera(turn=0.0, pitch=0.0, roll=0.0, depth=3.0, focal=1000.0, plate=(640.0, 360.0), centre=(640.0, 360.0)):
    return Camera(focal, centre, math.radians(turn), math.radians(pitch), math.radians(roll), plate, depth)


def step(cam, by):
    a, b = cam.project(np.array([[0.0, 0.0, 0.0], by]))
    return b - a


FAR = 2000.0  # so distant that the perspective is gone


@pytest.mark.parametrize(("distance", "ratio"), [(3.0, 0.639), (5.0, 0.767), (10.0, 0.876)])
def test_far_plate_appears_smaller_by_perspective(distance, ratio):
    # far / near = (D - d) / (D + d), d = 0.66 m (Bartlett, Introduction to Sports Biomechanics, perspective error)
    cam = camera(depth=distance - 0.66)
    near = cam.ellipse(np.zeros(3), 0.225).major_px
    assert cam.ellipse(np.array([0.0, 1.32, 0.0]), 0.225).major_px / near == pytest.approx(ratio, abs=6e-4)


@pytest.mark.parametrize(
    ("distance", "low", "high"), [(3.0, 22.0, 25.0), (4.0, 16.5, 18.8), (5.0, 13.2, 15.0), (10.0, 6.6, 7.5)]
)
def test_lengths_at_the_mid_plane_read_short_at_the_near_plates_scale(distance, low, high):
    # scaled by the near object at D - d, things at D read (D - d) / D; d = 0.66 to 0.75 m
    for d, expected in ((0.66, low), (0.75, high)):
        cam = camera(depth=distance - d)
        here = np.array([0.0, d, 0.0])
        px = np.linalg.norm(np.diff(cam.project(np.array([here, here + [0.0, 0.0, 0.1]])), axis=0))
        assert 100 * (1 - px * cam.m_per_px / 0.1) == pytest.approx(expected, abs=0.06)


@pytest.mark.parametrize(("distance", "percent"), [(2.0, 2.56), (3.0, 1.69), (5.0, 1.01), (8.0, 0.63)])
def test_wandering_toward_the_camera_enlarges(distance, percent):
    # delta / (D - delta), 5 cm
    cam = camera(depth=distance)
    ratio = cam.ellipse(np.array([0.0, -0.05, 0.0]), 1e-3).major_px / cam.ellipse(np.zeros(3), 1e-3).major_px
    assert 100 * (ratio - 1) == pytest.approx(percent, abs=0.01)


@pytest.mark.parametrize(("yaw", "percent"), [(5, -0.38), (10, -1.52), (15, -3.41), (20, -6.03), (30, -13.4)])
def test_yaw_shortens_the_plane_of_motion_by_its_cosine(yaw, percent):
    cam = camera(turn=yaw, depth=FAR, focal=FAR * 300)
    ahead = step(cam, [0.5, 0.0, 0.0])[0] * cam.m_per_px / 0.5
    assert 100 * (ahead - 1) == pytest.approx(percent, abs=0.03)
    out = step(cam, [0.0, 0.5, 0.0])[0] * cam.m_per_px / 0.5
    assert out == pytest.approx(math.sin(math.radians(yaw)), abs=5e-4)
    assert cam.ellipse(np.zeros(3), 0.2).aspect == pytest.approx(math.cos(math.radians(yaw)), abs=1e-4)


@pytest.mark.parametrize(("roll", "leak_mm"), [(1, 10.5), (2, 20.9), (3, 31.4)])
def test_roll_leaks_height_sideways(roll, leak_mm):
    # 0.6 m of vertical travel
    cam = camera(roll=roll)
    sideways = step(cam, [0.0, 0.0, 0.6])[0] * cam.m_per_px * 1000
    assert abs(sideways) == pytest.approx(leak_mm, abs=0.06)
    # the picture must be turned clockwise to stand upright: so a rising bar leans to the left
    assert sideways < 0


@pytest.mark.parametrize("pitch", [5.0, 12.0])
def test_pitch_shortens_the_vertical_by_its_cosine(pitch):
    cam = camera(pitch=pitch, depth=FAR, focal=FAR * 300)
    up = -step(cam, [0.0, 0.0, 0.5])[1] * cam.m_per_px / 0.5
    assert up == pytest.approx(math.cos(math.radians(pitch)), abs=3e-4)


@pytest.mark.parametrize(
    ("alpha", "yaw", "seen"),
    # tan a' = tan a / cos yaw
    [(45, 10, 45.44), (45, 20, 46.78), (45, 30, 49.11), (30, 20, 31.57), (60, 30, 63.43), (0, 30, 0.0)],
)
def test_segments_look_steeper_from_an_angle(alpha, yaw, seen):
    cam = camera(turn=yaw, depth=FAR, focal=FAR * 300)
    dx, dy = step(cam, [0.4 * math.cos(math.radians(alpha)), 0.0, 0.4 * math.sin(math.radians(alpha))])
    assert math.degrees(math.atan2(-dy, dx)) == pytest.approx(seen, abs=0.02)


def like(shot):
    """The camera that sees what the tests' own pinhole sees, for a plate at the near end, 1 m up."""
    middle = np.array([shot.side * shot.half_m, 0.0, 1.0])
    position, _, _, view = place(shot)
    sigma = 1.0 if shot.near_side == "right" else -1.0
    at = project(shot, middle)
    w, h = shot.size_px
    cam = Camera(
        shot.focal_px,
        ((w - 1) / 2, (h - 1) / 2),
        math.radians(sigma * shot.yaw_deg),
        math.asin(-view[2]),
        math.radians(shot.roll_deg),
        tuple(at),
        float((middle - position) @ view),
    )

    def world(ahead, away, up):
        return middle + np.array([-shot.side * away, -sigma * ahead, up])

    return cam, world


shots = st.builds(
    Shot,
    near_side=st.sampled_from(["left", "right"]),
    yaw_deg=st.floats(-60, 60),
    distance_m=st.floats(2.5, 8.0),
    height_m=st.floats(0.2, 2.0),
    roll_deg=st.floats(-6, 6),
    view_angle_deg=st.floats(45, 80),
    look_ahead_m=st.floats(-0.3, 0.3),
)


@given(shots, st.floats(-0.3, 0.3), st.floats(0.0, 1.5), st.floats(-0.5, 0.5))
def test_agrees_with_an_independent_pinhole(shot, ahead, away, up):
    cam, world = like(shot)
    place_m = np.array([ahead, away, up])
    np.testing.assert_allclose(cam.project(place_m), project(shot, world(ahead, away, up)), atol=1e-6)
    seen, size, aspect, axis = disc(shot, world(ahead, away, up), 0.225)
    got = cam.ellipse(place_m, 0.225)
    np.testing.assert_allclose([got.x_px, got.y_px], seen, atol=1e-4)
    assert 2 * got.major_px == pytest.approx(size, abs=1e-3)
    assert got.aspect == pytest.approx(aspect, abs=1e-5)
    if aspect < 0.98:
        assert (got.axis_deg - axis + 90) % 180 - 90 == pytest.approx(0.0, abs=0.05)


@given(shots, st.floats(-0.3, 0.3), st.floats(-0.6, 0.6))
def test_back_projection_undoes_projection(shot, ahead, up):
    cam, _ = like(shot)
    there = np.array([[ahead, 0.0, up], [ahead, 0.7, up]])
    np.testing.assert_allclose(cam.on_plane(cam.project(there[:1])), [[ahead, up]], atol=1e-9)
    np.testing.assert_allclose(cam.on_plane(cam.project(there[1:]), 0.7), [[ahead, up]], atol=1e-9)
    rim = cam.ellipse_centres(there[:1], 0.225)
    np.testing.assert_allclose(cam.plate_on_plane(rim, 0.225), [[ahead, up]], atol=1e-3)


def test_not_seen_stays_not_seen():
    cam = camera(turn=20)
    assert np.isnan(cam.on_plane(np.array([[np.nan, 3.0]]))).all()
    # a pixel whose ray runs away from the plane
    assert np.isnan(
        camera(turn=80, depth=2.0).on_plane(np.array([[640.0 + 9000.0, 360.0], [640.0 - 9000.0, 360.0]]))
    ).any()


def test_view_angle_and_focal_length():
    # 65.8 degrees along 1280 px: the focal length of 989.09 px of the side renders (vertical angle 40, 720 px)
    assert focal_from_view_angle(720, 40.0) == pytest.approx(989.09, abs=0.01)
    assert focal_from_view_angle(1280, 65.8) == pytest.approx(989.1, rel=2e-3)
