"""Looking through a whole workspace: the database, every content, every reference both ways, every folder.

What is wrong loses or shows something; what is left over only takes room and goes with the next cleaning.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.store import tables
from midfoot.store.backup import Tell
from midfoot.store.context_json import context_from_json
from midfoot.store.files import StoreError
from midfoot.store.folder import read_folder
from midfoot.store.measurement_json import validate
from midfoot.store.retention import pointed_at
from midfoot.store.review_json import edits_from_json
from midfoot.store.workspace import Workspace

RESTORE = "put the last good backup back with midfoot restore"


@frozen
class Trouble:
    """One thing that is not as it should be.

    `kind` is `wrong` or `left_over`, `what` says it with the id or name, `remedy` what to do.
    """

    kind: str
    what: str
    remedy: str


def look_through(workspace: Workspace, *, contents: bool = True, tell: Tell = lambda *_: None) -> list[Trouble]:
    """Look through a workspace; changes nothing.

    Parameters
    ----------
    workspace : Workspace
    contents : bool
        Read every content again and hold it against its hash (minutes for many hours of footage).
    tell : function of (step, share)
    """
    found: list[Trouble] = []
    with workspace.read() as connection:
        steps: tuple[Callable[[Workspace, Connection], Iterator[Trouble]], ...] = (
            _database, _rows, _edits, _measured, _published, _folders,
        )  # fmt: skip
        for n, step in enumerate(steps):
            tell("rows and folders", n / len(steps))
            found += step(workspace, connection)
        tell("rows and folders", 1.0)
        held = sa.select(tables.blobs.c.sha256, tables.blobs.c.bytes).where(tables.blobs.c.gone_at.is_(None))
        known = {row.sha256: row.bytes for row in connection.execute(held)}
        gone = set(connection.execute(sa.select(tables.blobs.c.sha256).where(tables.blobs.c.gone_at.is_not(None)))
                   .scalars())  # fmt: skip
        wanted = set(connection.execute(pointed_at()).scalars())
    found += _contents(workspace, known, gone, wanted, contents, tell)
    return found


def _wrong(what: str, remedy: str) -> Trouble:
    return Trouble("wrong", what, remedy)


def _left(what: str) -> Trouble:
    return Trouble("left_over", what, "it only takes room; midfoot check --deep --clean takes it away")


def _database(workspace: Workspace, connection: Connection) -> Iterator[Trouble]:
    if connection.dialect.name != "sqlite":
        return
    for (said,) in connection.exec_driver_sql("PRAGMA integrity_check").fetchall():
        if said != "ok":
            yield _wrong(f"the database is damaged: {said}", RESTORE)
    for table, row, target, _ in connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall():
        yield _wrong(f"row {row} of {table} points at nothing in {target}", RESTORE)


def _rows(workspace: Workspace, connection: Connection) -> Iterator[Trouble]:
    """What foreign keys and checks cannot hold."""
    sets, clips = tables.sets, tables.clips
    lost = (
        sa.select(sets.c.id, sets.c.main_clip_id)
        .outerjoin(clips, sa.and_(clips.c.id == sets.c.main_clip_id, clips.c.set_id == sets.c.id))
        .where(sets.c.main_clip_id.is_not(None), clips.c.id.is_(None))
    )
    for row in connection.execute(lost):
        yield _wrong(
            f"set {row.id} names a main clip {row.main_clip_id} that is not one of its clips",
            "open the set on the desk and choose its measured view",
        )
    for set_id, document in connection.execute(
        sa.select(sets.c.id, sets.c.context).where(sets.c.context.is_not(None))
    ):
        try:
            context_from_json(document)
        except (ValueError, TypeError, AttributeError) as error:
            yield _wrong(f"what was said of set {set_id} cannot be read ({error})", RESTORE)
    takes = tables.takes
    for (take,) in connection.execute(
        sa.select(takes.c.id).where(takes.c.deleted_at.is_not(None), takes.c.audio_sha256.is_not(None))
    ):
        yield _wrong(f"take {take} was deleted and its sound is still kept", "delete the take again on the desk")
    for name, table in tables.metadata.tables.items():
        try:
            connection.execute(sa.select(table)).fetchall()
        except (ValueError, TypeError) as error:  # JSON or an instant that cannot be read
            yield _wrong(f"a row of {name} cannot be read ({error})", RESTORE)


def _edits(workspace: Workspace, connection: Connection) -> Iterator[Trouble]:
    log = tables.review_edits
    rows = connection.execute(sa.select(log.c.set_id, log.c.n, log.c.edit_id, log.c.edit)
                              .order_by(log.c.set_id, log.c.n))  # fmt: skip
    last: tuple[str, int] = ("", 0)
    for row in rows:
        expected = last[1] + 1 if row.set_id == last[0] else 1
        if row.n != expected:
            yield _wrong(
                f"the edits of set {row.set_id} leap from {expected - 1} to {row.n}: some are lost", RESTORE
            )
        last = (row.set_id, row.n)
        try:
            (edit,) = edits_from_json([row.edit])
            if edit.id != row.edit_id:
                raise ValueError(f"it calls itself {edit.id}")
        except ValueError as error:
            yield _wrong(f"edit {row.n} of set {row.set_id} cannot be read ({error})", RESTORE)


def _measured(workspace: Workspace, connection: Connection) -> Iterator[Trouble]:
    """Every measurement has its folder, whole, of its own clip; every folder has its measurement."""
    rows = connection.execute(
        sa.select(tables.measurements, tables.clips.c.sha256.label("of")).join(
            tables.clips, tables.clips.c.id == tables.measurements.c.clip_id
        )
    ).all()
    again = "measure the clip again on the desk"
    root = workspace.path / "measured"
    for row in rows:
        folder = workspace.path / row.folder
        if root.resolve() not in folder.resolve().parents:
            yield _wrong(f"measurement {row.id} lies outside measured/ ({row.folder})", again)
            continue
        try:
            document, _ = read_folder(folder)
            validate(document)
        except StoreError as error:
            yield _wrong(f"measurement {row.id} of clip {row.clip_id}: {str(error).partition(';')[0]}", again)
            continue
        except Exception as error:  # jsonschema's own kind, imported where it is needed only
            said = str(error).partition("\n")[0]
            yield _wrong(f"measurement {row.id} of clip {row.clip_id} breaks the schema: {said}", again)
            continue
        if document["clip"]["sha256"] != row.of:
            yield _wrong(f"measurement {row.id} is of another clip than {row.clip_id}", again)
    known = {(workspace.path / row.folder) for row in rows}
    for folder in sorted(root.glob("*/*")):
        if folder.is_dir() and folder not in known and not folder.name.startswith("."):
            yield _left(f"{workspace.relative(folder)} belongs to no measurement")


def _published(workspace: Workspace, connection: Connection) -> Iterator[Trouble]:
    """What is published is known, and what is known to be published is there."""
    rows = connection.execute(sa.select(tables.publications)).all()
    for row in rows:
        if row.revoked_at is None and not (workspace.path / row.folder / "index.html").is_file():
            yield _wrong(f"the page {row.folder} is missing", "publish the review again on the desk")
    known = {(workspace.path / row.folder) for row in rows}
    for kind in "lpeo":
        for folder in sorted((workspace.published / kind).glob("*")):
            if folder.is_dir() and folder not in known:
                yield _wrong(
                    f"{workspace.relative(folder)} is published and nobody knows of it",
                    "delete that folder here and where it was uploaded",
                )


def _folders(workspace: Workspace, connection: Connection) -> Iterator[Trouble]:
    """Folders of sets and clips that are no more."""
    for name, table in (("reviews", tables.sets), ("measured", tables.clips)):
        known = set(connection.execute(sa.select(table.c.id)).scalars())
        for folder in sorted((workspace.path / name).iterdir() if (workspace.path / name).is_dir() else ()):
            if folder.name not in known and not folder.name.startswith("."):
                yield _wrong(
                    f"{name}/{folder.name} belongs to nothing any more",
                    "midfoot check --deep --clean takes it away",
                )


def _contents(
    workspace: Workspace, known: dict[str, int], gone: set[str], wanted: set[str], deep: bool, tell: Tell
) -> Iterator[Trouble]:
    store = workspace.blobs
    for n, (sha256, size) in enumerate(known.items()):
        tell("contents", n / len(known))
        where = store.path(sha256)
        try:
            if where.stat().st_size != size:
                yield _wrong(f"the content {sha256} has {where.stat().st_size} bytes, not {size}", RESTORE)
            elif deep and not store.verify(sha256):
                yield _wrong(f"the content {sha256} is damaged: its bytes have changed", RESTORE)
        except FileNotFoundError:
            yield _wrong(f"the content {sha256} is missing", RESTORE)
        except OSError as error:
            yield _wrong(f"the content {sha256} cannot be read ({error.strerror})", RESTORE)
        if sha256 not in wanted:
            yield _left(f"nothing points at the content {sha256}")
    tell("contents", 1.0)
    for sha256 in store.all():
        if sha256 in gone:
            yield _wrong(f"the content {sha256} was deleted by the rule and still lies here",
                         "midfoot check --deep --clean takes it away")  # fmt: skip
        elif sha256 not in known:
            yield _left(f"the file {sha256} has no row")
    for path in store.strangers():
        yield _left(f"{_named(workspace, path)} is no content of this workspace")


def _named(workspace: Workspace, path: Path) -> str:
    return json.dumps(workspace.relative(path))[1:-1]


def counted(workspace: Workspace) -> dict[str, Any]:
    """Give how much there is: lifters, sets, contents and their bytes."""
    with workspace.read() as connection:
        blobs = tables.blobs
        held = connection.execute(
            sa.select(sa.func.count(), sa.func.coalesce(sa.func.sum(blobs.c.bytes), 0)).where(
                blobs.c.gone_at.is_(None)
            )
        ).one()
        return {
            "lifters": connection.execute(sa.select(sa.func.count()).select_from(tables.lifters)).scalar(),
            "sets": connection.execute(sa.select(sa.func.count()).select_from(tables.sets)).scalar(),
            "contents": held[0],
            "bytes": held[1],
        }
