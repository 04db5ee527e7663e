"""Refinement on made heat maps."""

from __future__ import annotations

import numpy as np
import pytest

from midfoot.body.landmarks import refine


def bump(x: float, y: float, height: float = 4.0, wide: float = 1.2) -> np.ndarray:
    rows, columns = np.mgrid[:64, :64]
    return -8 + (height + 8) * np.exp(-((columns - x) ** 2 + (rows - y) ** 2) / (2 * wide**2))


def test_a_landmark_moves_to_the_bump_beside_it() -> None:
    maps = np.stack([bump(30, 20)], axis=2)
    at, peak = refine(np.array([[31.4 / 64, 20.7 / 64]]), maps)
    np.testing.assert_allclose(at[0] * 64, [30, 20], atol=0.05)
    assert peak[0] == pytest.approx(1 / (1 + np.exp(-4.0)), rel=1e-6)


def test_a_low_bump_moves_nothing_and_says_so() -> None:
    maps = np.stack([bump(30, 20, height=-1.0)], axis=2)
    start = np.array([[31.4 / 64, 20.7 / 64]])
    at, peak = refine(start, maps)
    np.testing.assert_array_equal(at, start)
    assert peak[0] < 0.5


def test_a_bump_far_away_does_not_count() -> None:
    maps = np.stack([bump(50, 50)], axis=2)
    start = np.array([[10.2 / 64, 10.1 / 64]])
    at, peak = refine(start, maps)
    np.testing.assert_array_equal(at, start)
    assert peak[0] < 0.01


def test_each_landmark_has_its_own_map() -> None:
    maps = np.stack([bump(30, 20), bump(12, 40)], axis=2)
    at, _ = refine(np.array([[30.2, 20.1], [12.3, 39.8]]) / 64, maps)
    np.testing.assert_allclose(at * 64, [[30, 20], [12, 40]], atol=0.05)


@pytest.mark.parametrize("place", [(-0.3, 0.5), (1.2, 0.5), (0.5, -2.0), (0.999, 0.999)])
def test_landmarks_outside_are_left_alone(place: tuple[float, float]) -> None:
    at, peak = refine(np.array([place]), np.full((64, 64, 1), -9.0))
    np.testing.assert_array_equal(at[0], place)
    assert peak[0] < 0.01
