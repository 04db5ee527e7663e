"""Places carried along with a made picture: texture that goes a known way over a still ground."""

from __future__ import annotations

import numpy as np

from midfoot.body.carry import BACK_S, Carrier

STEP_S = 1 / 30


def luma(k: int, px: float = 2.0, seed: int = 3) -> np.ndarray:
    """A patch of texture that goes `px` a frame to the right from x = 88 over a still ground."""
    rng = np.random.default_rng(seed)
    ground = rng.integers(90, 110, (240, 426)).astype(np.uint8)
    patch = np.kron(rng.integers(0, 255, (14, 14)), np.ones((4, 4))).astype(np.uint8)
    left = round(60 + px * k)
    ground[80:136, left : left + 56] = patch
    return ground


def test_a_place_is_carried_with_what_it_lies_on() -> None:
    carrier, x = Carrier(), 88.0
    carrier.step(luma(0), 0.0, [])
    for k in range(1, 30):
        (step,) = carrier.step(luma(k), k * STEP_S, [(x, 108.0, 24.0)])
        assert step is not None
        x += step[0]
    assert abs(x - (88 + 58)) < 2  # 29 frames of 2 px, by construction


def test_it_is_carried_back_to_where_it_was_before() -> None:
    carrier = Carrier()
    for k in range(40):
        carrier.step(luma(k), k * STEP_S, [])
    rows = carrier.back((39 * STEP_S, 88 + 78.0, 108.0, 24.0))
    assert rows[0][0] < 0.1
    for t_s, x, y, radius in rows:
        assert abs(x - (88 + 60 * t_s)) < 3  # 2 px in 1/30 s
        assert abs(y - 108) < 2
        assert radius == 24.0
    assert [r[0] for r in rows] == sorted(r[0] for r in rows)


def test_back_ends_at_a_cut_and_memory_does_not_grow() -> None:
    carrier = Carrier()
    for k in range(120):
        carrier.step(luma(k % 60, seed=3 if k < 100 else 9), k * STEP_S, [])
    rows = carrier.back((119 * STEP_S, 88 + 2 * 59.0, 108.0, 24.0))
    assert all(t_s >= 99 * STEP_S - 0.04 for t_s, *_ in rows)
    assert len(carrier._past) <= BACK_S * 16 + 2


def test_a_picture_of_another_size_begins_anew() -> None:
    carrier = Carrier()
    carrier.step(luma(0), 0.0, [])
    assert carrier.step(luma(1)[:200], STEP_S, [(88.0, 108.0, 24.0)]) == [None]
    assert carrier.back((STEP_S, 88.0, 108.0, 24.0)) == []
