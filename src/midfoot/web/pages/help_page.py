"""Help: what to do first, the keys, how to film, safety."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from midfoot.web.deps import Page
from midfoot.web.key_lists import key_lists

router = APIRouter(include_in_schema=False)


@router.get("/help")
def help_page(request: Request, page: Page) -> Response:
    """The page."""
    return page.render(request, "help.html.j2", {"lists": key_lists()})
