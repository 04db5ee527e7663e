"""Rules of the project that a tool can hold."""

from __future__ import annotations

import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted((ROOT / "src" / "midfoot").rglob("*.py"))


def test_stages_import_each_other_never() -> None:
    """import-linter's contracts of pyproject.toml hold."""
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip

    assert done.returncode == 0, done.stdout + done.stderr


def test_time_is_never_index_over_rate() -> None:
    """No stage asks a container for a frame rate or divides an index by one."""
    banned = re.compile(
        r"average_rate|guessed_rate|base_rate|CAP_PROP_FPS|CAP_PROP_POS_FRAMES|\b(?:i|k|n|index|frame) ?/ ?fps\b"
    )

    found = [
        f"{p.name}: {line.strip()}" for p in SOURCES for line in p.read_text().splitlines() if banned.search(line)
    ]

    assert found == []


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-dev.lock"])
def test_locks_have_hashes_and_no_address(lock: str) -> None:
    """Every pinned line is followed by hashes; no index stands in the file."""
    text = (ROOT / lock).read_text()

    pins = re.findall(r"^[A-Za-z0-9_.-]+==", text, re.M)
    assert len(pins) > 10
    assert text.count("--hash=sha256:") >= len(pins)
    assert "://" not in text
    assert "index" not in text


def test_one_opencv_only() -> None:
    """Two OpenCV distributions in one folder break each other; the lock has one."""
    text = (ROOT / "requirements-dev.lock").read_text()

    assert re.findall(r"^opencv[a-z-]*", text, re.M) == ["opencv-python-headless"]


def test_wheel_brings_what_the_program_needs(tmp_path: Path) -> None:
    """Weights, demo clips, schema, templates are in; the lab and the tests are not; demo clips are under 2 MB."""
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    with zipfile.ZipFile(next(tmp_path.glob("*.whl"))) as wheel:
        names = set(wheel.namelist())
        clips = [
            i for i in wheel.infolist() if i.filename.startswith("midfoot/demo/") and i.filename.endswith(".mp4")
        ]

    assert {
        "midfoot/bar/proposer.onnx",
        "midfoot/store/measurement.schema.json",
        "midfoot/desk/export.schema.json",
        "midfoot/store/migrations/env.py",
        "midfoot/store/migrations/versions/m0001_first_tables.py",
        "midfoot/store/migrations/versions/m0002_contents_that_went.py",
        "midfoot/store/migrations/versions/m0003_numbers_of_a_set.py",
        "midfoot/store/migrations/versions/m0004_times_of_frames.py",
        "midfoot/publish/templates/report.html.j2",
        "midfoot/publish/templates/report.css",
        "midfoot/measures/views.toml",
        *(
            f"midfoot/strength/{n}.toml"
            for n in ("attempts", "classes", "one_rm", "plates", "points", "profile", "rpe")
        ),
    } <= names
    assert len(clips) == 3
    assert max(c.file_size for c in clips) < 2_000_000
    assert not any(n.startswith(("lab/", "tests/")) or n.endswith(".tflite") for n in names)


def test_modules_stay_one_idea() -> None:
    """No module of the package is longer than 500 lines."""
    long = {p.name: n for p in SOURCES if (n := len(p.read_text().splitlines())) > 500}

    assert long == {}
