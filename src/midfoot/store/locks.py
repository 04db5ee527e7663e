"""Locks between programs: held by a process and gone with it, however it ends."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import IO

from midfoot.store.files import StoreError


class Turn:
    """One writer at a time among all threads and programs; others wait in the order of the system.

    SQLite's own lock would do for the rows. This one also keeps writers out while a checkpoint is made, and who
    waits is woken instead of asking again and again.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._thread = threading.Lock()
        self._file: IO[bytes] | None = None

    def __enter__(self) -> None:
        import fcntl

        self._thread.acquire()
        try:
            if self._file is None:
                self._file = self._path.open("ab")
            fcntl.flock(self._file, fcntl.LOCK_EX)
        except BaseException as error:
            self._thread.release()
            if isinstance(error, OSError):
                why = (error.strerror or str(error)).lower()
                raise StoreError(
                    f"{self._path} cannot be written ({why}); see to the workspace's disk."
                ) from error
            raise

    def __exit__(self, *_: object) -> None:
        import fcntl

        try:
            if self._file is not None:
                fcntl.flock(self._file, fcntl.LOCK_UN)
        finally:
            self._thread.release()

    def close(self) -> None:
        """Let go of the file."""
        with self._thread:
            if self._file is not None:
                self._file.close()
            self._file = None


@contextmanager
def hold_file(
    path: Path, held: str, remedy: str = "end that one first, or give another workspace", *, wait: bool = False
) -> Iterator[None]:
    """Hold a lock file for this process.

    Parameters
    ----------
    path : Path
    held, remedy : str
        Begins the sentence that is said when another process holds it; `remedy` ends it.
    wait : bool
        Wait until it is free instead.

    Raises
    ------
    StoreError
        When another process holds it: one sentence that names it.
    """
    import fcntl

    file = path.open("a+", encoding="utf-8")
    try:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        except BlockingIOError:
            file.seek(0)
            who = file.read().strip() or "another process"
            raise StoreError(f"{held} ({who}); {remedy}.") from None
        file.seek(0)
        file.truncate()
        file.write(f"process {os.getpid()} since {datetime.now().astimezone():%Y-%m-%d %H:%M}")
        file.flush()
        try:
            yield
        finally:
            file.seek(0)
            file.truncate()
    finally:
        file.close()
