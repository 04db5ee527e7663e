"""Small clips received by a workspace: real files, real rows, nothing measured yet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from midfoot.jobs import enqueue
from midfoot.store import Workspace, context_to_json
from midfoot.store.columns import new_id
from midfoot.store.rows import note_blob
from midfoot.store.tables import clips, sets


def receive(
    workspace: Workspace, file: Path, *, lift: str | None = "squat", set_id: str = "", context: Any = None,
    job: str = "", **more: Any,
) -> tuple[str, str]:  # fmt: skip
    """Take a file in as a clip of a new set, or of one that is there; gives the set's and the clip's id."""
    sha256, clip_id = workspace.blobs.put(file), new_id()
    with workspace.write() as connection:
        note_blob(connection, sha256, file.stat().st_size)
        if not set_id:
            set_id = new_id()
            said = context_to_json(context) if context is not None else None
            connection.execute(
                sets.insert().values(id=set_id, lift=lift, main_clip_id=clip_id, context=said, **more)
            )
        connection.execute(
            clips.insert().values(
                id=clip_id, set_id=set_id, sha256=sha256, received_name=file.name, bytes=file.stat().st_size
            )
        )
        if job:
            enqueue(connection, job, f"{job}:{clip_id}", {"clip_id": clip_id})
    return set_id, clip_id
