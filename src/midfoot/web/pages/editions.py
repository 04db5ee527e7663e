"""Editions: the list, one in preparation, its export, and the page for showing it."""

from __future__ import annotations

import mimetypes
import re
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from pydantic import BaseModel, Field
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse, Response

from midfoot.desk import edition as editing
from midfoot.desk import edition_export, edition_order
from midfoot.desk.edition import EditionError
from midfoot.jobs import enqueue
from midfoot.jobs.kinds import HURRY
from midfoot.publish.host import PAGE
from midfoot.store import Workspace
from midfoot.web.deps import Desk, Page
from midfoot.web.problems import Problem, not_found, problem_of

router = APIRouter(tags=["editions"])
Id = Annotated[str, Path(pattern=r"^[0-9a-f]{1,32}$")]
SHOWN = (".mp4", ".srt", ".vtt", ".txt", ".md", ".json", ".html")
"""Files of an export that are listed; style and script of its page lie beside them."""
FILE = re.compile(r"^(overlays/)?[0-9a-z][0-9a-z.-]*\.(mp4|vtt|srt|png|json|txt|md|html|js|css|svg)$")


class Named(BaseModel):
    """Title and day."""

    title: str = Field(min_length=1, max_length=200)
    planned_on: date | None = None


class Added(BaseModel):
    """A set for the running order."""

    kind: str = Field(pattern="^(review|recap|open)$")
    set: str = Field(pattern=r"^[0-9a-f]{1,32}$")


class Order(BaseModel):
    """Ids of all segments, first to last."""

    segments: list[Annotated[str, Field(pattern=r"^[0-9a-f]{1,32}$")]] = Field(max_length=100)


class Said(BaseModel):
    """How long a segment is to be, or the coach's own words."""

    target_s: float | None = Field(default=None, ge=5, le=3600, allow_inf_nan=False)
    words: str | None = Field(default=None, max_length=8000)


@router.get("/editions", response_class=HTMLResponse)
def all_editions(request: Request, desk: Desk, pages: Page) -> Response:
    """The list."""
    return pages.render(request, "editions.html.j2", {"editions": editing.listed(desk)})


@router.post("/editions", status_code=201)
def begin(desk: Desk, named: Named) -> Response:
    """Begin one."""
    return JSONResponse({"id": edition_order.create(desk, named.title, named.planned_on)}, status_code=201)


@router.get("/editions/{edition_id}", response_class=HTMLResponse)
def one(request: Request, desk: Desk, pages: Page, edition_id: Id) -> Response:
    """One in preparation."""
    return pages.render(request, "edition.html.j2", _context(desk, edition_id))


@router.get("/editions/{edition_id}/order", response_class=HTMLResponse)
def running_order(desk: Desk, pages: Page, edition_id: Id) -> Response:
    """The running order alone, drawn again after a change."""
    return HTMLResponse(pages.part("edition_order.html.j2", _context(desk, edition_id)))


@router.post("/editions/{edition_id}")
def rename(desk: Desk, edition_id: Id, named: Named) -> Response:
    """Another title or day."""
    return _do(lambda: edition_order.change(desk, edition_id, named.title, named.planned_on))


@router.post("/editions/{edition_id}/segments", status_code=201)
def add(desk: Desk, edition_id: Id, added: Added) -> Response:
    """Put a set in."""
    return _do(lambda: edition_order.add(desk, edition_id, added.kind, added.set), 201)


@router.post("/editions/{edition_id}/order")
def reorder(desk: Desk, edition_id: Id, wanted: Order) -> Response:
    """Another order."""
    return _do(lambda: edition_order.order(desk, edition_id, wanted.segments))


@router.post("/segments/{segment_id}")
def say(desk: Desk, segment_id: Id, said: Said) -> Response:
    """Another length, or the coach's own words."""
    return _do(lambda: edition_order.say(desk, segment_id, target_s=said.target_s, words=said.words))


@router.delete("/segments/{segment_id}")
def take_out(desk: Desk, segment_id: Id) -> Response:
    """Take a segment out."""
    return _do(lambda: edition_order.remove(desk, segment_id))


@router.post("/editions/{edition_id}/export", status_code=202)
def export(desk: Desk, edition_id: Id) -> Response:
    """Ask for the folder; what stands in the way is named."""
    try:
        edition_export.check(editing.edition_of(desk, edition_id))
    except EditionError as error:
        raise problem_of(409, error, "Mend what is named, then export.") from None
    with desk.write() as connection:
        job = enqueue(connection, "edition", f"edition:{edition_id}", {"edition_id": edition_id}, HURRY)
    return JSONResponse({"job": job}, status_code=202)


@router.get("/editions/{edition_id}/files/{name:path}", include_in_schema=False)
def file(desk: Desk, edition_id: Id, name: str) -> Response:
    """A file of the export."""
    folder = edition_export.folder_of(desk, edition_id)
    if folder is None or not FILE.match(name) or not (folder / name).is_file():
        raise not_found("file")
    kind = "text/vtt" if name.endswith(".vtt") else mimetypes.guess_type(name)[0] or "text/plain"
    return FileResponse(folder / name, media_type=kind)


@router.get("/editions/{edition_id}/host")
def host(desk: Desk, edition_id: Id) -> Response:
    """The page for showing an edition, which is a file of the export: nothing private is in it."""
    folder = edition_export.folder_of(desk, edition_id)
    if folder is None or not (folder / PAGE).is_file():
        raise Problem(
            409, "This edition was not exported yet.", "Export it first; only what may be public is shown."
        )
    return RedirectResponse(f"/editions/{edition_id}/files/{PAGE}", status_code=307)


def _context(desk: Workspace, edition_id: str) -> dict[str, Any]:
    try:
        found = editing.edition_of(desk, edition_id)
    except EditionError:
        raise not_found("edition") from None
    folder = edition_export.folder_of(desk, edition_id)
    files = sorted(p.name for p in folder.iterdir() if p.suffix in SHOWN) if folder is not None else []
    return {"edition": found, "candidates": editing.candidates(desk), "kinds": edition_export.KIND_WORDS,
            "files": files, "folder": str(folder or ""), "clock": edition_export.clock}  # fmt: skip


def _do(work: Any, status: int = 200) -> Response:
    try:
        found = work()
    except EditionError as error:
        raise problem_of(409, error) from None
    return JSONResponse({"id": found} if found else {"done": True}, status_code=status)
