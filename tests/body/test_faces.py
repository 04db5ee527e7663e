"""The face network's answers decoded, and that no face falls between the tiles."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from midfoot.body.faces import SIZE, Face, apart, cell_centres, decode, tiles


def test_places_are_those_of_the_published_graph() -> None:
    # face_detection_full_range.pbtxt: 192 px, one layer of stride 4, one anchor a place (from memory)
    centres = cell_centres()
    assert centres.shape == (2304, 2)
    np.testing.assert_allclose(centres[0], [2 / 192, 2 / 192])
    np.testing.assert_allclose(centres[1], [6 / 192, 2 / 192])


def test_a_made_answer_is_decoded() -> None:
    raw, logits = np.zeros((2304, 16), np.float32), np.full(2304, -20.0, np.float32)
    raw[700, :4] = [9.6, -19.2, 40.0, 44.0]
    logits[700] = 2.0
    (row,) = decode(raw, logits, cell_centres(), 0.25)
    x, y = cell_centres()[700] + np.array([9.6, -19.2]) / SIZE
    np.testing.assert_allclose(row, [1 / (1 + np.exp(-2.0)), x, y, 42 / SIZE], rtol=1e-6)


def test_one_face_seen_in_two_tiles_is_one() -> None:
    found = apart([Face(0.5, 100, 100, 20), Face(0.9, 108, 96, 18), Face(0.6, 150, 100, 20)])
    assert [(f.score, f.x_px) for f in found] == [(0.9, 108), (0.6, 150)]


def test_a_large_answer_swallows_no_face() -> None:
    found = apart([Face(0.8, 200, 200, 120), Face(0.7, 140, 160, 22)])
    assert len(found) == 2


@given(st.integers(300, 1280), st.integers(300, 1280), st.floats(0, 1), st.floats(0, 1), st.floats(24, 90))
def test_every_face_lies_whole_in_a_tile_in_which_it_is_large_enough(
    width: int, height: int, across: float, down: float, side: float
) -> None:
    """Large enough: 12 px of the 192 that the network is shown, where the picture is 1280 px long."""
    x, y = side / 2 + across * (width - side), side / 2 + down * (height - side)
    held = [
        side * SIZE / view.side_px
        for size in tiles(width, height)
        for view in size
        if abs(view.x_px - x) <= (view.side_px - side) / 2 + 1e-6
        and abs(view.y_px - y) <= (view.side_px - side) / 2 + 1e-6
    ]
    assert held
    assert max(held) >= 12 or side / max(width, height) < 24 / 1280
