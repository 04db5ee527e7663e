"""What routes ask for: the workspace, the pages, the form that was sent."""

from __future__ import annotations

from typing import Annotated, cast

from fastapi import Depends, Request
from starlette.datastructures import FormData

from midfoot.store import Workspace
from midfoot.web.problems import Problem
from midfoot.web.render import Pages


def _workspace(request: Request) -> Workspace:
    return cast(Workspace, request.app.state.workspace)


def _pages(request: Request) -> Pages:
    return cast(Pages, request.app.state.pages)


async def _form(request: Request) -> FormData:
    try:
        return await request.form(max_files=0, max_fields=200)
    except Exception as error:
        raise Problem(400, "The form could not be read.", "Reload the page and send it again.") from error


Desk = Annotated[Workspace, Depends(_workspace)]
Page = Annotated[Pages, Depends(_pages)]
Form = Annotated[FormData, Depends(_form)]


def text_of(form: FormData, name: str, *, limit: int = 4000) -> str:
    """Give one field of a form as text without spaces about it, "" when it was not sent."""
    found = form.get(name)
    return found.strip()[:limit] if isinstance(found, str) else ""
