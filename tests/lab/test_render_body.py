"""Bones, skin and inverse kinematics on a body made of sticks; the open body only where it is installed."""

import importlib.util

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lab.render import limbs
from lab.render.body import Body, chain
from lab.render.rotation import X, about, log, part, turn, twist_deg
from scipy import sparse

vectors = st.tuples(*[st.floats(-1, 1)] * 3).map(np.array).filter(lambda v: np.linalg.norm(v) > 0.1)


def _sticks():
    heads = np.array([[0, 0, 0.0], [0, 0, 0.5], [0, 0, 0.9]])
    vertices = np.array([[0, 0.1, 0.2], [0, 0.1, 0.6], [0, 0.1, 1.1]])
    return Body(
        bones=("root", "middle", "tip"), parents=(-1, 0, 1), heads_m=heads, vertices_m=vertices,
        faces=np.array([[0, 1, 2]], dtype=np.int32), skin=sparse.csr_matrix(np.eye(3)),
    )  # fmt: skip


@given(vectors, st.floats(-170, 170))
def test_a_whole_turn_moves_all_rigidly(axis, angle):
    body = _sticks()
    spin = about(axis, angle)
    root = np.array([0.3, -0.2, 1.0])
    posed = chain(body, {"root": spin}, root)
    np.testing.assert_allclose(posed.vertices(), body.vertices_m @ spin.T + root, atol=1e-9)
    np.testing.assert_allclose(posed.starts_m, body.heads_m @ spin.T + root, atol=1e-9)


def test_a_bent_bone_takes_its_skin_and_its_children_along():
    posed = chain(_sticks(), {"middle": about(X, 90)}, np.zeros(3))
    np.testing.assert_allclose(posed.start("tip"), [0, -0.4, 0.5], atol=1e-9)
    np.testing.assert_allclose(posed.vertices()[0], [0, 0.1, 0.2], atol=1e-9)
    np.testing.assert_allclose(posed.vertices()[2], [0, -0.6, 0.6], atol=1e-9)
    np.testing.assert_allclose(posed.point("middle", np.array([0, 0, 0.9])), posed.start("tip"), atol=1e-9)


@given(vectors, vectors, st.floats(0.2, 0.5), st.floats(0.2, 0.5), st.floats(0.3, 0.99))
def test_the_middle_joint_keeps_both_lengths_and_points_along_the_pole(way, pole, first, second, share):
    if np.linalg.norm(np.cross(way, pole)) < 0.05:
        return
    span = abs(first - second) + share * (first + second - abs(first - second))
    start = np.array([0.1, 0.2, 0.3])
    end = start + way / np.linalg.norm(way) * span
    joint = limbs.middle_joint(start, end, first, second, pole)
    assert np.linalg.norm(joint - start) == pytest.approx(first)
    assert np.linalg.norm(joint - end) == pytest.approx(second)
    across = joint - start - (end - start) * ((joint - start) @ (end - start)) / span**2
    assert across @ pole >= 0


def test_out_of_reach_is_said():
    with pytest.raises(limbs.OutOfReach):
        limbs.middle_joint(np.zeros(3), np.array([0, 0, 1.0]), 0.4, 0.4, X)


@given(st.floats(0.2, 0.5), st.floats(0.2, 0.5), st.floats(1, 150))
def test_span_and_bend_are_each_others_inverse(first, second, bend):
    assert limbs.bend_at(first, second, limbs.span_at(first, second, bend)) == pytest.approx(bend, abs=1e-4)


@given(vectors, st.floats(-170, 170), st.floats(0, 1))
def test_part_of_a_turn(axis, angle, share):
    np.testing.assert_allclose(part(np.eye(3), about(axis, angle), share), about(axis, angle * share), atol=1e-7)
    assert np.degrees(np.linalg.norm(log(about(axis, angle)))) == pytest.approx(abs(angle), abs=1e-5)
    assert twist_deg(about(axis, angle), axis) == pytest.approx(angle, abs=1e-5)


@given(vectors, vectors)
def test_a_turn_between_frames_is_a_rotation(along, side):
    if np.linalg.norm(np.cross(along, side)) < 0.05:
        return
    spin = turn(X, np.array([0, 1.0, 0]), along, side)
    np.testing.assert_allclose(spin @ spin.T, np.eye(3), atol=1e-9)
    assert np.linalg.det(spin) == pytest.approx(1.0)
    np.testing.assert_allclose(spin @ X, along / np.linalg.norm(along), atol=1e-9)


needs_body = pytest.mark.skipif(
    importlib.util.find_spec("anny") is None or importlib.util.find_spec("torch") is None,
    reason="the open body (anny, torch) is not installed; see lab/requirements.txt",
)


@pytest.mark.filterwarnings("ignore")
@needs_body
def test_the_body_holds_the_bar_in_all_three_lifts():
    from lab.render.demo import SETS

    for make in SETS.values():
        made = make()
        lifter = made.scene.lifter
        for t in np.linspace(0.1, lifter.course.t_s[-1] - 0.1, 12):
            posed = lifter.at(float(t))
            bar = np.array([0.0, -float(lifter.course.at("forward_m", t)), float(lifter.course.at("up_m", t))])
            for side in ("L", "R"):
                wrist = posed.start(f"wrist.{side}")
                assert np.hypot(*(wrist - bar)[1:]) < 0.13, (made.name, t)
            assert posed.vertices()[:, 2].min() > -0.01, (made.name, t)
