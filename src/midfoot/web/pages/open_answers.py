"""Where answers to an open set arrive: from a static page anywhere, without a cookie, held until they are read."""

from __future__ import annotations

import json
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Path, Request
from starlette.responses import JSONResponse, Response

from midfoot.desk import open_set
from midfoot.desk.open_set import OpenSetError
from midfoot.web.deps import Desk
from midfoot.web.problems import Problem, problem_of

router = APIRouter(tags=["open sets"])
LARGEST_BYTES = 20_000
ANYWHERE = {"access-control-allow-origin": "*"}
"""The page lies wherever the coach put it; what it sends carries no cookie."""


@router.post("/open/{token}/answers", status_code=201)
async def answer(
    request: Request, desk: Desk, token: Annotated[str, Path(pattern=r"^[0-9A-Za-z_-]{10,64}$")]
) -> Response:
    """Hold one answer for the coach's approval. Where it came from is not looked at and not kept."""
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > LARGEST_BYTES:
            return _refused(Problem(413, "The answer is too long.", "Say it in fewer words."))
    try:
        await to_thread.run_sync(open_set.take_answer, desk, token, json.loads(bytes(body) or b"null"))
    except OpenSetError as error:
        return _refused(problem_of(422, error))
    except ValueError:
        return _refused(Problem(422, "The answer cannot be read.", "Reload the page and send it again."))
    return JSONResponse({"done": True}, status_code=201, headers=ANYWHERE)


def _refused(problem: Problem) -> Response:
    body = {"error": {"says": problem.says, "remedy": problem.remedy}}
    return JSONResponse(body, status_code=problem.status, headers=ANYWHERE)
