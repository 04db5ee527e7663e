"""What a desk fetches from a small public instance: sets with all that was said, their clips.

Nothing is deleted here before the desk's word that it arrived.
"""

from __future__ import annotations

from typing import Annotated

import sqlalchemy as sa
from fastapi import APIRouter, Depends, Path
from pydantic import BaseModel, Field
from starlette.responses import FileResponse, JSONResponse, Response

from midfoot.desk import handing_over, links
from midfoot.desk.handing_over import HandingError
from midfoot.desk.links import Link, LinkError
from midfoot.store.tables import clips
from midfoot.web.deps import Desk
from midfoot.web.problems import not_found, problem_of

router = APIRouter(tags=["fetch"])


class Arrived(BaseModel):
    """What the desk holds now: hashes of the clips of one set."""

    sha256: list[Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]] = Field(max_length=100)


def _link(desk: Desk, token: str) -> Link:
    try:
        return links.opened(desk, links.FETCH, token)
    except LinkError as error:
        raise problem_of(404, error) from None


Opened = Annotated[Link, Depends(_link)]


@router.get("/fetch/{token}/sets")
def waiting(desk: Desk, link: Opened) -> Response:
    """Every set that waits, whole."""
    return JSONResponse({"sets": handing_over.waiting(desk)})


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
