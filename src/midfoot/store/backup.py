"""Copies of a workspace: consistent while others write to it, contents copied once, whole or not there.

A folder of backups holds `blobs/` (each content once for all copies) and one folder a copy, named by its instant:
`manifest.json`, the database, and `files/` with what was measured, reviewed and published. A copy is written
beside its place and moved into it when all of it is there. A single tar file holds one copy with its contents.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from attrs import field, frozen

from midfoot.store import tables
from midfoot.store.blobs import Blobs
from midfoot.store.files import StoreError, unfinished, write_whole
from midfoot.store.locks import hold_file
from midfoot.store.workspace import DATABASE, Workspace

FORM = "midfoot/backup/1"
MANIFEST, FILES, BLOBS, MARKER = "manifest.json", "files", "blobs", "midfoot-backups.json"
LOCK = "backup.lock"
COPIED = ("measured", "reviews", "published", "library", "inbox")
STAMP = "%Y-%m-%dT%H%M%S.%fZ"
KEPT_COPIES = 10
ROUNDS = 3
"""So often the database is copied anew when contents went (a lifter was erased) while they were copied."""
Tell = Callable[[str, float], None]


@frozen(kw_only=True)
class Backup:
    """What was written.

    Attributes
    ----------
    path : Path
        The copy: a folder or a tar file.
    contents, new_contents, files : int
    bytes : int
        Written now.
    bad : tuple of str
        What the workspace itself lacks or holds damaged, so that it could not be copied: a sentence each.
    """

    path: Path
    contents: int
    new_contents: int
    files: int
    bytes: int
    bad: tuple[str, ...] = ()


@frozen
class Made:
    """The copy of the database and what it points at."""

    file: Path
    contents: tuple[tuple[str, int], ...]
    schema: str
    erased: tuple[str, ...] = field(default=())


def back_up(workspace: Workspace, to: Path, *, keep: int = KEPT_COPIES, tell: Tell = lambda *_: None) -> Backup:
    """Copy a workspace into a folder of backups, or into one file when the name ends in `.tar`.

    Parameters
    ----------
    workspace : Workspace
        May be in use: readers and writers go on.
    to : Path
        A folder (new, empty, or of backups), or a file that is not there yet.
    keep : int
        So many copies stay in the folder, the newest.
    tell : function of (step, share)

    Raises
    ------
    StoreError
        When it cannot be written there; what stood there before is untouched.
    """
    to = to.absolute()
    if workspace.engine.dialect.name != "sqlite":
        raise StoreError(
            "This workspace keeps its rows in a database server; back that up with the server's own tools."
        )
    if to == workspace.path or workspace.path in to.parents:
        raise StoreError(f"{to} lies in the workspace itself; give a place outside it, best on another disk.")
    try:
        if to.suffix == ".tar":
            from midfoot.store.backup_tar import write_tar

            return write_tar(workspace, to, tell)
        return _folder(workspace, to, max(keep, 1), tell)
    except OSError as error:
        if isinstance(error, StoreError):
            raise
        raise StoreError(_plainly(error, to)) from error


def copy_database(workspace: Workspace, file: Path) -> Made:
    """Copy the database as it is at one moment, look it through, and say what it points at.

    Raises
    ------
    StoreError
        When it is damaged.
    """
    with closing(sqlite3.connect(workspace.path / DATABASE)) as old, closing(sqlite3.connect(file)) as new:
        old.execute("PRAGMA busy_timeout=30000")
        old.backup(new)
        new.execute("PRAGMA journal_mode=DELETE")
        found = " ".join(str(new.execute("PRAGMA integrity_check(1)").fetchone()[0]).split())
        if found != "ok":
            raise StoreError(
                f"{workspace.path / DATABASE} is damaged ({found}) and is not copied over a good backup; "
                "put the last backup back with midfoot restore."
            )
        schema = str(new.execute("SELECT version_num FROM alembic_version").fetchone()[0])
        contents = new.execute("SELECT sha256, bytes FROM blobs WHERE gone_at IS NULL ORDER BY sha256").fetchall()
        erased = new.execute("SELECT subject_id FROM audit WHERE what = 'lifter_erased'").fetchall()
    return Made(file, tuple((str(s), int(b)) for s, b in contents), schema, tuple(str(e[0]) for e in erased))


def hashed_copy(source: Path, target: Path) -> tuple[str, int]:
    """Copy a file through a hash; gives its SHA-256 and size. The time of its last change goes along."""
    digest, size = hashlib.sha256(), 0
    with source.open("rb") as old, target.open("wb") as new:
        while piece := old.read(1 << 20):
            digest.update(piece)
            new.write(piece)
            size += len(piece)
        new.flush()
        os.fsync(new.fileno())
    shutil.copystat(source, target)
    return digest.hexdigest(), size


def copies_in(folder: Path) -> list[Path]:
    """Give the whole copies in a folder of backups, the oldest first."""
    return sorted(p.parent for p in folder.glob(f"*/{MANIFEST}") if not p.parent.name.startswith("."))


def read_manifest(file: Path) -> dict[str, Any]:
    """Read what a copy holds.

    Raises
    ------
    StoreError
        When it is no manifest of a backup.
    """
    try:
        found = json.loads(file.read_text("utf-8"))
        if found["form"] != FORM:
            raise ValueError(f"form {found['form']!r}")
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreError(f"{file} is no manifest of a backup ({error}); give another copy.") from None
    return dict(found)


def erased_in(folder: Path) -> tuple[str, ...]:
    """Give the ids of lifters who were erased after some of the copies in a folder were made."""
    try:
        return tuple(json.loads((folder / MARKER).read_text("utf-8"))["erased"])
    except (OSError, ValueError, KeyError):
        return ()


def _folder(workspace: Workspace, to: Path, keep: int, tell: Tell) -> Backup:
    if to.exists() and not to.is_dir():
        raise StoreError(f"{to} is a file; give a folder, or a name that ends in .tar.")
    begun = {to / LOCK, *unfinished(to / MARKER)}  # all that a first backup leaves that is killed at once
    if to.is_dir() and not begun.issuperset(to.iterdir()) and not (to / MARKER).is_file():
        raise StoreError(f"{to} holds other things and no backups; give an empty or a new folder.")
    to.mkdir(parents=True, exist_ok=True, mode=0o700)
    with hold_file(to / LOCK, f"{to} is written to by another backup", "wait for that one"):
        if not (to / MARKER).is_file():
            _write_marker(to, ())
        return _one_more(workspace, to, keep, tell)


def _one_more(workspace: Workspace, to: Path, keep: int, tell: Tell) -> Backup:
    """Write one more copy into a folder of backups."""
    _clear(to)
    stamp = datetime.now(UTC).strftime(STAMP)
    beside = to / f".{stamp}.part"
    beside.mkdir()
    store = Blobs(to / BLOBS)
    try:
        made, new, size, bad = _contents(workspace, beside / DATABASE, store, tell)
        before = copies_in(to)
        rows, more, odd = _files(workspace, beside / FILES, before[-1] if before else None, tell)
        _write_manifest(beside, made, rows, bad)
        beside.rename(to / stamp)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    _write_marker(to, made.erased)
    _forget(to, store, keep)
    return Backup(
        path=to / stamp, contents=len(made.contents), new_contents=new, files=len(rows),
        bytes=size + more + (to / stamp / DATABASE).stat().st_size, bad=(*bad, *odd),
    )  # fmt: skip


def _contents(
    workspace: Workspace, database: Path, store: Blobs, tell: Tell
) -> tuple[Made, int, int, tuple[str, ...]]:
    """Copy the database, then every content it points at; once more if some were erased meanwhile."""
    new = size = 0
    for _ in range(ROUNDS):
        database.unlink(missing_ok=True)
        made = copy_database(workspace, database)
        wanted = [(s, b) for s, b in made.contents if not store.has(s) or store.size(s) != b]
        store.make_room(sum(b for _, b in wanted))
        bad: list[str] = []
        for n, (sha256, expected) in enumerate(wanted):
            tell("contents", n / len(wanted))
            found = _copy_content(workspace.blobs.path(sha256), store, sha256)
            if found:
                bad.append(found)
            else:
                new, size = new + 1, size + expected
        tell("contents", 1.0)
        if not bad or not _went(workspace, bad):
            break
    return made, new, size, tuple(bad)


def _copy_content(source: Path, store: Blobs, sha256: str) -> str:
    """Copy one content; "" when it went well, else a sentence."""
    part = store.part()
    try:
        found, _ = hashed_copy(source, part)
        if found != sha256:
            return f"the content {sha256} is damaged in the workspace"
        store.adopt(part)
        return ""
    except FileNotFoundError:
        return f"the content {sha256} is missing in the workspace"
    finally:
        part.unlink(missing_ok=True)


def _went(workspace: Workspace, bad: list[str]) -> bool:
    """Tell whether what was missing is no longer pointed at: it was erased while it was to be copied."""
    with workspace.read() as connection:
        known = set(connection.execute(sa.select(tables.blobs.c.sha256)).scalars())
    return any(not any(sha256 in line for sha256 in known) for line in bad)


def _files(
    workspace: Workspace, target: Path, before: Path | None, tell: Tell
) -> tuple[list[dict[str, Any]], int, tuple[str, ...]]:
    """Copy the folders; a file that has not changed since the last copy is linked to it where the disk can."""
    known = {f["path"]: f for f in read_manifest(before / MANIFEST)["files"]} if before is not None else {}
    rows: list[dict[str, Any]] = []
    size = 0
    bad: list[str] = []
    everything = list(walk(workspace.path))
    for n, path in enumerate(everything):
        tell("folders", n / len(everything))
        name = path.relative_to(workspace.path).as_posix()
        place = target / name
        place.parent.mkdir(parents=True, exist_ok=True)
        try:
            state = path.stat()
            row = known.get(name)
            if (
                before is not None
                and row
                and (row["bytes"], row["changed_ns"]) == (state.st_size, state.st_mtime_ns)
            ):
                with suppress(OSError):  # a stick's file system has no links
                    os.link(before / FILES / name, place)
            if not place.exists():
                sha256, written = hashed_copy(path, place)
                row = {"path": name, "bytes": written, "sha256": sha256, "changed_ns": state.st_mtime_ns}
                size += written
            assert row is not None
            rows.append(row)
        except FileNotFoundError:  # made anew or erased in this instant
            place.unlink(missing_ok=True)
        except PermissionError:
            bad.append(f"{name} cannot be read")
    tell("folders", 1.0)
    return rows, size, tuple(bad)


def walk(root: Path) -> Iterator[Path]:
    """Give every file of the folders that a copy holds; links are not followed, unfinished files left out."""
    for name in COPIED:
        for folder, folders, names in os.walk(root / name):
            folders.sort()
            for file in sorted(names):
                path = Path(folder) / file
                if not file.startswith(".") and path.is_file() and not path.is_symlink():
                    yield path


def manifest_of(made: Made, files: list[dict[str, Any]], bad: tuple[str, ...]) -> dict[str, Any]:
    """Give the manifest of a copy as plain JSON."""
    from midfoot import __version__

    with made.file.open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    return {
        "form": FORM,
        "made_at": datetime.now(UTC).isoformat(),
        "midfoot": __version__,
        "schema": made.schema,
        "database": {"bytes": made.file.stat().st_size, "sha256": sha256},
        "contents": [{"sha256": s, "bytes": b} for s, b in made.contents],
        "files": files,
        "bad": list(bad),
    }


def _write_manifest(folder: Path, made: Made, files: list[dict[str, Any]], bad: tuple[str, ...]) -> None:
    with write_whole(folder / MANIFEST) as beside:
        beside.write_text(json.dumps(manifest_of(made, files, bad), indent=1), "utf-8")


def _write_marker(folder: Path, erased: tuple[str, ...]) -> None:
    every = sorted({*erased_in(folder), *erased})
    with write_whole(folder / MARKER) as beside:
        beside.write_text(json.dumps({"form": FORM, "erased": every}, indent=1), "utf-8")


def _clear(to: Path) -> None:
    """Take away what a copy that was broken off left."""
    for old in to.glob(".*.part"):
        shutil.rmtree(old, ignore_errors=True)
    for begun in unfinished(to / MARKER):
        begun.unlink(missing_ok=True)


def _forget(to: Path, store: Blobs, keep: int) -> None:
    """Delete the oldest copies and the contents that none of the others holds."""
    copies = copies_in(to)
    for old in copies[:-keep]:
        doomed = old.with_name(f".{old.name}.part")
        old.rename(doomed)
        shutil.rmtree(doomed, ignore_errors=True)
    held = {c["sha256"] for copy in copies[-keep:] for c in read_manifest(copy / MANIFEST)["contents"]}
    for sha256 in list(store.all()):
        if sha256 not in held:
            store.remove(sha256)
    for part in store.unfinished(float("inf")):
        part.unlink(missing_ok=True)
    shutil.rmtree(store.root / "parts", ignore_errors=True)


def _plainly(error: OSError, to: Path) -> str:
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return (
                f"{to}: the disk is full; free some room, or give another place. The copies before are untouched."
            )
        case _:
            return f"{error.filename or to}: {(error.strerror or str(error)).lower()}; give another place."
