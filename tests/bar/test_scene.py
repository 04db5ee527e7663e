"""The camera's own movement from drawn rooms that are shifted, turned and scaled by known amounts."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawn import Drawn

from midfoot.bar.scene import CameraMotion
from midfoot.records.clip import Frame

SIZE = (480, 360)


def room(seed: int = 4) -> np.ndarray:
    """A wall full of things, larger than the picture."""
    random = np.random.default_rng(seed)
    wall = cv2.resize(random.uniform(70, 190, (24, 32)), (720, 560), interpolation=cv2.INTER_CUBIC)
    for _ in range(90):
        x, y, w, h = (*random.integers(0, (700, 540)), *random.integers(6, 50, 2))
        cv2.rectangle(wall, (int(x), int(y)), (int(x + w), int(y + h)), float(random.uniform(40, 220)), -1)
    return cv2.GaussianBlur(wall, (0, 0), 0.8)


def shown(wall: np.ndarray, move: np.ndarray) -> np.ndarray:
    """The wall as a camera sees it; `move` (2, 3) carries a point of the first frame to this one."""
    centre = np.array([[1.0, 0, -120.0], [0, 1.0, -100.0], [0, 0, 1.0]])
    whole = np.vstack([move, [0, 0, 1.0]]) @ centre
    return np.clip(cv2.warpAffine(wall, whole[:2], SIZE, flags=cv2.INTER_AREA), 0, 255).astype(np.uint8)


def path_of(pictures: list[np.ndarray]):
    motion = CameraMotion()
    for i, picture in enumerate(pictures):
        motion.see(Frame(i, i / 30, picture, lambda: np.zeros(0, np.uint8)))
    return motion.result()


def test_a_camera_that_stands_still_comes_out_as_still():
    noise = np.random.default_rng(0)
    still = shown(room(), np.array([[1.0, 0, 0], [0, 1.0, 0]]))
    pictures = [np.clip(still + noise.normal(0, 2, still.shape), 0, 255).astype(np.uint8) for _ in range(45)]

    path = path_of(pictures)

    assert path.ok.all()
    assert np.abs(path.to_first - np.array([[1.0, 0, 0], [0, 1.0, 0]])).max() < 1e-9


@pytest.mark.parametrize("px_a_frame", [0.03, 0.4, 3.0], ids=["creeps", "pans", "is knocked"])
def test_a_camera_that_stood_for_a_while_and_then_moves_is_noticed(px_a_frame):
    """A camera on its stand is looked at shortly; what it does then must not be missed."""
    wall, still = room(), 30
    moves = [np.array([[1.0, 0, px_a_frame * max(i - still, 0)], [0, 1.0, 0]]) for i in range(still + 30)]
    noise = np.random.default_rng(0)
    pictures = [np.clip(shown(wall, m) + noise.normal(0, 2, SIZE[::-1]), 0, 255).astype(np.uint8) for m in moves]

    path = path_of(pictures)

    assert path.ok.all()
    told = -path.to_first[:, 0, 2]
    assert told[:still] == pytest.approx(0.0, abs=0.15)
    # a stretch that stays within half a pixel is taken for one place, short look or not
    assert told == pytest.approx([m[0, 2] for m in moves], abs=0.55)


@pytest.mark.parametrize("with_plate", [False, True])
def test_a_pan_with_a_turn_and_a_zoom_is_taken_out(with_plate):
    wall, frames = room(), 40
    plate = Drawn(size=SIZE, x=200.0, top=120.0, way=120.0, radius=70.0, frames=frames)
    pictures, moves = [], []
    for i in range(frames):
        angle, grow = np.radians(1.5 * np.sin(0.1 * i)), 1 + 0.001 * i
        turn = grow * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        moves.append(np.column_stack([turn, [0.9 * i, 4.0 * np.sin(0.2 * i)]]))
        picture = shown(wall, moves[-1])
        if with_plate:
            # something large goes its own way in front
            x, y = plate.centres[i]
            cv2.circle(picture, (round(x), round(y)), 70, 40, -1)
            cv2.circle(picture, (round(x), round(y)), 45, 150, 3)
        pictures.append(picture)

    path = path_of(pictures)

    corners = np.array([[60.0, 50.0], [420.0, 60.0], [80.0, 320.0], [400.0, 300.0]])
    assert path.ok.mean() > 0.95
    for t, back in zip(path.t_s, path.to_first, strict=True):
        move = moves[round(float(t) * 30)]
        there = corners @ move[:, :2].T + move[:, 2]
        assert there @ back[:, :2].T + back[:, 2] == pytest.approx(corners, abs=1.2)


def test_nothing_to_hold_on_to_is_not_taken_for_a_movement():
    blank = [np.full((SIZE[1], SIZE[0]), 120, np.uint8)] * 12

    path = path_of(blank)

    assert not path.ok[1:].any()
    assert np.abs(path.to_first - np.array([[1.0, 0, 0], [0, 1.0, 0]])).max() < 1e-9
