"""Files are whole or not there, and what stands in the way is said in one sentence."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from midfoot.store import StoreError, output_folder, write_whole


def test_a_file_appears_only_when_whole(tmp_path: Path) -> None:
    """An interrupted write leaves the old file and nothing beside it."""
    target = tmp_path / "numbers.json"
    target.write_text("old")

    with pytest.raises(KeyboardInterrupt), write_whole(target) as beside:
        beside.write_text("half")
        raise KeyboardInterrupt

    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_whole_file_takes_its_place(tmp_path: Path) -> None:
    """The new content replaces the old in one step."""
    target = tmp_path / "numbers.json"
    target.write_text("old")

    with write_whole(target) as beside:
        beside.write_text("new")

    assert target.read_text() == "new"
    assert list(tmp_path.iterdir()) == [target]


def test_a_full_disk_is_said(tmp_path: Path) -> None:
    """ENOSPC becomes one sentence with the remedy."""
    with pytest.raises(StoreError, match="disk is full"), write_whole(tmp_path / "x.json"):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    assert list(tmp_path.iterdir()) == []


def test_output_folder_is_made_with_its_parents(tmp_path: Path) -> None:
    """A folder that is not there yet is made."""
    assert output_folder(tmp_path / "a" / "b").is_dir()


def test_output_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    """A file in the way is named."""
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="is a file"):
        output_folder(tmp_path / "file")
    with pytest.raises(StoreError, match="--out"):
        output_folder(tmp_path / "file" / "below")


def test_unwritable_folder_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No permission becomes one sentence (root may write anywhere, so the refusal is made here)."""

    def refuse(*_args: object, **_kwargs: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr("tempfile.TemporaryFile", refuse)
    with pytest.raises(StoreError, match="cannot be written to"):
        output_folder(tmp_path)
