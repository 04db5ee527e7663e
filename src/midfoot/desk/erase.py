"""Everything of one lifter, or of one set, goes: rows, contents nobody else uses, folders, pages, takes, answers.

At the public instance it goes too: at once where it answers, else a job waits for it (`erase_there`).

What is left is one line that something was erased and when, with no name and no id in it. Copies that somebody
downloaded, and backups, are outside the workspace: the page that asks for this says so.
"""

from __future__ import annotations

import hashlib
import time
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk import erase_files, erase_there
from midfoot.desk.erase_files import speaks_of
from midfoot.desk.erase_plan import Plan, delete_rows, delete_unused, own_names, plan_of, take_names_out
from midfoot.desk.erase_there import There
from midfoot.desk.publishing import forget
from midfoot.store import StoreError, Workspace
from midfoot.store.columns import now
from midfoot.store.rows import audit
from midfoot.store.tables import audit as audit_table
from midfoot.store.tables import (
    edition_segments,
    editions,
    lifters,
    links,
    open_sets,
    publications,
    sets,
    settings,
)
from midfoot.store.tables import jobs as jobs_table

WAIT_S = 10.0
"""So long a job that works on what is to go may take to hear of it."""


class EraseError(ValueError):
    """There is nothing to erase: the text says what is missing."""


@frozen(kw_only=True)
class Erased:
    """What went.

    Attributes
    ----------
    sets, rows, contents : int
    bytes : int
        Freed by contents.
    editions : tuple of str
        Editions that held a set of the lifter: they are in preparation again and are to be exported anew.
    mentions : tuple of str
        Files in which the name still stands, beneath the workspace: words of the coach, to be looked at by hand.
    there : There or None
        What became of it at the public instance; None where there is none, or nothing of it can be there.
    """

    sets: int
    rows: int
    contents: int
    bytes: int
    editions: tuple[str, ...] = ()
    mentions: tuple[str, ...] = ()
    there: There | None = None


def mark_of(lifter_id: str) -> str:
    """Give by what an erased lifter is known again in an old backup: no id, and no way back to one."""
    return hashlib.sha256(f"midfoot erased {lifter_id}".encode()).hexdigest()


def erase_lifter(workspace: Workspace, lifter_id: str, *, who: str = "coach") -> Erased:
    """Erase everything of a lifter, here and at the public instance.

    Raises
    ------
    EraseError
        When there is no such lifter.
    StoreError
        When a file cannot be taken away: everything else is erased, and it is said which and what to do.
    """
    with workspace.read() as connection:
        row = connection.execute(sa.select(lifters).where(lifters.c.id == lifter_id)).first()
        if row is None:
            raise EraseError("There is no such lifter any more.")
        of = connection.execute(sa.select(sets.c.id).where(sets.c.lifter_id == lifter_id)).scalars()
        start = {"lifters": {lifter_id}, "sets": set(of)}
        plan = plan_of(connection, start, names=own_names(connection, row))
    return _carry_out(workspace, plan, "lifter_erased", mark_of(lifter_id), who, at_once=True)


def erase_set(workspace: Workspace, set_id: str, *, what: str = "set_erased", who: str = "coach") -> Erased:
    """Erase one set with all that was made of it; the lifter's card stays.

    Raises
    ------
    EraseError, StoreError
        As `erase_lifter`.
    """
    with workspace.read() as connection:
        if connection.execute(sa.select(sets.c.id).where(sets.c.id == set_id)).first() is None:
            raise EraseError("There is no such set any more.")
        plan = plan_of(connection, {"sets": {set_id}})
    return _carry_out(workspace, plan, what, "", who)


def erase_all(workspace: Workspace, rows: dict[str, set[str]], *, who: str = "coach") -> Erased:
    """Erase rows by their table and id with all that hangs on them; traces of ids that are gone already go too."""
    with workspace.read() as connection:
        plan = plan_of(connection, rows)
    return _carry_out(workspace, plan, "set_erased", "", who)


def _carry_out(
    workspace: Workspace, plan: Plan, what: str, mark: str, who: str, *, at_once: bool = False
) -> Erased:
    _stop_jobs(workspace, plan)
    set_ids, clip_ids = plan.ids.get("sets", set()), plan.ids.get("clips", set())
    pages = _pages(workspace, set_ids)
    forget(workspace, set_ids)  # what others can open goes first
    withdrawn = _editions_of(workspace, plan)
    started = time.time()
    with workspace.write() as connection:
        there_too = erase_there.wanted(connection, plan)
        rows = delete_rows(connection, plan)
        gone = delete_unused(connection, plan.contents)
        take_names_out(connection, plan, withdrawn)
        _forget_traces(connection, plan)
        audit(connection, what, what.partition("_")[0], mark, {"sets": len(set_ids), "rows": rows}, who=who)
        asked = erase_there.queue(connection, there_too)
    stuck = [
        f"The page {page} cannot be taken away and everything else is erased; delete that folder by hand, here "
        "and where it was uploaded."
        for page in pages
        if page.exists()
    ]
    for folder in (*(workspace.review(s) for s in set_ids), *(workspace.path / "measured" / c for c in clip_ids)):
        try:
            erase_files.remove(folder)
        except StoreError as error:
            stuck.append(str(error))
    freed = sum(workspace.blobs.remove(s, unless_put_since=started) for s in gone)
    erase_files.inbox(workspace, plan.contents & gone)
    erase_files.uploads(workspace, plan)
    erase_files.logs(workspace, plan)
    there = erase_there.try_now(workspace, asked) if at_once else None
    for copy in workspace.path.glob("*.before-upgrade-*"):
        copy.unlink(missing_ok=True)
    try:
        workspace.write_anew()
    except StoreError as error:
        stuck.append(
            f"Everything is erased, but what was deleted may still stand in the database's free pages ({error}); "
            "run midfoot check --deep --clean when nothing else runs."
        )
    if stuck:
        raise StoreError(stuck[0])
    return Erased(
        sets=len(set_ids), rows=rows, contents=len(gone), bytes=freed, editions=tuple(sorted(withdrawn)),
        mentions=tuple(erase_files.mentions(workspace, plan.names)), there=there,
    )  # fmt: skip


def _pages(workspace: Workspace, set_ids: set[str]) -> list[Path]:
    with workspace.read() as connection:
        rows = connection.execute(sa.select(publications.c.folder).where(publications.c.set_id.in_(set_ids)))
        return [workspace.path / folder for folder in rows.scalars()]


def _stop_jobs(workspace: Workspace, plan: Plan) -> None:
    """Call off jobs that work on what goes, and wait a little for those that run."""
    until = time.monotonic() + WAIT_S
    while True:
        with workspace.write() as connection:
            mine = [r.id for r in connection.execute(sa.select(jobs_table)) if speaks_of(r, plan.every)]
            connection.execute(
                jobs_table.update()
                .where(jobs_table.c.id.in_(mine), jobs_table.c.cancel_asked_at.is_(None))
                .values(cancel_asked_at=now())
            )
            connection.execute(
                jobs_table.update()
                .where(jobs_table.c.id.in_(mine), jobs_table.c.state == "queued")
                .values(state="cancelled", finished_at=now())
            )
            at_work = connection.execute(
                sa.select(sa.func.count()).where(
                    jobs_table.c.id.in_(mine), jobs_table.c.state == "running", jobs_table.c.lease_until > now()
                )
            ).scalar()
        if not at_work or time.monotonic() > until:
            return
        time.sleep(0.2)


def _editions_of(workspace: Workspace, plan: Plan) -> set[str]:
    """Take back editions that hold what goes: their folders, and their state."""
    segments = plan.ids.get("edition_segments", set())
    with workspace.write() as connection:
        found = sa.select(edition_segments.c.edition_id).where(edition_segments.c.id.in_(segments))
        left_open = sa.select(open_sets.c.edition_id).where(
            open_sets.c.id.in_(plan.ids.get("open_sets", set())), open_sets.c.edition_id.is_not(None)
        )
        ids = {str(i) for q in (found, left_open) for i in connection.execute(q).scalars()}
        rows = connection.execute(
            sa.select(publications).where(publications.c.edition_id.in_(ids), publications.c.revoked_at.is_(None))
        ).all()
        for row in rows:
            erase_files.remove(workspace.path / row.folder)
        connection.execute(publications.delete().where(publications.c.id.in_([r.id for r in rows])))
        connection.execute(editions.update().where(editions.c.id.in_(ids)).values(state="preparing"))
    return ids


def _forget_traces(connection: Connection, plan: Plan) -> None:
    """Delete jobs and lines of the audit that speak of what went: they have no references to follow.

    Settings and links that speak of others too only forget the ids.
    """
    for table in (jobs_table, audit_table):
        mine = [r.id for r in connection.execute(sa.select(table)) if speaks_of(r, plan.every)]
        connection.execute(table.delete().where(table.c.id.in_(mine)))
    for key in connection.execute(sa.select(settings.c.key)).scalars().all():
        if speaks_of((key,), plan.every):
            connection.execute(settings.delete().where(settings.c.key == key))
    for column, key in ((settings.c.value, settings.c.key), (links.c.limits, links.c.id)):
        for own, value in connection.execute(sa.select(key, column).where(column.is_not(None))).all():
            if speaks_of((value,), plan.every):
                connection.execute(
                    column.table.update().where(key == own).values({column: _without_ids(value, plan.every)})
                )


def _without_ids(value: Any, ids: frozenset[str]) -> Any:
    if isinstance(value, dict):
        return {k: _without_ids(v, ids) for k, v in value.items() if not (isinstance(v, str) and v in ids)}
    return (
        [_without_ids(v, ids) for v in value if not (isinstance(v, str) and v in ids)]
        if isinstance(value, list)
        else value
    )


__all__ = ["EraseError", "Erased", "Plan", "erase_lifter", "erase_set", "mark_of", "plan_of"]
