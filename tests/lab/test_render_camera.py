"""The lab's camera against OpenCV's, and its angles against what they are said to mean."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lab.render.camera import Camera, hand_shake


def _camera(side="left", yaw=0.0, roll=0.0, aim=0.9, height=1.1, width=1280, high=720):
    return Camera(
        side=side, yaw_deg=yaw, distance_m=3.5, height_m=height, target_m=(0.0, -0.1, 0.0), aim_m=aim,
        roll_deg=roll, fov_deg=62.0, width_px=width, height_px=high,
    )  # fmt: skip


cameras = st.builds(
    _camera,
    side=st.sampled_from(["left", "right"]),
    yaw=st.floats(-70, 70),
    roll=st.floats(-8, 8),
    aim=st.floats(0.3, 1.6),
    height=st.floats(0.3, 2.0),
)


@given(cameras, st.integers(0, 2**31))
def test_projection_is_opencvs(camera, seed):
    rng = np.random.default_rng(seed)
    points = rng.uniform((-1, -1, 0), (1, 1, 2), (20, 3))
    view = camera.held(rng.normal(0, 0.02, 3), rng.normal(0, 0.5, 3))
    lens = np.array(
        [
            [camera.focal_px, 0, (camera.width_px - 1) / 2],
            [0, camera.focal_px, (camera.height_px - 1) / 2],
            [0, 0, 1],
        ]
    )
    turn, _ = cv2.Rodrigues(view.turn)
    theirs, _ = cv2.projectPoints(points, turn, -view.turn @ view.place_m, lens, np.zeros(5))
    np.testing.assert_allclose(view.project(points), theirs[:, 0], atol=1e-6)


@given(cameras)
def test_what_is_drawn_lands_where_it_is_projected(camera):
    view = camera.still()
    point = np.array([0.2, -0.3, 1.2])
    clip = view.clip_matrix() @ np.append(point, 1.0)
    ndc = clip[:3] / clip[3]
    # OpenGL puts -1..1 over the whole picture, pixel centres half a pixel inside; its rows run upward.
    px = np.array([(ndc[0] + 1) / 2 * camera.width_px, (1 - ndc[1]) / 2 * camera.height_px]) - 0.5
    np.testing.assert_allclose(px, view.project(point)[0], atol=1e-6)
    assert -1 < ndc[2] < 1


@pytest.mark.parametrize(("side", "to_the_right"), [("left", False), ("right", True)])
def test_the_lifter_faces_left_from_the_left(side, to_the_right):
    view = _camera(side).still()
    back, front = view.project(np.array([[0, 0, 1.0], [0, -0.5, 1.0]]))
    assert (front[0] > back[0]) == to_the_right


@pytest.mark.parametrize("side", ["left", "right"])
def test_positive_yaw_stands_toward_the_front(side):
    front, back = np.array([0, -1.0, 1.0]), np.array([0, 1.0, 1.0])
    place = _camera(side, yaw=30).place_m
    assert np.linalg.norm(place - front) < np.linalg.norm(place - back)
    # Seen from the front, the far end of the bar lies behind the near one: toward the way the lifter faces.
    near = 0.75 if side == "left" else -0.75
    near_px, far_px = _camera(side, yaw=30).still().project(np.array([[near, 0, 1.0], [-near, 0, 1.0]]))
    assert (far_px[0] < near_px[0]) == (side == "left")


def test_positive_roll_is_undone_clockwise():
    low, high = _camera(roll=5.0).still().project(np.array([[0, -0.1, 0.5], [0, -0.1, 1.3]]))
    # A picture to be turned clockwise has its verticals leaning anticlockwise: tops to the left.
    assert np.degrees(np.arctan2(low[0] - high[0], low[1] - high[1])) == pytest.approx(5.0, abs=0.2)


def test_a_hand_shakes_as_much_as_told():
    t = np.arange(0, 120, 1 / 30)
    shift, rock = hand_shake(t, np.random.default_rng(3), rock_deg=0.2, shift_m=0.004)
    assert shift.std(axis=0) == pytest.approx([0.004] * 3, rel=0.25)
    assert rock.std(axis=0) == pytest.approx([0.2, 0.2, 0.12], rel=0.25)


def test_positive_pitch_looks_down():
    assert _camera(height=1.5, aim=0.9).pitch_deg == pytest.approx(np.degrees(np.arctan2(0.6, 3.5)))
    high = _camera(height=1.5, aim=0.9).still()
    assert high.seen(high.place_m + [0, 0, -1.0])[0, 2] > 0
