"""What is left in the folder: whole or not there, never old pictures beside new numbers, full disks said."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from clips import write_clip
from sets import made_measurement

from midfoot import outputs
from midfoot.records.clip import Reading
from midfoot.store import StoreError, validate


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clip as long and large as the made set; noisy, so that pictures of it take room."""
    path = tmp_path_factory.mktemp("clip") / "set.mp4"
    random = np.random.default_rng(0)
    few = [random.integers(0, 255, (480, 640, 3)).astype(np.uint8) for _ in range(12)]
    write_clip(path, times_s=np.arange(240) / 30, size=(640, 480), pictures=[few[i % 12] for i in range(240)],
               options={"preset": "ultrafast", "crf": "35"})  # fmt: skip
    return path


def _names(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def test_numbers_are_there_before_any_picture(tmp_path: Path) -> None:
    """measurement.json by its schema, body.npz with the arrays that it names."""
    outputs.write_numbers(made_measurement(), tmp_path)

    written = json.loads((tmp_path / "measurement.json").read_text())
    validate(written)
    assert written["body"]["file"] == "body.npz"
    with np.load(tmp_path / "body.npz") as body:
        assert body["xy_px"].shape == (len(body["t_s"]), len(written["body"]["landmarks"]), 2)
        assert set(np.unique(body["status"])) <= {"seen", "inferred", "hidden"}
    assert _names(tmp_path) == ["body.npz", "measurement.json"]


def test_new_numbers_take_old_pictures_away(tmp_path: Path, clip: Path) -> None:
    """A report, a video and stills of an earlier measurement would lie; what is not ours stays."""
    made = made_measurement()
    outputs.write_numbers(made, tmp_path)
    outputs.write_pictures(made, clip, Reading(), tmp_path, video=False)
    (tmp_path / "annotated.mp4").write_bytes(b"earlier")
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "stills" / "mine.jpg").write_bytes(b"mine")
    assert "report.html" in _names(tmp_path)

    outputs.write_numbers(made, tmp_path)

    assert _names(tmp_path) == ["body.npz", "measurement.json", "notes.txt", "stills/mine.jpg"]


def test_pictures_of_a_set_without_reps(tmp_path: Path, clip: Path) -> None:
    """A report still; no folder of stills that would be empty."""
    made = made_measurement(seen=False)

    written = outputs.write_pictures(made, clip, Reading(), tmp_path, video=False)

    assert written.files == ("report.html",)
    assert [p.name for p in tmp_path.iterdir()] == ["report.html"]


def test_a_failed_run_takes_its_own_new_folders_away(tmp_path: Path) -> None:
    """Those that it made and that are empty, no others."""
    (tmp_path / "there").mkdir()

    with pytest.raises(RuntimeError), outputs.results_folder(tmp_path / "there" / "a" / "b", tmp_path / "c.mp4"):
        raise RuntimeError
    assert list((tmp_path / "there").iterdir()) == []

    with pytest.raises(RuntimeError), outputs.results_folder(tmp_path / "there", tmp_path / "c.mp4"):
        raise RuntimeError
    assert (tmp_path / "there").is_dir()

    with (
        pytest.raises(RuntimeError),
        outputs.results_folder(tmp_path / "kept" / "set", tmp_path / "c.mp4") as made,
    ):
        (made / "measurement.json").write_text("whole")
        raise RuntimeError
    assert _names(tmp_path / "kept") == ["set/measurement.json"]


@pytest.mark.parametrize("name", ["measurement.json", "body.npz", "report.html", "annotated.mp4"])
def test_results_never_overwrite_the_clip(tmp_path: Path, name: str) -> None:
    """Also when the path leads there by a detour."""
    (tmp_path / name).write_bytes(b"the clip")

    with (
        pytest.raises(StoreError, match="overwritten"),
        outputs.results_folder(tmp_path / "x" / "..", tmp_path / name),
    ):
        pytest.fail("went on")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 40 kB, remounted larger by the tests; needs root."""
    folder = tmp_path / "disk"
    folder.mkdir()
    if os.name == "nt" or os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("only root can mount a file system of its own")
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=40k", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if done.returncode:
        pytest.skip("this machine does not let a small file system be mounted")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def _enlarge(disk: Path, size: str) -> None:
    subprocess.run(["mount", "-o", f"remount,size={size}", str(disk)], check=True)


def test_full_before_the_numbers(small_disk: Path) -> None:
    """Neither of the two files, no remains."""
    with pytest.raises(StoreError, match=r"the disk is full.*--out"):
        outputs.write_numbers(made_measurement(), small_disk)

    assert _names(small_disk) == []


def test_full_while_encoding(small_disk: Path, clip: Path) -> None:
    """Numbers, stills and a report that does not promise the video are whole; the video is not there."""
    _enlarge(small_disk, "1500k")
    made = made_measurement()
    outputs.write_numbers(made, small_disk)

    with pytest.raises(StoreError, match=r"annotated.mp4: the disk is full"):
        outputs.write_pictures(made, clip, Reading(), small_disk)

    names = _names(small_disk)
    assert [n for n in names if not n.startswith("stills")] == ["body.npz", "measurement.json", "report.html"]
    assert "annotated.mp4" not in (small_disk / "report.html").read_text()
    for still in small_disk.glob("stills/*"):
        data = still.read_bytes()
        assert (data[:2], data[-2:]) == (b"\xff\xd8", b"\xff\xd9")
