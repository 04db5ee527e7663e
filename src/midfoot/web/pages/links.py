"""Links for lifters: made, listed, taken back, with a message to copy."""

from __future__ import annotations

from typing import Annotated

import sqlalchemy as sa
from fastapi import APIRouter, Path, Request
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, JSONResponse, Response

from midfoot.desk import links, links_there
from midfoot.desk.demo_reach import LINK
from midfoot.desk.instance import HandingError
from midfoot.desk.links import LinkError
from midfoot.desk.posting import outside
from midfoot.store.rows import setting
from midfoot.store.tables import lifters
from midfoot.web.deps import Desk, Page
from midfoot.web.problems import problem_of

router = APIRouter(tags=["links"])


class Wanted(BaseModel):
    """Which link is to be made."""

    lifter: str = Field(default="", pattern=r"^[0-9a-f]{0,32}$")
    days: int = Field(default=links.DAYS, ge=1, le=links.MOST_DAYS)
    scope: str = Field(default=links.SEND, pattern=f"^({links.SEND}|{links.FETCH})$")


@router.get("/links", response_class=HTMLResponse)
def page(request: Request, desk: Desk, pages: Page) -> Response:
    """The page."""
    with desk.read() as connection:
        known = connection.execute(sa.select(lifters.c.id, lifters.c.name).order_by(lifters.c.name)).all()
        demo = str(setting(connection, LINK, "") or "")
        there = links_there.is_set(connection)
    rows, why = links.listed(desk), ""
    if there:
        try:
            rows = [*links_there.listed(desk), *rows]
        except HandingError as error:
            why = str(error)
    context = {
        "demo": demo,
        "links": rows,
        "there": there,
        "why": why,
        "lifters": known,
        "days": links.DAYS,
        "most_days": links.MOST_DAYS,
    }
    return pages.render(request, "links.html.j2", context)


@router.post("/links", status_code=201)
def make(request: Request, desk: Desk, wanted: Wanted) -> Response:
    """Make a link, on the public instance where there is one; its address is told once and kept nowhere."""
    with desk.read() as connection:
        base, there = outside(connection), links_there.is_set(connection)
        name = connection.execute(
            sa.select(lifters.c.shown_name, lifters.c.name).where(lifters.c.id == wanted.lifter)
        ).first()
    try:
        if there and wanted.scope == links.SEND:
            link_id, token = links_there.make(
                desk, name.name if name else "", wanted.days, lifter_id=wanted.lifter if name else ""
            )
        else:
            link_id, token = links.make(desk, wanted.scope, lifter_id=wanted.lifter or None, days=wanted.days)
    except (LinkError, HandingError) as error:
        raise problem_of(422, error) from None
    address = f"{base or f'http://{request.url.netloc}'}/{wanted.scope}/{token}"
    hello = f"Hello {name.shown_name or name.name}, " if name else "Hello, "
    message = (
        f"{hello}here is your link for sending me a set: {address} It takes two minutes on the phone and is good "
        f"for {wanted.days} days. Film from the side, as high as your knee, the whole plate in the picture. Lift "
        "with safeties or a spotter, and stop when something hurts."
    )
    return JSONResponse({"id": link_id, "address": address, "message": message}, status_code=201)


@router.post("/links/{link_id}/revoke")
def revoke(
    desk: Desk, link_id: Annotated[str, Path(pattern=r"^[0-9a-f]{1,32}$")], there: bool = False
) -> Response:
    """Take a link back, here or on the public instance; it opens nothing from now on."""
    try:
        links_there.revoke(desk, link_id) if there else links.revoke(desk, link_id)
    except HandingError as error:
        raise problem_of(502, error) from None
    return JSONResponse({"done": "The link opens nothing any more."})
