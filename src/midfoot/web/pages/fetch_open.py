"""What a desk does about open sets on a small public instance: puts pages up, fetches answers, takes all down."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path as File
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Path, Request
from pydantic import AwareDatetime, BaseModel, Field
from starlette.responses import JSONResponse, Response

from midfoot.desk import posted
from midfoot.desk.posted import COMING, FILES, LARGEST_FILE, TOKEN, Posted, PostError
from midfoot.records.base import LIFTS
from midfoot.store import Workspace, output_folder
from midfoot.web.deps import Desk
from midfoot.web.pages.fetch import Opened
from midfoot.web.problems import Problem, problem_of

router = APIRouter(tags=["fetch"])
Open = Annotated[str, Path(pattern=f"^{TOKEN.pattern}$")]
Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Page(BaseModel):
    """A page whose files were sent: which lift its list is of, until when it takes answers, what it holds."""

    lift: str = Field(pattern=f"^({'|'.join(LIFTS)})$")
    closes_at: AwareDatetime | None = None
    contents: dict[str, Sha256] = Field(max_length=len(FILES))


class Marks(BaseModel):
    """Answers that the desk holds now."""

    marks: list[Sha256] = Field(max_length=2000)


@router.get("/fetch/{token}/open")
def standing(desk: Desk, link: Opened) -> Response:
    """Every page that stands here."""
    rows = [
        {"token": p.token, "contents": dict(p.contents), "over": p.over, "closes_at": _said(p.closes_at)}
        for p in posted.everything(desk)
    ]
    return JSONResponse({"open": rows})


def _said(at: datetime | None) -> str | None:
    return at.isoformat() if at is not None else None


@router.put("/fetch/{token}/open/{open_token}/files/{name}")
async def take_file(
    request: Request, desk: Desk, link: Opened, open_token: Open,
    name: Annotated[str, Path(pattern=f"^({'|'.join(f.replace('.', '[.]') for f in FILES)})$")],
) -> Response:  # fmt: skip
    """Take a file of a page in; it is shown once the whole page is said to be here."""
    path = output_folder(_coming(desk, open_token)) / name
    size = 0
    with path.open("wb") as file:
        async for piece in request.stream():
            size += len(piece)
            if size > LARGEST_FILE:
                path.unlink()
                raise Problem(413, "The file is too large for a page.", "Cut the clip to the set.")
            await to_thread.run_sync(file.write, piece)
    return JSONResponse({"bytes": size})


def _coming(desk: Workspace, open_token: str) -> File:
    return desk.path / COMING / open_token


@router.post("/fetch/{token}/open/{open_token}")
def put_up(desk: Desk, link: Opened, open_token: Open, page: Page) -> Response:
    """Show a page whose files are here."""
    folder = _coming(desk, open_token)
    files = {name: folder / name for name in FILES if (folder / name).is_file()}
    one = Posted(token=open_token, lift=page.lift, closes_at=page.closes_at, contents=page.contents)
    try:
        posted.post(desk, one, files)
        folder.rmdir()
    except PostError as error:
        raise problem_of(409, error, "Send its files again.") from None
    except OSError:
        raise Problem(
            507, "There is no room for the page.", "Free some on the instance, then try again."
        ) from None
    return JSONResponse({"done": True})


@router.get("/fetch/{token}/open/{open_token}/answers")
def answers(desk: Desk, link: Opened, open_token: Open) -> Response:
    """The answers that the desk does not hold yet."""
    return JSONResponse({"answers": posted.answers_of(desk, open_token)})


@router.post("/fetch/{token}/open/{open_token}/arrived")
def arrived(desk: Desk, link: Opened, open_token: Open, got: Marks) -> Response:
    """Delete answers here, once the desk says that it holds them."""
    return JSONResponse({"deleted": posted.arrived(desk, open_token, got.marks)})


@router.post("/fetch/{token}/open/{open_token}/close")
def close(desk: Desk, link: Opened, open_token: Open) -> Response:
    """Take the page down; answers stay until they are fetched."""
    posted.close(desk, open_token)
    return JSONResponse({"done": True})


@router.delete("/fetch/{token}/open/{open_token}")
def take_down(desk: Desk, link: Opened, open_token: Open) -> Response:
    """Delete everything of an open set here."""
    posted.take_down(desk, open_token)
    return JSONResponse({"done": True})
