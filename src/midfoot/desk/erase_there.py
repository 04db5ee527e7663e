"""Erasing at the desk goes on at the public instance: asked at once, else a job that is tried again until done.

What waits is kept in the queue without a name: the instance finds a lifter by a salted mark of the name, by links
and by sets. Once it is done the row keeps only how much went. Nothing is fetched before it: a set that still waits
there would bring the lifter back.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import field, frozen
from sqlalchemy.engine import Connection

from midfoot.desk.erase_plan import Plan
from midfoot.desk.instance import FROM, HandingError, ask, base_of
from midfoot.desk.who import former_names, plain_name
from midfoot.jobs import enqueue
from midfoot.jobs.kinds import HURRY
from midfoot.store.columns import new_id, now
from midfoot.store.rows import setting
from midfoot.store.tables import audit, jobs, lifters, open_sets, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

KIND = "erase_there"
"""The kind of job that asks it again."""
OPEN = ("queued", "running", "failed")
SHORT_S = 15.0
"""So long whoever erases waits for the instance; then the job goes on with it."""
COUNTED = ("lifters", "links", "sets", "clips", "pages", "answers")


@frozen(kw_only=True)
class There:
    """What became of it at the public instance.

    Attributes
    ----------
    done : bool
        False while it is open; `says` is then what stood in the way.
    gone : mapping
        How many of `COUNTED` went.
    """

    done: bool
    says: str = ""
    gone: Mapping[str, int] = field(factory=dict)


def name_mark(salt: str, name: str) -> str:
    """Give a mark of a name by which an instance knows it, of no use without it."""
    return hashlib.sha256(f"{salt} {plain_name(name)}".encode()).hexdigest()


def wanted(connection: Connection, plan: Plan) -> dict[str, Any] | None:
    """Give what the instance is to erase with a plan, None when nothing of it can be there; asked before it goes.

    Names that the lifter had before count too. A name that another lifter of this desk bears, or bore, is not
    asked for: then only links and sets count.
    """
    if not setting(connection, FROM, ""):
        return None
    whose, set_ids = plan.ids.get("lifters", set()), plan.ids.get("sets", set())
    known = [(row.id, row.name) for row in connection.execute(sa.select(lifters.c.id, lifters.c.name))]
    known += [(own, name) for own, names in former_names(connection).items() for name in names]
    rest = {name_mark("", name) for own, name in known if own not in whose}
    salt = secrets.token_hex(16)
    mine = dict.fromkeys(name for own, name in known if own in whose and name_mark("", name) not in rest)
    names = [name_mark(salt, name) for name in mine]
    made = connection.execute(sa.select(audit.c.subject_id, audit.c.detail).where(audit.c.what == "link_made"))
    links = [str(own) for own, detail in made if isinstance(detail, dict) and detail.get("lifter") in whose]
    sent = sa.select(sets.c.id).where(sets.c.id.in_(set_ids), sets.c.source == "intake")
    left_open = sa.select(open_sets.c.token).where(open_sets.c.id.in_(plan.ids.get("open_sets", set())))
    body = {
        "names": names, "links": links, "sets": list(connection.execute(sent).scalars()),
        "open": list(connection.execute(left_open).scalars()),
    }  # fmt: skip
    return {"salt": salt, **body} if any(body.values()) else None


def queue(connection: Connection, body: Mapping[str, Any] | None) -> str | None:
    """Put it into the queue, in the unit in which the rows here go; gives the job's id.

    Workers leave it for as long as whoever erases asks by itself.
    """
    if body is None:
        return None
    job_id = enqueue(connection, KIND, f"{KIND}:{new_id()}", body, HURRY)
    leave = now() + timedelta(seconds=2 * SHORT_S)
    connection.execute(jobs.update().where(jobs.c.id == job_id).values(not_before=leave))
    return job_id


def carry_out(workspace: Workspace, body: Mapping[str, Any], *, address: str = "", **how: Any) -> There:
    """Have the instance erase; done twice it is done.

    Raises
    ------
    HandingError
        When no instance is set, it refuses, or it does not answer.
    """
    said = ask(f"{base_of(workspace, address)}/erase", dict(body), **how)
    gone = said.get("gone")
    if not isinstance(gone, dict):
        raise HandingError("The intake instance gave no usable answer; is it the same version as this desk?")
    counts = {k: int(gone[k]) for k in COUNTED if isinstance(gone.get(k), int)}
    return There(done=True, says=str(said.get("says", "")), gone=counts)


def over(connection: Connection, job_id: str) -> None:
    """Take out of a job what it was about: it is done."""
    connection.execute(jobs.update().where(jobs.c.id == job_id).values(payload={}))


def try_now(workspace: Workspace, job_id: str | None) -> There | None:
    """Ask at once for what was queued; None where nothing was, else what became of it."""
    if job_id is None:
        return None
    with workspace.read() as connection:
        row = connection.execute(sa.select(jobs.c.payload, jobs.c.state).where(jobs.c.id == job_id)).first()
    if row is None or row.state == "done":
        return There(done=True)
    return _tried(workspace, job_id, row.payload, patience_s=SHORT_S)


def _tried(workspace: Workspace, job_id: str, body: Mapping[str, Any], **how: Any) -> There:
    try:
        there = carry_out(workspace, body, **how)
    except HandingError as error:
        there = There(done=False, says=str(error))
    with workspace.write() as connection:
        mine = jobs.update().where(jobs.c.id == job_id, jobs.c.state.in_(("queued", "failed")))
        if there.done:
            connection.execute(
                mine.values(state="done", finished_at=now(), error="", progress=1.0, result=result_of(there))
            )
            over(connection, job_id)
        else:
            connection.execute(mine.values(error=there.says, not_before=None))
    return there


def result_of(there: There) -> dict[str, Any]:
    """Give what the row of a job keeps of it."""
    return {"gone": dict(there.gone), "says": there.says}


def still_open(connection: Connection) -> tuple[str, ...]:
    """Give, for every erasing that the instance has not done, what stood in the way the last time."""
    rows = connection.execute(
        sa.select(jobs.c.error).where(jobs.c.kind == KIND, jobs.c.state.in_(OPEN)).order_by(jobs.c.created_at)
    )
    return tuple(str(said or "") for said in rows.scalars())


def settle(workspace: Workspace, *, address: str = "") -> int:
    """Do all that is open, before anything is fetched; gives how many it were.

    At another address than the one that is set it is done there too, and stays open for the one that is set.

    Raises
    ------
    HandingError
        When one cannot be done.
    """
    with workspace.read() as connection:
        own = str(setting(connection, FROM, "") or "").rstrip("/")
        rows = connection.execute(
            sa.select(jobs.c.id, jobs.c.payload).where(jobs.c.kind == KIND, jobs.c.state.in_(OPEN))
        ).all()
    if address and address.rstrip("/") != own:
        for row in rows:
            carry_out(workspace, row.payload, address=address)
        return len(rows)
    for row in rows:
        there = _tried(workspace, row.id, row.payload, address=address)
        if not there.done:
            raise HandingError(f"{there.says} What was erased here goes there before anything comes.")
    return len(rows)


def erasings(connection: Connection) -> int:
    """Count what was erased here: whoever brings something in for a while looks whether it rose meanwhile."""
    what = ("lifter_erased", "set_erased", "set_unused")
    return int(
        connection.execute(
            sa.select(sa.func.count()).select_from(audit).where(audit.c.what.in_(what))
        ).scalar_one()
    )
