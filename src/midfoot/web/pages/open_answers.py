"""The page of an open set as strangers reach it, and where its answers arrive: without a cookie, held until read.

On a small public instance the page is the one that the desk put up; at the desk it is the one under `published/`.
Where a request came from counts against its pace for an hour and is kept nowhere.
"""

from __future__ import annotations

import json
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Path, Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response

from midfoot.desk import open_set, posted
from midfoot.desk.answering import OpenSetError
from midfoot.desk.posted import FILES, TOKEN
from midfoot.desk.posting import PLACE
from midfoot.store import Workspace
from midfoot.web import pace
from midfoot.web.deps import Desk
from midfoot.web.problems import Problem, problem_of

router = APIRouter(tags=["open sets"])
LARGEST_BYTES = 20_000
ANYWHERE = {"access-control-allow-origin": "*", "access-control-expose-headers": "retry-after"}
"""The page lies wherever the coach put it; what it sends carries no cookie."""
Token = Annotated[str, Path(pattern=f"^{TOKEN.pattern}$")]


@router.post("/open/{token}/answers", status_code=201)
async def answer(request: Request, desk: Desk, token: Token) -> Response:
    """Hold one answer for the coach's approval."""
    try:
        pace.hold(request, "answer", token)
    except Problem as problem:
        return _refused(problem)
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > LARGEST_BYTES:
            return _refused(Problem(413, "The answer is too long.", "Say it in fewer words."))
    try:
        await to_thread.run_sync(_take, desk, token, json.loads(bytes(body) or b"null"))
    except OpenSetError as error:
        return _refused(problem_of(422, error))
    except ValueError:
        return _refused(Problem(422, "The answer cannot be read.", "Reload the page and send it again."))
    return JSONResponse({"done": True}, status_code=201, headers=ANYWHERE)


def _take(desk: Workspace, token: str, sent: object) -> None:
    here = posted.posted(desk, token)
    if here is not None:
        posted.take_answer(desk, here, sent)
    else:
        open_set.take_answer(desk, token, sent)


@router.get("/open/{token}")
def whole(token: Token) -> Response:
    """The page's own folder: what it loads lies beside it."""
    return RedirectResponse(f"/open/{token}/", status_code=308)


@router.get("/open/{token}/")
def page(desk: Desk, token: Token) -> Response:
    """The page."""
    return file(desk, token, "index.html")


@router.get("/open/{token}/{name}")
def file(desk: Desk, token: Token, name: str) -> Response:
    """A file of the page."""
    path = posted.file_of(desk, token, name)
    if path is None and name in FILES:
        with desk.read() as connection:
            open_here = open_set.by_token(connection, token) is not None
        path = desk.published / PLACE / token / name if open_here else None
    if path is None or not path.is_file():
        raise Problem(
            404, "This set is not open, or not any more.", "What came of it stands in the coach's next edition."
        )
    return FileResponse(path)


def _refused(problem: Problem) -> Response:
    body = {"error": {"says": problem.says, "remedy": problem.remedy}}
    return JSONResponse(body, status_code=problem.status, headers={**ANYWHERE, **problem.headers})
