"""Damaged clips: what decodes is given, in order, and no picture that the decoder made up."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from clips import square_place, write_clip

from midfoot.footage import FootageError, frames, frames_at

COUNT = 120
ORDINARY = {"g": "15", "bf": "2"}


def _clip(path: Path, codec: str) -> bytearray:
    """A clip whose square tells the frame: it walks 1 px a frame; a key frame twice a second."""
    options = (
        ORDINARY if codec == "libx264" else {"x265-params": "keyint=15:log-level=none", "preset": "ultrafast"}
    )
    write_clip(path, times_s=np.arange(COUNT) / 30, codec=codec, options=options, size=(192, 96))
    return bytearray(path.read_bytes())


def _damaged(path: Path, data: bytearray, places: list[float], share: float, seed: int) -> None:
    random = np.random.default_rng(seed)
    first = data.index(b"mdat") + 8
    for place in places:
        at = first + int(place * (len(data) - first))
        width = int(share * (len(data) - first))
        data[at : at + width] = random.integers(0, 256, len(data[at : at + width])).astype(np.uint8).tobytes()
    path.write_bytes(bytes(data))


@pytest.mark.parametrize("seed", range(6))
def test_every_picture_given_is_real(tmp_path: Path, seed: int) -> None:
    """Where the square stands agrees with the timestamp in every frame; times only grow; most frames are there."""
    path = tmp_path / "set.mp4"
    _damaged(path, _clip(path, "libx264"), [0.1 + 0.05 * seed, 0.65], 0.03, seed)

    found = list(frames(path))

    times = np.array([f.t_s for f in found])
    assert (np.diff(times) > 0).all()
    places = np.array([square_place(f.luma)[0] for f in found])
    expected = 8 + np.round(times * 30) + 7.5
    assert np.abs(places - expected).max() < 1.0
    assert 0.4 * COUNT < len(found) < COUNT
    assert times[-1] > 3.5, "what comes after the damage is given"


@pytest.mark.parametrize("seed", range(4))
def test_a_codec_that_hides_its_damage(tmp_path: Path, seed: int) -> None:
    """HEVC decodes rubble into pictures without a word; whatever comes is in order, and most of it is real."""
    path = tmp_path / "set.mp4"
    _damaged(path, _clip(path, "libx265"), [0.2 + 0.05 * seed, 0.65], 0.03, seed)

    found = list(frames(path))

    times = np.array([f.t_s for f in found])
    assert (np.diff(times) > 0).all()
    assert times[-1] > 3.5
    bright = [f.luma > 150 for f in found]
    places = np.array([np.nonzero(b)[1].mean() if b.any() else np.nan for b in bright])
    real = np.abs(places - (8 + np.round(times * 30) + 7.5)) < 1.0
    assert real.sum() > 0.5 * COUNT
    assert real[-10:].all()


def test_pieces_asked_for_within_the_damage_are_real_too(tmp_path: Path) -> None:
    """Chosen frames come from whole pictures as well."""
    path = tmp_path / "set.mp4"
    _damaged(path, _clip(path, "libx264"), [0.4], 0.05, 1)

    found = list(frames_at(path, [0.5, 1.7, 1.9, 3.0]))

    assert len(found) == 4
    for frame in found:
        assert square_place(frame.luma)[0] == pytest.approx(8 + round(frame.t_s * 30) + 7.5, abs=1.0)


def test_broken_off_in_the_middle(tmp_path: Path) -> None:
    """Everything before the end of the file."""
    path = tmp_path / "set.mp4"
    data = _clip(path, "libx264")
    first = data.index(b"mdat") + 8
    path.write_bytes(bytes(data[: first + int(0.6 * (len(data) - first))]))

    found = list(frames(path))

    assert 0.4 * COUNT < len(found) < 0.8 * COUNT
    assert found[-1].t_s == pytest.approx((len(found) - 1) / 30, abs=0.2)


def test_rubble_throughout_is_refused(tmp_path: Path) -> None:
    """A readable index over nothing that decodes."""
    path = tmp_path / "set.mp4"
    _damaged(path, _clip(path, "libx264"), [0.0], 1.0, 3)

    with pytest.raises(FootageError, match="can be decoded"):
        list(frames(path))
