"""Rows of a desk made by hand: sets, clips and summaries without a video or a measurement."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.records.context import Context
from midfoot.store import context_to_json
from midfoot.store.columns import new_id, now
from midfoot.store.rows import note_blob
from midfoot.store.tables import clips, jobs, lifters, measurements, sets

SUMMARY: dict[str, Any] = {
    "lift": "squat", "reps": 5, "outcomes": ["completed"] * 5, "best_rep": 2, "bar": "found", "view": "side",
    "view_words": "from the side",
    "judged": {"can": 10, "of": 14, "film": [{"how": "film from the front", "what": ["The knees come in"] * 3}]},
    "findings": [
        {"id": "squat_bar_forward", "title": "The bar goes forward out of the bottom", "confidence": "sure",
         "nature": "fault", "reps": [3], "text": "In rep 3 the bar went 47 mm farther forward."},
        {"id": "squat_hips_first", "title": "The hips rise before the bar", "confidence": "likely",
         "nature": "fault", "reps": [3], "text": ""},
    ],
    "warnings": [],
}  # fmt: skip


def put_lifter(connection: Connection, name: str, **more: Any) -> str:
    """Make a lifter and give the id."""
    lifter_id = new_id()
    connection.execute(sa.insert(lifters).values(id=lifter_id, name=name, shown_name=name, **more))
    return lifter_id


def put_set(
    connection: Connection, *, lifter_id: str | None = None, lift: str | None = "squat",
    load_kg: float | None = 140.0, state: str = "ready", hours_ago: float = 1.0, context: Context | None = None,
    summary: Any = SUMMARY, name: str = "set.mp4", **more: Any,
) -> tuple[str, str]:  # fmt: skip
    """Make a set with one clip, measured when it is ready; gives the ids of both."""
    set_id, clip_id, at = new_id(), new_id(), now() - timedelta(hours=hours_ago)
    sha256 = (clip_id * 4)[:64]
    note_blob(connection, sha256, 1_000_000, "video/mp4")
    connection.execute(
        sa.insert(sets).values(
            id=set_id, lifter_id=lifter_id, lift=lift, load_kg=load_kg, received_at=at, state=state,
            context=context_to_json(context or Context()), main_clip_id=clip_id,
            **{"context_confirmed": state != "new", "source": "drop", **more},
        )
    )  # fmt: skip
    connection.execute(
        sa.insert(clips).values(
            id=clip_id, set_id=set_id, sha256=sha256, received_name=name, bytes=1_000_000, duration_s=15.1,
            width_px=1280, height_px=720,
        )
    )  # fmt: skip
    if state == "ready":
        connection.execute(
            sa.insert(measurements).values(
                clip_id=clip_id, input_key=sha256, folder=f"measured/{clip_id}/{sha256}", summary=summary
            )
        )
    return set_id, clip_id


def put_job(connection: Connection, clip_id: str, state: str, **more: Any) -> str:
    """Make a measuring job of a clip as it stands in the table; no worker has it."""
    job_id = new_id()
    connection.execute(
        sa.insert(jobs).values(
            id=job_id, kind="measure", key=f"measure:{clip_id}", payload={"clip_id": clip_id}, state=state, **more
        )
    )
    return job_id
