"""Work under way: what runs, what waits, what could not be done and why."""

from __future__ import annotations

import sqlalchemy as sa
from fastapi import APIRouter, Request
from starlette.responses import Response

from midfoot.store.tables import clips, jobs, lifters, open_sets, sets
from midfoot.units import load_words
from midfoot.web.deps import Desk, Page
from midfoot.web.words import erased_there

router = APIRouter(include_in_schema=False)
KIND_WORDS = {
    "look": "Looking at a clip", "measure": "Measuring", "pictures": "Pictures of a review",
    "publish": "Publishing", "take": "Voice over a set", "export": "Export",
    "archive": "Earlier sets into the archive", "glimpse": "A first look at where it was filmed",
    "fetch": "Asking the public instance", "open_page": "The page of an open set",
    "edition": "Export of an edition", "erase_there": "Erasing at the public instance",
}  # fmt: skip
LIVE = ("queued", "running")
PAST = 60


@router.get("/jobs")
def work(request: Request, desk: Desk, page: Page) -> Response:
    """The page."""
    query = sa.select(jobs)
    with desk.read() as connection:
        live = connection.execute(
            query.where(jobs.c.state.in_(LIVE))
            .order_by((jobs.c.state == "running").desc(), jobs.c.priority.desc(), jobs.c.created_at)
            .limit(300)
        ).all()
        past = connection.execute(
            query.where(jobs.c.state.not_in(LIVE)).order_by(jobs.c.finished_at.desc().nulls_last()).limit(PAST)
        ).all()
        names = _names(connection, [*live, *past], page.unit())
    told = {job.id: erased_there(job.result) for job in past if job.kind == "erase_there" and job.result}
    return page.render(
        request, "jobs.html.j2", {"live": live, "past": past, "names": names, "kinds": KIND_WORDS, "told": told}
    )


def _names(
    connection: sa.Connection, rows: list[sa.Row[tuple[object, ...]]], unit: str
) -> dict[str, dict[str, str]]:
    """Say for every job which set it is about, loads in kg or lb: {job: {set, words}}."""
    payloads = {r.id: r.payload if isinstance(r.payload, dict) else {} for r in rows}
    wanted_clips = {str(p["clip_id"]) for p in payloads.values() if p.get("clip_id")}
    wanted_sets = {str(p["set_id"]) for p in payloads.values() if p.get("set_id")}
    of_clip = {
        clip_id: set_id
        for clip_id, set_id in connection.execute(
            sa.select(clips.c.id, clips.c.set_id).where(clips.c.id.in_(wanted_clips))
        )
    }
    of_open = {
        own: set_id
        for own, set_id in connection.execute(
            sa.select(open_sets.c.id, open_sets.c.set_id).where(
                open_sets.c.id.in_({str(p["open_id"]) for p in payloads.values() if p.get("open_id")})
            )
        )
    }
    said = {
        r.id: " ".join(
            w for w in (r.lift or "set", load_words(r.load_kg, unit) if r.load_kg else "", r.name or "") if w
        )
        for r in connection.execute(
            sa.select(sets.c.id, sets.c.lift, sets.c.load_kg, lifters.c.name)
            .outerjoin(lifters, lifters.c.id == sets.c.lifter_id)
            .where(sets.c.id.in_(wanted_sets | {*of_clip.values(), *of_open.values()}))
        )
    }
    found = {}
    for job_id, payload in payloads.items():
        set_id = str(
            payload.get("set_id")
            or of_clip.get(str(payload.get("clip_id") or ""))
            or of_open.get(str(payload.get("open_id") or ""), "")
        )
        if set_id in said:
            found[job_id] = {"set": set_id, "words": said[set_id][:1].upper() + said[set_id][1:]}
    return found
