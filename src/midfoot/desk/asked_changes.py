"""What a review that goes out asks of the lifter, opened and due; what it says of earlier changes, closed."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.desk.follow_up import Verdict
from midfoot.desk.overruling import beside, measured_before
from midfoot.desk.review_cards import change_of
from midfoot.desk.review_sources import Sources
from midfoot.records.findings import Finding
from midfoot.records.review import Part, Review
from midfoot.store.columns import now
from midfoot.store.tables import changes, follow_ups

DUE_DAYS = 14
"""Two weeks for a change before it is judged (common practice, no source)."""


def open_changes(
    connection: Connection, sources: Sources, review: Review, verdicts: tuple[Verdict, ...], on: date
) -> int:
    """Write what a review that goes out asks of the lifter, and close what it says of earlier changes.

    What an earlier edition of the same review asked and this one no longer does is closed. Gives how many are
    open from it.
    """
    found = {f.id: f for f in sources.measurement.found.findings}
    asked = [p for p in review.of("change") if p.try_text]
    known = {
        r.part_id: r
        for r in connection.execute(sa.select(changes).where(changes.c.set_id == sources.set_id))
    }  # fmt: skip
    for part in asked:
        prediction, try_at = _proposed(part, found.get(part.about))
        values = {"text": part.try_text, "prediction": prediction, "try_at": try_at}
        row = known.pop(part.id, None)
        if row is not None:
            again = {"state": "open", "closed_at": None} if row.state == "closed" else {}
            connection.execute(sa.update(changes).where(changes.c.id == row.id).values(**values, **again))
            continue
        made = connection.execute(
            sa.insert(changes).values(
                set_id=sources.set_id, lifter_id=sources.lifter_id or None, part_id=part.id, **values
            )
        )
        change_id = made.inserted_primary_key[0] if made.inserted_primary_key is not None else ""
        connection.execute(sa.insert(follow_ups).values(change_id=change_id, due_on=on + timedelta(days=DUE_DAYS)))
    for row in known.values():
        if row.state == "open":
            connection.execute(
                sa.update(changes).where(changes.c.id == row.id).values(state="closed", closed_at=now())
            )
    for verdict in verdicts:
        _settle(connection, sources.set_id, verdict)
    return len(asked)


def _settle(connection: Connection, set_id: str, verdict: Verdict) -> None:
    """Keep a verdict with its change; what cannot be told stays open and due, a set too unlike says nothing."""
    if not verdict.alike and verdict.by != "coach":
        return
    mine = sa.and_(follow_ups.c.change_id == verdict.change_id, follow_ups.c.set_id == set_id)
    detail: dict[str, Any] = {"by": verdict.by, "why": verdict.why, "figures": verdict.figures}
    if verdict.by == "coach":
        detail |= beside(measured_before(connection.execute(sa.select(follow_ups).where(mine)).all()))
    done = connection.execute(
        sa.update(follow_ups).where(mine).values(verdict=verdict.verdict, detail=detail, done_at=now())
    )
    if not done.rowcount:
        connection.execute(
            sa.insert(follow_ups).values(
                change_id=verdict.change_id, set_id=set_id, verdict=verdict.verdict, detail=detail, done_at=now()
            )
        )
    if verdict.verdict != "cannot_tell":
        connection.execute(
            sa.update(changes)
            .where(changes.c.id == verdict.change_id)
            .values(state=verdict.verdict, closed_at=now())
        )
        connection.execute(
            sa.update(follow_ups)
            .where(follow_ups.c.change_id == verdict.change_id, follow_ups.c.due_on.is_not(None))
            .values(done_at=now())
        )


def _proposed(part: Part, finding: Finding | None) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:
    """Give prediction and limits of the change that a part proposes, as they are kept."""
    change = change_of(part, finding) if finding is not None else None
    said = change.prediction if change is not None else part.prediction
    tried = change.try_at if change is not None else part.try_at
    limits = {"max_load_pct": tried.max_load_pct, "max_rpe": tried.max_rpe} if tried is not None else None
    if said is None:
        return ({"about": part.about} if part.about else None), limits
    against = finding.evidence[0].reference_rep if finding is not None and finding.evidence else None
    return {
        "measure": said.measure, "direction": said.direction, "size": said.size, "sd": said.sd, "unit": said.unit,
        "against_rep": against, "about": part.about,
    }, limits  # fmt: skip
