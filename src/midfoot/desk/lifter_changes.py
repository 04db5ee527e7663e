"""What was asked of a lifter and what became of it: changes with every later look at them."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.store.tables import changes, follow_ups, sets

LATER = sets.alias("later_sets")


@frozen(kw_only=True)
class FollowUp:
    """A later look at a change: due on a day, or with a later set; done once the review of that went out.

    `received_at` is the later set's, `by` who says so, `overruled` what the figures said where the coach does not.
    """

    set_id: str | None
    due_on: date | None
    verdict: str | None
    why: str
    done_at: datetime | None
    received_at: datetime | None = None
    by: str = "measured"
    overruled: str = ""


@frozen(kw_only=True)
class ChangeOf:
    """A change that was asked of a lifter, and what became of it."""

    id: str
    set_id: str
    lift: str | None
    text: str
    state: str
    opened_at: datetime
    prediction: dict[str, Any] | None
    follow_ups: tuple[FollowUp, ...] = ()

    @property
    def due_on(self) -> date | None:
        """The day on which it is to be looked at again; None when nobody waits for it."""
        days = [f.due_on for f in self.follow_ups if f.due_on is not None and f.done_at is None]
        return min(days) if days and self.state == "open" else None


def changes_of(connection: Connection, lifter_id: str) -> tuple[ChangeOf, ...]:
    """Give what was asked of a lifter and what became of it: open ones first, then the latest."""
    rows = connection.execute(
        sa.select(
            changes, sets.c.lift, follow_ups.c.id.label("follow_up"), follow_ups.c.set_id.label("later"),
            follow_ups.c.due_on, follow_ups.c.verdict, follow_ups.c.detail, follow_ups.c.done_at,
            LATER.c.received_at,
        )
        .join(sets, sets.c.id == changes.c.set_id)
        .outerjoin(follow_ups, follow_ups.c.change_id == changes.c.id)
        .outerjoin(LATER, LATER.c.id == follow_ups.c.set_id)
        .where(changes.c.lifter_id == lifter_id)
        .order_by(sa.case((changes.c.state == "open", 0), else_=1), changes.c.opened_at.desc(), changes.c.id,
                  follow_ups.c.done_at)
    )  # fmt: skip
    out: dict[str, tuple[Any, list[FollowUp]]] = {}
    for row in rows:
        looks = out.setdefault(row.id, (row, []))[1]
        if row.follow_up is not None:
            looks.append(
                FollowUp(set_id=row.later, due_on=row.due_on, verdict=row.verdict, done_at=row.done_at,
                         why=(row.detail or {}).get("why", ""), received_at=row.received_at,
                         by=(row.detail or {}).get("by", "measured"), overruled=_overruled(row))
            )  # fmt: skip
    return tuple(
        ChangeOf(
            id=r.id, set_id=r.set_id, lift=r.lift, text=r.text, state=r.state, opened_at=r.opened_at,
            prediction=r.prediction, follow_ups=tuple(looks),
        )
        for r, looks in out.values()
    )  # fmt: skip


def _overruled(row: Any) -> str:
    """Give what the figures said where the coach said something else, "" otherwise."""
    measured = (row.detail or {}).get("measured") or {}
    if not measured or measured.get("verdict") == row.verdict:
        return ""
    return str((measured.get("detail") or {}).get("why", ""))
