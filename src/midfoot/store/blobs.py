"""Files by their content: each lies once, under the SHA-256 of its bytes, whole or not there, never changed."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
import tempfile
import threading
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from attrs import frozen

from midfoot.store.files import StoreError

PIECE = 1 << 20
ROOM = 200_000_000
"""Bytes that are left free: the database and a measurement still have to fit."""
NAME = re.compile(r"[0-9a-f]{64}")
PARTS = "parts"


@frozen
class Blobs:
    """The folder of originals, thumbnails, proxies and sound: `ab/cd/<sha256>`."""

    root: Path

    def path(self, sha256: str) -> Path:
        """Give where a content lies or would lie.

        Raises
        ------
        ValueError
            When it is no SHA-256 in lower-case hexadecimal digits.
        """
        if not NAME.fullmatch(sha256):
            raise ValueError(f"sha256: expected 64 hexadecimal digits, got {sha256[:80]!r}")
        return self.root / sha256[:2] / sha256[2:4] / sha256

    def has(self, sha256: str) -> bool:
        """Tell whether a content lies here."""
        return self.path(sha256).is_file()

    def size(self, sha256: str) -> int:
        """Give the number of bytes of a content that lies here."""
        return self.path(sha256).stat().st_size

    def put(
        self, source: Path | BinaryIO | Iterable[bytes], *, move: bool = False, expect_bytes: int | None = None
    ) -> str:
        """Take a content in and give its SHA-256; one that lies here already is not written again.

        Parameters
        ----------
        source : path, binary stream or iterable of bytes
            Read in pieces of 1 MB; memory does not grow with it.
        move : bool
            The path's file may be taken away: renamed where it lies on the same disk.
        expect_bytes : int, optional
            How large it will be, so that a full disk is refused before anything is written.

        Raises
        ------
        StoreError
            When the disk is full or cannot be written to: one sentence. Nothing is left behind.
        """
        try:
            parts = self.root / PARTS
            parts.mkdir(parents=True, exist_ok=True)
            if isinstance(source, Path):
                return self._put_path(source, parts, move=move)
            self.make_room(expect_bytes or 0)
            return self._write(_pieces(source), parts)
        except OSError as error:
            if isinstance(error, StoreError):
                raise
            raise StoreError(_plainly(error, self.root)) from error

    def make_room(self, size: int) -> None:
        """Refuse what would fill the disk.

        Raises
        ------
        StoreError
            When fewer than `size` bytes and a reserve are free.
        """
        self.root.mkdir(parents=True, exist_ok=True)
        free = shutil.disk_usage(self.root).free
        if free < size + ROOM:
            raise StoreError(
                f"{self.root}: the disk has {free / 1e6:.0f} MB left and {(size + ROOM) / 1e6:.0f} MB are needed; "
                "free some room, then try again."
            )

    def adopt(self, part: Path) -> str:
        """Take in a file that was written under `parts/`, or anywhere on the same disk, by renaming it."""
        return self.put(part, move=True)

    def part(self) -> Path:
        """Give a new empty file to write to, on the disk on which the contents lie; `adopt` takes it in."""
        parts = self.root / PARTS
        parts.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=parts)
        os.close(handle)
        return Path(name)

    def remove(self, sha256: str, *, unless_put_since: float | None = None) -> int:
        """Delete a content and give the bytes that it freed; 0 when it does not lie here.

        Parameters
        ----------
        sha256 : str
        unless_put_since : float, optional
            Seconds since 1970: what was put again at or after that instant stays, whoever is quicker.
        """
        path = self.path(sha256)
        parts = self.root / PARTS
        parts.mkdir(parents=True, exist_ok=True)
        aside = parts / f"going-{os.getpid()}-{threading.get_ident()}-{sha256}"
        try:
            path.replace(
                aside
            )  # first away, then looked at: `put` finds it gone and writes it, or marked it before
        except FileNotFoundError:
            return 0
        state = aside.stat()
        if unless_put_since is not None and state.st_mtime >= unless_put_since:
            path.parent.mkdir(parents=True, exist_ok=True)
            aside.replace(path)
            return 0
        aside.unlink()
        for folder in (path.parent, path.parent.parent):
            with suppress(OSError):  # others lie there still
                folder.rmdir()
        return state.st_size

    def all(self) -> Iterator[str]:
        """Give the SHA-256 that each file is named by, in order."""
        for outer in sorted(self.root.glob("[0-9a-f][0-9a-f]")):
            for inner in sorted(outer.glob("[0-9a-f][0-9a-f]")):
                yield from sorted(p.name for p in inner.iterdir() if NAME.fullmatch(p.name))

    def strangers(self) -> Iterator[Path]:
        """Give what lies in the folder and is no content by its name or place."""
        for path in sorted(self.root.rglob("*")):
            if path.is_dir() or path.parent == self.root / PARTS:
                continue
            if not NAME.fullmatch(path.name) or self.path(path.name) != path:
                yield path

    def unfinished(self, before: float) -> list[Path]:
        """Give files that somebody began to write before an instant (seconds since 1970) and never finished."""
        return [p for p in (self.root / PARTS).rglob("*") if p.is_file() and p.stat().st_mtime < before]

    def verify(self, sha256: str) -> bool:
        """Read a content again and tell whether it is still what its name says."""
        with self.path(sha256).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == sha256

    def _put_path(self, source: Path, parts: Path, *, move: bool) -> str:
        if not source.is_file():
            raise StoreError(f"{source} is not there or is no file; give the file's path.")
        if move and source.stat().st_dev == parts.stat().st_dev:
            return self._rename(source, parts)
        self.make_room(source.stat().st_size)
        with source.open("rb") as file:
            sha256 = self._write(_pieces(file), parts)
        if move:
            source.unlink()
        return sha256

    def _rename(self, source: Path, parts: Path) -> str:
        """Take the file away first and hash it then: nobody writes to it any more by its old name."""
        beside = Path(tempfile.mkdtemp(dir=parts)) / "taken"
        try:
            source.replace(beside)
            try:
                with beside.open("rb") as file:
                    sha256 = hashlib.file_digest(file, "sha256").hexdigest()
                    os.fsync(file.fileno())
            except BaseException:
                beside.replace(source)
                raise
            self._settle(beside, sha256)
            return sha256
        finally:
            shutil.rmtree(beside.parent, ignore_errors=True)

    def _write(self, pieces: Iterator[bytes], parts: Path) -> str:
        handle, name = tempfile.mkstemp(dir=parts)
        beside = Path(name)
        digest = hashlib.sha256()
        try:
            with os.fdopen(handle, "wb") as file:
                for piece in pieces:
                    digest.update(piece)
                    file.write(piece)
                file.flush()
                os.fsync(file.fileno())
            self._settle(beside, digest.hexdigest())
        finally:
            beside.unlink(missing_ok=True)
        return digest.hexdigest()

    def _settle(self, beside: Path, sha256: str) -> None:
        place = self.path(sha256)
        with suppress(FileNotFoundError):
            if place.stat().st_size == beside.stat().st_size:
                os.utime(place)  # it is asked for again: a cleaning that runs now leaves it alone
                return
        beside.chmod(0o444)
        os.utime(beside)
        for attempt in range(5):
            place.parent.mkdir(parents=True, exist_ok=True)
            try:
                beside.replace(place)
                break
            except FileNotFoundError:  # a cleaning took the empty folder away in this instant
                if attempt == 4:
                    raise
        with suppress(OSError):  # not every system lets a folder be synced
            handle = os.open(place.parent, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)


def _pieces(source: BinaryIO | Iterable[bytes]) -> Iterator[bytes]:
    read = getattr(source, "read", None)
    if read is None:
        yield from source
        return
    while piece := read(PIECE):
        yield piece


def _plainly(error: OSError, root: Path) -> str:
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return f"{root}: the disk is full; free some room, then try again."
        case errno.EACCES | errno.EPERM | errno.EROFS:
            return f"{error.filename or root} cannot be read or written; see to its permissions, then try again."
        case _:
            what = (error.strerror or str(error)).lower()
            return f"{error.filename or root}: {what}; see to the disk, then try again."
