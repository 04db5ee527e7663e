"""Every failure is one sentence and a remedy: a page for people, JSON for the page's own requests."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from midfoot.store import StoreError
from midfoot.web.problems import Problem

LOG = logging.getLogger("midfoot.web")
KNOWN: dict[int, tuple[str, str]] = {
    400: ("The request could not be read.", "Reload the page and try again."),
    401: ("This browser is not paired with the desk.", "Open the pairing link that `midfoot serve` prints."),
    403: ("This is not allowed from here.", "Open the desk itself and try again there."),
    404: ("There is no such page.", "Go back to the inbox."),
    405: ("This address does not take that kind of request.", "Go back and use the page's own buttons."),
    409: ("Somebody else changed this in the meantime.", "Reload the page; nothing of yours was overwritten."),
    413: ("That is too large.", "Send a shorter clip, or cut it first."),
    422: ("Something in the form does not fit.", "Correct it and send it again."),
    500: (
        "Something in midfoot went wrong.",
        "Try again; if it happens again, `midfoot serve` wrote it to its log.",
    ),
}


def shape(says: str, remedy: str) -> dict[str, Any]:
    """Give the one shape in which errors leave as JSON."""
    return {"error": {"says": says, "remedy": remedy}}


def wants_page(accept: str) -> bool:
    """Tell whether a browser asks for a page, from its Accept header."""
    return "text/html" in accept


def answer(
    request: Request, status: int, says: str, remedy: str, headers: Mapping[str, str] | None = None
) -> Response:
    """Answer with a page or with JSON, as was asked for."""
    if wants_page(request.headers.get("accept", "")):
        page: Response = request.app.state.pages.render(
            request, "problem.html.j2", {"status": status, "says": says, "remedy": remedy}, status=status
        )
        page.headers.update(headers or {})
        return page
    return JSONResponse(shape(says, remedy), status_code=status, headers=dict(headers or {}))


def add_handlers(app: FastAPI) -> None:
    """Let every exception become a sentence."""

    def problem(request: Request, error: Exception) -> Response:
        assert isinstance(error, Problem)
        return answer(request, error.status, error.says, error.remedy, error.headers)

    def refused(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        says, remedy = KNOWN.get(error.status_code, KNOWN[400 if error.status_code < 500 else 500])
        return answer(request, error.status_code, says, remedy)

    def unfit(request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        first = error.errors()[0]
        where = " ".join(str(part) for part in first.get("loc", ())[1:]) or "the request"
        return answer(request, 422, f"{where}: {str(first.get('msg', 'does not fit')).lower()}.", KNOWN[422][1])

    def unstored(request: Request, error: Exception) -> Response:
        says, _, remedy = str(error).partition("; ")
        remedy = remedy or "Try again; nothing that was stored is lost."
        return answer(request, 507 if is_full(error) else 503, f"{says}.", remedy[:1].upper() + remedy[1:])

    def broken(request: Request, error: Exception) -> Response:
        LOG.error("%s %s", request.method, request.url.path, exc_info=error)
        says, remedy = said_of(error)
        return answer(request, 507 if is_full(error) else 500, says, remedy)

    app.add_exception_handler(Problem, problem)
    app.add_exception_handler(HTTPException, refused)
    app.add_exception_handler(RequestValidationError, unfit)
    app.add_exception_handler(StoreError, unstored)
    app.add_exception_handler(Exception, broken)


def is_full(error: BaseException) -> bool:
    """Tell whether the disk is full (SQLite says it in words)."""
    return getattr(error, "errno", None) == 28 or "disk is full" in str(error) or "MB left" in str(error)


def said_of(error: BaseException) -> tuple[str, str]:
    """Give the sentence and remedy for an error that nobody expected."""
    if is_full(error):
        return "The disk is full.", "Free some space and try again; nothing that was stored is lost."
    if "database is locked" in str(error):
        return "The workspace is busy with other work.", "Try again in a moment."
    return KNOWN[500]
