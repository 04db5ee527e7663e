"""Anchors, decoding and merging on made tensors."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from midfoot.body.detector import SIZE, anchor_centres, decode, merge, whole


def test_anchors_are_those_of_the_published_graph() -> None:
    # strides 8, 16, 32, 32, 32 with two anchors each on 224 px: 28^2 * 2 + 14^2 * 2 + 7^2 * 6 = 2254
    centres = anchor_centres()
    assert centres.shape == (2254, 2)
    np.testing.assert_allclose(centres[0], [0.5 / 28, 0.5 / 28])
    np.testing.assert_allclose(centres[2], [1.5 / 28, 0.5 / 28])
    np.testing.assert_allclose(centres[1568], [0.5 / 14, 0.5 / 14])
    np.testing.assert_allclose(centres[-1], [6.5 / 7, 6.5 / 7])


def test_a_made_answer_is_decoded() -> None:
    centres = anchor_centres()
    raw, logits = np.zeros((2254, 12), np.float32), np.full(2254, -20.0, np.float32)
    at = 700
    raw[at, :8] = [11.2, -22.4, 44.8, 89.6, 5.6, 0.0, 5.6, -56.0]
    logits[at] = 2.0
    (row,) = decode(raw, logits, centres, 0.25)
    x, y = centres[at] + np.array([11.2, -22.4]) / SIZE
    np.testing.assert_allclose(row[0], 1 / (1 + np.exp(-2.0)), rtol=1e-6)
    np.testing.assert_allclose(row[1:5], [x - 0.1, y - 0.2, x + 0.1, y + 0.2], rtol=1e-5)
    np.testing.assert_allclose(row[5:7], centres[at] + [0.025, 0.0], rtol=1e-5)
    np.testing.assert_allclose(row[7:9], centres[at] + [0.025, -0.25], rtol=1e-5)


def test_the_threshold_is_a_probability() -> None:
    centres = anchor_centres()
    logits = np.full(2254, np.log(0.3 / 0.7), np.float32)
    assert len(decode(np.zeros((2254, 12), np.float32), logits, centres, 0.25)) == 2254
    assert len(decode(np.zeros((2254, 12), np.float32), logits, centres, 0.35)) == 0


def boxes(at: list[tuple[float, float, float]]) -> np.ndarray:
    """Make rows of boxes of side 0.2 at (score, x, y)."""
    rows = np.zeros((len(at), 9))
    for row, (score, x, y) in zip(rows, at, strict=True):
        row[:] = [score, x - 0.1, y - 0.1, x + 0.1, y + 0.1, x, y, x, y - 0.2]
    return rows


def test_overlapping_answers_become_their_weighted_mean() -> None:
    rows = boxes([(0.9, 0.50, 0.5), (0.3, 0.54, 0.5), (0.6, 0.9, 0.5)])
    merged = merge(rows)
    assert merged.shape == (2, 9)
    np.testing.assert_allclose(merged[0, 0], 0.9)
    np.testing.assert_allclose(merged[0, 5], (0.9 * 0.50 + 0.3 * 0.54) / 1.2)
    np.testing.assert_allclose(merged[1], rows[2])


def test_nothing_merges_to_nothing() -> None:
    assert merge(np.zeros((0, 9))).shape == (0, 9)


places = st.lists(
    st.tuples(st.floats(0.3, 0.99), st.floats(0.2, 0.8), st.floats(0.2, 0.8)), min_size=1, max_size=8,
    unique_by=lambda p: p[0],
)  # fmt: skip


@given(places, st.randoms(use_true_random=False))
def test_merging_does_not_depend_on_the_order(at: list[tuple[float, float, float]], chance: object) -> None:
    rows = boxes(at)
    shuffled = rows[np.array(chance.sample(range(len(rows)), len(rows)))]  # type: ignore[attr-defined]
    np.testing.assert_allclose(merge(shuffled), merge(rows))


@given(places)
def test_merging_keeps_the_best_and_makes_no_more(at: list[tuple[float, float, float]]) -> None:
    rows = boxes(at)
    merged = merge(rows)
    assert 1 <= len(merged) <= len(rows)
    assert merged[0, 0] == rows[:, 0].max()
    assert (np.diff(merged[:, 0]) <= 0).all()


@given(st.floats(0.21, 0.6))
def test_boxes_apart_stay_apart(away: float) -> None:
    rows = boxes([(0.9, 0.2, 0.5), (0.8, 0.2 + away, 0.5)])
    np.testing.assert_allclose(merge(rows), rows)


def test_the_whole_picture_is_in_the_square() -> None:
    square = whole(1280, 720)
    assert (square.x_px, square.y_px, square.side_px) == (640, 360, 1280)
