"""The inbox: what came in, what can be seen of it already, and what to do with it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from midfoot.web import inbox_rows
from midfoot.web.deps import Desk, Page

router = APIRouter(include_in_schema=False)


@router.get("/")
def inbox(request: Request, desk: Desk, page: Page, show: str = "all", q: str = "") -> Response:
    """The page; `show` is one of the lists, `q` looks for words."""
    with desk.read() as connection:
        rows = inbox_rows.rows_of(connection, show=show, words=q)
        counts = inbox_rows.counts(connection)
    return page.render(
        request, "inbox.html.j2", {"rows": rows, "counts": counts, "show": show, "q": q, "lists": inbox_rows.LISTS}
    )
