"""The running order of an edition in preparation: begun, filled, put in order, segments given words and length."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.desk.edition import KINDS, TARGET_S, EditionError
from midfoot.store.columns import new_id
from midfoot.store.rows import audit
from midfoot.store.tables import edition_segments, editions, sets

if TYPE_CHECKING:
    from midfoot.store import Workspace

MOST_SEGMENTS = 40


def create(workspace: Workspace, title: str, planned_on: date | None = None) -> str:
    """Begin an edition and give its id."""
    edition_id = new_id()
    with workspace.write() as connection:
        connection.execute(
            editions.insert().values(id=edition_id, title=title.strip()[:200] or "Edition", planned_on=planned_on)
        )
        audit(connection, "edition_begun", "edition", edition_id)
    return edition_id


def change(workspace: Workspace, edition_id: str, title: str, planned_on: date | None) -> None:
    """Give an edition another title and day."""
    with workspace.write() as connection:
        done = connection.execute(
            editions.update()
            .where(editions.c.id == edition_id)
            .values(title=title.strip()[:200] or "Edition", planned_on=planned_on)
        )
        if not done.rowcount:
            raise EditionError("There is no such edition; go back to the list.")


def add(workspace: Workspace, edition_id: str, kind: str, set_id: str, target_s: float | None = None) -> str:
    """Put a set at the end of the running order and give the segment's id.

    Raises
    ------
    EditionError
        When there is no such edition or set, or it stands there already.
    """
    if kind not in KINDS:
        raise EditionError(f"A segment is one of {', '.join(KINDS)}.")
    with workspace.write() as connection:
        if connection.execute(sa.select(editions.c.id).where(editions.c.id == edition_id)).first() is None:
            raise EditionError("There is no such edition; go back to the list.")
        if connection.execute(sa.select(sets.c.id).where(sets.c.id == set_id)).first() is None:
            raise EditionError("There is no such set; choose one of the list.")
        there = connection.execute(
            sa.select(edition_segments).where(edition_segments.c.edition_id == edition_id)
        ).all()
        if any(s.set_id == set_id and s.kind == kind for s in there):
            raise EditionError("This set stands in the running order already.")
        if kind == "open" and any(s.kind == "open" for s in there):
            raise EditionError("One set is left open in an edition; take the other one out first.")
        if len(there) >= MOST_SEGMENTS:
            raise EditionError(f"{MOST_SEGMENTS} segments are as many as one edition may have.")
        segment_id = new_id()
        connection.execute(
            edition_segments.insert().values(
                id=segment_id, edition_id=edition_id, position=len(there), set_id=set_id, kind=kind,
                target_s=target_s or TARGET_S[kind],
            )
        )  # fmt: skip
    return segment_id


def remove(workspace: Workspace, segment_id: str) -> None:
    """Take a segment out; the others close up."""
    with workspace.write() as connection:
        row = connection.execute(sa.select(edition_segments).where(edition_segments.c.id == segment_id)).first()
        if row is None:
            return
        connection.execute(edition_segments.delete().where(edition_segments.c.id == segment_id))
        _number(connection, row.edition_id, _order(connection, row.edition_id))


def order(workspace: Workspace, edition_id: str, segment_ids: Sequence[str]) -> None:
    """Put the segments into this order.

    Raises
    ------
    EditionError
        When these are not the edition's segments: the running order was changed elsewhere.
    """
    with workspace.write() as connection:
        if sorted(_order(connection, edition_id)) != sorted(segment_ids):
            raise EditionError("The running order was changed elsewhere; reload the page.")
        _number(connection, edition_id, segment_ids)


def say(workspace: Workspace, segment_id: str, *, target_s: float | None = None, words: str | None = None) -> None:
    """Set how long a segment is to be, or the coach's own words for it ("" takes the drafted ones)."""
    values: dict[str, Any] = {}
    if target_s is not None:
        if not 5 <= target_s <= 3600:
            raise EditionError("A segment lasts 5 seconds to an hour.")
        values["target_s"] = target_s
    if words is not None:
        values["script"] = {"words": words[:8000]} if words.strip() else None
    if values:
        with workspace.write() as connection:
            connection.execute(
                edition_segments.update().where(edition_segments.c.id == segment_id).values(**values)
            )


def _order(connection: Connection, edition_id: str) -> list[str]:
    return list(
        connection.execute(
            sa.select(edition_segments.c.id)
            .where(edition_segments.c.edition_id == edition_id)
            .order_by(edition_segments.c.position)
        ).scalars()
    )


def _number(connection: Connection, edition_id: str, ids: Sequence[str]) -> None:
    for position, segment_id in enumerate(ids):
        connection.execute(
            edition_segments.update().where(edition_segments.c.id == segment_id).values(position=position)
        )
    connection.execute(editions.update().where(editions.c.id == edition_id).values(state="preparing"))
