"""The coach's settings."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import RedirectResponse, Response

from midfoot.store.rows import set_setting
from midfoot.web.deps import Desk, Form, text_of
from midfoot.web.problems import Problem

router = APIRouter(include_in_schema=False)


@router.post("/settings/unit")
def unit(desk: Desk, form: Form) -> Response:
    """Show loads in kg or lb from now on, and go back to where that was asked."""
    wanted = text_of(form, "unit")
    if wanted not in ("kg", "lb"):
        raise Problem(422, "The unit is kg or lb.", "Choose one of them.")
    with desk.write() as connection:
        set_setting(connection, "unit", wanted)
    back = text_of(form, "back")
    return RedirectResponse(back if back.startswith("/") and not back.startswith("//") else "/", status_code=303)
