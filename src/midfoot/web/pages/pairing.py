"""Getting in: the pairing link, and the password on the coach's own network."""

from __future__ import annotations

import threading
import time

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from midfoot.web.deps import Desk, Form, Page, text_of
from midfoot.web.problems import Problem
from midfoot.web.security import COOKIE
from midfoot.web.sessions import SESSION_DAYS, end_session, new_session, password_fits, use_pairing

router = APIRouter(include_in_schema=False)
TRIES, TRIES_S = 5, 60.0
_failed: list[float] = []
_lock = threading.Lock()


@router.get("/pair")
def pair(request: Request, desk: Desk, token: str = "") -> Response:
    """Let this browser in, once; one that is in already is sent to the inbox."""
    if request.scope.get("midfoot.session"):
        return RedirectResponse("/", status_code=303)
    if not token or not use_pairing(desk, token):
        raise Problem(
            401, "This pairing link was used, is too old or is not whole.",
            "Print a new one: midfoot serve --pair (a link works once, for a quarter of an hour).",
        )  # fmt: skip
    return _enter(request, desk)


@router.get("/login")
def login(request: Request, page: Page) -> Response:
    """The form for the password."""
    _password_door(request)
    return page.render(request, "login.html.j2", {"wrong": False})


@router.post("/login")
def check_password(request: Request, desk: Desk, page: Page, form: Form) -> Response:
    """Let in whoever knows the password; after a few wrong ones everybody waits a minute."""
    _password_door(request)
    with _lock:
        _failed[:] = [t for t in _failed if time.monotonic() - t < TRIES_S]
        if len(_failed) >= TRIES:
            raise Problem(429, "Too many wrong passwords.", "Wait a minute, then try again.")
    if password_fits(desk, text_of(form, "password", limit=200)):
        return _enter(request, desk)
    with _lock:
        _failed.append(time.monotonic())
    return page.render(request, "login.html.j2", {"wrong": True}, status=401)


@router.post("/leave")
def leave(request: Request, desk: Desk) -> Response:
    """End this browser's session."""
    token = request.scope.get("midfoot.session")
    if token:
        end_session(desk, token)
    response = RedirectResponse("/pair", status_code=303)
    response.delete_cookie(COOKIE, path="/")
    return response


def _password_door(request: Request) -> None:
    if not request.app.state.door.password:
        raise Problem(404, "There is no such page.", "Open the pairing link that `midfoot serve` prints.")


def _enter(request: Request, desk: Desk) -> Response:
    response = RedirectResponse("/", status_code=303)
    response.set_cookie(
        COOKIE, new_session(desk, request.headers.get("user-agent", "")), max_age=SESSION_DAYS * 86400, path="/",
        httponly=True, samesite="lax", secure=request.app.state.door.secure,
    )  # fmt: skip
    return response
