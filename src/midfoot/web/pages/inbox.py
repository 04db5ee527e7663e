"""The inbox: what came in, what can be seen of it already, and what to do with it."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter, Request
from starlette.responses import FileResponse, HTMLResponse, Response

from midfoot.store.tables import clips, sets
from midfoot.web import inbox_rows
from midfoot.web.context_form import FIELDS, values_of
from midfoot.web.deps import Desk, Page
from midfoot.web.flags import USE_WORDS
from midfoot.web.messages import Signed, follow_up_message, refilm_message, signed_by
from midfoot.web.problems import not_found
from midfoot.web.render import Pages

router = APIRouter(include_in_schema=False)


@router.get("/")
def inbox(request: Request, desk: Desk, page: Page, show: str = "open", q: str = "", start: int = 0) -> Response:
    """The page; `show` is one of the lists, `q` looks for words, `start` counts rows passed over."""
    start = max(0, start)
    with desk.read() as connection:
        found = inbox_rows.rows_of(connection, show=show, words=q[:200], start=start)
        counts = inbox_rows.counts(connection)
        signed = signed_by(connection)
        nothing = not any(counts.values())
    return page.render(
        request, "inbox.html.j2",
        {
            "rows": [_drawn(page, row, show, signed) for row in found.rows], "more": found.more, "start": start,
            "counts": counts, "show": show, "q": q[:200], "lists": inbox_rows.LISTS, "nothing": nothing,
            "page_rows": inbox_rows.PAGE_ROWS, "name": dict(inbox_rows.LISTS).get(show, "Open"),
        },
    )  # fmt: skip


@router.get("/inbox/rows/{set_id}")
def one_row(set_id: str, desk: Desk, page: Page, show: str = "open") -> Response:
    """One row drawn again, for the page when something changed."""
    with desk.read() as connection:
        row, signed = inbox_rows.row_of(connection, set_id), signed_by(connection)
    if row is None:
        raise not_found("set")
    return HTMLResponse(_drawn(page, row, show, signed))


@router.get("/inbox/counts")
def count(desk: Desk) -> dict[str, int]:
    """How many sets stand in every list."""
    with desk.read() as connection:
        return inbox_rows.counts(connection)


@router.get("/clips/{clip_id}/frame.jpg")
def frame(clip_id: str, desk: Desk) -> Response:
    """The frame that stands for a clip."""
    with desk.read() as connection:
        found = connection.execute(sa.select(clips.c.frame_sha256).where(clips.c.id == clip_id)).scalar()
    if found is None or not desk.blobs.has(found):
        raise not_found("frame")
    return FileResponse(
        desk.blobs.path(found), media_type="image/jpeg", headers={"cache-control": "private, max-age=86400"}
    )


def _drawn(pages: Pages, row: inbox_rows.Row, show: str, signed: Signed) -> str:
    return pages.part(
        "inbox_row.html.j2",
        {
            "row": row, "show": show, "fields": FIELDS, "values": values_of(row.context, pages.unit()),
            "uses": [USE_WORDS.get(use, use) for use in row.consents],
            "refilm": refilm_message(row.lifter, row.lift, row.summary, row.waiting_note, signed),
            "follow_up": follow_up_message(row.lifter, row.lift, row.due, signed) if row.due else "",
        },
    )  # fmt: skip


def lifter_names(connection: Any) -> list[str]:
    """Give the names of all lifters, for the field that offers them."""
    from midfoot.store.tables import lifters

    return list(connection.execute(sa.select(lifters.c.name).order_by(lifters.c.name)).scalars())


def set_exists(connection: Any, set_id: str) -> bool:
    """Tell whether there is such a set."""
    return connection.execute(sa.select(sets.c.id).where(sets.c.id == set_id)).first() is not None
