"""Sticking regions as published: one is found where the literature has it, and none where it has none."""

from __future__ import annotations

import numpy as np
import pytest
from measures.built import made_set
from scipy.interpolate import PchipInterpolator

from midfoot.measures import measure
from midfoot.records.measures import Measured

MAXIMUM = ((0.0, 0.0), (0.2, 0.25), (1.1, 0.10), (1.6, 0.40), (1.95, 0.0))
"""A bench press of one repetition at the maximum: the region begins 0.2 s after the start of the ascent and lasts
0.9 s (12 lifters, van den Tillaar and Ettema 2010, J Sports Sci 28:529-535). Velocities within 0.2-0.3, 0.05-0.15
and 0.3-0.5 m/s (from memory)."""
THREE_QUARTERS = ((0.0, 0.0), (0.3, 0.70), (0.8, 0.0))
"""At 75 % there is no such region (Newton 1997, after a secondary source); one peak, its size from memory."""


def pressed(knots: tuple[tuple[float, float], ...], fps: float) -> Measured:
    """A press with this velocity (s after it begins, m/s), measured."""
    down_s, rest_s = 1.2, 1.0
    low = rest_s + down_s + 0.4
    times, speeds = (np.array(x) for x in zip(*knots, strict=True))
    fine = np.linspace(0.0, times[-1], 4001)
    v = PchipInterpolator(times, speeds)(fine)
    risen = np.concatenate([[0.0], np.cumsum((v[1:] + v[:-1]) / 2 * np.diff(fine))])
    length = 1000.0 * risen[-1]
    t = np.arange(0.0, low + times[-1] + rest_s, 1.0 / fps)
    fall = length * (1 - np.cos(np.pi * np.clip((t - rest_s) / down_s, 0, 1))) / 2
    up = 1300.0 - fall + 1000.0 * np.interp(t - low, fine, risen)
    data = made_set("bench", t, np.zeros(len(t)), up, [(rest_s / 2, float(t[-1]) - 0.1)], noise_mm=0.3)
    return measure(data)


@pytest.mark.parametrize("fps", [30.0, 60.0])
def test_a_maximal_press_sticks_where_it_was_published(fps: float) -> None:
    found = pressed(MAXIMUM, fps)
    lasts, slowest = found.of(0, "sticking_time_s"), found.of(0, "sticking_velocity_m_s")
    first, second = found.of(0, "first_peak_velocity_m_s"), found.of(0, "second_peak_velocity_m_s")

    # The velocity hardly changes about its minimum: the time of it is only known to some hundredths of a second.
    assert abs(lasts.value - 0.9) < 2 * lasts.sd
    assert lasts.sd < 0.1
    assert slowest.value == pytest.approx(0.10, abs=0.02)
    assert first.value == pytest.approx(0.25, abs=0.03)
    assert second.value == pytest.approx(0.40, abs=0.03)


@pytest.mark.parametrize("fps", [30.0, 60.0])
def test_three_quarters_of_it_do_not_stick(fps: float) -> None:
    found = pressed(THREE_QUARTERS, fps)

    assert found.of(0, "sticking_velocity_m_s").status == "not_applicable"
    assert found.of(0, "ascent_peak_velocity_m_s").value == pytest.approx(0.70, abs=0.03)
