"""The coach's own word on whether a change held, kept beside what the figures say."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from midfoot.store.tables import changes, follow_ups

if TYPE_CHECKING:
    from midfoot.store import Workspace

VERDICTS = ("held", "not_held", "cannot_tell")


class FollowUpError(ValueError):
    """A verdict that cannot be given: the text says why and what would do."""


def say_verdict(workspace: Workspace, set_id: str, change_id: str, verdict: str, why: str = "") -> None:
    """Keep the coach's own verdict on a change, seen in a set; "" takes it back.

    What the figures say is kept beside it.

    Raises
    ------
    FollowUpError
        When there is no such change, that is no verdict, or it goes against the figures without a reason.
    """
    if verdict and verdict not in VERDICTS:
        raise FollowUpError(f"A change held, did not hold or it cannot be told; got {verdict!r}.")
    with workspace.write() as connection:
        if connection.execute(sa.select(changes.c.id).where(changes.c.id == change_id)).first() is None:
            raise FollowUpError("There is no such change any more; reload the page.")
        mine = sa.and_(
            follow_ups.c.change_id == change_id, follow_ups.c.set_id == set_id, follow_ups.c.due_on.is_(None)
        )
        measured = measured_before(connection.execute(sa.select(follow_ups).where(mine)).all())
        told = measured.get("verdict", "cannot_tell")
        if verdict and told not in ("cannot_tell", verdict) and not why.strip():
            raise FollowUpError(
                f"The figures say that it {'held' if told == 'held' else 'did not hold'}; say in a few words why "
                "you see it otherwise."
            )
        connection.execute(sa.delete(follow_ups).where(mine))
        kept: dict[str, Any] = {}
        if verdict:
            kept = {"verdict": verdict, "detail": {"by": "coach", "why": why.strip(), **beside(measured)}}
        elif measured:
            kept = {"verdict": measured["verdict"], "detail": {"by": "measured", **measured["detail"]}}
        if kept:
            connection.execute(sa.insert(follow_ups).values(change_id=change_id, set_id=set_id, **kept))


def measured_before(rows: Sequence[Any]) -> dict[str, Any]:
    """Give what the figures said of a change, also where the coach said otherwise since."""
    for row in rows:
        detail = dict(row.detail or {})
        if detail.pop("by", "") == "coach":
            if detail.get("measured"):
                return dict(detail["measured"])
        elif row.verdict:
            return {"verdict": row.verdict, "detail": detail}
    return {}


def beside(measured: dict[str, Any]) -> dict[str, Any]:
    """Give what is kept of the figures where the coach says otherwise; nothing where there are none."""
    if not measured:
        return {}
    return {"measured": measured, "figures": measured["detail"].get("figures")}
