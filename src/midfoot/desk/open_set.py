"""A set left open for others to judge first: answers held for approval, read, and closed.

An answer names moments and observations or says it in words of its own, before anything is revealed. Of who
answered nothing is kept but a mark of a random token that his browser made: one answer a token.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.desk.answering import ABOUT_BODIES, OpenSetError, Seen, answer_of, comments_of
from midfoot.desk.edition import allowed
from midfoot.desk.instance import ask_soon
from midfoot.desk.publish_gate import Case, case_of
from midfoot.store.columns import new_id, now
from midfoot.store.rows import audit
from midfoot.store.tables import answers, open_sets, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

TOKEN_BYTES = 18
MOST_ANSWERS = 20_000


def prepare(
    workspace: Workspace, set_id: str, *, edition_id: str | None = None, closes_at: datetime | None = None
) -> str:
    """Open a set for answers and give its id; one that is open already is given instead.

    Raises
    ------
    OpenSetError
        When there is no such set, or age or consent keep it from being open.
    """
    with workspace.write() as connection:
        may_be_open(case_of(connection, set_id))
        there = connection.execute(
            sa.select(open_sets.c.id).where(
                open_sets.c.set_id == set_id, open_sets.c.state.in_(("preparing", "open"))
            )
        ).first()
        if there is not None:
            return str(there.id)
        open_id = new_id()
        connection.execute(
            open_sets.insert().values(
                id=open_id, set_id=set_id, edition_id=edition_id, opens_at=now(), closes_at=closes_at,
                token=secrets.token_urlsafe(TOKEN_BYTES), state="open",
            )
        )  # fmt: skip
        audit(connection, "set_opened", "set", set_id)
    return open_id


def may_be_open(case: Case | None) -> Case:
    """Give the set's case where age and consent allow that it is open.

    Raises
    ------
    OpenSetError
        When there is no such set, or they do not.
    """
    if case is None:
        raise OpenSetError("There is no such set; go back to the inbox.")
    if against := allowed(case, "open"):
        remedy = against[0].remedy
        raise OpenSetError(f"{against[0].words}; {remedy[0].lower()}{remedy[1:]}")
    return case


def by_token(connection: Connection, token: str) -> Any:
    """Give the open set of a page's token, None when there is none or it takes no answers any more."""
    row = connection.execute(sa.select(open_sets).where(open_sets.c.token == token)).first()
    if row is None or row.state != "open" or (row.closes_at is not None and row.closes_at <= now()):
        return None
    return row


def take_answer(workspace: Workspace, token: str, sent: Any) -> str:
    """Hold an answer for the coach's approval; gives its id. A second one by the same token changes nothing.

    Raises
    ------
    OpenSetError
        When the set takes none any more, or the answer cannot be held: the text says why.
    """
    with workspace.read() as connection:
        row = by_token(connection, token)
        lift = connection.execute(sa.select(sets.c.lift).where(sets.c.id == row.set_id)).scalar() if row else None
    if row is None:
        raise OpenSetError("This set takes no answers any more; look at the next edition for what came of it.")
    mark, seen = answer_of(sent, str(lift))
    with workspace.write() as connection:
        known = connection.execute(
            sa.select(answers.c.id).where(answers.c.open_set_id == row.id, answers.c.token_hash == mark)
        ).first()
        if known is not None:
            return str(known.id)
        count = connection.execute(
            sa.select(sa.func.count()).select_from(answers).where(answers.c.open_set_id == row.id)
        ).scalar_one()
        if count >= MOST_ANSWERS:
            raise OpenSetError("This set has as many answers as it can take; thank you all the same.")
        return hold(connection, row.id, mark, seen)


def hold(
    connection: Connection, open_id: str, mark: str, seen: Sequence[Seen], *, at: datetime | None = None
) -> str:
    """Keep an answer that was checked, to be read by the coach; gives its id."""
    answer_id = new_id()
    body = {"seen": [{"what": s.what, "words": s.words, "rep": s.rep, "at_s": s.at_s} for s in seen]}
    connection.execute(
        answers.insert().values(
            id=answer_id, open_set_id=open_id, token_hash=mark, body=body, state="held", at=at or now()
        )
    )
    return answer_id


def bring(workspace: Workspace, open_id: str, text: str) -> int:
    """Take comments in from a CSV or a text (one a line), or answers saved as files; gives how many are held.

    Raises
    ------
    OpenSetError
        When there is no such open set or nothing in the text.
    """
    with workspace.read() as connection:
        row = connection.execute(sa.select(open_sets).where(open_sets.c.id == open_id)).first()
        if row is None:
            raise OpenSetError("There is no such open set; go back to the list.")
        lift = str(connection.execute(sa.select(sets.c.lift).where(sets.c.id == row.set_id)).scalar())
    count = 0
    with workspace.write() as connection:
        for mark, seen in comments_of(text, lift):
            known = connection.execute(
                sa.select(answers.c.id).where(answers.c.open_set_id == open_id, answers.c.token_hash == mark)
            ).first()
            if known is None and not any(ABOUT_BODIES.search(s.words) for s in seen):
                hold(connection, open_id, mark, seen)
                count += 1
    if not count:
        raise OpenSetError("No new comment was found in it; give one a line, or a CSV with a column comment.")
    return count


def judge(workspace: Workspace, answer_id: str, *, approved: bool, means: Mapping[int, str] | None = None) -> None:
    """Approve or refuse an answer.

    `means` says of things told in own words, by their number from 0, which observation they are, "" for none; the
    others are grouped by their words.
    """
    values: dict[str, Any] = {"state": "approved" if approved else "refused"}
    if means is not None:
        values["grouped"] = {str(k): what for k, what in means.items()}
    with workspace.write() as connection:
        connection.execute(answers.update().where(answers.c.id == answer_id).values(**values))


def close(workspace: Workspace, open_id: str) -> None:
    """Take no answers any more."""
    with workspace.write() as connection:
        connection.execute(
            open_sets.update()
            .where(open_sets.c.id == open_id, open_sets.c.state.in_(("preparing", "open")))
            .values(state="closed", closes_at=now())
        )
        audit(connection, "open_set_closed", "open_set", open_id)
        ask_soon(connection, f"{open_id} closed")


def held(workspace: Workspace, open_id: str) -> dict[str, list[dict[str, Any]]]:
    """Give the answers of an open set by state, the oldest first."""
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(answers).where(answers.c.open_set_id == open_id).order_by(answers.c.at)
        ).all()
    out: dict[str, list[dict[str, Any]]] = {"held": [], "approved": [], "refused": []}
    for row in rows:
        out[row.state].append({"id": row.id, "at": row.at, "seen": row.body["seen"], "means": row.grouped or {}})
    return out


def listed(workspace: Workspace) -> list[dict[str, Any]]:
    """Give every open set with how many answers wait, the newest first."""
    with workspace.read() as connection:
        rows = connection.execute(sa.select(open_sets).order_by(open_sets.c.opens_at.desc())).all()
        waiting: dict[str, int] = dict(
            connection.execute(
                sa.select(answers.c.open_set_id, sa.func.count())
                .where(answers.c.state == "held")
                .group_by(answers.c.open_set_id)
            ).all()
        )
    return [
        {"id": r.id, "set_id": r.set_id, "state": r.state, "opens_at": r.opens_at, "closes_at": r.closes_at,
         "token": r.token, "waiting": waiting.get(r.id, 0)}
        for r in rows
    ]  # fmt: skip
