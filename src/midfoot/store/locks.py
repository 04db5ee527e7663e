"""Locks between programs: held by a process and gone with it, however it ends."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from midfoot.store.files import StoreError


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
