"""Putting a copy back: into a new folder beside, looked through byte by byte, then moved into its place."""

from __future__ import annotations

import errno
import hashlib
import shutil
import tarfile
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from attrs import frozen

from midfoot.store.backup import (
    BLOBS,
    FILES,
    MANIFEST,
    MARKER,
    STAMP,
    Tell,
    copies_in,
    erased_in,
    hashed_copy,
    read_manifest,
)
from midfoot.store.blobs import Blobs
from midfoot.store.files import StoreError
from midfoot.store.locks import hold_file
from midfoot.store.workspace import DATABASE, FOLDERS, Workspace


@frozen(kw_only=True)
class Restored:
    """What was put back.

    Attributes
    ----------
    path : Path
        The workspace.
    made_at : str
        When the copy was made.
    contents, files : int
    aside : Path or None
        Where the workspace lies that stood there before.
    erased : tuple of str
        Ids of lifters who were erased after the copy was made: their data is in it again and has to go again.
    bad : tuple of str
        What the workspace lacked already when the copy was made.
    """

    path: Path
    made_at: str
    contents: int
    files: int
    aside: Path | None
    erased: tuple[str, ...]
    bad: tuple[str, ...]


def restore(
    source: Path, to: Path, *, at: str | None = None, replace: bool = False, tell: Tell = lambda *_: None
) -> Restored:
    """Put a copy back.

    Parameters
    ----------
    source : Path
        A folder of backups, one copy in it, or a tar file.
    to : Path
        The workspace: a folder that is not there or empty.
    at : str, optional
        Which copy of a folder, by its name or its beginning; the latest without it.
    replace : bool
        Move a workspace that stands there aside first; nothing is deleted.
    tell : function of (step, share)

    Raises
    ------
    StoreError
        When the copy is damaged or incomplete, or the place is taken: nothing was changed.
    """
    to = to.absolute()
    taken = to.exists() and (not to.is_dir() or any(to.iterdir()))
    if taken and not replace:
        raise StoreError(f"{to} is there already; give a new folder, or --replace to move it aside first.")
    if source.absolute() == to or to in source.absolute().parents:
        raise StoreError(f"{source} lies where the workspace would go; give another folder.")
    to.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{to.name}.restoring-", dir=to.parent))
    try:
        if source.is_dir():
            copy = _chosen(source, at)
            manifest = _from_folder(copy, beside, tell)
            erased = erased_in(copy.parent)
        else:
            manifest, erased = _from_tar(source, beside, tell), ()
        Workspace.open(beside).close()  # brings an older copy up to today's tables, and proves that it opens
        for name in FOLDERS:
            (beside / name).mkdir(exist_ok=True)
        aside = _exchange(beside, to) if taken else None
        if aside is None:
            if to.exists():
                to.rmdir()
            beside.rename(to)
    except OSError as error:
        if isinstance(error, StoreError):
            raise
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        why = "the disk is full" if full else (error.strerror or str(error)).lower()
        raise StoreError(f"{error.filename or to}: {why}; nothing was changed, give another place.") from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return Restored(
        path=to, made_at=str(manifest["made_at"]), contents=len(manifest["contents"]),
        files=len(manifest["files"]), aside=aside, erased=erased, bad=tuple(manifest.get("bad", ())),
    )  # fmt: skip


def _chosen(source: Path, at: str | None) -> Path:
    if (source / MANIFEST).is_file():
        return source
    if not (source / MARKER).is_file():
        raise StoreError(f"{source} holds no backups; give the folder or file that midfoot backup wrote.")
    copies = [c for c in copies_in(source) if at is None or c.name.startswith(at)]
    if not copies:
        every = ", ".join(c.name for c in copies_in(source)) or "none"
        raise StoreError(f"{source} holds no copy {at or ''}".rstrip() + f"; there are: {every}.")
    return copies[-1]


def _from_folder(copy: Path, beside: Path, tell: Tell, *, move: bool = False) -> dict[str, Any]:
    """Take a copy over, every file through its hash; `move` where it lies unpacked on this disk already."""
    take = _moved if move else hashed_copy
    manifest = read_manifest(copy / MANIFEST)
    if not move:
        _room(beside, manifest)
    _same(take(copy / DATABASE, beside / DATABASE), manifest["database"], copy / DATABASE)
    lacking = " ".join(manifest.get("bad", ()))
    old, new = Blobs(copy.parent / BLOBS), Blobs(beside / BLOBS)
    for n, row in enumerate(manifest["contents"]):
        tell("contents", n / len(manifest["contents"]))
        if row["sha256"] in lacking:
            continue
        place = new.path(row["sha256"])
        place.parent.mkdir(parents=True, exist_ok=True)
        source = old.path(row["sha256"])
        if not source.is_file():
            raise StoreError(f"{source} is missing in the backup; give another copy with --at.")
        _same(take(source, place), row, source)
        place.chmod(0o444)
    for n, row in enumerate(manifest["files"]):
        tell("folders", n / len(manifest["files"]))
        place = _inside(beside, row["path"])
        place.parent.mkdir(parents=True, exist_ok=True)
        source = copy / FILES / row["path"]
        if not source.is_file():
            raise StoreError(f"{source} is missing in the backup; give another copy with --at.")
        _same(take(source, place), row, source)
    return manifest


def _moved(source: Path, target: Path) -> tuple[str, int]:
    with source.open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    source.rename(target)
    return sha256, target.stat().st_size


def _from_tar(source: Path, beside: Path, tell: Tell) -> dict[str, Any]:
    if not source.is_file():
        raise StoreError(f"{source} is not there; give the folder or file that midfoot backup wrote.")
    inside = beside / ".tar"
    inside.mkdir()
    tell("reading", 0.0)
    try:
        with tarfile.open(source, "r:") as tar:
            tar.extractall(inside, filter="data")
    except (tarfile.TarError, EOFError, ValueError) as error:
        raise StoreError(f"{source} is no backup or is damaged ({error}); give another copy.") from None
    # the contents lie beside the copy, as in a folder of backups
    copy = inside / "copy"
    copy.mkdir()
    for name in (MANIFEST, DATABASE, FILES):
        if (inside / name).exists():
            (inside / name).rename(copy / name)
    try:
        return _from_folder(copy, beside, tell, move=True)
    finally:
        shutil.rmtree(inside, ignore_errors=True)


def _same(found: tuple[str, int], row: dict[str, Any], source: Path) -> None:
    if found != (row["sha256"], row["bytes"]):
        raise StoreError(f"{source} is damaged in the backup; give another copy with --at.")


def _inside(folder: Path, name: str) -> Path:
    place = (folder / name).resolve()
    if folder.resolve() not in place.parents:
        raise StoreError(f"The backup names a file outside of itself ({name}); it is not to be trusted.")
    return place


def _room(beside: Path, manifest: dict[str, Any]) -> None:
    size = sum(int(r["bytes"]) for r in (*manifest["contents"], *manifest["files"], manifest["database"]))
    free = shutil.disk_usage(beside).free
    if free < size:
        raise StoreError(
            f"{beside.parent}: the disk has {free / 1e6:.0f} MB left and {size / 1e6:.0f} MB are needed; free "
            "some room, or restore to another disk."
        )


def _exchange(beside: Path, to: Path) -> Path:
    """Move what stands in the place aside and the new workspace in."""
    if not to.is_dir():
        raise StoreError(f"{to} is a file; give a folder.")
    with hold_file(to / "serve.lock", f"{to} is served"):
        aside = to.with_name(f"{to.name}.before-restore-{datetime.now(UTC).strftime(STAMP)}")
        to.rename(aside)
        try:
            beside.rename(to)
        except OSError:
            aside.rename(to)
            raise
    return aside
