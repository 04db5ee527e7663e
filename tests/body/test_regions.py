"""Regions: cutting out and mapping back agree, whatever the turn."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.body.regions import Region, alike, cut, region_of, wrap

angles = st.floats(-3.1, 3.1)


@given(angles, st.floats(80, 300), st.floats(-40, 40), st.floats(-40, 40))
def test_a_spot_is_found_where_it_was(turn: float, side: float, dx: float, dy: float) -> None:
    picture = np.zeros((300, 400, 3), np.uint8)
    at = np.array([200 + dx * side / 300, 150 + dy * side / 300])
    cv2.circle(picture, (round(at[0] * 16), round(at[1] * 16)), 5 * 16, (255, 255, 255), -1, cv2.LINE_AA, 4)
    region = Region(200, 150, side, turn)
    small = cut(picture, region, 256)[..., 0].astype(float)
    y, x = np.mgrid[:256, :256]
    spot = np.array([(x * small).sum(), (y * small).sum()]) / small.sum()
    np.testing.assert_allclose(region.to_picture(spot, 256), at, atol=0.3)


def test_an_upright_person_is_not_turned() -> None:
    region = region_of(np.array([100.0, 200.0]), np.array([100.0, 120.0]))
    assert region.turn == pytest.approx(0.0)
    assert region.side_px == pytest.approx(2 * 80 * 1.25)


@given(angles, st.floats(10, 300))
def test_a_region_turns_with_the_person(turn: float, length: float) -> None:
    end = np.array([50.0, 60.0]) + length * np.array([np.sin(turn), -np.cos(turn)])
    region = region_of(np.array([50.0, 60.0]), end)
    assert wrap(region.turn - turn) == pytest.approx(0.0, abs=1e-6)
    # the head's direction is up in the cut-out
    up = region.to_picture(np.array([128.0, 28.0]), 256) - region.to_picture(np.array([128.0, 128.0]), 256)
    np.testing.assert_allclose(up / np.hypot(*up), (end - [50.0, 60.0]) / length, atol=1e-6)


@given(st.floats(-50, 50))
def test_wrapping_keeps_the_direction(angle: float) -> None:
    wrapped = wrap(angle)
    assert -np.pi < wrapped <= np.pi + 1e-12
    np.testing.assert_allclose([np.cos(wrapped), np.sin(wrapped)], [np.cos(angle), np.sin(angle)], atol=1e-9)


def test_outside_stands_the_border_or_black() -> None:
    picture = np.full((50, 50, 3), 200, np.uint8)
    beyond = Region(25, 25, 200)
    assert cut(picture, beyond, 64).min() == 200
    assert cut(picture, beyond, 64, replicate=False)[0, 0, 0] == 0


def test_likeness_is_place_size_and_turn() -> None:
    a = Region(100, 100, 200, 0.1)
    assert alike(a, Region(110, 105, 210, 0.2))
    assert not alike(a, Region(140, 100, 200, 0.1))
    assert not alike(a, Region(100, 100, 300, 0.1))
    assert not alike(a, Region(100, 100, 200, 0.1 + np.pi / 2))
