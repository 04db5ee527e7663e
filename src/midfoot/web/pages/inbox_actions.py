"""What can be done with a set of the inbox, as JSON: pick, wait, archive, cancel and try again."""

from __future__ import annotations

from typing import Annotated, Any, Literal

import sqlalchemy as sa
from fastapi import APIRouter, Path
from pydantic import BaseModel, Field
from sqlalchemy.engine import Connection

from midfoot.desk import erase_there
from midfoot.jobs import cancel, retry
from midfoot.store.columns import now
from midfoot.store.rows import audit
from midfoot.store.tables import changes, follow_ups, jobs, sets
from midfoot.web.deps import Desk
from midfoot.web.problems import Problem, not_found

router = APIRouter(tags=["inbox"])
Id = Annotated[str, Path(pattern=r"^[0-9a-f]{16}$")]


class Pick(BaseModel):
    """What a set is picked for."""

    picked: Literal["none", "review", "edition"]


class Wait(BaseModel):
    """What a set waits for, and a word on why."""

    waiting: Literal["none", "refilm", "answer"]
    note: str = Field(default="", max_length=500)


class Archive(BaseModel):
    """Put away, or taken out again."""

    archived: bool


class Done(BaseModel):
    """What was done."""

    done: str


@router.post("/sets/{set_id}/pick")
def pick(set_id: Id, asked: Pick, desk: Desk) -> Done:
    """Pick a set for a review or an edition, or for neither."""
    with desk.write() as connection:
        _change(connection, set_id, picked=asked.picked)
    return Done(done={"none": "No longer picked.", "review": "Picked for a review.",
                      "edition": "Picked for an edition."}[asked.picked])  # fmt: skip


@router.post("/sets/{set_id}/wait")
def wait(set_id: Id, asked: Wait, desk: Desk) -> Done:
    """Let a set wait for a re-film or an answer, or end its waiting."""
    with desk.write() as connection:
        _change(
            connection, set_id, waiting=asked.waiting, waiting_note=asked.note if asked.waiting != "none" else ""
        )
    return Done(done="It waits no longer." if asked.waiting == "none" else "It waits.")


@router.post("/sets/{set_id}/archive")
def archive(set_id: Id, asked: Archive, desk: Desk) -> Done:
    """Put a set away, or take it out again; nothing of it is erased."""
    with desk.write() as connection:
        _change(connection, set_id, archived_at=now() if asked.archived else None)
        audit(connection, "set_archived" if asked.archived else "set_taken_out", "set", set_id)
    return Done(done="Archived." if asked.archived else "Taken out of the archive.")


@router.post("/sets/{set_id}/asked")
def asked_for_follow_up(set_id: Id, desk: Desk) -> Done:
    """Note that the lifter was asked for the follow-up of this set."""
    of_set = sa.select(changes.c.id).where(changes.c.set_id == set_id)
    with desk.write() as connection:
        found = connection.execute(
            follow_ups.update()
            .where(follow_ups.c.change_id.in_(of_set), follow_ups.c.done_at.is_(None))
            .values(asked_at=now())
        )
    if not found.rowcount:
        raise not_found("follow-up")
    return Done(done="Noted that you asked.")


@router.post("/jobs/{job_id}/cancel")
def cancel_job(job_id: Id, desk: Desk, sure: bool = False) -> Done:
    """Cancel work that waits or runs; erasing at the public instance only where it is said that this is meant."""
    with desk.write() as connection:
        if _job(connection, job_id) == erase_there.KIND and not sure:
            raise Problem(
                409,
                "Data of somebody who was erased here would stay on the public instance.",
                "Cancel it on the page of work, which asks first.",
            )
        if not cancel(connection, job_id):
            raise Problem(409, "This work is over already.", "Reload the page to see what became of it.")
    return Done(done="Cancelled.")


@router.post("/jobs/{job_id}/retry")
def retry_job(job_id: Id, desk: Desk) -> Done:
    """Try work again that failed or was cancelled."""
    with desk.write() as connection:
        _job(connection, job_id)
        if retry(connection, job_id) is None:
            raise Problem(
                409, "This work neither failed nor was cancelled.", "Reload the page to see where it is."
            )
    return Done(done="It is tried again.")


def _job(connection: Connection, job_id: str) -> str:
    """Give what kind of work it is."""
    kind = connection.execute(sa.select(jobs.c.kind).where(jobs.c.id == job_id)).scalar()
    if kind is None:
        raise not_found("piece of work")
    return str(kind)


def _change(connection: Connection, set_id: str, **values: Any) -> None:
    if not connection.execute(sets.update().where(sets.c.id == set_id).values(**values)).rowcount:
        raise not_found("set")
