"""The inbox: what came in, what can be seen of it already, and what to do with it."""

from __future__ import annotations

import sqlalchemy as sa
from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from midfoot.desk.instance import trouble
from midfoot.store.tables import lifters
from midfoot.web import inbox_rows
from midfoot.web.context_form import FIELD_OF, FIELDS, read_from, values_of
from midfoot.web.deps import Desk, Page
from midfoot.web.flags import USE_WORDS
from midfoot.web.messages import Signed, follow_up_message, refilm_message, signed_by
from midfoot.web.problems import not_found
from midfoot.web.render import Pages

router = APIRouter(include_in_schema=False)


@router.get("/")
def inbox(request: Request, desk: Desk, page: Page, show: str = "open", q: str = "", start: int = 0) -> Response:
    """The page; `show` is one of the lists, `q` looks for words, `start` counts rows passed over."""
    start, unit = max(0, start), page.unit()
    with desk.read() as connection:
        found = inbox_rows.rows_of(connection, show=show, words=q[:200], start=start)
        counts = inbox_rows.counts(connection)
        signed = signed_by(connection)
        nothing = not any(counts.values())
        names = list(connection.execute(sa.select(lifters.c.name).order_by(lifters.c.name)).scalars())
        instance_says = trouble(connection)
    return page.render(
        request, "inbox.html.j2",
        {
            "rows": [_drawn(page, row, show, signed, unit) for row in found.rows], "more": found.more,
            "start": start,
            "counts": counts, "show": show, "q": q[:200], "lists": inbox_rows.LISTS, "nothing": nothing,
            "lifter_names": names, "instance_says": instance_says,
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
    unit = page.unit()
    return HTMLResponse(_drawn(page, row, show, signed, unit))


@router.get("/inbox/counts")
def count(desk: Desk) -> dict[str, int]:
    """How many sets stand in every list."""
    with desk.read() as connection:
        return inbox_rows.counts(connection)


def _drawn(pages: Pages, row: inbox_rows.Row, show: str, signed: Signed, unit: str) -> str:
    return pages.part(
        "inbox_row.html.j2",
        {
            "row": row, "show": show, "unit": unit, "fields": FIELDS, "values": values_of(row.context, unit),
            "read": read_from(row.reading),
            "field_of": FIELD_OF,
            "uses": [USE_WORDS.get(use, use) for use in row.consents],
            "refilm": refilm_message(row.lifter, row.lift, row.summary, row.waiting_note, signed),
            "follow_up": follow_up_message(row.lifter, row.lift, row.due, signed, row.window)
            if row.due else "",
        },
    )  # fmt: skip
