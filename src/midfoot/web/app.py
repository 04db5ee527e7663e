"""The application: middleware, static files, and one router per page from an explicit tuple."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fastapi import APIRouter, FastAPI
from starlette.staticfiles import StaticFiles

from midfoot import __version__
from midfoot.web import events, vega
from midfoot.web.errors import add_handlers
from midfoot.web.pages import (
    archive,
    clips,
    desk,
    editions,
    fetch,
    fetch_open,
    help_page,
    inbox,
    inbox_actions,
    inbox_receive,
    lifters,
    links,
    open_answers,
    open_sets,
    pairing,
    publish,
    review,
    send,
    settings,
    takes,
    work,
)
from midfoot.web.render import Pages
from midfoot.web.security import Door, Guard

if TYPE_CHECKING:
    from midfoot.store import Workspace

STATIC = Path(__file__).parent / "static"
ROUTERS: tuple[APIRouter, ...] = (
    pairing.router,
    inbox.router,
    inbox_actions.router,
    inbox_receive.router,
    lifters.router,
    archive.router,
    settings.router,
    work.router,
    clips.router,
    desk.router,
    review.router,
    publish.router,
    takes.router,
    editions.router,
    open_sets.router,
    open_answers.router,
    links.router,
    send.router,
    fetch.router,
    fetch_open.router,
    help_page.router,
    events.router,
    vega.router,
)
"""Every page's router, in the order in which paths are tried."""
PUBLIC_ROUTERS: tuple[APIRouter, ...] = (send.router, fetch.router, fetch_open.router, open_answers.router)
"""What a small public instance answers, and nothing else."""


def create_app(
    workspace: Workspace, *, door: Door | None = None, token: str | None = None, intake_only: bool = False
) -> FastAPI:
    """Build the desk over a workspace.

    Parameters
    ----------
    workspace : Workspace
        Open; the application never closes it.
    door : Door, optional
        Which host names are answered and how one gets in. Default: this machine only, by pairing.
    token : str, optional
        A session that is let in beside those in the workspace; it lives as long as the process (tests, the demo).
    intake_only : bool
        Answer only what links of their own open: the page for sending a set, and the desk that fetches.
    """
    door = door or Door()
    app = FastAPI(
        title="midfoot", version=__version__, docs_url=None, redoc_url=None, openapi_url=None,
        redirect_slashes=False,
    )  # fmt: skip
    app.state.workspace = workspace
    app.state.door = door
    app.state.pages = Pages(workspace)
    app.add_middleware(Guard, workspace=workspace, door=door, token=token)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    for router in PUBLIC_ROUTERS if intake_only else ROUTERS:
        app.include_router(router)
    add_handlers(app)
    return app
