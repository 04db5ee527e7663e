"""Open sets at the desk: opened, their answers read and approved, comments brought in, closed, compared."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from pydantic import BaseModel, Field
from sqlalchemy.engine import Connection
from starlette.responses import HTMLResponse, JSONResponse, Response

from midfoot.desk import edition as editing
from midfoot.desk import open_set
from midfoot.desk.answering import MOST_SEEN, OpenSetError, choices
from midfoot.desk.edition import EditionError
from midfoot.desk.instance import FROM, SAID, ask_soon
from midfoot.desk.outcome import Outcome, meant
from midfoot.desk.outcome import outcome as outcome_of
from midfoot.desk.posting import PLACE, outside
from midfoot.desk.review_sources import NoReviewError
from midfoot.jobs import enqueue
from midfoot.jobs.kinds import HURRY
from midfoot.store import StoreError
from midfoot.store.rows import setting
from midfoot.web.deps import Desk, Page
from midfoot.web.problems import Problem, not_found, problem_of

router = APIRouter(tags=["open sets"])
Id = Annotated[str, Path(pattern=r"^[0-9a-f]{1,32}$")]
STATE_WORDS = {"preparing": "in preparation", "open": "open", "closed": "closed", "recapped": "closed",
               "withdrawn": "taken back"}  # fmt: skip


class Opened(BaseModel):
    """Which set is to be open."""

    set: str = Field(pattern=r"^[0-9a-f]{1,32}$")


class Judged(BaseModel):
    """Whether an answer counts, and which observations its own words are, by their number."""

    approved: bool
    means: dict[Annotated[int, Field(ge=0, lt=MOST_SEEN)], Annotated[str, Field(max_length=60)]] | None = None


class Brought(BaseModel):
    """Comments: a CSV, one a line, or saved answers."""

    text: str = Field(min_length=1, max_length=2_000_000)


@router.get("/open-sets", response_class=HTMLResponse)
def page(request: Request, desk: Desk, pages: Page) -> Response:
    """The list."""
    rows = open_set.listed(desk)
    ready = editing.candidates(desk)
    names = {c["id"]: c["words"] for c in ready}
    context = {"rows": rows, "names": names, "candidates": ready, "states": STATE_WORDS}
    return pages.render(request, "open_sets.html.j2", context)


@router.post("/open-sets", status_code=201)
def begin(desk: Desk, wanted: Opened) -> Response:
    """Open a set, and have its page made."""
    try:
        open_id = open_set.prepare(desk, wanted.set)
    except OpenSetError as error:
        raise problem_of(409, error) from None
    _make(desk, open_id)
    return JSONResponse({"id": open_id}, status_code=201)


@router.get("/open-sets/{open_id}", response_class=HTMLResponse)
def one(request: Request, desk: Desk, pages: Page, open_id: Id) -> Response:
    """One open set: answers to read, and what came of it."""
    row = next((r for r in open_set.listed(desk) if r["id"] == open_id), None)
    if row is None:
        raise not_found("open set")
    outcome, why = None, ""
    try:
        outcome = outcome_of(desk, open_id)
    except (NoReviewError, StoreError) as error:
        why = str(error)
    folder = desk.published / PLACE / row["token"]
    with desk.read() as connection:
        base, instance = outside(connection), _instance(connection)
    options = choices(_lift(desk, row["set_id"]))
    titles, answers = dict(options), open_set.held(desk, open_id)
    means = {a["id"]: [meant(a, k, options) for k in range(len(a["seen"]))] for a in answers["held"]}
    return pages.render(
        request, "open_set.html.j2",
        {"row": row, "answers": answers, "means": means, "outcome": outcome, "why": why, "titles": titles,
         "states": STATE_WORDS, "folder": str(folder) if folder.is_dir() else "", "instance": instance,
         "address": f"{base}/open/{row['token']}/" if base and row["state"] == "open" else "",
         "seconds": _seconds(outcome)},
    )  # fmt: skip


@router.post("/fetch-now", status_code=202)
def fetch_now(desk: Desk) -> Response:
    """Ask the public instance at once."""
    with desk.write() as connection:
        job_id = ask_soon(connection)
    if job_id is None:
        raise Problem(409, "No intake instance is set.", "Give its fetching address under Settings.")
    return JSONResponse({"job": job_id}, status_code=202)


@router.post("/open-sets/{open_id}/page", status_code=202)
def make(desk: Desk, open_id: Id) -> Response:
    """Make the page again."""
    _make(desk, open_id)
    return JSONResponse({"done": True}, status_code=202)


@router.post("/answers/{answer_id}")
def judge(desk: Desk, answer_id: Id, judged: Judged) -> Response:
    """Approve or refuse an answer."""
    open_set.judge(desk, answer_id, approved=judged.approved, means=judged.means)
    return JSONResponse({"done": True})


@router.post("/open-sets/{open_id}/comments")
def bring(desk: Desk, open_id: Id, brought: Brought) -> Response:
    """Take comments in."""
    return _do(lambda: {"held": open_set.bring(desk, open_id, brought.text)})


@router.post("/open-sets/{open_id}/close")
def close(desk: Desk, open_id: Id) -> Response:
    """Take no answers any more."""
    return _do(lambda: open_set.close(desk, open_id))


def _make(desk: Desk, open_id: str) -> None:
    with desk.write() as connection:
        enqueue(connection, "open_page", f"open_page:{open_id}", {"open_id": open_id}, HURRY)


def _instance(connection: Connection) -> dict[str, Any] | None:
    """When the public instance was asked last and what it said; None where there is none."""
    if not setting(connection, FROM, ""):
        return None
    said = setting(connection, SAID, {}) or {}
    at = said.get("at")
    return {"at": datetime.fromisoformat(at) if at else None, "says": said.get("says", "")}


def _lift(desk: Desk, set_id: str) -> str:
    import sqlalchemy as sa

    from midfoot.store.tables import sets

    with desk.read() as connection:
        return str(connection.execute(sa.select(sets.c.lift).where(sets.c.id == set_id)).scalar() or "squat")


def _seconds(outcome: Outcome | None) -> float:
    """How long the timeline is: to a little after the last moment."""
    times = [t for row in outcome.rows for t in (*row.at_s, *row.measured_s)] if outcome is not None else []
    return max(times, default=0.0) * 1.05 + 0.5


def _do(work: Callable[[], Any]) -> Response:
    try:
        return JSONResponse(work() or {"done": True})
    except (OpenSetError, EditionError) as error:
        raise problem_of(422, error) from None
