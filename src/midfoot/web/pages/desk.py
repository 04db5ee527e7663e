"""The desk of one set: its page, what the player draws, and what is put right of a measurement."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter, Request
from pydantic import BaseModel
from sqlalchemy.engine import Connection
from starlette.responses import JSONResponse, Response

from midfoot import jobs
from midfoot.desk import showing
from midfoot.desk.page_words import on_page
from midfoot.desk.repair_rows import add_repair, in_words, repairs_of, settle_lift, undo_repair
from midfoot.desk.repairs import RepairError
from midfoot.jobs import hurry
from midfoot.jobs.kinds import HURRY
from midfoot.jobs.settling import settle
from midfoot.publish.rules_table import rule_rows, rulebook_of
from midfoot.publish.tables import rows_of, set_rows
from midfoot.records.body import LANDMARKS
from midfoot.store import StoreError, tables
from midfoot.store.rows import audit
from midfoot.web.deps import Desk, Page
from midfoot.web.pages.review import panel
from midfoot.web.problems import Problem, not_found

router = APIRouter(include_in_schema=False)
NOT_YET = "This clip is not measured yet."
LATER = "The page fills as soon as it is."
JOINTS = tuple(n for n in LANDMARKS if n.split("_", 1)[-1] in
               ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "foot_index"))  # fmt: skip
LIVE = ("queued", "running")


class NewRepair(BaseModel):
    """What a page sends to put something right: which clip, the kind, and its values (`desk.repairs`)."""

    clip: str
    kind: str
    body: dict[str, Any] = {}


class Undo(BaseModel):
    """Which repair no longer counts, or (`undone` false) counts again."""

    clip: str
    n: int
    undone: bool = True


def _set(desk: Any, set_id: str, clip_id: str = "") -> showing.SetShown:
    with desk.read() as connection:
        found = showing.set_shown(connection, desk, set_id, clip_id)
    if found is None:
        raise not_found("set")
    return found


def _folder(desk: Any, set_id: str, clip_id: str) -> Path:
    return _measured(_set(desk, set_id, clip_id))


def _measured(shown: showing.SetShown) -> Path:
    if shown.clip is None or shown.clip.folder is None:
        raise Problem(404, NOT_YET, LATER)
    return shown.clip.folder


@router.get("/sets/{set_id}")
def page_of_set(request: Request, desk: Desk, page: Page, set_id: str, clip: str = "") -> Response:
    """The page; `clip` names another clip of the set than the main one."""
    shown = _set(desk, set_id, clip)
    numbers = _numbers(shown)
    with desk.read() as connection:
        work = _work(connection, [c.id for c in shown.clips])
    if work is not None and (work["state"] == "queued" or work["kind"] == "look"):
        with desk.write() as connection:  # what is looked at goes before what only waits
            hurry(connection, [f"{kind}:{c.id}" for c in shown.clips for kind in ("look", "measure")])
    return page.render(
        request, "desk.html.j2",
        {"shown": shown, "set": shown.row, "clip": shown.clip, "numbers": numbers, "work": work, "joints": JOINTS,
         "desk_review": panel(desk, set_id)},
    )  # fmt: skip


def _numbers(shown: showing.SetShown) -> dict[str, Any] | None:
    """Give the tables of a measured clip; None while it is not measured."""
    if shown.clip is None or shown.clip.folder is None:
        return None
    measurement = showing.measured(shown.clip.folder)
    return {
        "reps": [{"n": r.n, "outcome": r.outcome} for r in measurement.data.reps.reps],
        "table": [{**row, "reason": on_page(row["reason"])} for row in rows_of(measurement)],
        "whole": [{**row, "words": on_page(row["words"])} for row in set_rows(measurement)],
        "rules": rule_rows(measurement),
        "rulebook": rulebook_of(measurement),
        "warnings": [{"text": on_page(w.text), "remedy": on_page(w.remedy)} for w in measurement.warnings],
        "bar": measurement.data.track.status,
        "bar_reason": on_page(measurement.data.track.reason),
    }


def _work(connection: Connection, clip_ids: list[str]) -> dict[str, Any] | None:
    """Give the work under way for these clips, what runs before what waits."""
    keys = [f"{kind}:{clip_id}" for clip_id in clip_ids for kind in ("look", "measure")]
    row = connection.execute(
        sa.select(tables.jobs.c.id, tables.jobs.c.kind, tables.jobs.c.state, tables.jobs.c.progress,
                  tables.jobs.c.message)
        .where(tables.jobs.c.state.in_(LIVE), tables.jobs.c.key.in_(keys))
        .order_by(tables.jobs.c.state.desc(), tables.jobs.c.created_at)
    ).first()  # fmt: skip
    return None if row is None else dict(row._mapping)


@router.get("/sets/{set_id}/numbers")
def numbers_part(desk: Desk, page: Page, set_id: str, clip: str = "") -> Response:
    """The tables of the page again, after a measurement."""
    shown = _set(desk, set_id, clip)
    return Response(page.part("desk_numbers.html.j2", {"numbers": _numbers(shown)}), media_type="text/html")


@router.get("/sets/{set_id}/scene.json")
def scene(desk: Desk, set_id: str, clip: str = "") -> Response:
    """What the player draws over the picture and says under it."""
    shown = _set(desk, set_id, clip)
    return JSONResponse({**showing.scene(_measured(shown)), "version": shown.version})


@router.get("/sets/{set_id}/charts.json")
def charts(desk: Desk, set_id: str, clip: str = "") -> Response:
    """The charts' specifications and samples."""
    return JSONResponse(showing.charts(_folder(desk, set_id, clip)))


@router.get("/sets/{set_id}/mechanics")
def mechanics(desk: Desk, page: Page, set_id: str, clip: str = "") -> Response:
    """What the position costs the joints: `html` for the panel and the arms to draw over the picture."""
    folder = _folder(desk, set_id, clip)
    try:
        found = showing.mechanics(folder)
    except StoreError as error:
        found = {
            "moments": [],
            "what_if": [],
            "sentences": [],
            "reasons": [],
            "load": [],
            "why": on_page(str(error)),
        }
    return JSONResponse({**found, "html": page.part("desk_mechanics.html.j2", {"found": found})})


@router.get("/sets/{set_id}/beside.json")
def beside(desk: Desk, set_id: str) -> Response:
    """What another set needs to stand beside this one: its clip's addresses."""
    clip = _set(desk, set_id).clip
    if clip is None or clip.folder is None or not clip.proxy_sha256:
        raise Problem(404, NOT_YET, LATER)
    return JSONResponse({"clip": clip.id, "proxy": clip.proxy_sha256[:12]})


@router.get("/sets/{set_id}/against/{other_id}")
def against(desk: Desk, set_id: str, other_id: str, clip: str = "") -> Response:
    """An earlier set's reps for this one's charts, and what of it cannot be compared."""
    return JSONResponse(showing.against(_folder(desk, set_id, clip), _folder(desk, other_id, "")))


@router.get("/sets/{set_id}/repairs")
def repairs(desk: Desk, set_id: str, clip: str) -> Response:
    """What was put right of a clip, in words."""
    with desk.read() as connection:
        _belongs(connection, set_id, clip)
        return JSONResponse({"repairs": _listed(connection, clip)})


@router.post("/sets/{set_id}/repairs")
def repair(desk: Desk, set_id: str, sent: NewRepair) -> Response:
    """Add a repair and have the clip measured again, before all others."""
    with desk.write() as connection:
        _belongs(connection, set_id, sent.clip)
        try:
            made = add_repair(connection, sent.clip, sent.kind, sent.body)
        except RepairError as error:
            raise Problem(422, str(error), "Nothing was changed.") from None
        audit(connection, "repaired", "clip", sent.clip, {"n": made.n, "kind": made.kind})
        settle_lift(connection, set_id, sent.clip)
        job = measure_again(connection, set_id, sent.clip)
        return JSONResponse({"n": made.n, "job": job, "repairs": _listed(connection, sent.clip)}, status_code=201)


@router.post("/sets/{set_id}/repairs/undo")
def undo(desk: Desk, set_id: str, sent: Undo) -> Response:
    """Let a repair count no more, or again, and have the clip measured again."""
    with desk.write() as connection:
        _belongs(connection, set_id, sent.clip)
        if not undo_repair(connection, sent.clip, sent.n, undone=sent.undone):
            raise Problem(409, "That was done already, perhaps in another window.", "Reload the page.")
        settle_lift(connection, set_id, sent.clip)
        job = measure_again(connection, set_id, sent.clip)
        return JSONResponse({"n": sent.n, "job": job, "repairs": _listed(connection, sent.clip)})


def measure_again(connection: Connection, set_id: str, clip_id: str) -> str:
    """Queue a clip's measurement before all others; one that runs with older repairs ends. Gives the job's id."""
    key = f"measure:{clip_id}"
    old = sa.select(tables.jobs.c.id).where(tables.jobs.c.key == key, tables.jobs.c.state.in_(LIVE))
    for job_id in connection.execute(old).scalars().all():
        jobs.cancel(connection, job_id)
    job = jobs.enqueue(connection, "measure", key, {"clip_id": clip_id, "set_id": set_id}, HURRY)
    settle(connection, set_id)
    return job


def _listed(connection: Connection, clip_id: str) -> list[dict[str, Any]]:
    return [
        {"n": r.n, "kind": r.kind, "body": r.body, "undone": r.undone, "words": in_words(r)}
        for r in repairs_of(connection, clip_id)
    ]


def _belongs(connection: Connection, set_id: str, clip_id: str) -> None:
    row = connection.execute(sa.select(tables.clips.c.set_id).where(tables.clips.c.id == clip_id)).first()
    if row is None or row.set_id != set_id:
        raise not_found("clip of this set")
