"""The archive: how common each finding is, how far the coach agrees with it, and what that suggests."""

from __future__ import annotations

import json
import math
from datetime import date
from typing import Any
from urllib.parse import quote, urlencode

import sqlalchemy as sa
from attrs import frozen
from fastapi import APIRouter, Request
from sqlalchemy.engine import Connection
from starlette.responses import RedirectResponse, Response

from midfoot.desk import archive as over_all
from midfoot.desk import suggesting
from midfoot.desk.agreement import Share
from midfoot.desk.archive import Filters
from midfoot.desk.archive_time import over_time
from midfoot.desk.suggesting import SuggestionError
from midfoot.findings import ThresholdsError
from midfoot.jobs import enqueue
from midfoot.measures.views import VIEW_WORDS
from midfoot.records.base import LIFTS
from midfoot.store.tables import jobs, lifters
from midfoot.units import KG_PER_LB
from midfoot.web.archive_chart import sizes_chart, time_chart
from midfoot.web.deps import Desk, Form, Page, text_of
from midfoot.web.lifter_chart import UNIT_WORDS
from midfoot.web.problems import Problem

router = APIRouter(include_in_schema=False)
ROWS = 40
EVIDENCE_ROWS = 60
DID_WORDS = {
    "kept": "kept", "reworded": "kept in your words", "dropped": "dropped", "accepted": "accepted for the lifter",
    "open": "never looked at", "added": "seen by you alone",
}  # fmt: skip


@frozen(kw_only=True)
class Asked:
    """What the address asks for: the filters, and which of their fields could not be read."""

    filters: Filters
    wrong: tuple[str, ...]
    query: dict[str, str]

    def address(self, **more: str | int) -> str:
        """Give the address of the page with some fields changed; an empty one is left out."""
        fields = {**self.query, **{k: str(v) for k, v in more.items()}}
        kept = {k: v for k, v in fields.items() if v not in ("", "0") or (k == "from_load" and v)}
        return f"/archive?{urlencode(kept)}" if kept else "/archive"


@router.get("/archive")
def archive(request: Request, desk: Desk, page: Page, start: int = 0, done: str = "", line: str = "") -> Response:
    """The page; every filter is a field of the address, so that a view can be kept and passed on."""
    unit, start = page.unit(), max(0, min(start, 1_000_000))
    with desk.read() as connection:
        asked = _asked(request, connection, unit)
        filters = asked.filters
        over = over_all.overview(connection, filters)
        found = over.found
        gathering = over.not_noted and _gathering(connection)
        rows = over_all.case_rows(connection, filters, start=start, limit=ROWS + 1)
        one = next((f for f in found if f.finding == filters.finding), None)
        measured = one is not None and one.by == "measured"
        periods = over_time(connection, filters) if measured else ()
        suggested = suggesting.suggestions(connection, desk, filters.finding) if measured else ()
        taken = suggesting.taken(connection, desk, filters.finding) if measured else ()
        names = connection.execute(sa.select(lifters.c.id, lifters.c.name).order_by(lifters.c.name)).all()
    return page.render(
        request, "archive.html.j2",
        {
            "asked": asked, "filters": filters, "found": found, "total": over.measured, "missing": over.not_noted,
            "gathering": gathering, "rows": rows[:ROWS], "more": len(rows) > ROWS, "start": start,
            "page_rows": ROWS,
            "one": one, "periods": periods, "time_chart": _embedded(time_chart(periods)) if one else "",
            "suggested": [(s, _embedded(sizes_chart(s)), _near(s)) for s in suggested], "taken": taken,
            "names": names, "lifts": LIFTS, "views": VIEW_WORDS, "did_words": DID_WORDS, "unit_words": UNIT_WORDS,
            "agreed": _agreed(found), "done": done[:160], "line": line if done else "",
        },
    )  # fmt: skip


@router.post("/archive/threshold")
def take(desk: Desk, form: Form) -> Response:
    """Write the suggested threshold into the coach's file."""
    finding, threshold = text_of(form, "finding", limit=64), text_of(form, "threshold", limit=64)
    try:
        floor = float(text_of(form, "floor", limit=24))
    except ValueError:
        raise Problem(
            422, "The threshold could not be read.", "Reload the page and press the button again."
        ) from None
    try:
        line = suggesting.take(desk, finding, threshold, floor)
    except (SuggestionError, ThresholdsError) as error:
        raise Problem(409, str(error), "Reload the page.") from error
    return _back(finding, "Written into your thresholds; the next draft uses it.", line)


@router.post("/archive/threshold/undo")
def undo(desk: Desk, form: Form) -> Response:
    """Take a threshold back that was taken here."""
    try:
        suggesting.undo(desk, text_of(form, "line", limit=32))
    except (SuggestionError, ThresholdsError) as error:
        raise Problem(409, str(error), "Reload the page.") from error
    return _back(text_of(form, "finding", limit=64), "Taken back: your thresholds are what they were.")


@router.post("/archive/gather")
def gather(desk: Desk) -> Response:
    """Ask for the findings of sets that were measured before the archive kept them."""
    with desk.write() as connection:
        enqueue(connection, "archive", "archive", {})
    return RedirectResponse("/archive?done=" + quote("Earlier sets are being taken in."), status_code=303)


def _back(finding: str, done: str, line: str = "") -> Response:
    fields = {"finding": finding, "done": done, **({"line": line} if line else {})}
    return RedirectResponse(f"/archive?{urlencode(fields)}#threshold", status_code=303)


def _asked(request: Request, connection: Connection, unit: str) -> Asked:
    """Read the filters; what cannot be read is left out and named."""
    query = {k: v.strip()[:80] for k, v in request.query_params.items() if k in FIELDS and v.strip()}
    wrong = []
    days: dict[str, date | None] = {"since": None, "until": None}
    loads: dict[str, float | None] = {"from_load": None, "to_load": None}
    for name in days:
        try:
            days[name] = date.fromisoformat(query[name]) if name in query else None
        except ValueError:
            wrong.append(f"{query.pop(name)} is no day; write it as 2031-05-24.")
    for name in loads:
        try:
            load = float(query[name].replace(",", ".")) if name in query else None
            if load is not None and not (math.isfinite(load) and 0 <= load <= 1500):
                raise ValueError
            loads[name] = None if load is None else load * KG_PER_LB if unit == "lb" else load
        except ValueError:
            wrong.append(f"{query.pop(name)} is no load; write a number of {unit}.")
    known = {"lift": LIFTS, "view": tuple(VIEW_WORDS), "did": (*DID_WORDS, "judged")}
    for name, words in known.items():
        if query.get(name, "") not in ("", *words):
            wrong.append(f"{query.pop(name)} is not known here.")
    return Asked(
        filters=Filters(
            lift=query.get("lift", ""), finding=query.get("finding", ""), lifter=query.get("lifter", ""),
            view=query.get("view", ""), did=query.get("did", ""), since=days["since"], until=days["until"],
            least_kg=loads["from_load"], most_kg=loads["to_load"],
        ),
        wrong=tuple(wrong), query=query,
    )  # fmt: skip


FIELDS = ("lift", "finding", "lifter", "view", "did", "since", "until", "from_load", "to_load")


def _agreed(found: tuple[over_all.Found, ...]) -> Share:
    mine = [f.agreed for f in found if f.by == "measured"]
    return Share(sum(a.count for a in mine), sum(a.of for a in mine))


def _near(found: suggesting.Suggestion) -> list[suggesting.Evidence]:
    """Give the cases that say most: on the wrong side first, then nearest to where a draft begins to say it."""
    parts = found.would_say_from or found.said_from
    nearest = sorted(found.evidence, key=lambda e: (not e.wrong, abs(e.size - parts)))[:EVIDENCE_ROWS]
    return sorted(nearest, key=lambda e: -e.size)


def _gathering(connection: Connection) -> bool:
    live = sa.select(jobs.c.id).where(jobs.c.kind == "archive", jobs.c.state.in_(("queued", "running")))
    return connection.execute(live).first() is not None


def _embedded(chart: dict[str, Any] | None) -> str:
    """Give JSON that can stand inside a script element of the page."""
    return "" if chart is None else json.dumps(chart).replace("<", "\\u003c")
