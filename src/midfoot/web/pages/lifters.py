"""Lifters: the list, and one lifter over the weeks."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter, Request
from sqlalchemy.engine import Connection
from starlette.responses import RedirectResponse, Response, StreamingResponse

from midfoot.desk import export as everything
from midfoot.desk import lifter as over_weeks
from midfoot.desk import publishing
from midfoot.desk.erase import EraseError, erase_lifter
from midfoot.desk.erase_there import still_open
from midfoot.desk.lifter_changes import changes_of
from midfoot.desk.publishing import enforce
from midfoot.desk.who import renamed
from midfoot.measures.registry import definition
from midfoot.records.context import SEXES
from midfoot.store.columns import new_id, now
from midfoot.store.rows import audit
from midfoot.store.tables import USES_STORED, consents, lifters
from midfoot.units import UnitError, length_mm
from midfoot.web.deps import Desk, Form, Page, text_of
from midfoot.web.flags import USE_WORDS, weeks_words
from midfoot.web.lifter_chart import ACROSS, UNIT_WORDS, course_chart
from midfoot.web.problems import Problem, not_found

router = APIRouter(include_in_schema=False)
FIRST_MEASURES = (
    "path_departure_mm", "squat_depth_mm", "trunk_angle_low_deg", "touch_point_mm", "lockout_shortfall_mm",
    "ascent_mean_velocity_m_s",
)  # fmt: skip
"""Which measure is drawn first, where it was seen in two sets or more."""
GIVERS = (("lifter", "the lifter"), ("guardian", "the guardian"), ("coach_noted", "noted by me"))
VERDICTS = {"held": "Held", "not_held": "Not held", "cannot_tell": "Cannot be told"}
STATES = {
    "open": "Open",
    "held": "Held",
    "not_held": "Not held",
    "cannot_tell": "Cannot be told",
    "closed": "Closed",
}


@router.get("/lifters")
def everybody(request: Request, desk: Desk, page: Page, q: str = "") -> Response:
    """All lifters, who sent last first."""
    with desk.read() as connection:
        found, open_there = over_weeks.everybody(connection), still_open(connection)
    shown = [one for one in found if q.strip().lower() in f"{one.name} {one.shown_name}".lower()]
    return page.render(
        request,
        "lifters.html.j2",
        {"lifters": shown, "total": len(found), "q": q, "today": date.today(), "open_there": open_there},
    )


@router.post("/lifters")
def add(desk: Desk, form: Form) -> Response:
    """Make a lifter."""
    name = text_of(form, "name", limit=120)
    if not name:
        raise Problem(422, "The lifter needs a name.", "Write one; it stays on this machine.")
    lifter_id = new_id()
    with desk.write() as connection:
        connection.execute(sa.insert(lifters).values(id=lifter_id, name=name, shown_name=name))
        audit(connection, "lifter_made", "lifter", lifter_id)
    return RedirectResponse(f"/lifters/{lifter_id}", status_code=303)


@router.get("/lifters/{lifter_id}")
def one(
    request: Request,
    lifter_id: str,
    desk: Desk,
    page: Page,
    lift: str = "",
    measure: str = "",
    across: str = "load",
) -> Response:
    """One lifter: sets, a measure against load or date, changes, competition, consents, what is private."""
    today = date.today()
    with desk.read() as connection:
        card = _card(connection, lifter_id)
        found = over_weeks.sets_of(connection, lifter_id)
        lifts = list(dict.fromkeys(s.lift for s in found if s.lift))
        often = sorted(lifts, key=lambda name: -sum(s.lift == name and s.reps is not None for s in found))
        lift = lift if lift in lifts else (often[0] if often else "")
        seen = over_weeks.measures_of(connection, lifter_id, lift) if lift else {}
        measure = measure if measure in seen else _first_measure(seen)
        points = over_weeks.course(connection, lifter_id, lift, measure) if measure else ()
        asked = changes_of(connection, lifter_id)
        meet = over_weeks.countdown(connection, lifter_id, today)
        allowed = over_weeks.consents_of(connection, lifter_id)
    across = across if across in ACROSS else "load"
    titles = {name: _title(name, lift) for name in seen}
    chart = (
        course_chart(points, title=titles[measure], unit=page.unit(), across=across) if len(points) > 1 else None
    )
    return page.render(
        request, "lifter.html.j2",
        {
            "card": card, "sets": found, "lifts": lifts, "lift": lift, "measure": measure, "across": across,
            "measures": [(name, titles[name], count) for name, count in seen.items()], "points": points,
            "unit_words": UNIT_WORDS, "chart": _embedded(chart), "changes": asked, "meet": meet,
            "meet_words": weeks_words(meet.weeks) if meet else "", "consents": allowed, "uses": USES_STORED,
            "use_words": USE_WORDS, "givers": GIVERS, "verdicts": VERDICTS, "states": STATES, "sexes": SEXES,
            "today": today,
        },
    )  # fmt: skip


@router.post("/lifters/{lifter_id}")
def keep(lifter_id: str, desk: Desk, form: Form) -> Response:
    """Keep what the coach says of a lifter."""
    values = _card_values(form)
    with desk.write() as connection:
        was = _card(connection, lifter_id).name
        if was != values["name"]:
            renamed(connection, lifter_id, was)
        connection.execute(sa.update(lifters).where(lifters.c.id == lifter_id).values(**values))
        audit(connection, "lifter_changed", "lifter", lifter_id, {"fields": sorted(values)})
    enforce(desk, lifter_id=lifter_id)  # a minor is never public
    publishing.enforce(desk, lifter_id=lifter_id)  # who is said to be a minor now is not public any more
    return RedirectResponse(f"/lifters/{lifter_id}#private", status_code=303)


@router.post("/lifters/{lifter_id}/consents")
def allow(lifter_id: str, desk: Desk, form: Form) -> Response:
    """Note what the lifter allows, with the words in which it was given."""
    use, wording, by = text_of(form, "use"), text_of(form, "wording", limit=2000), text_of(form, "given_by")
    if use not in USES_STORED or by not in dict(GIVERS):
        raise Problem(422, "The use or who gave the consent was not said.", "Choose both, then keep it.")
    if not wording:
        raise Problem(422, "A consent needs the words in which it was given.", "Paste the lifter's own line.")
    with desk.write() as connection:
        card = _card(connection, lifter_id)
        if card.minor and by != "guardian":
            raise Problem(422, "A minor's consent comes from the guardian.", "Ask the guardian, then keep it.")
        connection.execute(sa.insert(consents).values(lifter_id=lifter_id, use=use, wording=wording, given_by=by))
        audit(connection, "consent_given", "lifter", lifter_id, {"use": use})
    return RedirectResponse(f"/lifters/{lifter_id}#consents", status_code=303)


@router.post("/lifters/{lifter_id}/consents/{consent_id}/revoke")
def revoke(lifter_id: str, consent_id: str, desk: Desk) -> Response:
    """Take a consent back, from now on."""
    with desk.write() as connection:
        known = {row["id"] for row in over_weeks.consents_of(connection, lifter_id)}
        if consent_id not in known:
            raise not_found("consent")
        connection.execute(
            sa.update(consents).where(consents.c.id == consent_id, consents.c.revoked_at.is_(None))
            .values(revoked_at=now())
        )  # fmt: skip
        audit(connection, "consent_revoked", "lifter", lifter_id, {"consent": consent_id})
    enforce(desk, lifter_id=lifter_id)
    publishing.enforce(desk, lifter_id=lifter_id)
    return RedirectResponse(f"/lifters/{lifter_id}#consents", status_code=303)


@router.get("/lifters/{lifter_id}/export.zip")
def export(lifter_id: str, desk: Desk) -> Response:
    """Everything of a lifter as one ZIP, made while it is sent."""
    try:
        packed = everything.export(desk, lifter_id)
    except everything.ExportError as error:
        raise not_found("lifter") from error
    with desk.write() as connection:
        audit(connection, "lifter_exported", "lifter", lifter_id)
    name = packed.name.replace('"', "")
    return StreamingResponse(
        packed.pieces(), media_type="application/zip",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )  # fmt: skip


@router.post("/lifters/{lifter_id}/erase")
def erase(request: Request, lifter_id: str, desk: Desk, page: Page, form: Form) -> Response:
    """Erase everything of a lifter, once the name was typed."""
    with desk.read() as connection:
        card = _card(connection, lifter_id)
    if text_of(form, "typed_name") != card.name:
        raise Problem(422, "The name that was typed is another one.", f"Type {card.name} to erase everything.")
    try:
        erased = erase_lifter(desk, lifter_id)
    except EraseError as error:
        raise not_found("lifter") from error
    return page.render(request, "erased.html.j2", {"erased": erased, "there": erased.there})


def _card(connection: Connection, lifter_id: str) -> Any:
    found = connection.execute(sa.select(lifters).where(lifters.c.id == lifter_id)).first()
    if found is None:
        raise not_found("lifter")
    return found


def _first_measure(seen: dict[str, int]) -> str:
    often = [m for m in FIRST_MEASURES if seen.get(m, 0) > 1] or [m for m in FIRST_MEASURES if m in seen]
    return often[0] if often else next(iter(seen), "")


def _title(measure: str, lift: str) -> str:
    try:
        return definition(measure, lift).title
    except KeyError:
        return measure.replace("_", " ")


def _embedded(chart: dict[str, Any] | None) -> str:
    """Give JSON that can stand inside a script element of the page."""
    return "" if chart is None else json.dumps(chart).replace("<", "\\u003c")


def _card_values(form: Form) -> dict[str, Any]:
    name = text_of(form, "name", limit=120)
    if not name:
        raise Problem(422, "The lifter needs a name.", "Write one; it stays on this machine.")
    stature = text_of(form, "stature")
    try:
        stature_m = length_mm(stature, low_mm=1000, high_mm=2400, what="a height") / 1000 if stature else None
    except UnitError as error:
        raise Problem(422, str(error), "Write it as 178 cm or 70 in.") from error
    day = text_of(form, "competition_on")
    try:
        meet_on = date.fromisoformat(day) if day else None
    except ValueError as error:
        raise Problem(422, f"{day} is no day.", "Write it as 2031-05-24.") from error
    sex, minor = text_of(form, "sex"), text_of(form, "minor")
    if sex and sex not in SEXES:
        raise Problem(422, f"{sex} is not taken here.", f"Choose one of {', '.join(SEXES)}, or leave it out.")
    return {
        "name": name,
        "shown_name": text_of(form, "shown_name", limit=120) or name,
        "minor": {"yes": True, "no": False}.get(minor),
        "guardian": text_of(form, "guardian", limit=200),
        "stature_m": stature_m,
        "sex": sex or None,
        "blur_lifter": text_of(form, "blur_lifter") == "yes",
        "competition_on": meet_on,
        "competition_name": text_of(form, "competition_name", limit=200),
        "competition_rules": text_of(form, "competition_rules", limit=60),
        "notes": text_of(form, "notes"),
    }
