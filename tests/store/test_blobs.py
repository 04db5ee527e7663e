"""Contents by their hash: whole or not there, once each, a full disk refused in one sentence."""

from __future__ import annotations

import errno
import hashlib
import io
import os
import threading
from collections import namedtuple
from pathlib import Path

import pytest

from midfoot.store import StoreError
from midfoot.store import blobs as module
from midfoot.store.blobs import Blobs

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
"""SHA-256 of "abc": FIPS 180-2, appendix B.1."""


@pytest.fixture
def blobs(tmp_path: Path) -> Blobs:
    return Blobs(tmp_path / "blobs")


def files(blobs: Blobs) -> list[Path]:
    return [p for p in blobs.root.rglob("*") if p.is_file()]


@pytest.mark.parametrize("form", ["path", "stream", "pieces", "move"])
def test_a_content_lies_under_its_hash(blobs: Blobs, tmp_path: Path, form: str) -> None:
    file = tmp_path / "clip.mp4"
    file.write_bytes(b"abc")
    source = {"path": file, "move": file, "stream": io.BytesIO(b"abc"), "pieces": [b"a", b"bc"]}[form]

    assert blobs.put(source, move=form == "move") == ABC

    assert blobs.path(ABC) == blobs.root / "ba" / "78" / ABC
    assert blobs.path(ABC).read_bytes() == b"abc"
    assert blobs.path(ABC).stat().st_mode & 0o222 == 0
    assert files(blobs) == [blobs.path(ABC)]
    assert file.exists() == (form != "move")
    assert (list(blobs.all()), blobs.size(ABC), blobs.verify(ABC), list(blobs.strangers())) == ([ABC], 3, True, [])


def test_moving_does_not_copy_on_one_disk(blobs: Blobs, tmp_path: Path) -> None:
    file = tmp_path / "clip.mp4"
    file.write_bytes(b"abc")
    inode = file.stat().st_ino

    assert blobs.path(blobs.put(file, move=True)).stat().st_ino == inode


def test_the_same_content_from_many_threads_lies_once(blobs: Blobs) -> None:
    content = os.urandom(300_000)
    found: list[str] = []
    threads = [threading.Thread(target=lambda: found.append(blobs.put([content]))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert set(found) == {hashlib.sha256(content).hexdigest()}
    assert len(files(blobs)) == 1
    assert blobs.verify(found[0])


def test_a_source_that_breaks_off_leaves_nothing(blobs: Blobs) -> None:
    def pieces():
        yield b"half of"
        raise ConnectionError("the phone went away")

    with pytest.raises((ConnectionError, StoreError)):
        blobs.put(pieces())

    assert files(blobs) == []


def test_a_full_disk_is_refused_before_writing(
    blobs: Blobs, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(module.shutil, "disk_usage", lambda _: usage(10**12, 10**12, 250_000_000))
    file = tmp_path / "clip.mp4"
    with file.open("wb") as handle:
        handle.truncate(3_000_000_000)  # sparse: it takes no room

    with pytest.raises(StoreError, match=r"250 MB left and 3200 MB are needed; free some room") as said:
        blobs.put(file)

    assert "\n" not in str(said.value)
    assert files(blobs) == []
    assert file.exists()


def test_a_disk_that_fills_up_meanwhile_leaves_nothing(blobs: Blobs, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(module.os, "fsync", full)

    with pytest.raises(StoreError, match="the disk is full; free some room"):
        blobs.put([b"abc"])

    assert files(blobs) == []


def test_a_file_that_is_not_there_is_named(blobs: Blobs, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="not there"):
        blobs.put(tmp_path / "gone.mp4")


@pytest.mark.parametrize("name", ["", "../../etc/passwd", ABC.upper(), ABC[:-1], ABC + "0"])
def test_no_name_leads_out_of_the_folder(blobs: Blobs, name: str) -> None:
    with pytest.raises(ValueError, match="64 hexadecimal digits"):
        blobs.path(name)


def test_what_is_damaged_or_strange_is_told(blobs: Blobs) -> None:
    sha256 = blobs.put([b"abc"])
    path = blobs.path(sha256)
    path.chmod(0o644)
    path.write_bytes(b"abd")
    stray = blobs.root / "ba" / "notes.txt"
    stray.write_text("?")

    assert not blobs.verify(sha256)
    assert list(blobs.strangers()) == [stray]


def test_removing_gives_room_back_and_takes_empty_folders_along(blobs: Blobs) -> None:
    sha256 = blobs.put([b"abc"])

    assert (blobs.remove(sha256), blobs.remove(sha256)) == (3, 0)

    assert not blobs.has(sha256)
    assert not (blobs.root / "ba").exists()
