"""The job `glimpse`: where a sent clip seems to be filmed from and what to film again, before it is measured."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.body import ModelsError
from midfoot.desk.at_once import said_of
from midfoot.footage import FootageError
from midfoot.glimpse import glimpse
from midfoot.jobs import queue
from midfoot.jobs.job import Finish, Job
from midfoot.records.clip import Asked
from midfoot.store.tables import clips, sets

SAID = "first_look"
"""Key in a clip's `probe`."""


def ask(connection: Connection, clip_id: str) -> None:
    """Ask for a first look at a clip that a stranger sent, where it is known which lift it shows."""
    row = connection.execute(
        sa.select(sets.c.source, sets.c.lift).join(clips, clips.c.set_id == sets.c.id).where(clips.c.id == clip_id)
    ).first()
    if row is not None and row.source == "intake" and row.lift:
        queue.enqueue(connection, "glimpse", f"glimpse:{clip_id}", {"clip_id": clip_id})


def run(job: Job) -> Finish | None:
    """Look at the proxy of the payload's `clip_id`; without the networks' files nothing is said."""
    clip_id = str(job.payload["clip_id"])
    with job.workspace.read() as connection:
        row = connection.execute(
            sa.select(clips.c.proxy_sha256, clips.c.probe, sets.c.lift)
            .join(sets, sets.c.id == clips.c.set_id)
            .where(clips.c.id == clip_id)
        ).first()
    if row is None or not row.lift or not row.proxy_sha256 or not job.workspace.blobs.has(row.proxy_sha256):
        return None
    said: dict[str, Any] = {}
    try:
        seen = glimpse(
            job.workspace.blobs.path(row.proxy_sha256), Asked(lift=row.lift), progress=job.progress, stop=job.stop
        )
        said = said_of(seen)
    except (ModelsError, FootageError):
        return None  # the measuring says what is wrong

    def finish(connection: Connection) -> None:
        probe = connection.execute(sa.select(clips.c.probe).where(clips.c.id == clip_id)).scalar() or {}
        connection.execute(clips.update().where(clips.c.id == clip_id).values(probe={**probe, SAID: said}))

    return finish
