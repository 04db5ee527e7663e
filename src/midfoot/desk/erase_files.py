"""What an erased lifter leaves in files that no row points at: parts of uploads, lines of logs, names in words."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from midfoot.desk.erase_plan import Plan
from midfoot.desk.handing_over import UPLOADS
from midfoot.store import StoreError, Workspace

LARGEST = 4_000_000
"""Bytes of a text file that is searched for a name."""


def speaks_of(row: Any, needles: Iterable[str]) -> bool:
    """Tell whether a row holds one of the words anywhere."""
    text = " ".join(str(value) for value in row if value is not None)
    return any(needle in text for needle in needles)


def uploads(workspace: Workspace, plan: Plan) -> None:
    """Delete parts of files that are still on their way to what went."""
    for note in (workspace.path / UPLOADS).glob("*.json"):
        if speaks_of((note.read_text("utf-8", errors="replace"),), (*plan.every, *plan.names)):
            note.unlink()
            note.with_suffix(".part").unlink(missing_ok=True)


def remove(folder: Path) -> None:
    """Delete a folder; StoreError says which file stands in the way."""
    try:
        if folder.is_dir():
            shutil.rmtree(folder)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise StoreError(
            f"{error.filename or folder} cannot be taken away ({why}) and everything else is erased; see to its "
            "permissions, then run midfoot check --deep --clean."
        ) from error


def inbox(workspace: Workspace, contents: frozenset[str]) -> None:
    """Delete what still lies in the watched folder as it came."""
    for path in workspace.inbox.rglob("*"):
        if path.is_file():
            with suppress(OSError), path.open("rb") as file:
                if hashlib.file_digest(file, "sha256").hexdigest() in contents:
                    path.unlink()


def logs(workspace: Workspace, plan: Plan) -> None:
    """Take out lines of the log that speak of what went."""
    needles = [*plan.every, *plan.names]
    for path in workspace.log.rglob("*"):
        if not path.is_file():
            continue
        with path.open("r+", encoding="utf-8", errors="replace") as file:  # in place: a desk goes on writing to it
            lines = file.readlines()
            kept = [line for line in lines if not any(n in line for n in needles)]
            if len(kept) < len(lines):
                file.seek(0)
                file.writelines(kept)
                file.truncate()


def mentions(workspace: Workspace, names: tuple[str, ...]) -> list[str]:
    """Give files in which a full name still stands."""
    if not names:
        return []
    needles = [n.casefold() for n in names]
    found = []
    for top in ("library", "reviews", "published", "inbox"):
        for path in sorted((workspace.path / top).rglob("*")):
            if path.is_file() and path.stat().st_size <= LARGEST:
                text = path.read_bytes().decode("utf-8", errors="ignore").casefold()
                if any(n in text or n in path.name.casefold() for n in needles):
                    found.append(workspace.relative(path))
    return found
