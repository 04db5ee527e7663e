"""What stays how long: contents nobody points at, submissions nobody used, originals after a year.

A submission is used once the coach did something with it: picked it, edited or published its review, spoke over
it, put it into an edition, left it open, took a change from it or holds others against it.
"""

from __future__ import annotations

import shutil
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.store import tables
from midfoot.store.files import StoreError
from midfoot.store.rows import setting
from midfoot.store.workspace import Workspace

UNUSED_DAYS = 90
ORIGINAL_DAYS = 365
SETTLING_S = 3600.0
"""A content may lie this long before a row points at it: a set is put in file by file."""
A_DAY_S = 86_400.0


@frozen
class Due:
    """What goes by the rule: sets whole, or a content alone; `since` is from when its time is up."""

    kind: str
    id: str
    since: datetime


@frozen
class Freed:
    """What a cleaning deleted."""

    contents: int
    bytes: int


def pointers() -> list[sa.Column[Any]]:
    """Give every column that points at a content."""
    return [
        key.parent
        for table in tables.metadata.sorted_tables
        for key in table.foreign_keys
        if key.column.table is tables.blobs
    ]


def pointed_at() -> sa.CompoundSelect[Any]:
    """Give the query of every SHA-256 that some row points at."""
    return sa.union(*(sa.select(column.label("sha256")).where(column.is_not(None)) for column in pointers()))


def original(workspace: Workspace, connection: Connection, clip_id: str) -> Path:
    """Give the file of a clip as it was received.

    Raises
    ------
    StoreError
        When there is no such clip, its time was up, or its file is missing: one sentence with the remedy.
    """
    clips, blobs = tables.clips, tables.blobs
    row = connection.execute(
        sa.select(clips.c.sha256, clips.c.received_name, blobs.c.gone_at)
        .join(blobs, blobs.c.sha256 == clips.c.sha256)
        .where(clips.c.id == clip_id)
    ).first()
    if row is None:
        raise StoreError(f"There is no clip {clip_id} in {workspace.path}; go back to the inbox.")
    name = row.received_name or clip_id
    if row.gone_at is not None:
        raise StoreError(
            f"The original of {name} was deleted on {row.gone_at:%Y-%m-%d}, as originals are after twelve months "
            "unless kept; ask the lifter for it and drop it in again."
        )
    path = workspace.blobs.path(row.sha256)
    if not path.is_file():
        raise StoreError(
            f"The original of {name} is missing in {workspace.path}; put a backup back with midfoot restore."
        )
    return path


def collect(workspace: Workspace, *, settling_s: float = SETTLING_S) -> Freed:
    """Delete contents that no row points at, files that were never finished, and folders of what is no more.

    What was put in within the last `settling_s` seconds stays, and folders of measurements for a day: a set is put
    in file by file.
    """
    before = time.time() - settling_s
    found = freed = 0
    blobs = tables.blobs
    lying = list(workspace.blobs.all())
    with workspace.write() as connection:
        connection.execute(
            blobs.delete().where(
                blobs.c.sha256.not_in(pointed_at()),
                blobs.c.created_at < datetime.fromtimestamp(before).astimezone(),
                _not_kept(datetime.now().astimezone()),
            )
        )
        known = set(connection.execute(sa.select(blobs.c.sha256).where(blobs.c.gone_at.is_(None))).scalars())
        for sha256 in lying:
            if sha256 not in known:
                size = workspace.blobs.remove(sha256, unless_put_since=before)
                found, freed = found + bool(size), freed + size
    for part in workspace.blobs.unfinished(before):
        part.unlink(missing_ok=True)
    for folder in forsaken(workspace):
        shutil.rmtree(folder, ignore_errors=True)
    return Freed(found, freed)


def forsaken(workspace: Workspace) -> list[Path]:
    """Give folders of sets and clips that are no more, and of measurements without a row after a day."""
    with workspace.read() as connection:
        kept = {workspace.path / f for f in connection.execute(sa.select(tables.measurements.c.folder)).scalars()}
        known = {
            "reviews": set(connection.execute(sa.select(tables.sets.c.id)).scalars()),
            "measured": set(connection.execute(sa.select(tables.clips.c.id)).scalars()),
        }
    out = [p for name, ids in known.items() for p in _subfolders(workspace.path / name) if p.name not in ids]
    old = time.time() - A_DAY_S
    for clip in _subfolders(workspace.path / "measured"):
        out += [p for p in _subfolders(clip) if clip not in out and p not in kept and p.stat().st_mtime < old]
    return out


def _subfolders(folder: Path) -> list[Path]:
    return sorted(p for p in folder.iterdir() if p.is_dir()) if folder.is_dir() else []


def due(connection: Connection, now: datetime) -> list[Due]:
    """Give what is to go by now, oldest first: unused sets whole, originals alone.

    The settings `keep_unused_days` and `keep_originals_months` stand for the days above where the coach set them.
    """
    sets = tables.sets
    unused = timedelta(days=_number(connection, "keep_unused_days", UNUSED_DAYS))
    limit = now - unused
    rows = connection.execute(
        sa.select(sets.c.id, sets.c.received_at).where(sets.c.received_at < limit, ~used(), ~_set_kept(now))
    )
    gone = [Due("set", r.id, r.received_at + unused) for r in rows]
    return sorted([*gone, *_originals(connection, now)], key=lambda d: d.since)


def used() -> sa.ColumnElement[bool]:
    """Give the condition that a set was used."""
    sets = tables.sets.alias("other")
    own = tables.sets.c.id
    return sa.or_(
        tables.sets.c.picked != "none",
        *(
            sa.exists().where(table.c.set_id == own)
            for table in (
                tables.review_edits, tables.publications, tables.takes, tables.edition_segments, tables.open_sets,
                tables.changes, tables.follow_ups,
            )
        ),
        sa.exists().where(sets.c.accepted_reference_set_id == own),
    )  # fmt: skip


def forget_original(workspace: Workspace, sha256: str, now: datetime) -> int:
    """Delete an original by the rule; its row stays and says when. Gives the bytes that it freed."""
    blobs = tables.blobs
    with workspace.write() as connection:
        connection.execute(blobs.update().where(blobs.c.sha256 == sha256).values(gone_at=now))
        return workspace.blobs.remove(sha256)


def _originals(connection: Connection, now: datetime) -> list[Due]:
    """Contents that are nothing but originals, every set of which is old and none of which is to be kept."""
    clips, blobs, sets = tables.clips, tables.blobs, tables.sets
    elsewhere = sa.union(
        *(sa.select(c.label("sha256")).where(c.is_not(None)) for c in pointers() if c is not clips.c.sha256)
    )
    kept = timedelta(days=_number(connection, "keep_originals_months", 12) * ORIGINAL_DAYS / 12)
    limit = now - kept
    last = sa.func.max(sets.c.received_at).label("last")
    rows = connection.execute(
        sa.select(clips.c.sha256, last)
        .join(sets, sets.c.id == clips.c.set_id)
        .join(blobs, blobs.c.sha256 == clips.c.sha256)
        .where(blobs.c.gone_at.is_(None), _not_kept(now), clips.c.sha256.not_in(elsewhere))
        .group_by(clips.c.sha256)
        .having(last < limit, sa.func.sum(sa.case((_set_kept(now), 1), else_=0)) == 0)
    )
    return [Due("original", r.sha256, r.last + kept) for r in rows]


def _number(connection: Connection, key: str, default: float) -> float:
    """Give a setting that is a positive number; anything else counts as not set."""
    found = setting(connection, key)
    good = isinstance(found, (int, float)) and not isinstance(found, bool) and 0 < found < 10_000
    return float(found) if good else float(default)


def _not_kept(now: datetime) -> sa.ColumnElement[bool]:
    """Give the condition that a content is not kept on purpose."""
    blobs = tables.blobs
    return sa.and_(
        sa.or_(blobs.c.kept_until.is_(None), blobs.c.kept_until < now),
        sa.or_(blobs.c.keep_reason == "", blobs.c.kept_until.is_not(None)),
    )


def _set_kept(now: datetime) -> sa.ColumnElement[bool]:
    """Give the condition that a set's originals are kept: by consent, or on purpose."""
    consents, sets, clips, blobs = tables.consents, tables.sets, tables.clips.alias("kept_clip"), tables.blobs
    kept = blobs.alias("kept_blob")
    agreed = sa.exists().where(
        consents.c.use == "keep_original",
        consents.c.revoked_at.is_(None),
        sa.or_(consents.c.set_id == sets.c.id,
               sa.and_(consents.c.set_id.is_(None), consents.c.lifter_id == sets.c.lifter_id)),
    )  # fmt: skip
    wanted = sa.exists().where(
        clips.c.set_id == sets.c.id,
        kept.c.sha256 == clips.c.sha256,
        sa.or_(kept.c.kept_until >= now, sa.and_(kept.c.kept_until.is_(None), kept.c.keep_reason != "")),
    )
    return sa.or_(agreed, wanted)
