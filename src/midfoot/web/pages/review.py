"""The review's half of one set's page: cards, preview, edits; every answer holds the whole state, drawn again."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Annotated, Any

import sqlalchemy as sa
from attrs import evolve, field, frozen
from fastapi import APIRouter, Path, Request
from starlette.responses import JSONResponse, Response

from midfoot import review
from midfoot.desk import reviewing
from midfoot.desk.follow_up import VERDICT_WORDS
from midfoot.desk.overruling import FollowUpError, say_verdict
from midfoot.desk.review_sources import NoReviewError, context_of
from midfoot.findings.vocabulary import Observation, VocabularyError
from midfoot.own_words import assign_key, forget_wording, keep_wording, kind_of, words_of
from midfoot.publish.review_page import sections_of, title_of, urgent_of
from midfoot.records.review import POINTS_OF, Line
from midfoot.review.script import MOST_WORDS, WORDS_PER_S, count
from midfoot.store import StoreError, Workspace
from midfoot.store.rows import audit, setting
from midfoot.store.tables import sets
from midfoot.web.context_form import FIELDS, values_of
from midfoot.web.deps import Desk, Page
from midfoot.web.problems import Problem, problem_of
from midfoot.web.review_bodies import Answer, Edits, Forget, Key, Named, Row, Seen, Verdict, Wording

router = APIRouter(tags=["review"])
Id = Annotated[str, Path(pattern=r"^[0-9a-f]{1,32}$")]
MEANING_WORDS = {"where": "where", "how_far": "how far", "what_angle": "what angle", "hold_here": "hold here"}
POINT_HINTS = {
    "where": "one point",
    "how_far": "two points: from, to",
    "what_angle": "three points: the corner in the middle",
    "hold_here": "one point, and the picture is held there",
}
ACCEPT_WEEKS = 8
"""Proposed for how long something is accepted (common practice, no source)."""
QUICK_REASONS = ("not now", "not sure enough", "said already", "the camera is wrong here")
FRAGMENTS = ("head", "cards", "page", "script", "palette")
"""What is drawn again after an edit, each from its own template."""


@frozen(kw_only=True)
class Spoken:
    """A line of the script with the time of the voice and of the clip."""

    line: Line
    from_s: float


@frozen(kw_only=True)
class Panel:
    """What the review's half of a page is drawn from; `found` is None while there is nothing, and `why` says why.

    `page` holds the sections of the lifter's page, `spoken` the lines of the script.
    """

    set_id: str
    unit: str
    found: reviewing.OneReview | None = None
    why: str = ""
    title: str = ""
    urgent: tuple[str, ...] = ()
    page: tuple[Row, ...] = ()
    spoken: tuple[Spoken, ...] = ()
    vocabulary: tuple[Observation, ...] = ()
    vocabulary_wrong: str = ""
    pasted: str = ""
    fields: tuple[Any, ...] = FIELDS
    values: Row = field(factory=dict)
    accept_until: str = ""

    meanings = MEANING_WORDS
    hints = POINT_HINTS
    points = POINTS_OF
    reasons = QUICK_REASONS
    verdict_words = VERDICT_WORDS
    most_words = MOST_WORDS


def panel(desk: Workspace, set_id: str) -> Panel:
    """Give what the review's half of a set's page is drawn from."""
    with desk.read() as connection:
        unit = "lb" if setting(connection, "unit", "kg") == "lb" else "kg"
        row = connection.execute(sa.select(sets).where(sets.c.id == set_id)).first()
    said = context_of(row, None) if row is not None else None
    shown = Panel(
        set_id=set_id,
        unit=unit,
        pasted=row.pasted_text if row is not None else "",
        values=values_of(said, unit) if said is not None else {},
    )
    try:
        found = reviewing.opened(desk, set_id)
    except (NoReviewError, StoreError) as error:
        return evolve(shown, why=str(error))
    vocabulary, wrong = _vocabulary(desk, found.sources.lift)
    done = found.done
    return evolve(
        shown, found=found, title=title_of(done.measurement), urgent=tuple(urgent_of(done.review)),
        page=tuple(sections_of(done.review, {})), spoken=_spoken(done.script.lines), vocabulary=vocabulary,
        vocabulary_wrong=wrong, accept_until=(date.today() + timedelta(weeks=ACCEPT_WEEKS)).isoformat(),
    )  # fmt: skip


def _vocabulary(desk: Workspace, lift: str) -> tuple[tuple[Observation, ...], str]:
    try:
        return words_of(lift, desk.library), ""
    except VocabularyError as error:
        return words_of(lift, None), f"Your own vocabulary is left out: {error}"


def _spoken(lines: tuple[Line, ...]) -> tuple[Spoken, ...]:
    out, words = [], 0
    for line in lines:
        out.append(Spoken(line=line, from_s=words / WORDS_PER_S))
        words += count(line.words)
    return tuple(out)


def _state(page: Page, desk: Workspace, set_id: str, **more: Any) -> Response:
    """Draw everything that an edit may have changed."""
    shown = panel(desk, set_id)
    found = shown.found
    body: Row = {"why": shown.why, **more}
    if found is not None:
        marks = [
            {"id": m.id, "meaning": m.meaning, "t_s": m.at_s, "rep": m.rep, "points_px": m.points_px,
             "words": m.words, "part": p.id}
            for p in found.review.parts for m in p.marks if p.shown
        ]  # fmt: skip
        body |= {
            "version": found.version, "unseen": found.unseen, "can_undo": found.can_undo,
            "can_redo": found.can_redo, "marks": marks,
        }  # fmt: skip
    given = {"shown": shown, "editable": True}
    body["html"] = {name: page.part(f"review_{name}.html.j2", given) for name in FRAGMENTS}
    return JSONResponse(body)


def _refused(error: Exception) -> Problem:
    if isinstance(error, NoReviewError):
        return Problem(404, str(error))
    return problem_of(422, error, "Nothing was changed.")


@router.get("/sets/{set_id}/review/state")
def state(set_id: Id, desk: Desk, page: Page) -> Response:
    """The whole state, drawn."""
    return _state(page, desk, set_id)


@router.get("/sets/{set_id}/review", include_in_schema=False)
def preview(request: Request, set_id: Id, desk: Desk, page: Page) -> Response:
    """Both lengths on a page of their own."""
    shown = panel(desk, set_id)
    if shown.found is None:
        raise Problem(404, shown.why or "There is nothing to review yet.", "Go back to the set.")
    return page.render(request, "review.html.j2", {"shown": shown, "unit": shown.unit})


@router.post("/sets/{set_id}/edits")
def edits(set_id: Id, sent: Edits, desk: Desk, page: Page) -> Response:
    """Take edits in, all or none; the same ones sent again change nothing."""
    try:
        reviewing.add_edits(desk, set_id, sent.edits)
    except (review.EditError, NoReviewError) as error:
        raise _refused(error) from None
    return _state(page, desk, set_id)


@router.post("/sets/{set_id}/edits/undo")
def undo(set_id: Id, sent: Named, desk: Desk, page: Page) -> Response:
    """Take back what was done last."""
    try:
        reviewing.undo(desk, set_id, sent.name or None)
    except NoReviewError as error:
        raise _refused(error) from None
    return _state(page, desk, set_id)


@router.post("/sets/{set_id}/edits/redo")
def redo(set_id: Id, sent: Named, desk: Desk, page: Page) -> Response:
    """Bring back what was undone last."""
    try:
        reviewing.redo(desk, set_id, sent.name or None)
    except NoReviewError as error:
        raise _refused(error) from None
    return _state(page, desk, set_id)


@router.post("/sets/{set_id}/edits/answer")
def answer(set_id: Id, sent: Answer, desk: Desk, page: Page) -> Response:
    """Answer what is asked since the set was measured again."""
    try:
        reviewing.answer(desk, set_id, sent.edit, sent.choice)
    except (review.EditError, NoReviewError) as error:
        raise _refused(error) from None
    return _state(page, desk, set_id)


@router.post("/sets/{set_id}/observations")
def observe(set_id: Id, sent: Seen, desk: Desk, page: Page) -> Response:
    """Add what the coach saw at a frame."""
    try:
        reviewing.observe(
            desk, set_id, rep=sent.rep, at_s=sent.t_s, observation=sent.observation, words=sent.words,
            good=sent.good, edit_id=sent.id,
        )  # fmt: skip
    except (review.EditError, VocabularyError, NoReviewError) as error:
        raise _refused(error) from None
    return _state(page, desk, set_id)


@router.post("/sets/{set_id}/wording")
def wording(set_id: Id, sent: Wording, desk: Desk, page: Page) -> Response:
    """Use a part's words from now on; gives what takes it back."""
    try:
        done = reviewing.reviewed(desk, set_id)
        sentence = keep_wording(done, desk.library, sent.part, sent.to)
    except (review.EditError, review.LibraryError, StoreError, NoReviewError) as error:
        raise _refused(error) from None
    part = next(p for p in done.review.parts if p.id == sent.part)
    kept = {"about": part.about, "kind": kind_of(part.section), "to": sent.to, "sentence": sentence}
    with desk.write() as connection:
        audit(connection, "wording_kept", "set", set_id, {"about": part.about, "to": sent.to})
    return _state(page, desk, set_id, kept=kept)


@router.post("/sets/{set_id}/wording/undo")
def wording_back(set_id: Id, sent: Forget, desk: Desk, page: Page) -> Response:
    """Take a wording out of the coach's own again."""
    try:
        gone = forget_wording(desk.library, sent.about, sent.kind, sent.to, sent.sentence)
    except (review.LibraryError, StoreError) as error:
        raise _refused(error) from None
    if not gone:
        raise Problem(409, "That wording is not kept any more.", "It may have been changed by hand.")
    return _state(page, desk, set_id)


@router.post("/sets/{set_id}/keys")
def keys(set_id: Id, sent: Key, desk: Desk, page: Page) -> Response:
    """Give an observation another key."""
    try:
        lift = reviewing.reviewed(desk, set_id).review.draft.lift
        assign_key(lift, sent.observation, sent.key, desk.library)
    except (VocabularyError, StoreError, NoReviewError) as error:
        raise _refused(error) from None
    return _state(page, desk, set_id)


@router.post("/sets/{set_id}/verdicts")
def verdict(set_id: Id, sent: Verdict, desk: Desk, page: Page) -> Response:
    """Say whether a change of an earlier review held."""
    try:
        say_verdict(desk, set_id, sent.change, sent.verdict, sent.why)
    except FollowUpError as error:
        raise _refused(error) from None
    return _state(page, desk, set_id)
