"""What is refused, with which sentence, and what is only noted."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from clips import clip_without_index, empty_file, sound_file, text_file, write_clip

from midfoot.footage import FootageError, probe
from midfoot.records.clip import Reading


def test_facts_of_an_ordinary_clip(tmp_path: Path) -> None:
    """Size, duration, interval and hash come from the file."""
    path = tmp_path / "set.mp4"
    write_clip(path, times_s=np.arange(60) / 30)

    info = probe(path)

    assert (info.width_px, info.height_px, info.frames) == (160, 96, 60)
    assert info.duration_s == pytest.approx(2.0, abs=0.01)
    assert info.frame_interval_median_s == pytest.approx(1 / 30, abs=1e-4)
    assert not info.variable_rate
    assert len(info.sha256) == 64
    assert info.time_base_doubtful == ""


def test_variable_timing_is_noted(tmp_path: Path) -> None:
    """Intervals between 22 and 45 ms are called variable."""
    gaps = np.tile([0.022, 0.045], 30)
    path = tmp_path / "variable.mp4"
    write_clip(path, times_s=np.concatenate([[0], np.cumsum(gaps)]))

    assert probe(path).variable_rate


def test_a_phone_that_says_it_recorded_faster_makes_the_clock_doubtful(tmp_path: Path) -> None:
    """240 frames a second recorded, 30 shown, and no --real-speed."""
    path = tmp_path / "slow.mp4"
    write_clip(path, metadata={"com.android.capture.fps": "240.0"}, times_s=np.arange(300) / 30)

    info = probe(path)

    assert "8 times slower" in info.time_base_doubtful
    assert probe(path, Reading(real_speed=8, to_s=None)).time_base_doubtful == ""


def _short(path: Path) -> None:
    write_clip(path, times_s=np.arange(12) / 30)


def _small(path: Path) -> None:
    write_clip(path, size=(48, 32), pictures=[np.full((32, 48, 3), 80, np.uint8)] * 45)


REFUSED = [
    ("text.mp4", text_file, "not a video"),
    ("empty.mp4", empty_file, "empty"),
    ("sound.wav", sound_file, "only sound"),
    ("index.mp4", clip_without_index, "index"),
    ("short.mp4", _short, "shorter than 1 s"),
    ("small.mp4", _small, "48 x 32"),
]


@pytest.mark.parametrize(("name", "make", "words"), REFUSED, ids=[r[0] for r in REFUSED])
def test_refused_with_one_sentence(tmp_path: Path, name: str, make, words: str) -> None:
    """Each kind of bad file is refused by name, in one line, with what to do."""
    path = tmp_path / name
    make(path)

    with pytest.raises(FootageError, match=words) as caught:
        probe(path)

    assert "\n" not in str(caught.value)
    assert str(caught.value).endswith(".")


def test_missing_file_and_folder(tmp_path: Path) -> None:
    """A wrong path says so."""
    with pytest.raises(FootageError, match="no file"):
        probe(tmp_path / "nowhere.mp4")
    with pytest.raises(FootageError, match="folder"):
        probe(tmp_path)


def test_longer_than_twenty_minutes_needs_a_part(tmp_path: Path) -> None:
    """21 minutes at one frame a second are refused whole and taken in part."""
    path = tmp_path / "long.mp4"
    write_clip(path, times_s=np.arange(0, 1270, 1.0), size=(64, 64),
               pictures=[np.full((64, 64, 3), 80, np.uint8)] * 1270)  # fmt: skip

    with pytest.raises(FootageError, match="--from and --to"):
        probe(path)

    assert probe(path, Reading(from_s=100, to_s=200)).duration_s == pytest.approx(101, abs=1.1)


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (Reading(from_s=3, to_s=2), "after --from"),
        (Reading(from_s=-1), "negative"),
        (Reading(from_s=99), "past the end"),
        (Reading(real_speed=0), "--real-speed"),
        (Reading(from_s=0.2, to_s=0.5), "shorter than"),
    ],
)
def test_impossible_parts(tmp_path: Path, reading: Reading, words: str) -> None:
    """Options that name no part of the clip are refused."""
    path = tmp_path / "set.mp4"
    write_clip(path, times_s=np.arange(60) / 30)

    with pytest.raises(FootageError, match=words):
        probe(path, reading)
