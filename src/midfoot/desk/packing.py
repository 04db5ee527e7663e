"""A ZIP that is made while it is sent: piece by piece, with nothing held but the piece."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, cast

from attrs import field, frozen

PIECE = 1 << 20
PACKED = (".json", ".csv", ".txt", ".md", ".html", ".npz", ".srt", ".vtt")
"""Endings of files that are worth packing; video and pictures are packed already."""
_FIRST = datetime(1980, 1, 1, tzinfo=UTC)
"""A ZIP knows no earlier day."""


@frozen
class Entry:
    """A file of the ZIP: its name in it, and its bytes or where they lie."""

    name: str
    source: bytes | Path
    at: datetime


@frozen
class Export:
    """What goes into a lifter's ZIP. `pieces` makes it, as often as it is asked for.

    Attributes
    ----------
    name : str
        A name for the file, without the lifter's.
    entries : tuple of Entry
    missing : tuple of str
        What should be in it and is not on the disk (an original whose time was up).
    """

    name: str
    entries: tuple[Entry, ...] = field(repr=False)
    missing: tuple[str, ...] = ()

    def pieces(self) -> Iterator[bytes]:
        """Give the ZIP piece by piece, about 1 MB each."""
        sink = _Sink()
        with zipfile.ZipFile(cast(IO[bytes], sink), "w", allowZip64=True) as packed:
            for entry in self.entries:
                info = zipfile.ZipInfo(entry.name, max(entry.at, _FIRST).timetuple()[:6])
                info.external_attr = 0o600 << 16
                info.compress_type = zipfile.ZIP_DEFLATED if entry.name.endswith(PACKED) else zipfile.ZIP_STORED
                for piece in _pieces_of(entry, info, packed):
                    del piece
                    yield from sink.full()
        yield from sink.rest()


def _pieces_of(entry: Entry, info: zipfile.ZipInfo, packed: zipfile.ZipFile) -> Iterator[None]:
    """Write an entry and give way after every piece."""
    if isinstance(entry.source, bytes):
        packed.writestr(info, entry.source)
        yield
        return
    info.file_size = entry.source.stat().st_size
    with entry.source.open("rb") as file, packed.open(info, "w") as out:
        while piece := file.read(PIECE):
            out.write(piece)
            yield


class _Sink:
    """Where the ZIP is written to: it holds what was not given on yet and cannot be wound back."""

    def __init__(self) -> None:
        self._held: list[bytes] = []
        self._size = 0

    def write(self, piece: bytes) -> int:
        self._held.append(bytes(piece))
        self._size += len(piece)
        return len(piece)

    def flush(self) -> None:
        """Nothing to do: what is held is given on by `full` and `rest`."""

    def full(self) -> Iterator[bytes]:
        if self._size >= PIECE:
            yield from self.rest()

    def rest(self) -> Iterator[bytes]:
        held, self._held, self._size = b"".join(self._held), [], 0
        if held:
            yield held
