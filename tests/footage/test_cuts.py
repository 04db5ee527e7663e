"""What is a cut and what only looks like one: titles, other scenes, pushed cameras, lamps."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import pytest

from midfoot.footage import Watch
from midfoot.records.clip import Frame

SIZE = (320, 240)


def _scene(seed: int) -> np.ndarray:
    """A room of rectangles over a floor: what all rooms have in common, and its own things in it."""
    random = np.random.default_rng(seed)
    picture = np.full((SIZE[1], SIZE[0]), 150, np.float64)
    picture[180:] = 70
    for _ in range(25):
        x, y = random.integers(0, SIZE[0] - 30), random.integers(0, SIZE[1] - 30)
        w, h = random.integers(10, 60, 2)
        cv2.rectangle(picture, (int(x), int(y)), (int(x + w), int(y + h)), float(random.integers(20, 230)), -1)
    return picture


def _cuts(pictures: Sequence[np.ndarray]) -> list[float]:
    watch = Watch()
    noise = np.random.default_rng(1)
    for i, picture in enumerate(pictures):
        luma = np.clip(picture + noise.normal(0, 3, picture.shape), 0, 255).astype(np.uint8)
        watch.see(Frame(i, i / 30, luma, lambda: np.zeros((1, 1, 3), np.uint8)))
    return list(watch.result().cuts_s)


@pytest.mark.parametrize("seed", range(6))
def test_another_scene_is_a_cut(seed: int) -> None:
    """At the first frame of the new scene, also between rooms with the same wall and floor."""
    assert _cuts([_scene(seed)] * 40 + [_scene(seed + 50)] * 40) == pytest.approx([40 / 30])


def test_a_title_without_detail_is_a_scene_of_its_own() -> None:
    """A plain card before the set and a black end after it."""
    card, black = np.full((SIZE[1], SIZE[0]), 30.0), np.zeros((SIZE[1], SIZE[0]))

    assert _cuts([card] * 30 + [_scene(2)] * 60 + [black] * 20) == pytest.approx([30 / 30, 90 / 30])


def test_a_cut_is_found_while_the_camera_shakes() -> None:
    """Steps of a hand-held clip are large as well."""
    random = np.random.default_rng(4)

    def shaken(scene: np.ndarray) -> list[np.ndarray]:
        return [np.roll(scene, tuple(random.integers(-4, 5, 2)), (0, 1)) for _ in range(45)]

    assert _cuts([*shaken(_scene(7)), *shaken(_scene(8))]) == pytest.approx([45 / 30])


@pytest.mark.parametrize("push_px", [10, 20, 30])
def test_a_pushed_camera_is_no_cut(push_px: int) -> None:
    """The picture jumps by up to a tenth of its width in one frame and stays there."""
    assert _cuts([_scene(3)] * 40 + [np.roll(_scene(3), push_px, 1)] * 40) == []


def test_lamps_are_no_cut() -> None:
    """Light switched on, and a flash of one frame."""
    scene = _scene(5)

    assert _cuts([scene * 0.4] * 40 + [scene] * 40) == []
    assert _cuts([scene] * 40 + [scene * 0.3 + 178] + [scene] * 40) == []


def test_a_whipped_camera_is_no_cut() -> None:
    """The picture runs by, a quarter of its width a frame."""
    wide = np.hstack([_scene(20 + k) for k in range(6)])
    run = [wide[:, k * 80 : k * 80 + SIZE[0]] for k in range(20)]

    assert _cuts([run[0]] * 30 + run + [run[-1]] * 30) == []


def test_a_person_close_before_the_camera_is_no_cut() -> None:
    """Someone dark crosses two thirds of the picture within a third of a second."""
    scene, pictures = _scene(6), []
    for k in range(30):
        picture = scene.copy()
        left = -210 + 18 * k
        picture[:, max(0, left) : max(0, left + 210)] = 35
        pictures.append(picture)

    assert _cuts([scene] * 30 + pictures + [scene] * 30) == []
