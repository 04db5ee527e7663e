from __future__ import annotations

import numpy as np
import pytest
from discs import INFO

from midfoot.bar.scout import Scout
from midfoot.records.bar import Box
from midfoot.records.clip import Frame


class Brightest:
    """Proposes one disc where the picture is brightest."""

    def __init__(self) -> None:
        self.looks = 0

    def propose(self, rgb: np.ndarray) -> tuple[Box, ...]:
        self.looks += 1
        y, x = np.unravel_index(int(rgb[..., 0].argmax()), rgb.shape[:2])
        return (Box(float(x), float(y), 10.0, 1.0, 0.9),)


def wall(seed: int = 3) -> np.ndarray:
    """A wall with plenty to hold on to."""
    small = np.random.default_rng(seed).integers(40, 180, (30, 40)).astype(np.uint8)
    return np.kron(small, np.ones((12, 12), np.uint8))


def frames(fps: float, seconds: float, pan_px_s: float = 0.0) -> list[Frame]:
    picture = wall()
    out = []
    for i in range(int(seconds * fps)):
        t = i / fps
        shift = round(pan_px_s * t)
        luma = np.ascontiguousarray(picture[60:300, 60 + shift : 380 + shift])
        luma[100 + i % 40 : 103 + i % 40, 50:53] = 255
        out.append(Frame(i, t, luma, lambda luma=luma: np.repeat(luma[..., None], 3, axis=2)))
    return out


@pytest.mark.parametrize("fps", [10.0, 24.0, 25.0, 30.0, 50.0, 60.0, 120.0])
def test_looks_eight_to_twelve_times_a_second(fps: float) -> None:
    from attrs import evolve

    proposer = Brightest()
    scout = Scout(evolve(INFO, frame_interval_median_s=1 / fps), proposer)
    shown = frames(fps, 2.0)
    for frame in shown:
        scout.see(frame)
    found = scout.result()
    assert 8 <= proposer.looks / 2.0 <= 12.5
    assert len(found.boxes) == len(found.boxes_t_s) == proposer.looks
    assert np.isin(found.boxes_t_s, [f.t_s for f in shown]).all()
    assert len(found.camera_t_s) == len(shown)


def test_boxes_are_those_of_their_own_frame_and_the_camera_is_followed() -> None:
    scout = Scout(INFO, Brightest())
    shown = frames(30.0, 1.5, pan_px_s=20.0)
    for frame in shown:
        scout.see(frame)
    found = scout.result()
    index = {f.t_s: f.index for f in shown}
    for t, boxes in zip(found.boxes_t_s, found.boxes, strict=True):
        assert boxes[0].y_px == 100 + index[t] % 40
    # what stands in the room moves left in the picture: carried to the first frame it goes back right
    assert found.camera_to_first[-1, 0, 2] == pytest.approx(20.0 * 44 / 30, abs=0.7)


def test_nothing_shown_is_nothing_seen() -> None:
    found = Scout(INFO, Brightest()).result()
    assert len(found.boxes) == 0
    assert found.camera_to_first.shape == (0, 2, 3)
