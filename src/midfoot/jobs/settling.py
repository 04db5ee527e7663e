"""What a job that was given up leaves in the rows of its clip and set, and the state that a set is in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.jobs.queue import LIVE
from midfoot.store.tables import clips, jobs, measurements, sets

OF_CLIPS = ("look", "measure")


def gave_up(connection: Connection, kind: str, payload: Mapping[str, Any], error: str) -> None:
    """Write the sentence beside the clip that could not be looked at or measured, and settle its set."""
    clip_id = payload.get("clip_id")
    if kind not in OF_CLIPS or not isinstance(clip_id, str):
        return
    connection.execute(clips.update().where(clips.c.id == clip_id).values(error=error))
    set_id = connection.execute(sa.select(clips.c.set_id).where(clips.c.id == clip_id)).scalar()
    if set_id is not None:
        settle(connection, set_id)


def settle(connection: Connection, set_id: str) -> str:
    """Work out a set's state from its clips, write it and give it.

    ready: the measured view is there, or another clip where that one failed. failed: no clip could be used.
    measuring: a clip is looked at or measured, or waits for it. new: nothing of that.
    """
    rows = connection.execute(
        sa.select(clips.c.id, clips.c.error, clips.c.proxy_sha256, measurements.c.id.label("measured"))
        .outerjoin(measurements, sa.and_(measurements.c.clip_id == clips.c.id, measurements.c.is_current))
        .where(clips.c.set_id == set_id)
        .order_by(clips.c.position)
    ).all()
    main = connection.execute(sa.select(sets.c.main_clip_id).where(sets.c.id == set_id)).scalar()
    first = next((r for r in rows if r.id == main), rows[0] if rows else None)
    usable = [r for r in rows if r.measured is not None]
    if first is None:
        state = "new"
    elif first.measured is not None or (first.error and usable):
        state = "ready"
    elif all(r.error for r in rows):
        state = "failed"
    else:
        unseen = [f"look:{r.id}" for r in rows if r.proxy_sha256 is None]
        keys = [*(f"measure:{r.id}" for r in rows), *unseen]
        at_it = connection.execute(
            sa.select(jobs.c.id).where(jobs.c.key.in_(keys), jobs.c.state.in_(LIVE)).limit(1)
        ).first()
        state = "measuring" if at_it is not None else "new"
    connection.execute(sets.update().where(sets.c.id == set_id).values(state=state))
    return state
