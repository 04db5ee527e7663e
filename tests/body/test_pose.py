"""From poses to a body track: smoothing over gaps, the near side, and honest emptiness."""

from __future__ import annotations

import numpy as np
import pytest

from midfoot.body.pose import near_side, not_seen, smooth_joints, smooth_space
from midfoot.records.body import HIDDEN, INDEX, INFERRED, LANDMARKS, SEEN

K = len(LANDMARKS)
WRIST = INDEX["left_wrist"]


def line(n: int = 60) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    t = np.arange(n) / 15
    raw = np.zeros((n, K, 2))
    raw[:, WRIST] = np.stack([100 + 30 * t, 400 - 50 * t], axis=1)
    state = np.full((n, K), HIDDEN, np.int8)
    state[:, WRIST] = SEEN
    return t, raw, np.full((n, K), 5.0), state


def test_short_gaps_are_carried_and_long_ones_stay_open() -> None:
    t, raw, sd, state = line()
    true = raw[:, WRIST].copy()
    for rows in (slice(10, 12), slice(30, 38)):  # 0.2 s and 0.6 s from seen to seen
        raw[rows, WRIST], state[rows, WRIST] = 900, HIDDEN
    xy, error, kind = smooth_joints(t, raw, sd, state, 300.0)
    assert (kind[10:12, WRIST] == INFERRED).all()
    np.testing.assert_allclose(xy[10:12, WRIST], true[10:12], atol=1e-6)
    assert (error[10:12, WRIST] > 5).all()
    assert (kind[30:38, WRIST] == HIDDEN).all()
    assert np.isnan(xy[30:38, WRIST]).all()
    assert np.isnan(error[30:38, WRIST]).all()
    np.testing.assert_allclose(xy[38:, WRIST], true[38:], atol=1e-6)
    assert np.isnan(xy[:, INDEX["nose"]]).all(), "a joint never seen is nowhere"


def test_smoothing_takes_noise_out_and_keeps_the_way() -> None:
    t, raw, sd, state = line(150)
    true = raw[:, WRIST].copy()
    raw[:, WRIST] += np.random.default_rng(1).normal(0, 5, (150, 2))
    xy, _, _ = smooth_joints(t, raw, sd, state, 300.0)
    left = np.sqrt(((xy[:, WRIST] - true) ** 2).mean())
    assert left < 2.5


def test_depths_of_hidden_joints_are_not_given() -> None:
    t, _, _, state = line()
    state[20:40, WRIST] = HIDDEN
    space = smooth_space(t, np.ones((60, K, 3)), state)
    assert np.isnan(space[20:40, WRIST]).all()
    np.testing.assert_allclose(space[:20, WRIST], 1.0, atol=1e-9)


def made_depths(left_nearer_m: float, peak: float = 0.8) -> tuple[np.ndarray, np.ndarray]:
    depth = np.zeros((30, K))
    for joint in ("shoulder", "hip"):
        depth[:, INDEX[f"left_{joint}"]] = -left_nearer_m / 2
        depth[:, INDEX[f"right_{joint}"]] = left_nearer_m / 2
    return np.full((30, K), peak), depth


@pytest.mark.parametrize(("apart", "side"), [(0.3, "left"), (-0.3, "right"), (0.02, None)])
def test_the_near_side_is_the_nearer_one(apart: float, side: str | None) -> None:
    got, margin = near_side(*made_depths(apart))
    assert got == side
    assert 0 <= margin <= 1


def test_the_near_side_is_not_told_from_unclear_joints() -> None:
    assert near_side(*made_depths(0.3, peak=0.3)) == (None, 0.0)


def test_not_seen_has_no_rows_and_a_reason() -> None:
    track = not_seen("Nobody was there.")
    assert (track.status, len(track.t_s), track.xy_px.shape) == ("not_seen", 0, (0, K, 2))
    assert track.reason == "Nobody was there."
