"""The voice-over of a set: takes with their sound, played back, taken again, deleted, made videos of."""

from __future__ import annotations

from typing import Annotated, Any

import sqlalchemy as sa
from anyio import to_thread
from fastapi import APIRouter, Path, Request
from pydantic import BaseModel, Field
from starlette.responses import FileResponse, JSONResponse, Response

from midfoot.desk import takes
from midfoot.desk.takes import TakesError
from midfoot.jobs import enqueue
from midfoot.jobs.kinds import HURRY
from midfoot.store import StoreError
from midfoot.store.tables import blobs
from midfoot.store.tables import takes as rows
from midfoot.web.bodies import write_body
from midfoot.web.deps import Desk
from midfoot.web.problems import Problem, not_found, problem_of

router = APIRouter(tags=["voice-over"])
Id = Annotated[str, Path(pattern=r"^[0-9a-f]{1,32}$")]
MOST_BYTES = 200_000_000
"""Some three hours of speech: more is no take."""
KINDS = ("audio/webm", "audio/ogg", "audio/mp4", "audio/wav", "audio/mpeg")
FILES = {
    "voice-over.mp4": "video/mp4",
    "voice-over-upright.mp4": "video/mp4",
    "voice-over.vtt": "text/vtt",
}


class Section(BaseModel):
    """From when to when of the voice-over, s."""

    from_s: float = Field(ge=0, le=86_400, allow_inf_nan=False)
    to_s: float = Field(ge=0, le=86_400, allow_inf_nan=False)


class Recorded(BaseModel):
    """A take without its sound, which is sent after it."""

    name: str = Field(pattern=r"^[0-9a-zA-Z_-]{1,40}$")
    duration_s: float = Field(gt=0, lt=86_400, allow_inf_nan=False)
    events: list[dict[str, Any]] = Field(max_length=20_000)
    again: Section | None = None


@router.get("/sets/{set_id}/takes.json")
def state(desk: Desk, set_id: Id) -> Response:
    """What there is of a voice-over."""
    return JSONResponse(takes.state(desk, set_id))


@router.post("/sets/{set_id}/takes", status_code=201)
def record(desk: Desk, set_id: Id, sent: Recorded) -> Response:
    """Keep what the player did during a take."""
    again = None if sent.again is None else (sent.again.from_s, max(sent.again.from_s, sent.again.to_s))
    try:
        take_id = takes.add(
            desk, set_id, name=sent.name, duration_s=sent.duration_s, events=sent.events, again=again
        )
    except TakesError as error:
        raise _problem(error) from None
    return JSONResponse({"id": take_id}, status_code=201)


@router.put("/takes/{take_id}/sound")
async def sound(desk: Desk, take_id: Id, request: Request) -> Response:
    """Take the recording itself in, as it comes."""
    kind = request.headers.get("content-type", "").split(";")[0].strip()
    if kind not in KINDS:
        raise Problem(415, "This is not a recording.", "Record with the desk's own button.")
    part = await to_thread.run_sync(desk.blobs.part)
    try:
        too_long = Problem(413, "The recording is too long.", "Record in sections.")
        if not await write_body(request, part, MOST_BYTES, too_long):
            raise Problem(400, "The recording is empty.", "Check the microphone and record it again.")
        sha256 = await to_thread.run_sync(desk.blobs.adopt, part)
        set_id = await to_thread.run_sync(takes.keep_sound, desk, take_id, sha256, kind)
    except TakesError as error:
        raise _problem(error) from None
    except StoreError as error:
        raise problem_of(507, error, "Free some room, then try again.") from None
    finally:
        part.unlink(missing_ok=True)
    return JSONResponse(await to_thread.run_sync(takes.state, desk, set_id))


@router.get("/takes/{take_id}/sound")
def heard(desk: Desk, take_id: Id) -> Response:
    """The recording of a take, with ranges."""
    with desk.read() as connection:
        row = connection.execute(
            sa.select(rows.c.audio_sha256, blobs.c.media_type)
            .join(blobs, blobs.c.sha256 == rows.c.audio_sha256)
            .where(rows.c.id == take_id, rows.c.deleted_at.is_(None))
        ).first()
    if row is None or not desk.blobs.has(row.audio_sha256):
        raise not_found("recording")
    return FileResponse(
        desk.blobs.path(row.audio_sha256), media_type=row.media_type or "audio/webm",
        headers={"cache-control": "private, no-store"},
    )  # fmt: skip


@router.delete("/takes/{take_id}")
def delete(desk: Desk, take_id: Id) -> Response:
    """Delete a take; its sound goes from the disk."""
    try:
        return JSONResponse(takes.state(desk, takes.delete(desk, take_id)))
    except TakesError as error:
        raise _problem(error) from None


@router.post("/sets/{set_id}/takes/videos", status_code=202)
def videos(desk: Desk, set_id: Id) -> Response:
    """Ask for the videos of the voice-over."""
    with desk.write() as connection:
        if not takes.takes_of(connection, set_id):
            raise Problem(409, "There is no voice-over of this set yet.", "Record one first.")
        job = enqueue(connection, "take", f"take:{set_id}", {"set_id": set_id}, HURRY)
    return JSONResponse({"job": job}, status_code=202)


@router.get("/sets/{set_id}/voice/{name}")
def file(desk: Desk, set_id: Id, name: str) -> Response:
    """A video of the voice-over, or its subtitles."""
    if name not in FILES:
        raise not_found("file")
    path = desk.review(set_id) / name
    if not path.is_file():
        raise Problem(404, "This video is not made yet.", "Ask for it with Make the videos.")
    return FileResponse(path, media_type=FILES[name], headers={"cache-control": "private, no-store"})


def _problem(error: TakesError) -> Problem:
    gone = str(error).startswith(("There is no such", "This take is not there"))
    return problem_of(404 if gone else 400, error)
