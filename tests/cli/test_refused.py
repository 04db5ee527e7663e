"""Clips and folders that are refused: one sentence that says what to do, exit 1 or 2, and nothing left behind."""

from __future__ import annotations

import errno
import os
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from cli.line import program, said
from clips import clip_without_index, empty_file, sound_file, text_file, write_clip


def _torn_index(path: Path) -> None:
    write_clip(path)
    data = path.read_bytes()
    path.write_bytes(data[: data.index(b"moov") + 40])


def _short(path: Path) -> None:
    write_clip(path, times_s=np.arange(20) / 30)


def _narrow(path: Path) -> None:
    write_clip(path, size=(48, 96), pictures=[np.full((96, 48, 3), 80, np.uint8)] * 45)


def _long(path: Path) -> None:
    write_clip(path, times_s=np.arange(0, 1270, 1.0), size=(64, 64),
               pictures=[np.full((64, 64, 3), 80, np.uint8)] * 1270)  # fmt: skip


def _folder(path: Path) -> None:
    path.mkdir()


def _nothing(path: Path) -> None:
    pass


CLIPS = [
    ("text.mp4", text_file, "not a video", "send"),
    ("empty.mp4", empty_file, "empty", "send the file again"),
    ("sound.wav", sound_file, "only sound", "send the video"),
    ("index.mp4", clip_without_index, "no readable index", "send the original"),
    ("torn.mp4", _torn_index, "torn.mp4", "send"),
    ("short.mp4", _short, "shorter than 1 s", "send or choose the whole set"),
    ("narrow.mp4", _narrow, "48 x 96 px", "send the original"),
    ("long.mp4", _long, "21 minutes", "--from and --to"),
    ("folder.mp4", _folder, "is a folder", "give one video file"),
    ("nowhere.mp4", _nothing, "no file", "check the path"),
]


@pytest.mark.parametrize(("name", "make", "what", "remedy"), CLIPS, ids=[c[0] for c in CLIPS])
def test_bad_clips(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    name: str,
    make: Callable[[Path], None],
    what: str,
    remedy: str,
) -> None:
    """Each is refused by what it is, and the folder for the results is not even there afterwards."""
    make(tmp_path / name)
    out = tmp_path / "new" / "set"

    refused = said(capsys, "measure", tmp_path / name, "--lift", "squat", "--out", out)

    assert refused.status == 1
    sentence = refused.one_sentence()
    assert what in sentence
    assert remedy in sentence
    assert refused.out == ""
    assert not (tmp_path / "new").exists()


def test_a_bad_clip_as_a_program_of_its_own(tmp_path: Path) -> None:
    """Nothing but the sentence: no traceback, no colour, no library's chatter; an old result is left alone."""
    text_file(tmp_path / "text.mp4")
    (tmp_path / "set").mkdir()
    (tmp_path / "set" / "measurement.json").write_text("old")

    refused = program("measure", tmp_path / "text.mp4", "--lift", "squat", "--out", tmp_path / "set")

    assert refused.status == 1
    assert "not a video" in refused.one_sentence()
    assert "\x1b" not in refused.err + refused.out
    assert [p.name for p in (tmp_path / "set").iterdir()] == ["measurement.json"]
    assert (tmp_path / "set" / "measurement.json").read_text() == "old"


def test_the_folder_is_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Also when it lies under one; the file stays as it was."""
    write_clip(tmp_path / "set.mp4")
    (tmp_path / "taken").write_text("mine")

    for out in (tmp_path / "taken", tmp_path / "taken" / "below"):
        refused = said(capsys, "measure", tmp_path / "set.mp4", "--lift", "squat", "--out", out)

        assert refused.status == 1
        assert "--out" in refused.one_sentence()
    assert (tmp_path / "taken").read_text() == "mine"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_the_folder_may_not_be_written_to(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without leave to write is said before the work."""
    write_clip(tmp_path / "set.mp4")
    (tmp_path / "closed").mkdir(mode=0o500)

    refused = said(capsys, "measure", tmp_path / "set.mp4", "--lift", "squat", "--out", tmp_path / "closed")

    assert refused.status == 1
    assert "cannot be written to" in refused.one_sentence()


@pytest.mark.parametrize(
    ("code", "words"), [(errno.EROFS, "cannot be written to"), (errno.ENOSPC, "the disk is full")]
)
def test_the_folder_cannot_take_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, code: int, words: str
) -> None:
    """A read-only and a full file system, as the system would report them."""

    def refuse(**_: object) -> None:
        raise OSError(code, os.strerror(code))

    write_clip(tmp_path / "set.mp4")
    monkeypatch.setattr("midfoot.store.files.tempfile.TemporaryFile", refuse)

    refused = said(capsys, "measure", tmp_path / "set.mp4", "--lift", "squat", "--out", tmp_path / "a" / "b")

    assert refused.status == 1
    assert words in refused.one_sentence()
    assert "--out" in refused.err
    assert not (tmp_path / "a").exists()


def test_the_clip_is_never_overwritten_by_its_results(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A clip called annotated.mp4 in the folder of the results."""
    write_clip(tmp_path / "annotated.mp4")
    before = (tmp_path / "annotated.mp4").read_bytes()

    refused = said(capsys, "measure", tmp_path / "annotated.mp4", "--lift", "squat", "--out", tmp_path)

    assert refused.status == 1
    assert "overwritten" in refused.one_sentence()
    assert (tmp_path / "annotated.mp4").read_bytes() == before


@pytest.mark.parametrize(
    "closed", [{"PIP_NO_INDEX": "1"}, {"PIP_INDEX_URL": "http://127.0.0.1:9/simple", "PIP_RETRIES": "0"}]
)
def test_no_pose_files_and_no_network(tmp_path: Path, closed: dict[str, str]) -> None:
    """Pip cannot get them: it is said how to, and neither the models' folder nor the results' holds anything."""
    write_clip(tmp_path / "set.mp4")
    models, out = tmp_path / "models", tmp_path / "set"

    refused = program(
        "measure", tmp_path / "set.mp4", "--lift", "squat", "--out", out, MIDFOOT_MODELS=str(models), **closed
    )

    assert refused.status == 1
    sentence = refused.one_sentence()
    assert "midfoot models fetch" in sentence
    assert "MIDFOOT_MODELS" in sentence
    assert not out.exists()
    assert list(models.iterdir()) == []


def test_a_bad_clip_is_refused_before_anything_is_fetched(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody waits for a download to hear that the clip is empty."""
    monkeypatch.setenv("MIDFOOT_MODELS", str(tmp_path / "models"))
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: pytest.fail("pip was asked"))
    empty_file(tmp_path / "empty.mp4")

    assert said(capsys, "measure", tmp_path / "empty.mp4", "--lift", "squat", "--out", tmp_path / "o").status == 1
