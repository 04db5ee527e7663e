"""What a desk fetches from a small public instance: sets with all that was said, their clips.

Nothing is deleted here before the desk's word that it arrived.
"""

from __future__ import annotations

from typing import Annotated

import sqlalchemy as sa
from fastapi import APIRouter, Depends, Path, Request
from pydantic import BaseModel, Field
from starlette.responses import FileResponse, JSONResponse, Response

from midfoot.desk import handing_over, links
from midfoot.desk.erase_asked import Asked, erase_asked
from midfoot.desk.handing_over import HandingError
from midfoot.desk.links import Link
from midfoot.desk.posted import TOKEN
from midfoot.desk.who import WhoError, lifter_named
from midfoot.store.tables import clips
from midfoot.web import pace
from midfoot.web.deps import Desk
from midfoot.web.problems import not_found, problem_of

router = APIRouter(tags=["fetch"])


class Arrived(BaseModel):
    """What the desk holds now: hashes of the clips of one set."""

    sha256: list[Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]] = Field(max_length=100)


def _link(request: Request, desk: Desk, token: str) -> Link:
    return pace.opened(request, desk, links.FETCH, token, lambda _: "fetch")


Opened = Annotated[Link, Depends(_link)]


@router.get("/fetch/{token}/sets")
def waiting(desk: Desk, link: Opened) -> Response:
    """Every set that waits, whole."""
    return JSONResponse({"sets": handing_over.waiting(desk)})


class Wanted(BaseModel):
    """A link for a lifter that the desk wants made here."""

    lifter: str = Field(default="", max_length=200)
    days: int = Field(default=links.DAYS, ge=1, le=links.MOST_DAYS)


@router.get("/fetch/{token}/links")
def made(desk: Desk, link: Opened) -> Response:
    """The links for lifters that were made here."""
    rows = [
        {**row, "created_at": row["created_at"].isoformat(), "expires_at": row["expires_at"].isoformat()}
        for row in links.listed(desk)
        if row["scope"] == links.SEND
    ]
    return JSONResponse({"links": rows})


@router.post("/fetch/{token}/links", status_code=201)
def make(desk: Desk, link: Opened, wanted: Wanted) -> Response:
    """Make a link for a lifter; its token is told once and kept nowhere."""
    try:
        with desk.write() as connection:
            lifter_id = lifter_named(connection, wanted.lifter) if wanted.lifter.strip() else None
    except WhoError as error:
        raise problem_of(409, error) from None
    link_id, made_token = links.make(desk, links.SEND, lifter_id=lifter_id, days=wanted.days)
    return JSONResponse({"id": link_id, "token": made_token}, status_code=201)


@router.post("/fetch/{token}/links/{link_id}/revoke")
def revoke(desk: Desk, link: Opened, link_id: Annotated[str, Path(pattern=r"^[0-9a-f]{1,32}$")]) -> Response:
    """Take a lifter's link back; the desk's own stays."""
    if any(row["id"] == link_id and row["scope"] == links.SEND for row in links.listed(desk)):
        links.revoke(desk, link_id)
    return JSONResponse({"done": True})


@router.get("/fetch/{token}/clips/{sha256}")
def clip(desk: Desk, link: Opened, sha256: Annotated[str, Path(pattern=r"^[0-9a-f]{64}$")]) -> Response:
    """The bytes of a clip."""
    with desk.read() as connection:
        known = connection.execute(sa.select(clips.c.id).where(clips.c.sha256 == sha256)).first()
    if known is None or not desk.blobs.has(sha256):
        raise not_found("clip")
    return FileResponse(desk.blobs.path(sha256), media_type="application/octet-stream")


@router.post("/fetch/{token}/sets/{set_id}/arrived")
def arrived(desk: Desk, link: Opened, set_id: str, got: Arrived) -> Response:
    """Delete a set here, once the desk says that it holds every clip of it."""
    try:
        handing_over.give_away(desk, set_id, got.sha256)
    except HandingError as error:
        raise problem_of(409, error, "Fetch the set again.") from None
    return JSONResponse({"done": True})


Id = Annotated[str, Field(pattern=r"^[0-9A-Za-z_-]{1,64}$")]
Mark = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class ToErase(BaseModel):
    """What was erased at the desk and is to go here."""

    salt: str = Field(default="", pattern=r"^[0-9a-f]{0,64}$")
    names: list[Mark] = Field(default=[], max_length=100)
    links: list[Id] = Field(default=[], max_length=10_000)
    sets: list[Id] = Field(default=[], max_length=10_000)
    open: list[Annotated[str, Field(pattern=f"^{TOKEN.pattern}$")]] = Field(default=[], max_length=1000)


@router.post("/fetch/{token}/erase")
def erase(desk: Desk, link: Opened, wanted: ToErase) -> Response:
    """Erase a lifter, or sets, with links, clips and pages of open sets."""
    asked = Asked(
        salt=wanted.salt, names=wanted.names, links=[own for own in wanted.links if own != link.id],
        sets=wanted.sets, open=wanted.open,
    )  # fmt: skip
    gone, says = erase_asked(desk, asked)
    return JSONResponse({"gone": gone, "says": says})
