"""What the inbox shows of each set, by one query for a page of sets and one for each thing hung on them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.store.tables import lifters, sets

LISTS = (
    ("all", "All"),
    ("new", "To confirm"),
    ("ready", "Ready"),
    ("measuring", "Being measured"),
    ("review", "Picked for review"),
    ("edition", "Picked for an edition"),
    ("refilm", "Waiting for a re-film"),
    ("due", "Follow-up due"),
    ("archived", "Archived"),
)
PAGE_ROWS = 60


@frozen(kw_only=True)
class Row:
    """One set of the inbox."""

    id: str
    lifter_id: str | None
    lifter: str
    lift: str | None
    variation: str
    load_kg: float | None
    received_at: datetime
    state: str
    picked: str


def rows_of(connection: Connection, *, show: str, words: str, limit: int = PAGE_ROWS) -> list[Row]:
    """Give the sets of one list, first come first."""
    query = (
        sa.select(sets, lifters.c.name.label("lifter"))
        .select_from(sets.outerjoin(lifters, lifters.c.id == sets.c.lifter_id))
        .where(_within(show))
        .order_by(sets.c.received_at.desc())
        .limit(limit)
    )
    return [
        Row(
            id=r.id, lifter_id=r.lifter_id, lifter=r.lifter or "", lift=r.lift, variation=r.variation,
            load_kg=r.load_kg, received_at=r.received_at, state=r.state, picked=r.picked,
        )
        for r in connection.execute(query)
    ]  # fmt: skip


def counts(connection: Connection) -> dict[str, int]:
    """Count the sets of every list."""
    columns = [sa.func.count(sa.case((_within(name), 1))).label(name) for name, _ in LISTS]
    return dict(connection.execute(sa.select(*columns).select_from(sets)).one()._mapping)


def _within(show: str) -> Any:
    here = sets.c.archived_at.is_(None)
    return {
        "archived": sets.c.archived_at.is_not(None),
        "new": here & (sets.c.state == "new"),
        "ready": here & (sets.c.state == "ready"),
        "measuring": here & (sets.c.state == "measuring"),
        "review": here & (sets.c.picked == "review"),
        "edition": here & (sets.c.picked == "edition"),
        "refilm": here & (sets.c.waiting == "refilm"),
    }.get(show, here)
