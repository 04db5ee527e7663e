"""The rule for what was seen."""

from __future__ import annotations

import numpy as np
import pytest

from midfoot.body.hidden import in_disc, metre_at_body_px, sd_px, states
from midfoot.records.body import HIDDEN, INDEX, LANDMARKS, SEEN

K = len(LANDMARKS)
KNEE, FAR_KNEE = INDEX["left_knee"], INDEX["right_knee"]
NOWHERE = np.full((1, 2), np.nan)


def made(**peaks: float) -> tuple[np.ndarray, np.ndarray]:
    xy, peak = np.full((1, K, 2), 500.0), np.full((1, K), 0.9)
    for name, value in peaks.items():
        peak[0, INDEX[name]] = value
    return xy, peak


@pytest.mark.parametrize(("peak", "state"), [(0.49, HIDDEN), (0.51, SEEN)])
def test_in_the_open_half_a_peak_is_needed(peak: float, state: int) -> None:
    assert states(*made(left_knee=peak), NOWHERE, 0.0, "full")[0, KNEE] == state


@pytest.mark.parametrize(("peak", "state"), [(0.6, HIDDEN), (0.72, SEEN)])
def test_behind_the_near_disc_more_is_needed(peak: float, state: int) -> None:
    xy, peaks = made(left_knee=peak)
    xy[0, KNEE] = [100, 100]
    assert states(xy, peaks, np.array([[150.0, 100.0]]), 50.0, "full")[0, KNEE] == state  # at 1.0 radii
    assert states(xy, peaks, np.array([[170.0, 100.0]]), 50.0, "full")[0, KNEE] == SEEN  # at 1.4 radii


def test_the_far_side_needs_more() -> None:
    xy, peaks = made(left_knee=0.6, right_knee=0.6)
    state = states(xy, peaks, NOWHERE, 0.0, "full", "left")
    assert (state[0, KNEE], state[0, FAR_KNEE]) == (SEEN, HIDDEN)
    state = states(xy, peaks, NOWHERE, 0.0, "full", "right")
    assert (state[0, KNEE], state[0, FAR_KNEE]) == (HIDDEN, SEEN)
    assert (states(xy, peaks, NOWHERE, 0.0, "full")[0, [KNEE, FAR_KNEE]] == SEEN).all()


def test_a_collapsed_pose_needs_more_everywhere() -> None:
    both = {f"{s}_{j}": 0.45 for s in ("left", "right") for j in ("shoulder", "hip", "knee")}
    xy, peaks = made(**both, left_ankle=0.55)
    assert states(xy, peaks, NOWHERE, 0.0, "full")[0, INDEX["left_ankle"]] == HIDDEN
    # the same low peaks under the disc are no sign of collapse: the plate explains them
    for name in both:
        xy[0, INDEX[name]] = [100, 100]
    xy[0, INDEX["left_knee"]] = [500, 500]
    peaks[0, INDEX["left_knee"]] = 0.8
    assert states(xy, peaks, np.array([[100.0, 100.0]]), 60.0, "full")[0, INDEX["left_ankle"]] == SEEN


def test_heavy_is_held_to_more() -> None:
    assert states(*made(left_knee=0.52), NOWHERE, 0.0, "full")[0, KNEE] == SEEN
    assert states(*made(left_knee=0.52), NOWHERE, 0.0, "heavy")[0, KNEE] == HIDDEN


def test_an_unknown_disc_covers_nothing() -> None:
    assert not in_disc(np.zeros((1, K, 2)), NOWHERE, 80.0).any()


def test_errors_grow_as_the_peak_falls_and_with_size() -> None:
    for model in ("full", "heavy"):
        sd = sd_px(np.linspace(0.5, 0.95, 10)[:, None], 300.0, model)[:, 0]
        assert (np.diff(sd) < 0).all()
        np.testing.assert_allclose(
            sd_px(np.array([[0.7]]), 600.0, model), 2 * sd_px(np.array([[0.7]]), 300.0, model)
        )


def test_a_metre_comes_from_the_longest_clear_segments() -> None:
    n = 20
    xy, peak = np.zeros((n, K, 2)), np.full((n, K), 0.2)
    hip, knee, ankle, shoulder = (INDEX[f"left_{j}"] for j in ("hip", "knee", "ankle", "shoulder"))
    shorter = np.linspace(0.5, 1, n)  # the thigh turns toward the camera
    xy[:, shoulder, 1], xy[:, knee, 1] = -0.49 * 300, 0.42 * 300 * shorter
    xy[:, ankle, 1] = xy[:, knee, 1] + 0.42 * 300
    peak[:, [hip, knee, ankle, shoulder]] = 0.8
    assert metre_at_body_px(xy, peak, 1.0) == pytest.approx(300, rel=0.05)
    assert metre_at_body_px(xy, np.full((n, K), 0.2), 77.0) == 77.0
