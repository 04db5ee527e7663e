"""Bringing clips in: each file as the raw body of a PUT, written as it comes, and the message that goes along."""

from __future__ import annotations

from datetime import date
from typing import Annotated

import sqlalchemy as sa
from anyio import to_thread
from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from starlette.requests import ClientDisconnect

from midfoot.desk import confirming, intake, intake_kind, publishing
from midfoot.store.tables import sets
from midfoot.web.bodies import write_body
from midfoot.web.context_form import context_of_form
from midfoot.web.deps import Desk
from midfoot.web.inbox_rows import context_of
from midfoot.web.pages.inbox_actions import Done, Id
from midfoot.web.problems import Problem, not_found, problem_of

router = APIRouter(tags=["inbox"])


class Received(BaseModel):
    """Where a clip went."""

    set: str
    clip: str
    already: bool


class Message(BaseModel):
    """One message, and the sets that it is about."""

    sets: list[Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]] = Field(min_length=1, max_length=200)
    text: str = Field(min_length=1, max_length=20_000)


class Join(BaseModel):
    """The set that a clip belongs to."""

    set: str = Field(pattern=r"^[0-9a-f]{16}$")


class Fields(BaseModel):
    """The fields of the form by name."""

    fields: dict[str, Annotated[str, Field(max_length=4000)]] = Field(max_length=60)


@router.put("/inbox/clips")
async def receive(
    request: Request,
    desk: Desk,
    name: Annotated[str, Query(min_length=1, max_length=300)],
) -> Received:
    """Take one file in; memory does not grow with it, and what breaks off leaves nothing behind."""
    told = request.headers.get("content-length", "")
    size = int(told) if told.isdecimal() else 0
    if size > intake_kind.LARGEST_BYTES:
        raise _too_large()
    await to_thread.run_sync(desk.blobs.make_room, size)
    part = await to_thread.run_sync(desk.blobs.part)
    try:
        count = await write_body(request, part, intake_kind.LARGEST_BYTES, _too_large())
        if not count:
            raise Problem(422, f"{name} is empty.", "Send the clip itself; perhaps it is still being copied.")
        if size and count != size:
            raise Problem(400, f"{name} broke off on its way.", "Send it again; nothing was stored.")
        got = await to_thread.run_sync(lambda: intake.take_clip(desk, part, name, source="drop", move=True))
    except intake.IntakeError as error:
        raise _unfit(error) from error
    except ClientDisconnect as error:
        raise Problem(400, f"{name} broke off on its way.", "Send it again; nothing was stored.") from error
    finally:
        part.unlink(missing_ok=True)
    return Received(set=got.set_id, clip=got.clip_id, already=got.already)


@router.post("/inbox/text")
def give_message(asked: Message, desk: Desk) -> Done:
    """Read a message and hang it on the sets it is about; each is still to be confirmed."""
    try:
        return Done(done=intake.give_text(desk, asked.sets, asked.text, today=date.today()))
    except intake.IntakeError as error:
        raise _unfit(error) from error


@router.post("/sets/{set_id}/context")
def confirm(set_id: Id, asked: Fields, desk: Desk) -> Done:
    """Keep what the coach says of a set, and measure it."""
    with desk.read() as connection:
        found = connection.execute(sa.select(sets.c.context).where(sets.c.id == set_id)).first()
    if found is None:
        raise not_found("set")
    try:
        context = context_of_form(asked.fields, context_of(found.context), date.today())
    except ValueError as error:
        raise problem_of(422, error, "Correct it and confirm again.") from error
    if context.lift is None:
        raise Problem(422, "The lift was not said.", "Choose squat, bench press or deadlift, then confirm.")
    try:
        with desk.write() as connection:
            confirming.confirm(connection, set_id, context, lifter=context.lifter)
    except intake.IntakeError as error:
        raise _unfit(error) from error
    publishing.enforce(desk, set_id=set_id)  # who is said to be a minor now is not public any more
    return Done(done="Confirmed; it is measured with this.")


@router.post("/clips/{clip_id}/join")
def join(clip_id: Id, asked: Join, desk: Desk) -> Done:
    """Make a clip another view of a set that is here already."""
    try:
        with desk.write() as connection:
            confirming.join_clip(connection, clip_id, asked.set)
    except intake.IntakeError as error:
        raise _unfit(error) from error
    return Done(done="It is another view of that set now.")


def _too_large() -> Problem:
    limit = intake_kind.LARGEST_BYTES / 1e9
    return Problem(413, f"This file is larger than {limit:g} GB.", "Cut it to the set first.")


def _unfit(error: ValueError) -> Problem:
    """Turn a sentence with its remedy into what leaves as JSON."""
    text = str(error)
    says, cut, remedy = text.partition("; ")
    if not cut:
        says, cut, remedy = text.partition(": ")
    remedy = remedy or "Reload the page and try again."
    return Problem(422, says.rstrip(".") + ".", remedy[:1].upper() + remedy[1:])
