"""What happens on the desk as server-sent events: progress of jobs, states of sets.

A page opens one connection and hears `job` and `set`. The database is asked once a beat, however many listen.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Callable
from typing import Any

import sqlalchemy as sa
from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.responses import Response, StreamingResponse

from midfoot.store.tables import clips, jobs, sets
from midfoot.store.workspace import Workspace
from midfoot.web.deps import Desk

router = APIRouter(include_in_schema=False)
BEAT_S = 0.6
COMMENT_S = 15.0
"""A line now and then, so that whoever stands between does not take the connection for dead."""


def seen_now(workspace: Workspace) -> dict[tuple[str, str], str]:
    """Give the state of everything that moves: (kind, id) -> JSON. Finished jobs stay for the last 50."""
    found: dict[tuple[str, str], str] = {}
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(
                jobs.c.id, jobs.c.kind, jobs.c.key, jobs.c.payload, jobs.c.state, jobs.c.progress, jobs.c.message,
                jobs.c.error,
            )
            .order_by(jobs.c.state.in_(("queued", "running")).desc(), jobs.c.finished_at.desc())
            .limit(400)
        ).all()  # fmt: skip
        clip_ids = {_clip(row.payload) for row in rows} - {""}
        query = sa.select(clips.c.id, clips.c.set_id).where(clips.c.id.in_(clip_ids))
        of_clip = {clip_id: set_id for clip_id, set_id in connection.execute(query)}
        for row in rows:
            payload: dict[str, Any] = row.payload if isinstance(row.payload, dict) else {}
            set_id = payload.get("set_id") or of_clip.get(_clip(payload)) or ""
            found["job", row.id] = json.dumps(
                {"id": row.id, "kind": row.kind, "set": set_id, "state": row.state, "progress": row.progress,
                 "message": row.message, "error": row.error}
            )  # fmt: skip
        for one in connection.execute(
            sa.select(sets.c.id, sets.c.state, sets.c.picked, sets.c.waiting, sets.c.context_confirmed)
            .where(sets.c.archived_at.is_(None))
            .order_by(sets.c.received_at.desc())
            .limit(400)
        ):
            found["set", one.id] = json.dumps(
                {"id": one.id, "state": one.state, "picked": one.picked, "waiting": one.waiting,
                 "confirmed": bool(one.context_confirmed)}
            )  # fmt: skip
    return found


def _clip(payload: Any) -> str:
    return str(payload.get("clip_id") or "") if isinstance(payload, dict) else ""


class Watch:
    """One look at the database per beat, shared by all who listen."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace, self._lock = workspace, asyncio.Lock()
        self._at, self._seen = -1.0, dict[tuple[str, str], str]()

    async def look(self) -> dict[tuple[str, str], str]:
        """Give what is to be seen now, at most a beat old."""
        async with self._lock:
            if time.monotonic() - self._at >= BEAT_S:
                self._seen = await to_thread.run_sync(seen_now, self._workspace)
                self._at = time.monotonic()
            return self._seen


async def stream(watch: Watch, ending: Callable[[], bool]) -> AsyncIterator[str]:
    """Give the events of one connection: what stands at first, then what changes, until the server ends.

    A reader who leaves ends it from outside.
    """
    before: dict[tuple[str, str], str] = {}
    said_at = time.monotonic()
    yield "retry: 2000\n\n"
    while not ending():
        seen = await watch.look()
        fresh = [(kind, data) for (kind, id_), data in seen.items() if before.get((kind, id_)) != data]
        for kind, data in fresh:
            yield f"event: {kind}\ndata: {data}\n\n"
        before = seen
        if fresh:
            said_at = time.monotonic()
        elif time.monotonic() - said_at > COMMENT_S:
            yield ": still here\n\n"
            said_at = time.monotonic()
        await asyncio.sleep(BEAT_S)


@router.get("/events")
async def events(request: Request, desk: Desk) -> Response:
    """The stream."""
    state = request.app.state
    if not hasattr(state, "watch"):
        state.watch = Watch(desk)
    return StreamingResponse(
        stream(state.watch, lambda: bool(getattr(getattr(state, "server", None), "should_exit", False))),
        media_type="text/event-stream",
        headers={"x-accel-buffering": "no"},
    )
