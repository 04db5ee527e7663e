"""Inferred joints against the geometry they come from."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.body.infer import bone, infer, middle_joint
from midfoot.records.body import HIDDEN, INDEX, INFERRED, LANDMARKS, SEEN

HIP, KNEE, ANKLE = (INDEX[f"left_{j}"] for j in ("hip", "knee", "ankle"))


@given(st.floats(0.3, 2.6), st.floats(-3, 3), st.floats(80, 160), st.floats(80, 160))
def test_the_middle_joint_is_where_the_bones_meet(bend: float, turn: float, thigh: float, shank: float) -> None:
    hip = np.array([300.0, 200.0])
    knee = hip + thigh * np.array([np.cos(turn), np.sin(turn)])
    ankle = knee + shank * np.array([np.cos(turn + bend), np.sin(turn + bend)])
    cross = (ankle - hip)[0] * (knee - hip)[1] - (ankle - hip)[1] * (knee - hip)[0]
    at, sd = middle_joint(hip, ankle, (thigh, 1.0), (shank, 1.0), float(np.sign(cross)), 1.0, 1.0)
    np.testing.assert_allclose(at, knee, atol=1e-6)
    assert sd > 0


def test_its_error_is_what_shaken_ends_give() -> None:
    chance = np.random.default_rng(5)
    hip, ankle = np.array([0.0, 0.0]), np.array([60.0, 170.0])
    thigh, shank = (110.0, 3.0), (105.0, 2.0)
    _, sd = middle_joint(hip, ankle, thigh, shank, 1.0, 4.0, 3.0)
    shaken = []
    for _ in range(4000):
        lengths = [(b[0] + chance.normal(0, b[1]), 0.0) for b in (thigh, shank)]
        ends = hip + chance.normal(0, 4.0, 2), ankle + chance.normal(0, 3.0, 2)
        shaken.append(middle_joint(*ends, *lengths, 1.0, 4.0, 3.0)[0])
    assert sd == pytest.approx(float(np.sqrt(np.nanvar(shaken, axis=0).mean())), rel=0.15)


def test_ends_too_far_apart_give_nothing() -> None:
    at, sd = middle_joint(np.zeros(2), np.array([400.0, 0.0]), (100.0, 2.0), (100.0, 2.0), 1.0, 2.0, 2.0)
    assert np.isnan(at).all()
    assert np.isnan(sd)


def squatting(n: int = 40) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Make a leg (thigh 120, shank 110 px) that bends and straightens in the image plane, everything seen."""
    t = np.arange(n) / 15
    xy = np.full((n, len(LANDMARKS), 2), np.nan)
    state = np.full((n, len(LANDMARKS)), HIDDEN, np.int8)
    lean = 0.35 + 0.3 * np.sin(t * 2)
    xy[:, ANKLE] = [300, 500]
    xy[:, KNEE] = xy[:, ANKLE] + 110 * np.stack([np.sin(lean), -np.cos(lean)], axis=1)
    xy[:, HIP] = xy[:, KNEE] + 120 * np.stack([-np.sin(2 * lean), -np.cos(2 * lean)], axis=1)
    state[:, [HIP, KNEE, ANKLE]] = SEEN
    sd = np.where(state == SEEN, 3.0, np.nan)
    return t, xy, sd, state


def test_a_knee_behind_the_plate_is_inferred() -> None:
    t, xy, sd, state = squatting()
    true = xy[15:25, KNEE].copy()
    xy[15:25, KNEE], sd[15:25, KNEE], state[15:25, KNEE] = np.nan, np.nan, HIDDEN
    got, error, kind = infer(t, xy, sd, state, 250.0)
    assert (kind[15:25, KNEE] == INFERRED).all()
    np.testing.assert_allclose(got[15:25, KNEE], true, atol=0.5)
    assert (error[15:25, KNEE] >= 3.0).all(), "an inferred joint is no surer than its neighbours"
    assert (state[15:25, KNEE] == HIDDEN).all(), "what was given is left as it was"


def test_a_bone_that_turns_toward_the_camera_does_not_serve() -> None:
    _, xy, _, state = squatting()
    assert bone(xy, state, KNEE, HIP) == pytest.approx((120, 0), abs=1e-6)
    xy[:, HIP] = xy[:, KNEE] + (xy[:, HIP] - xy[:, KNEE]) * np.linspace(0.4, 1, len(xy))[:, None]
    assert bone(xy, state, KNEE, HIP) is None


def test_nothing_is_inferred_from_one_end() -> None:
    t, xy, sd, state = squatting()
    for k in (KNEE, HIP):
        xy[15:25, k], sd[15:25, k], state[15:25, k] = np.nan, np.nan, HIDDEN
    _, _, kind = infer(t, xy, sd, state, 250.0)
    assert (kind[15:25, [KNEE, HIP]] == HIDDEN).all()


def test_a_standing_foot_is_carried_and_a_step_is_not() -> None:
    t, xy, sd, state = squatting()
    xy[15:25, ANKLE], sd[15:25, ANKLE], state[15:25, ANKLE] = np.nan, np.nan, HIDDEN
    got, _, kind = infer(t, xy, sd, state, 250.0)
    assert (kind[15:25, ANKLE] == INFERRED).all()
    np.testing.assert_allclose(got[15:25, ANKLE], [[300, 500]] * 10)
    xy[25:, ANKLE] += [60, 0]
    _, _, kind = infer(t, xy, sd, state, 250.0)
    assert (kind[15:25, ANKLE] == HIDDEN).all()


def test_hips_lie_still_only_on_the_bench() -> None:
    t, xy, sd, state = squatting()
    xy[:, HIP] = [320, 380]
    xy[15:25, HIP], sd[15:25, HIP], state[15:25, HIP] = np.nan, np.nan, HIDDEN
    state[:, KNEE] = HIDDEN
    assert (infer(t, xy, sd, state, 250.0)[2][15:25, HIP] == HIDDEN).all()
    _, error, kind = infer(t, xy, sd, state, 250.0, lying=True)
    assert (kind[15:25, HIP] == INFERRED).all()
    assert (error[15:25, HIP] >= 0.05 * 250).all(), "hips may have come off the bench by this much unseen"
