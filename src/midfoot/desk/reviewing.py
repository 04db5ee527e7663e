"""The review of one set at the desk: edits taken in and kept, what a page shows, what keeps it from going out.

The log of edits in the workspace and `review.apply` are the only truth; everything here is made anew from them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

from attrs import evolve

from midfoot import review
from midfoot.desk.asked_changes import open_changes
from midfoot.desk.cases import cases_of, note
from midfoot.desk.follow_up import Verdict, since_of, verdicts_of
from midfoot.desk.one_review import Last, OneReview, Question
from midfoot.desk.own_floors import keep_for
from midfoot.desk.review_cards import groups_of, shortened, spare_of
from midfoot.desk.review_edits import (
    BATCH,
    answer_of,
    choices_of,
    free_words,
    new_batch,
    part_of,
    redo_of,
    taken,
    undo_of,
)
from midfoot.desk.review_safety import bounds_of
from midfoot.desk.review_sources import Earlier, NoReviewError, Sources, day_of, sources_of
from midfoot.own_words import seen_at
from midfoot.records.review import Edit, Review
from midfoot.reviewing import Reviewed, made
from midfoot.store import read_review
from midfoot.store.columns import now
from midfoot.store.rows import append_edit, audit, edits_of

if TYPE_CHECKING:
    from midfoot.store import Workspace

Make = Callable[[tuple[Edit, ...]], tuple[Edit, ...]]
"""Gives new edits from those that are there."""


def reviewed(workspace: Workspace, set_id: str) -> Reviewed:
    """Give a set's review with all that it was made from, for pages, pictures and print.

    Raises
    ------
    NoReviewError
        When there is nothing to review yet.
    StoreError
        When what was measured is damaged.
    """
    sources = sources_of(workspace, set_id)
    return _made(sources, verdicts_of(workspace, sources))


def _made(sources: Sources, verdicts: tuple[Verdict, ...]) -> Reviewed:
    return made(
        sources.measurement,
        sources.edits,
        library=sources.library,
        last=sources.said_before,
        accepted=sources.accepted,
        today=day_of(sources),
        since=since_of(verdicts),
    )


def opened(workspace: Workspace, set_id: str) -> OneReview:
    """Give a set's review as the desk shows it.

    Raises
    ------
    NoReviewError, StoreError
        As `reviewed`.
    """
    sources = sources_of(workspace, set_id)
    verdicts = verdicts_of(workspace, sources)
    done, edits = _made(sources, verdicts), sources.edits
    return OneReview(
        sources=sources,
        done=done,
        groups=groups_of(done.measurement, done.review, edits),
        spare=spare_of(done.measurement, done.review),
        bounds=bounds_of(done.measurement),
        questions=tuple(
            Question(a, _name(done.review, a.part), choices_of(a, edits, done.review)) for a in done.review.asks
        ),
        verdicts=verdicts,
        last=_last(sources.last),
        unseen=unseen_in(done.review),
        can_undo=bool(undo_of(edits)),
        can_redo=bool(redo_of(edits)),
    )


def _last(earlier: Earlier | None) -> Last | None:
    if earlier is None:
        return None
    return Last(
        set_id=earlier.set_id, received_at=earlier.received_at, lift=earlier.lift, load_kg=earlier.load_kg,
        texts=read_review(earlier.folder).said,
    )  # fmt: skip


def _name(found: Review, part_id: str) -> str:
    part = part_of(found, part_id)
    return part_id if part is None else part.caption or shortened(part.text)


def unseen(workspace: Workspace, set_id: str) -> tuple[str, ...]:
    """Name what stands in the way of a review going out: what nobody looked at, what has no words, open questions.

    Empty when it may be published.

    Raises
    ------
    NoReviewError, StoreError
        As `reviewed`.
    """
    return unseen_in(reviewed(workspace, set_id).review)


def unseen_in(found: Review) -> tuple[str, ...]:
    """Name what stands in the way of this review going out."""
    out = []
    for part in found.parts:
        name = part.caption or shortened(part.text)
        if part.shown and part.needs_words:
            out.append(f"{name}: has no words of yours yet")
        elif part.status == "open":
            out.append(name)
    out += [f"{_name(found, a.part)}: a question is open since the set was measured again" for a in found.asks]
    return tuple(out)


def add_edits(workspace: Workspace, set_id: str, rows: Any, *, by: str = "coach") -> OneReview:
    """Take edits in and keep them: all or none, the same one sent again once.

    Parameters
    ----------
    rows : a list of edits in the form of review.json.

    Raises
    ------
    review.EditError
        When one of them makes no sense: one sentence with the remedy.
    NoReviewError, StoreError
        As `reviewed`.
    """
    sources = sources_of(workspace, set_id)
    verdicts = verdicts_of(workspace, sources)

    def read(before: tuple[Edit, ...]) -> tuple[Edit, ...]:
        return taken(rows, _made(evolve(sources, edits=before), verdicts).review, before)

    return _kept(workspace, set_id, read, by)


def observe(
    workspace: Workspace, set_id: str, *, rep: int, at_s: float, observation: str = "", words: str = "",
    good: bool = False, edit_id: str = "",
) -> OneReview:  # fmt: skip
    """Add what the coach saw at a moment: by the vocabulary, or in his own words.

    Raises
    ------
    VocabularyError
        When there is no such observation.
    review.EditError
        When neither was given, or there is no such rep.
    """
    sources = sources_of(workspace, set_id)
    spans = {s.n for s in _made(sources, ()).review.draft.spans}
    if rep not in spans:
        raise review.EditError(f"There is no rep {rep} in this set; move to a frame within one.")
    if not observation and not words.strip():
        raise review.EditError("Say what you saw, or take an observation of the vocabulary.")
    if observation:
        edit = seen_at(sources.lift, observation, rep, round(at_s, 3), workspace.library)
        edit = evolve(edit, text=words.strip()) if words.strip() else edit
    else:
        edit = free_words(words.strip(), rep, round(at_s, 3), good=good)
    if edit_id:
        edit = evolve(edit, id=f"{edit.id.rpartition(':')[0]}:{edit_id}" if observation else edit_id)
    return _kept(workspace, set_id, lambda before: () if edit.id in {e.id for e in before} else (edit,), "coach")


def undo(workspace: Workspace, set_id: str, name: str | None = None) -> OneReview:
    """Take back what was done last, once for each `name`; nothing happens where there is nothing."""
    return _kept(workspace, set_id, lambda before: undo_of(before, name), "coach")


def redo(workspace: Workspace, set_id: str, name: str | None = None) -> OneReview:
    """Bring back what was undone last, once for each `name`; nothing happens once something else was done."""
    return _kept(workspace, set_id, lambda before: redo_of(before, name), "coach")


def answer(workspace: Workspace, set_id: str, edit_id: str, choice: str) -> OneReview:
    """Answer what is asked since the set was measured again.

    Raises
    ------
    review.EditError
        When that is not asked any more, or it is no answer.
    """
    found = reviewed(workspace, set_id).review

    def edits(before: tuple[Edit, ...]) -> tuple[Edit, ...]:
        ask = next((a for a in found.asks if a.edit == edit_id), None)
        if ask is None:
            raise review.EditError("That is not asked any more; reload the page.")
        return answer_of(ask, choice, before, found)

    return _kept(workspace, set_id, edits, "coach")


def _kept(workspace: Workspace, set_id: str, make: Make, by: str) -> OneReview:
    """Read the log, make edits from it and keep them in one unit of writing, so that two pages lose nothing."""
    with workspace.write() as connection:
        for edit in make(edits_of(connection, set_id)):
            append_edit(connection, set_id, edit, by=by)
    found = opened(workspace, set_id)
    with workspace.write() as connection:
        edits = edits_of(connection, set_id)
        if len(edits) == found.version:  # whoever edited meanwhile writes the newer state himself
            note(connection, set_id, cases_of(found.done.measurement, found.sources.limits), edits)
    return found


def keep_all(found: OneReview, section: str | None = None) -> list[dict[str, Any]]:
    """Give the edits that keep every card not looked at yet, of a section or of all that stand as a paragraph."""
    name = new_batch()
    cards = [
        c for g in found.groups if (g.section == section if section else g.whole) for c in g.waiting
        if not c.part.needs_words
    ]  # fmt: skip
    return [
        {"id": f"{name}{BATCH}{k}", "kind": "keep", "part": c.part.id, "reps": list(c.part.reps),
         "at_s": list(c.part.at_s), "saw": c.part.wording_key}
        for k, c in enumerate(cards)
    ]  # fmt: skip


def published(workspace: Workspace, set_id: str, *, on: date | None = None) -> int:
    """Write down what a review that goes out asks of the lifter and what it says of earlier changes.

    Gives how many changes are open from it. To be called when the review is published, again each time.

    Raises
    ------
    NoReviewError, StoreError
        As `reviewed`.
    """
    found = opened(workspace, set_id)
    keep_for(workspace, set_id)
    with workspace.write() as connection:
        count = open_changes(connection, found.sources, found.review, found.verdicts, on or now().date())
        audit(connection, "changes_opened", "set", set_id, {"open": count})
    return count


__all__ = [
    "NoReviewError", "OneReview", "Question", "add_edits", "answer", "keep_all", "observe", "opened", "published",
    "redo", "reviewed", "undo", "unseen", "unseen_in",
]  # fmt: skip
