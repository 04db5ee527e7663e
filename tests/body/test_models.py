"""The files of the pose network: checked, got, put in place whole or not at all."""

from __future__ import annotations

import hashlib
import subprocess
import zipfile
from pathlib import Path

import pytest

from midfoot.body import models
from midfoot.body.models import DETECTOR, FULL, HEAVY, ModelsError

CONTENT = {DETECTOR: b"a detector", FULL: b"full landmarks", HEAVY: b"heavy landmarks"}


@pytest.fixture
def known(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Small stand-ins are the known files, and an empty folder is where they are kept."""
    monkeypatch.setattr(models, "SHA256", {n: hashlib.sha256(c).hexdigest() for n, c in CONTENT.items()})
    folder = tmp_path / "kept"
    monkeypatch.setenv(models.FOLDER_VARIABLE, str(folder))
    return folder


def put(folder: Path, *names: str) -> None:
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / name).write_bytes(CONTENT[name])


def wheel_instead_of_pip(monkeypatch: pytest.MonkeyPatch, files: dict[str, bytes]) -> list[list[str]]:
    """Let pip be replaced by something that writes a wheel with `files`."""
    called: list[list[str]] = []

    def run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        called.append(command)
        folder = Path(command[command.index("--dest") + 1])
        with zipfile.ZipFile(folder / "mediapipe-0.10.14-py3-none-any.whl", "w") as wheel:
            for name, content in files.items():
                wheel.writestr(f"mediapipe/modules/pose/{name}", content)
        return subprocess.CompletedProcess(command, 0, "", "")

    monkeypatch.setattr(subprocess, "run", run)
    return called


def test_the_folder_is_the_one_named(known: Path) -> None:
    assert models.folder() == known


def test_the_folder_is_the_users_without_a_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(models.FOLDER_VARIABLE, raising=False)
    assert models.folder().parts[-2:] == ("midfoot", "models")


def test_missing_files_are_named_with_the_remedy(known: Path) -> None:
    with pytest.raises(ModelsError, match=rf"{DETECTOR}, {FULL} missing.*midfoot models.*MIDFOOT_MODELS"):
        models.verify()


def test_good_files_are_given_and_heavy_only_where_asked_for(known: Path) -> None:
    put(known, DETECTOR, FULL, HEAVY)
    assert models.verify().heavy == known / HEAVY
    assert models.ensure_models(heavy=True).heavy == known / HEAVY
    assert models.ensure_models().heavy is None
    assert models.ensure_models().full == known / FULL


def test_a_changed_file_is_refused(known: Path) -> None:
    put(known, DETECTOR, FULL)
    (known / FULL).write_bytes(b"something else")
    assert [s.state for s in models.listing()] == ["good", "wrong", "missing"]
    with pytest.raises(ModelsError, match="not the known file"):
        models.verify()


def test_what_is_missing_comes_out_of_the_wheel(known: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    called = wheel_instead_of_pip(monkeypatch, CONTENT)
    said: list[str] = []
    files = models.fetch(say=said.append)
    assert (files.detector.read_bytes(), files.full.read_bytes()) == (CONTENT[DETECTOR], CONTENT[FULL])
    assert "mediapipe==0.10.14" in called[0]
    assert "--no-deps" in called[0]
    assert len(said) == 1
    models.fetch()
    assert len(called) == 1, "files that are good are not got again"


def test_a_wrong_download_leaves_nothing(known: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wheel_instead_of_pip(monkeypatch, {DETECTOR: CONTENT[DETECTOR], FULL: b"tampered with"})
    with pytest.raises(ModelsError, match="not the known file; it was not kept"):
        models.fetch()
    assert [p.name for p in known.iterdir()] == [DETECTOR]


def test_no_network_is_one_sentence_with_a_remedy(known: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        return subprocess.CompletedProcess(command, 1, "", "long\nERROR: no connection\n")

    monkeypatch.setattr(subprocess, "run", run)
    with pytest.raises(ModelsError, match=r"could not be got with pip.*MIDFOOT_MODELS.*no connection") as error:
        models.ensure_models()
    assert "\n" not in str(error.value)


def test_heavy_needs_npm(known: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(known, DETECTOR, FULL)
    monkeypatch.setattr("shutil.which", lambda _: None)
    with pytest.raises(ModelsError, match="npm is not installed"):
        models.ensure_models(heavy=True)


def test_a_folder_that_cannot_be_made(known: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(ModelsError, match="cannot be made"):
        models.fetch(tmp_path / "file" / "below")
