"""Keeping a workspace: what goes when its time is up, and a copy put back without who was erased since."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import sqlalchemy as sa
from attrs import frozen

from midfoot.desk.erase import erase_lifter, erase_set, mark_of
from midfoot.store import Workspace
from midfoot.store.backup import Tell
from midfoot.store.restore import Restored, restore
from midfoot.store.retention import Due, collect, due, forget_original
from midfoot.store.rows import audit, set_setting, setting
from midfoot.store.tables import lifters

AFTER = timedelta(hours=18)
FOUND_DUE = "found_due_"
"""Setting, with the kind behind it: since when each id was found due."""


@frozen(kw_only=True)
class Retired:
    """What went: unused sets, originals whose year was up, and what nobody pointed at any more."""

    sets: int
    originals: int
    bytes: int


@frozen(kw_only=True)
class PutBack:
    """A copy that was put back, and how many lifters were erased again in it."""

    restored: Restored
    erased_again: int


def retire(workspace: Workspace, now: datetime, *, after: timedelta = AFTER) -> Retired:
    """Let go what is due at an instant; to be called once a day.

    Parameters
    ----------
    workspace, now
    after : timedelta
        What is due goes only when it was found due so long ago already, and is due still: a clock that is wrong
        for a day deletes nothing.
    """
    gone, originals, size = 0, 0, 0
    for one in _due(workspace, "set", now, after):
        size += erase_set(workspace, one.id, what="set_unused", who="the rule for unused sets").bytes
        gone += 1
    for one in _due(workspace, "original", now, after):  # asked anew: a set that went may have been what kept one
        size += forget_original(workspace, one.id, now)
        originals += 1
    if originals:
        with workspace.write() as connection:
            audit(connection, "originals_deleted", "", "", {"count": originals}, who="the rule for originals")
    return Retired(sets=gone, originals=originals, bytes=size + collect(workspace).bytes)


def _due(workspace: Workspace, kind: str, now: datetime, after: timedelta) -> list[Due]:
    """Give what is due and was found so at an earlier look; what is found the first time is written down."""
    key = f"{FOUND_DUE}{kind}"
    with workspace.write() as connection:
        found = [one for one in due(connection, now) if one.kind == kind]
        before = {i: datetime.fromisoformat(at) for i, at in (setting(connection, key) or {}).items()}
        first = {one.id: before.get(one.id, now) for one in found}
        first = {i: at if at <= now else now for i, at in first.items()}  # the clock was put back
        ripe = [one for one in found if now - first[one.id] >= after]
        set_setting(connection, key, {one.id: first[one.id].isoformat() for one in found if one not in ripe})
    return ripe


def put_back(
    source: Path, to: Path, *, at: str | None = None, replace: bool = False, tell: Tell = lambda *_: None
) -> PutBack:
    """Put a copy back and erase again who was erased after it was made.

    Raises
    ------
    StoreError
        As `restore`.
    """
    done = restore(source, to, at=at, replace=replace, tell=tell)
    marks = set(done.erased)
    again = 0
    with Workspace.open(done.path) as workspace:
        with workspace.read() as connection:
            ids = [i for i in connection.execute(sa.select(lifters.c.id)).scalars() if mark_of(i) in marks]
        for lifter_id in ids:
            erase_lifter(workspace, lifter_id, who="restore")
            again += 1
    return PutBack(restored=done, erased_again=again)
