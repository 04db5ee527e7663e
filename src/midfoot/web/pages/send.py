"""The page on which a lifter sends a set: by a link, without an account, in two minutes on a phone."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, JSONResponse, Response

from midfoot.desk import links, submitting
from midfoot.desk.consent import WORDINGS
from midfoot.desk.handing_over import UPLOADS
from midfoot.desk.intake import IntakeError
from midfoot.desk.links import Link, LinkError
from midfoot.desk.submitting import Submission, SubmitError
from midfoot.records.context import Context
from midfoot.store import StoreError, Workspace
from midfoot.web import pace, tus
from midfoot.web.context_form import context_of_form
from midfoot.web.deps import Desk, Page
from midfoot.web.problems import problem_of

router = APIRouter(tags=["send"])
LARGEST_BYTES = 4_000_000_000


class Words(BaseModel):
    """What somebody is typing."""

    words: str = Field(max_length=8000)


class Sent(BaseModel):
    """A set without its clips."""

    fields: dict[str, Annotated[str, Field(max_length=4000)]] = Field(max_length=60)
    uses: list[Annotated[str, Field(max_length=40)]] = Field(max_length=40)
    mine: bool = False
    minor: bool = False
    guardian: str = Field(default="", max_length=200)


def _link(desk: Desk, token: str, request: Request) -> Link:
    """The link of the address; a request that changes something counts against its pace, parts by themselves."""
    return pace.opened(request, desk, links.SEND, token, lambda r: "part" if r.method == "PATCH" else "send")


def _uploads(request: Request, desk: Workspace) -> tus.Uploads:
    state = request.app.state
    if not hasattr(state, "uploads"):
        state.uploads = tus.Uploads(desk.path / UPLOADS, LARGEST_BYTES)
    return state.uploads  # type: ignore[no-any-return]


Opened = Annotated[Link, Depends(_link)]


@router.get("/send/{token}", response_class=HTMLResponse)
def page(request: Request, link: Opened, pages: Page, token: str) -> Response:
    """The page."""
    asked = [{"use": u, "words": WORDINGS[u], "adults": u in submitting.NOT_FOR_MINORS} for u in submitting.ASKED]
    return pages.render(
        request,
        "send.html.j2",
        {
            "link": link,
            "token": token,
            "asked": asked,
            "views": submitting.VIEWS,
            "most": submitting.MOST_CLIPS,
            "private": submitting.PRIVATE,
        },
    )


@router.post("/send/{token}/words")
def words(link: Opened, typed: Words) -> Response:
    """Answer red flags at once, while somebody types."""
    return JSONResponse({"stop": submitting.red_flags(typed.words)})


@router.post("/send/{token}/sets", status_code=201)
def submit(desk: Desk, link: Opened, sent: Sent) -> Response:
    """Take what is said of a set; its clips follow."""
    try:
        context = context_of_form(sent.fields, Context(), date.today())
        typed = "\n".join(v for v in sent.fields.values() if v)
        set_id = submitting.submit(
            desk, link,
            Submission(context=context, uses=tuple(dict.fromkeys(sent.uses)), mine=sent.mine, minor=sent.minor,
                       guardian=sent.guardian, words=sent.fields.get("question", "")),
        )  # fmt: skip
    except (SubmitError, LinkError, ValueError) as error:
        raise problem_of(422, error) from None
    return JSONResponse({"set": set_id, "stop": submitting.red_flags(typed)}, status_code=201)


@router.get("/send/{token}/sets/{set_id}")
def told(desk: Desk, link: Opened, set_id: str) -> Response:
    """What the sender is told of the clips that arrived."""
    try:
        return JSONResponse(submitting.said_of(desk, link, set_id))
    except SubmitError as error:
        raise problem_of(404, error) from None


@router.options("/send/{token}/files")
@router.options("/send/{token}/files/{upload_id}")
def able(link: Opened) -> Response:
    """What of the protocol is spoken."""
    return tus.answer(204, tus_version=tus.VERSION, tus_extension=tus.EXTENSIONS, tus_max_size=str(LARGEST_BYTES))


@router.post("/send/{token}/files")
def create(request: Request, desk: Desk, link: Opened, token: str) -> Response:
    """Begin a file of a set that came by this link."""
    try:
        tus.speaks(request)
        metadata = tus.metadata_of(request.headers.get("upload-metadata", ""))
        if metadata.get("set") not in link.sets:
            raise tus.Refusal(403, "This set did not come by this link; send it again from its page.")
        size = tus.number(request, "upload-length")
        if not size:
            raise tus.Refusal(400, "The file is empty; choose the clip itself.")
        desk.blobs.make_room(size)
        uploads = _uploads(request, desk)
        upload = uploads.create(link.id, size, metadata)
    except tus.Refusal as refusal:
        return tus.refused(refusal)
    except StoreError:
        return tus.refused(tus.Refusal(507, "There is no room for this file at the moment; try again later."))
    return tus.answer(
        201, location=f"/send/{token}/files/{upload.id}", upload_expires=tus.expires(uploads.part(upload.id))
    )


@router.head("/send/{token}/files/{upload_id}")
def how_far(request: Request, desk: Desk, link: Opened, upload_id: str) -> Response:
    """How much of a file is here."""
    try:
        tus.speaks(request)
        uploads = _uploads(request, desk)
        upload = uploads.find(link.id, upload_id)
        return tus.answer(
            200, upload_offset=str(uploads.offset(upload)), upload_length=str(upload.size),
            upload_expires=tus.expires(uploads.part(upload.id)),
        )  # fmt: skip
    except tus.Refusal as refusal:
        return tus.answer(refusal.status)


@router.patch("/send/{token}/files/{upload_id}")
async def go_on(request: Request, desk: Desk, link: Opened, upload_id: str) -> Response:
    """Take more of a file in; the last of it makes it a clip."""
    from anyio import to_thread

    try:
        tus.speaks(request)
        if request.headers.get("content-type") != "application/offset+octet-stream":
            raise tus.Refusal(415, "This is not a part of a file.")
        uploads = _uploads(request, desk)
        upload = uploads.find(link.id, upload_id)
        offset = await uploads.append(upload, tus.number(request, "upload-offset"), request)
        if offset == upload.size:
            said = upload.metadata
            try:
                await to_thread.run_sync(
                    submitting.clip_came, desk, link, said["set"], uploads.part(upload.id),
                    said.get("filename", "clip"), said.get("view", ""),
                )  # fmt: skip
            except (SubmitError, IntakeError) as error:
                raise tus.Refusal(422, str(error)) from None
            except StoreError:
                raise tus.Refusal(507, "There is no room for this file at the moment; try again later.") from None
            finally:
                uploads.forget(upload.id)
    except tus.Refusal as refusal:
        return tus.refused(refusal)
    return tus.answer(204, upload_offset=str(offset))


@router.delete("/send/{token}/files/{upload_id}")
def leave(request: Request, desk: Desk, link: Opened, upload_id: str) -> Response:
    """Give up a file on its way."""
    try:
        tus.speaks(request)
        uploads = _uploads(request, desk)
        uploads.forget(uploads.find(link.id, upload_id).id)
    except tus.Refusal as refusal:
        return tus.refused(refusal)
    return tus.answer(204)
