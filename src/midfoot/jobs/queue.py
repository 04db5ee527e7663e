"""The states of a job and every step between them, as plain SQL. All functions take a connection that may write.

queued -> running -> done | failed | cancelled; running -> queued when its worker is gone, was told to end, or
tries again. Every claim raises the job's fencing number: whoever holds an older one is refused.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.jobs.kinds import HURRY, KINDS, Kind
from midfoot.store.columns import new_id, now
from midfoot.store.tables import jobs

LEASE_S = 30.0
"""A worker that was not heard of for so long no longer has its job."""
BACK_OFF_S = (1.0, 5.0, 20.0, 60.0)
"""Wait before the second, third ... attempt."""
GONE = (
    "It ended {n} times without a word, which happens when memory runs out or the program is ended from outside; "
    "close other programs, then try again."
)
LIVE = ("queued", "running")
KILLED_FACTOR = 5
"""A worker killed from outside may be nobody's fault: so many times as many attempts are given before its job is
given up. One that uses up the memory looks the same, and is given up too in the end."""


class Lost(Exception):
    """The job is no longer this worker's: cancelled, or somebody else has it."""


@frozen
class Claimed:
    """A job as a worker got it. `fence` is what it must show to write anything."""

    id: str
    kind: str
    key: str
    payload: Mapping[str, Any]
    attempt: int
    fence: int


def enqueue(
    connection: Connection,
    kind: str,
    key: str,
    payload: Mapping[str, Any] | None = None,
    priority: int | None = None,
    *,
    kinds: Mapping[str, Kind] = KINDS,
) -> str:
    """Put a job into the queue and give its id; one of the same kind and key that waits or runs is given instead.

    Parameters
    ----------
    connection : of a unit of writing.
    kind : a key of `kinds`; KeyError otherwise.
    key : names the work: two jobs with one key would make the same.
    payload : plain JSON.
    priority : higher goes first; None for the kind's own.
    """
    known = kinds[kind]
    wanted = known.priority if priority is None else priority
    there = connection.execute(
        sa.select(jobs.c.id, jobs.c.priority).where(jobs.c.kind == kind, jobs.c.key == key, jobs.c.state.in_(LIVE))
    ).first()
    if there is not None:
        if wanted > there.priority:
            connection.execute(jobs.update().where(jobs.c.id == there.id).values(priority=wanted))
        return str(there.id)
    job_id = new_id()
    connection.execute(
        jobs.insert().values(
            id=job_id, kind=kind, key=key, payload=dict(payload or {}), priority=wanted,
            max_attempts=known.max_attempts,
        )
    )  # fmt: skip
    return job_id


def waiting(connection: Connection, kinds: Collection[str], at: datetime | None = None) -> bool:
    """Tell whether a job could be claimed; reads only."""
    return connection.execute(_next(kinds, at or now())).first() is not None


def claim(
    connection: Connection, worker: str, kinds: Collection[str], at: datetime | None = None
) -> Claimed | None:
    """Take the next job for a worker; None when there is none.

    Parameters
    ----------
    connection : of a unit of writing: two workers never get the same job.
    worker : its name.
    kinds : names of the kinds it knows.
    at : this instant.
    """
    at = at or now()
    row = connection.execute(_next(kinds, at)).first()
    if row is None:
        return None
    taken = connection.execute(
        jobs.update()
        .where(jobs.c.id == row.id, jobs.c.state == "queued", jobs.c.fence == row.fence)
        .values(
            state="running", worker=worker, attempt=row.attempt + 1, fence=row.fence + 1, heartbeat_at=at,
            lease_until=at + timedelta(seconds=LEASE_S), started_at=at, not_before=None, progress=0.0, message="",
            error="",
        )
    )  # fmt: skip
    if taken.rowcount != 1:
        return None
    return Claimed(row.id, row.kind, row.key, row.payload or {}, row.attempt + 1, row.fence + 1)


def _next(kinds: Collection[str], at: datetime) -> sa.Select[Any]:
    return (
        sa.select(jobs.c.id, jobs.c.kind, jobs.c.key, jobs.c.payload, jobs.c.attempt, jobs.c.fence)
        .where(
            jobs.c.state == "queued", jobs.c.kind.in_(tuple(kinds)),
            sa.or_(jobs.c.not_before.is_(None), jobs.c.not_before <= at),
        )
        .order_by(jobs.c.priority.desc(), jobs.c.created_at, jobs.c.id)
        .limit(1)
    )  # fmt: skip


def hold(connection: Connection, job_id: str, fence: int) -> None:
    """Make sure that the job is still this worker's; raises `Lost` otherwise.

    Called first in every unit that writes for a job: what follows in the unit is kept only with it.
    """
    row = connection.execute(sa.select(jobs.c.state, jobs.c.fence).where(jobs.c.id == job_id)).first()
    if row is None or row.state != "running" or row.fence != fence:
        raise Lost


def beat(
    connection: Connection,
    job_id: str,
    fence: int,
    progress: float | None = None,
    message: str | None = None,
    at: datetime | None = None,
) -> None:
    """Say that the work goes on, and how far it is; raises `Lost` when the job is not this worker's any more."""
    at = at or now()
    said: dict[str, Any] = {"heartbeat_at": at, "lease_until": at + timedelta(seconds=LEASE_S)}
    if progress is not None:
        said["progress"] = min(1.0, max(0.0, progress))
    if message is not None:
        said["message"] = message
    _change(connection, job_id, fence, said)


def finish(
    connection: Connection, job_id: str, fence: int, result: Any = None, at: datetime | None = None
) -> None:
    """Make the job done; raises `Lost` when it is not this worker's any more."""
    _change(
        connection, job_id, fence,
        {"state": "done", "finished_at": at or now(), "progress": 1.0, "message": "", "error": "",
         "result": result, "lease_until": None},
    )  # fmt: skip


def fail(
    connection: Connection,
    job_id: str,
    fence: int,
    error: str,
    *,
    again: bool = False,
    longest_s: float = BACK_OFF_S[-1],
    at: datetime | None = None,
) -> str:
    """Record that it could not be done, and why in one sentence; gives the new state.

    With `again` it goes back into the queue while attempts are left; waits grow to `longest_s`. Raises `Lost`.
    """
    at = at or now()
    row = connection.execute(sa.select(jobs.c.attempt, jobs.c.max_attempts).where(jobs.c.id == job_id)).one()
    if again and row.attempt < row.max_attempts:
        _change(connection, job_id, fence, {**_back(row.attempt, at, longest_s), "error": error})
        return "queued"
    _change(connection, job_id, fence, {"state": "failed", "finished_at": at, "error": error, "lease_until": None})
    return "failed"


def release(connection: Connection, job_id: str, fence: int) -> None:
    """Put a job back because its worker was asked to end; the attempt does not count. Raises `Lost`."""
    _change(
        connection, job_id, fence,
        {"state": "queued", "attempt": sa.case((jobs.c.attempt > 0, jobs.c.attempt - 1), else_=0),
         "worker": None, "lease_until": None, "not_before": None, "progress": None, "message": ""},
    )  # fmt: skip


def cancel(connection: Connection, job_id: str, at: datetime | None = None) -> bool:
    """Cancel a job that waits or runs; a worker that has it stops within seconds. False when it was over."""
    at = at or now()
    done = connection.execute(
        jobs.update()
        .where(jobs.c.id == job_id, jobs.c.state.in_(LIVE))
        .values(state="cancelled", cancel_asked_at=at, finished_at=at, lease_until=None)
    )
    return done.rowcount == 1


def retry(connection: Connection, job_id: str) -> str | None:
    """Queue a failed or cancelled job anew and give the id of the one that is queued; None when it is neither."""
    row = connection.execute(sa.select(jobs).where(jobs.c.id == job_id)).first()
    if row is None or row.state not in ("failed", "cancelled"):
        return None
    there = connection.execute(
        sa.select(jobs.c.id).where(jobs.c.kind == row.kind, jobs.c.key == row.key, jobs.c.state.in_(LIVE))
    ).scalar()
    if there is not None:
        return str(there)
    connection.execute(
        jobs.update()
        .where(jobs.c.id == job_id)
        .values(
            state="queued", attempt=0, error="", message="", progress=None, not_before=None, lease_until=None,
            cancel_asked_at=None, finished_at=None, worker=None,
        )
    )  # fmt: skip
    return job_id


def hurry(connection: Connection, keys: Collection[str], priority: int = HURRY) -> int:
    """Put the waiting jobs with these keys before all others; gives how many there were.

    One that runs already keeps it in mind for what follows it.
    """
    moved = connection.execute(
        jobs.update()
        .where(jobs.c.key.in_(tuple(keys)), jobs.c.state.in_(LIVE), jobs.c.priority < priority)
        .values(priority=priority)
    )
    return int(moved.rowcount)


@frozen
class Silent:
    """A running job whose lease is over, and by which sign of life it is known."""

    id: str
    fence: int
    heartbeat_at: datetime | None


def silent(connection: Connection, at: datetime | None = None) -> tuple[Silent, ...]:
    """Give the running jobs whose lease is over, or lies farther ahead than leases reach (the clock moved)."""
    at = at or now()
    rows = connection.execute(
        sa.select(jobs.c.id, jobs.c.fence, jobs.c.heartbeat_at).where(
            jobs.c.state == "running",
            sa.or_(
                jobs.c.lease_until.is_(None), jobs.c.lease_until <= at,
                jobs.c.lease_until > at + timedelta(seconds=2 * LEASE_S),
            ),
        )
    )  # fmt: skip
    return tuple(Silent(r.id, r.fence, r.heartbeat_at) for r in rows)


@frozen
class Taken:
    """A job taken from a worker that is gone; `error` is not "" when it was given up."""

    id: str
    kind: str
    payload: Mapping[str, Any]
    error: str


def give_back(
    connection: Connection,
    silents: Collection[Silent] = (),
    *,
    worker: str | None = None,
    killed: bool = False,
    at: datetime | None = None,
) -> list[Taken]:
    """Take jobs from workers that are gone: back into the queue, or failed when attempts are used up.

    Parameters
    ----------
    silents : jobs found by `silent`; one that has given a sign of life since is left.
    worker : name of a worker that is known to be gone: all that it had.
    killed : it was killed from outside (SIGKILL), and did not crash by itself.

    Returns
    -------
    list of Taken
        The jobs that were taken, and which of them are given up.
    """
    at = at or now()
    rows = list(
        connection.execute(
            sa.select(jobs).where(
                jobs.c.state == "running",
                sa.or_(
                    jobs.c.worker == worker if worker is not None else sa.false(),
                    *(
                        sa.and_(
                            jobs.c.id == s.id, jobs.c.fence == s.fence,
                            jobs.c.heartbeat_at == s.heartbeat_at if s.heartbeat_at is not None
                            else jobs.c.heartbeat_at.is_(None),
                        )
                        for s in silents
                    ),
                ),
            )
        )
    )  # fmt: skip
    taken = []
    for row in rows:
        error = (
            GONE.format(n=row.attempt)
            if row.attempt >= row.max_attempts * (KILLED_FACTOR if killed else 1)
            else ""
        )
        over = {"state": "failed", "finished_at": at, "error": error, "lease_until": None}
        said = over if error else _back(row.attempt, at)
        connection.execute(jobs.update().where(jobs.c.id == row.id).values(**said))
        taken.append(Taken(row.id, row.kind, row.payload or {}, error))
    return taken


def _back(attempt: int, at: datetime, longest_s: float = BACK_OFF_S[-1]) -> dict[str, Any]:
    wait = BACK_OFF_S[min(max(attempt, 1), len(BACK_OFF_S)) - 1]
    if attempt > len(BACK_OFF_S):
        wait = max(wait, min(longest_s, wait * 2.0 ** min(attempt - len(BACK_OFF_S), 30)))
    return {
        "state": "queued", "worker": None, "lease_until": None, "not_before": at + timedelta(seconds=wait),
        "progress": None, "message": "",
    }  # fmt: skip


def _change(connection: Connection, job_id: str, fence: int, said: Mapping[str, Any]) -> None:
    changed = connection.execute(
        jobs.update().where(jobs.c.id == job_id, jobs.c.fence == fence, jobs.c.state == "running").values(**said)
    )
    if changed.rowcount != 1:
        raise Lost
