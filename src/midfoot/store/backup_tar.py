"""One copy of a workspace with its contents in a single tar file."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import tarfile
from pathlib import Path
from typing import Any

from midfoot.store.backup import (
    BLOBS,
    FILES,
    MANIFEST,
    Backup,
    Tell,
    copy_database,
    manifest_of,
    walk,
)
from midfoot.store.files import StoreError, write_whole
from midfoot.store.workspace import DATABASE, Workspace


def write_tar(workspace: Workspace, to: Path, tell: Tell) -> Backup:
    """Write one copy with its contents as a tar file."""
    if to.exists():
        raise StoreError(f"{to} is there already; give a new name, or a folder that holds many copies.")
    to.parent.mkdir(parents=True, exist_ok=True)
    with write_whole(to) as beside:
        database = beside.with_name(f"{beside.name}.sqlite3")
        try:
            made = copy_database(workspace, database)
            everything = list(walk(workspace.path))
            _room(to.parent, sum(b for _, b in made.contents) + sum(p.stat().st_size for p in everything))
            rows: list[dict[str, Any]] = []
            bad: list[str] = []
            with tarfile.open(beside, "w", format=tarfile.PAX_FORMAT) as tar:
                tar.add(database, DATABASE, filter=_nameless)
                for n, (sha256, _) in enumerate(made.contents):
                    tell("contents", n / len(made.contents))
                    path = workspace.blobs.path(sha256)
                    if not path.is_file():
                        bad.append(f"the content {sha256} is missing in the workspace")
                    elif not workspace.blobs.verify(sha256):
                        bad.append(f"the content {sha256} is damaged in the workspace")
                    else:
                        tar.add(path, f"{BLOBS}/{sha256[:2]}/{sha256[2:4]}/{sha256}", filter=_nameless)
                for n, path in enumerate(everything):
                    tell("folders", n / len(everything))
                    row = _add(tar, path, path.relative_to(workspace.path).as_posix())
                    rows += [row] if row else []
                text = json.dumps(manifest_of(made, rows, tuple(bad)), indent=1).encode()
                info = tarfile.TarInfo(MANIFEST)
                info.size = len(text)
                tar.addfile(info, io.BytesIO(text))
            size = beside.stat().st_size
        finally:
            database.unlink(missing_ok=True)
    to.chmod(0o600)
    contents = len(made.contents)
    return Backup(path=to, contents=contents, new_contents=contents, files=len(rows), bytes=size, bad=tuple(bad))


def _add(tar: tarfile.TarFile, path: Path, name: str) -> dict[str, Any] | None:
    """Add one small file, read once, so that its hash is that of what stands in the tar."""
    try:
        with path.open("rb") as file:
            held = hashlib.file_digest(file, "sha256").hexdigest()
            info = tar.gettarinfo(arcname=f"{FILES}/{name}", fileobj=file)
            file.seek(0)
            tar.addfile(_nameless(info), file)
    except FileNotFoundError:
        return None
    return {"path": name, "bytes": info.size, "sha256": held, "changed_ns": path.stat().st_mtime_ns}


def _nameless(info: tarfile.TarInfo) -> tarfile.TarInfo:
    """Leave out who owns the files on this machine."""
    info.uid = info.gid = 0
    info.uname = info.gname = ""
    return info


def _room(folder: Path, size: int) -> None:
    free = shutil.disk_usage(folder).free
    if free < size:
        raise StoreError(
            f"{folder}: the disk has {free / 1e6:.0f} MB left and {size / 1e6:.0f} MB are needed; free some room, "
            "or give another place."
        )
