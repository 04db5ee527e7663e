"""`midfoot check` and `midfoot models`: what they list, how they end, and as JSON."""

from __future__ import annotations

import importlib.metadata
import json
from pathlib import Path

import pytest
from cli.line import said

from midfoot import body
from midfoot.body import ModelsError
from midfoot.cli import check as check_module


@pytest.fixture
def no_models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for the pose files with nothing in it."""
    folder = tmp_path / "models"
    folder.mkdir()
    monkeypatch.setenv("MIDFOOT_MODELS", str(folder))
    return folder


def test_check_says_what_is_there_and_what_would_fail(no_models: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every row is ok or FAIL with the remedy; a missing needed file fails, an optional one does not."""
    told = said(capsys, "check")

    assert told.status == 1
    rows = told.out.splitlines()
    assert all(row.startswith(("ok   ", "FAIL ")) for row in rows)
    failing = [row for row in rows if row.startswith("FAIL")]
    assert {row.split()[1] for row in failing} == {"pose_detection.tflite", "pose_landmark_full.tflite"}
    assert all(row.endswith("-> midfoot models fetch") for row in failing)
    for what in ("Python", "numpy", "decode h264", "encode libx264", "room for temporary files"):
        assert any(what in row for row in rows)


def test_check_as_json(no_models: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same rows for a script."""
    told = said(capsys, "check", "--json")

    rows = json.loads(told.out)
    assert told.status == 1
    assert {"what", "good", "found", "remedy"} == set(rows[0])
    assert {r["what"] for r in rows if not r["good"]} == {"pose_detection.tflite", "pose_landmark_full.tflite"}
    assert next(r for r in rows if r["what"] == "numpy")["found"] == importlib.metadata.version("numpy")


def test_check_is_well_when_all_is_there(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 0 and no FAIL."""
    row = body.listing()[0]
    good = [
        type(row)("pose_detection.tflite", row.path, True, "good"),
        type(row)("x.tflite", row.path, False, "missing"),
    ]
    monkeypatch.setattr(body, "listing", lambda: good)

    told = said(capsys, "check")

    assert told.status == 0, told.out
    assert "FAIL" not in told.out


def test_check_names_a_missing_library(
    no_models: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the command that brings it."""
    monkeypatch.setattr(check_module, "_needed", lambda: ("numpy", "not-a-library-anyone-has"))

    told = said(capsys, "check")

    assert "FAIL not-a-library-anyone-has" in told.out
    assert "pip install not-a-library-anyone-has" in told.out


def test_check_looks_at_all_that_the_package_needs() -> None:
    """The list is the package's own, not a copy that ages."""
    assert {"av", "numpy", "scipy", "opencv-python-headless", "cyclopts", "rich", "jinja2"} <= set(
        check_module._needed()
    )
    assert not any("pytest" in n for n in check_module._needed())


def test_little_room_is_said(
    no_models: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A nearly full disk fails the check."""
    usage = type(check_module.shutil.disk_usage("/"))(10**12, 10**12 - 10**7, 10**7)
    monkeypatch.setattr(check_module.shutil, "disk_usage", lambda _: usage)

    assert (
        "FAIL room for temporary files           10 MB free  -> free some disk space" in said(capsys, "check").out
    )


def test_models_lists(no_models: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Name, need, state and place of every file; listing is no failure."""
    told = said(capsys, "models")

    assert told.status == 0
    rows = [row.split() for row in told.out.splitlines()]
    assert [row[1:3] for row in rows] == [["needed", "missing"]] * 2 + [["optional", "missing"]] * 2
    assert all(Path(row[3]).parent == no_models for row in rows)


def test_models_verify_fails_when_they_are_missing(no_models: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 1, the remedy in one sentence; the JSON on standard output is whole."""
    told = said(capsys, "models", "verify", "--json")

    assert told.status == 1
    assert "midfoot models fetch" in told.one_sentence()
    assert [r["state"] for r in json.loads(told.out)] == ["missing"] * 4


def test_models_fetch_tells_what_it_does_on_standard_error(
    no_models: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that --json stays JSON."""

    def fetch(*, heavy: bool, say) -> None:
        say("getting two files")

    monkeypatch.setattr(body, "fetch", fetch)

    told = said(capsys, "models", "fetch", "--json")

    assert told.err == "getting two files\n"
    assert len(json.loads(told.out)) == 4


def test_models_fetch_without_a_network(
    no_models: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence of the stage reaches the terminal."""

    def fetch(**_: object) -> None:
        raise ModelsError("The files could not be got. Put them into a folder.")

    monkeypatch.setattr(body, "fetch", fetch)

    told = said(capsys, "models", "fetch")

    assert told.status == 1
    assert told.one_sentence() == "The files could not be got; put them into a folder."
