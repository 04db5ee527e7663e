"""Clips in which every frame is shown several times; clips that only repeat a frame now and then."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from clips import write_clip
from gym import SIZE, gym_pictures

from midfoot.footage import Watch, frames


def _doubt(path: Path, pictures: list[np.ndarray], crf: int = 23) -> str:
    times = np.arange(len(pictures)) / 30
    write_clip(path, times_s=times, size=SIZE, pictures=pictures, options={"crf": str(crf), "preset": "veryfast"})
    watch = Watch()
    for frame in frames(path):
        watch.see(frame)
    return watch.result().repeat_doubt


@pytest.fixture(scope="module")
def pictures() -> list[np.ndarray]:
    """Two seconds in which a bar goes down and up."""
    return gym_pictures(np.arange(60) / 30, starts_s=(0.2,))


@pytest.mark.parametrize(("times", "words"), [(2, "twice"), (3, "3 times"), (4, "4 times")])
@pytest.mark.parametrize("crf", [20, 30])
def test_every_frame_shown_again_is_noticed(
    tmp_path: Path, pictures: list[np.ndarray], times: int, words: str, crf: int
) -> None:
    """Also when only a small part of the picture moves, and after coarse encoding."""
    assert words in _doubt(tmp_path / "slow.mp4", [p for p in pictures for _ in range(times)], crf)


@pytest.mark.parametrize(
    "repeat",
    [lambda i: 1, lambda i: 2 if i % 4 == 3 else 1, lambda i: 2 + i % 2, lambda i: 2 if i % 13 == 5 else 1],
    ids=["never", "24 brought to 30", "24 brought to 60", "now and then"],
)
def test_repeats_that_leave_the_clock_alone(
    tmp_path: Path, pictures: list[np.ndarray], repeat: Callable[[int], int]
) -> None:
    """Films brought to another rate keep their time."""
    assert _doubt(tmp_path / "set.mp4", [p for i, p in enumerate(pictures) for _ in range(repeat(i))]) == ""


def test_a_scene_in_which_nothing_moves_says_nothing(tmp_path: Path, pictures: list[np.ndarray]) -> None:
    """The same picture over and over is no pattern."""
    assert _doubt(tmp_path / "still.mp4", [pictures[0]] * 90) == ""
