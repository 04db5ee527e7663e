"""Publishing at the desk: what stands in the way, pages put out and taken back, consents, the message."""

from __future__ import annotations

import mimetypes
from typing import Annotated, Any, Literal

import sqlalchemy as sa
from attrs import frozen
from fastapi import APIRouter, Path, Request
from pydantic import BaseModel, Field
from starlette.responses import FileResponse, JSONResponse, Response

from midfoot import jobs
from midfoot.desk import consent, publishing
from midfoot.desk.consent import WORDINGS, ConsentError, Given
from midfoot.desk.publish_build import PLACES, PublishError, address_of, key_of
from midfoot.desk.publish_gate import Blocker, Case, blockers, case_of
from midfoot.desk.publishing import Page as Out
from midfoot.desk.review_sources import NoReviewError
from midfoot.desk.reviewing import reviewed
from midfoot.jobs.kinds import HURRY
from midfoot.store import StoreError, Workspace, tables
from midfoot.web.deps import Desk, Page
from midfoot.web.flags import USE_WORDS
from midfoot.web.problems import Problem, not_found
from midfoot.web.security import preview_policy

router = APIRouter(include_in_schema=False)
Id = Annotated[str, Path(pattern=r"^[0-9a-f]{1,32}$")]
Kind = Literal["lifter", "public"]
TITLES = {"lifter": "The lifter's own page", "public": "A public page"}
WHAT = {
    "lifter": "Video, stills, what is good, what to change, the PDF. Its address is listed nowhere.",
    "public": "What is good and what stands out, with the video. Needs the lifter's consent; adults only.",
}
ASKED = ("public_page", "face", "name", "pain", "injury", "body_mass", "age")
"""Uses that a page can rest on, in the order in which they are asked for."""
RECALL = "Copies that somebody has downloaded cannot be called back."
LIVE = ("queued", "running")


class Wanted(BaseModel):
    """Which page, and whether all but the lifter and the bar is blurred in it."""

    kind: Kind
    wide: bool = False


class Message(BaseModel):
    """The coach's own words that go with a page."""

    kind: Kind
    text: str = Field(max_length=2000)


class Noted(BaseModel):
    """A consent that was given or taken back."""

    use: str = Field(max_length=24)
    wording: str = Field(default="", max_length=500)
    given_by: Literal["lifter", "guardian", "coach_noted"] = "coach_noted"


@frozen(kw_only=True)
class OnePage:
    """One kind of page as it is shown: out or not, what stands in the way, work under way, the message.

    `behind` says that the review, or what was agreed to, is another than when the page was made.
    """

    kind: str
    title: str
    what: str
    page: Out | None
    against: tuple[Blocker, ...]
    work: dict[str, Any] | None
    message: str
    opens: str
    behind: bool = False

    @property
    def live(self) -> bool:
        """Whether it is out."""
        return self.page is not None and self.page.live


@frozen(kw_only=True)
class Panel:
    """All that the part of the page is drawn from."""

    set_id: str
    pages: tuple[OnePage, ...]
    given: tuple[Given, ...]
    open_uses: tuple[str, ...]
    address: str


def panel(desk: Workspace, set_id: str) -> Panel:
    """Give what the publishing part of a set's page is drawn from.

    Raises
    ------
    Problem
        When there is no such set.
    """
    with desk.read() as connection:
        case = case_of(connection, set_id)
        if case is None:
            raise not_found("set")
        out = publishing.pages_of(connection, desk, set_id)
        given = consent.standing(connection, set_id, case.lifter_id, case.context)
        work = {
            str(row.payload.get("kind", "lifter")): dict(row._mapping)
            for row in connection.execute(
                sa.select(*(tables.jobs.c[n] for n in ("payload", "state", "progress", "message", "error")))
                .where(tables.jobs.c.kind == "publish", tables.jobs.c.payload["set_id"].as_string() == set_id)
                .order_by(tables.jobs.c.created_at)
            )
        }  # fmt: skip
        address = address_of(connection)
    pages = []
    for kind in ("lifter", "public"):
        page = out.get(kind)
        link = page.link if page is not None and page.live else ""
        said = page.message if page is not None and page.live else ""
        pages.append(
            OnePage(
                kind=kind, title=TITLES[kind], what=WHAT[kind], page=page, against=blockers(desk, set_id, kind),
                work=work.get(kind), message=said or publishing.message_of(case, kind, link),
                opens=f"/published/{PLACES[kind]}/{page.token}/index.html" if page and page.live else "",
                behind=page is not None and page.live and page.made_from != _now(desk, set_id, case, kind),
            )
        )  # fmt: skip
    known = tuple(g for use, g in given.items() if use in ASKED or use == "review")
    return Panel(
        set_id=set_id, pages=tuple(pages), given=known, open_uses=tuple(u for u in ASKED if u not in given),
        address=address,
    )  # fmt: skip


def _now(desk: Workspace, set_id: str, case: Case, kind: str) -> str:
    """Give the key of what the page would show now; "" where there is no review."""
    try:
        return key_of(reviewed(desk, set_id), case, kind)
    except (NoReviewError, StoreError):
        return ""


def _context(desk: Workspace, set_id: str) -> dict[str, Any]:
    with desk.read() as connection:
        row = connection.execute(sa.select(tables.sets).where(tables.sets.c.id == set_id)).first()
    if row is None:
        raise not_found("set")
    return {
        "publish": panel(desk, set_id), "set": row, "use_words": USE_WORDS, "wordings": WORDINGS, "recall": RECALL,
    }  # fmt: skip


@router.get("/sets/{set_id}/publish")
def page_of_publishing(request: Request, desk: Desk, page: Page, set_id: Id) -> Response:
    """The page on which a set goes out."""
    return page.render(request, "publish.html.j2", _context(desk, set_id))


@router.get("/sets/{set_id}/publish/part")
def part(desk: Desk, page: Page, set_id: Id) -> Response:
    """What of that page is drawn again."""
    return Response(page.part("desk_publish.html.j2", _context(desk, set_id)), media_type="text/html")


def _answer(desk: Workspace, page: Any, set_id: str, said: str = "", status: int = 200) -> Response:
    html = page.part("desk_publish.html.j2", _context(desk, set_id))
    return JSONResponse({"html": html, "said": said}, status_code=status)


@router.post("/sets/{set_id}/publish")
def publish(desk: Desk, page: Page, set_id: Id, sent: Wanted) -> Response:
    """Have a page made and put out; refused with every reason where something stands in the way."""
    against = blockers(desk, set_id, sent.kind)
    if against:
        more = f" And {len(against) - 4} more." if len(against) > 4 else ""
        raise Problem(
            409, f"It cannot go out yet. {' '.join(f'{b.words}.' for b in against[:4])}{more}", against[0].remedy
        )
    with desk.write() as connection:
        wanted = {"set_id": set_id, "kind": sent.kind, **({"wide": True} if sent.wide else {})}
        jobs.enqueue(connection, "publish", f"{set_id}:{sent.kind}", wanted, HURRY)
    return _answer(desk, page, set_id, status=202)


@router.post("/sets/{set_id}/publish/back")
def back(desk: Desk, page: Page, set_id: Id, sent: Wanted) -> Response:
    """Take a page back at once, also one that is being made."""
    with desk.write() as connection:
        waiting = sa.select(tables.jobs.c.id).where(
            tables.jobs.c.kind == "publish", tables.jobs.c.key == f"{set_id}:{sent.kind}",
            tables.jobs.c.state.in_(LIVE),
        )  # fmt: skip
        for job_id in connection.execute(waiting).scalars().all():
            jobs.cancel(connection, job_id)
    count = publishing.take_page_back(desk, set_id, sent.kind)
    return _answer(desk, page, set_id, f"Taken back. {RECALL}" if count else "It was not out.")


@router.post("/sets/{set_id}/publish/message")
def message(desk: Desk, page: Page, set_id: Id, sent: Message) -> Response:
    """Keep the coach's own words of the message."""
    try:
        publishing.keep_message(desk, set_id, sent.kind, sent.text)
    except PublishError as error:
        raise Problem(409, str(error), "Reload the page.") from None
    return JSONResponse({"said": "Kept."})


@router.post("/sets/{set_id}/consents")
def agreed(desk: Desk, page: Page, set_id: Id, sent: Noted) -> Response:
    """Note a consent in the words that were used."""
    try:
        with desk.write() as connection:
            consent.note(connection, set_id, sent.use, wording=sent.wording.strip(), given_by=sent.given_by)
    except ConsentError as error:
        raise Problem(422, str(error), "Nothing was noted.") from None
    return _answer(desk, page, set_id, f"Noted: {USE_WORDS.get(sent.use, sent.use)}.", 201)


@router.post("/sets/{set_id}/consents/back")
def taken_back(desk: Desk, page: Page, set_id: Id, sent: Noted) -> Response:
    """Note that a consent was taken back; pages that rest on it go at once."""
    try:
        gone = publishing.withdraw(desk, set_id, sent.use)
    except ConsentError as error:
        raise Problem(422, str(error), "Nothing was changed.") from None
    pages = f", and with it {len(gone)} page{'s' if len(gone) != 1 else ''}. {RECALL}" if gone else "."
    said = f"Taken back{pages}"
    return _answer(desk, page, set_id, said)


@router.get("/published/{place}/{token}/{name}")
def published_file(
    desk: Desk,
    place: Annotated[str, Path(pattern="^[lp]$")],
    token: Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{20,64}$")],
    name: Annotated[str, Path(pattern=r"^[a-z0-9][a-z0-9.-]{0,63}$")],
) -> Response:
    """A file of a published page, as the coach looks at it before sending the link."""
    file = desk.published / place / token / name
    if not file.is_file():
        raise not_found("page")
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    kind = "text/vtt" if name.endswith(".vtt") else kind
    headers = {"cache-control": "no-store"}
    if name.endswith(".html"):
        headers["content-security-policy"] = preview_policy(("self",))
    return FileResponse(file, media_type=kind, headers=headers)
