"""Requests of strangers held to a pace: 429 with a sentence and Retry-After (RFC 6585, RFC 9110)."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from starlette.requests import Request

from midfoot.desk import links
from midfoot.desk.links import Link, LinkError
from midfoot.desk.pace import Pace, in_words
from midfoot.web.problems import Problem, problem_of

if TYPE_CHECKING:
    from midfoot.store import Workspace

SAFE = ("GET", "HEAD", "OPTIONS")


def pace_of(request: Request) -> Pace:
    """Give the one pace of this server."""
    state = request.app.state
    if not hasattr(state, "pace"):
        state.pace = Pace()
    return state.pace  # type: ignore[no-any-return]


def hold(request: Request, kind: str, link: str = "") -> None:
    """Count a use by a link and by where it comes from; raises Problem 429 when there were too many."""
    if wait := pace_of(request).take(kind, link=link, address=_from(request)):
        raise too_many(wait)


def too_many(wait_s: float) -> Problem:
    """Give the problem of somebody who asks too often."""
    return Problem(
        429, "Too much came from here within the hour.",
        f"Wait {in_words(wait_s)}, then go on; what arrived is kept.",
        headers={"retry-after": str(max(1, math.ceil(wait_s)))},
    )  # fmt: skip


def opened(request: Request, desk: Workspace, scope: str, token: str, kind: Callable[[Request], str]) -> Link:
    """Give the link of an address; a request that changes something counts, and so does a link that is none.

    Raises
    ------
    Problem
        404 where it opens nothing, 429 where too much came.
    """
    if wait := pace_of(request).full("wrong", address=_from(request)):
        raise too_many(wait)
    try:
        link = links.opened(desk, scope, token)
    except LinkError as error:
        hold(request, "wrong")
        raise problem_of(404, error) from None
    if request.method not in SAFE:
        hold(request, kind(request), link.id)
    return link


def _from(request: Request) -> str:
    return request.client.host if request.client else ""
