"""Files that are whole or not there: written beside their place, then moved into it."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class StoreError(OSError):
    """A result cannot be kept. The text is one sentence with the remedy."""


def output_folder(path: Path) -> Path:
    """Make the folder for results and prove that it can be written to.

    Raises
    ------
    StoreError
        When it is a file, cannot be made, or cannot be written to.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=path):
            pass
    except FileExistsError:
        raise StoreError(f"{path} is a file; give a folder with --out.") from None
    except NotADirectoryError:
        raise StoreError(f"{path} lies under a file; give a folder with --out.") from None
    except OSError as error:
        raise StoreError(f"{path}: {_plainly(error)}") from None
    return path


@contextmanager
def write_whole(path: Path) -> Iterator[Path]:
    """Give a path beside `path` to write to; it takes its place when the block ends well, and vanishes if not.

    Raises
    ------
    StoreError
        When the disk is full or the folder cannot be written to.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
    os.close(handle)
    beside = Path(name)
    try:
        yield beside
        beside.chmod(0o644)
        beside.replace(path)
    except OSError as error:
        if isinstance(error, StoreError):
            raise
        raise StoreError(f"{path}: {_plainly(error)}") from error
    finally:
        beside.unlink(missing_ok=True)


def unfinished(path: Path) -> list[Path]:
    """Give what `write_whole` of this path left when the program was killed in it."""
    return sorted(path.parent.glob(f".{path.stem}-*{path.suffix}"))


def _plainly(error: OSError) -> str:
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return "the disk is full; free some room or give another folder with --out."
        case errno.EACCES | errno.EPERM | errno.EROFS:
            return "this folder cannot be written to; give another one with --out."
        case _:
            return f"{(error.strerror or str(error)).lower()}; give another folder with --out."
