"""Laws of the smoother, on unequal time steps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.body.smoothing import STIFFNESS_S4, whittaker

seeds = st.integers(0, 2**31)


def uneven(seed: int, n: int = 60) -> tuple[np.random.Generator, np.ndarray]:
    chance = np.random.default_rng(seed)
    return chance, np.cumsum(chance.uniform(0.02, 0.12, n))


@given(seeds, st.floats(-500, 500), st.floats(-300, 300))
def test_a_line_comes_back(seed: int, at: float, slope: float) -> None:
    chance, t = uneven(seed)
    line = (at + slope * t)[:, None]
    weight = chance.uniform(0.05, 4, len(t))
    np.testing.assert_allclose(whittaker(t, line, weight), line, atol=1e-5)


@given(seeds, st.floats(-1e4, 1e4))
def test_time_and_place_shift_with_the_curve(seed: int, later: float) -> None:
    chance, t = uneven(seed)
    y, weight = chance.normal(0, 10, (len(t), 2)), chance.uniform(0.05, 4, len(t))
    np.testing.assert_allclose(whittaker(t + later, y + 70, weight), whittaker(t, y, weight) + 70, atol=1e-4)


@given(seeds)
def test_time_runs_both_ways(seed: int) -> None:
    chance, t = uneven(seed)
    y, weight = chance.normal(0, 10, (len(t), 1)), chance.uniform(0.05, 4, len(t))
    backward = whittaker(-t[::-1], y[::-1], weight[::-1])[::-1]
    np.testing.assert_allclose(backward, whittaker(t, y, weight), atol=1e-6)


def test_rows_without_weight_are_filled_and_pull_nothing() -> None:
    t = np.arange(40) / 15.0
    y = (3 * t)[:, None]
    wrong = y.copy()
    wrong[10:13] = 900
    weight = np.ones(40)
    weight[10:13] = 0
    np.testing.assert_allclose(whittaker(t, wrong, weight), y, atol=1e-6)


def test_the_cut_is_where_it_is_said() -> None:
    # weights 1: a swing of frequency f comes back as 1 / (1 + stiffness (2 pi f)^4)
    t = np.arange(0, 40, 1 / 15)
    for hertz in (0.5, 1.6, 3.0):
        y = np.sin(2 * np.pi * hertz * t)[:, None]
        smooth = whittaker(t, y, np.ones(len(t)))
        inside = (t > 10) & (t < 30)
        share = float((smooth[inside] * y[inside]).sum() / (y[inside] ** 2).sum())
        second = (2 - 2 * np.cos(2 * np.pi * hertz / 15)) * 15**2  # the second difference of a sampled swing
        assert share == pytest.approx(1 / (1 + STIFFNESS_S4 * second**2), abs=0.01)


def test_too_few_rows_come_back_as_they_are() -> None:
    y = np.array([[1.0], [5.0]])
    np.testing.assert_array_equal(whittaker(np.array([0.0, 1.0]), y, np.ones(2)), y)
