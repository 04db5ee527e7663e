"""What the coach does to a review, as edits that are only ever added: taken in, bound, undone, done again.

A key press may make several edits (a whole section is kept): they share what stands before the `/` in their ids
and are undone together.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Sequence
from datetime import date
from typing import Any

from attrs import evolve

from midfoot.records.review import FRAMES, Ask, Edit, Part, RepSpan, Review
from midfoot.review import EditError, apply, effective
from midfoot.review.apply import OWN, own_id
from midfoot.store import edits_from_json

BATCH = "/"
UNDO, REDO = "undo-", "redo-"
"""How a batch begins that took something back, or brought it back."""
MOST_TEXT = 2000
MOST_ID, MOST_ORDER = 64, 500
LARGEST, HEAVIEST_KG = 1e6, 600.0
ON_PART = ("keep", "reword", "drop", "accept", "mark")
BOUND = ("keep", "reword", "drop", "accept")
"""Edits that stand on the reps and moments of their part."""


def new_batch() -> str:
    """Give the first half of an id that no other edit has."""
    return secrets.token_hex(6)


def batch_of(edit: Edit) -> str:
    """Name what was done in one go with an edit."""
    return edit.id.partition(BATCH)[0] if BATCH in edit.id else edit.id


def taken(rows: Any, review: Review, before: Sequence[Edit]) -> tuple[Edit, ...]:
    """Read edits as a page sent them, and hold them against the review that stands.

    Parameters
    ----------
    rows : a list of edits in the form of review.json; `saw` is the `wording_key` that the page showed.
    review : with every edit of `before` in it.
    before : all edits of the set.

    Returns
    -------
    tuple of Edit
        Those that are new, bound to the words that the coach leaves behind; the same one sent again is left out.

    Raises
    ------
    EditError
        When one is no edit, or is about nothing in this review: one sentence with what would do.
    """
    try:
        edits = edits_from_json(rows)
    except ValueError as error:
        raise EditError(f"{str(error).rstrip('.')}; reload the page and do it again.") from None
    there = {e.id: e for e in before}
    out: list[Edit] = []
    now = review
    for edit in edits:
        old = there.get(edit.id)
        if old is not None:
            if evolve(old, saw="") != evolve(edit, saw=""):
                raise EditError(f"The edit {edit.id!r} was made already and says something else; reload the page.")
            continue
        _check(edit, now)
        now_and = (*before, *out, edit)
        try:
            after = apply(review.draft, now_and)
        except ValueError as error:
            raise EditError(str(error)) from None
        edit = _bound(edit, (part_of(review, edit.part), part_of(now, edit.part)), part_of(after, edit.part))
        out.append(edit)
        there[edit.id] = edit
        now = apply(review.draft, (*before, *out))
    return tuple(out)


def _check(edit: Edit, review: Review) -> None:
    """Refuse what is about nothing: an edit is never taken and then not seen."""
    for name in ("text", "reason", "try_text"):
        if len(getattr(edit, name)) > MOST_TEXT:
            raise EditError(f"{name}: at most {MOST_TEXT} characters, got {len(getattr(edit, name))}; shorten it.")
    numbers = [*edit.at_s, *(v for point in edit.points_px for v in point)]
    if not all(math.isfinite(v) and abs(v) <= LARGEST for v in numbers):
        raise EditError("A moment and a point are numbers within the clip; reload the page and do it again.")
    if edit.up_to_kg is not None and not 0 < edit.up_to_kg <= HEAVIEST_KG:
        raise EditError(f"A load is more than 0 and at most {HEAVIEST_KG:g} kg, got {edit.up_to_kg:g}.")
    if not 0 < len(edit.id) <= MOST_ID:
        raise EditError(f"An edit's id has 1 to {MOST_ID} characters; reload the page and do it again.")
    if len(edit.order) > MOST_ORDER or len(edit.reps) > MOST_ORDER:
        raise EditError("That is more than a review can hold; reload the page and do it again.")
    known = {p.id for p in (*review.parts, *review.draft.spare)}
    if edit.part in FRAMES and edit.kind != "reword":
        raise EditError(f"The {edit.part} can be put into other words and nothing else.")
    known |= set(FRAMES)
    if edit.kind in (*ON_PART, "note") and edit.part and edit.part not in known:
        raise EditError(f"There is no part {edit.part!r} in this review any more; reload the page.")
    if edit.kind == "accept" and edit.part.startswith(OWN):
        raise EditError("Only what was measured can be accepted for a lifter; drop your own observation instead.")
    if edit.kind == "mark" and not edit.reps and review.draft.spans:
        raise EditError("A mark belongs to a rep; move to a frame within one.")


def _bound(edit: Edit, shown: tuple[Part | None, ...], left: Part | None) -> Edit:
    """Bind what was read to the words that stand after it; what had changed on the way stays to be read.

    `shown` is the part as the page had it, and as it is with what was sent before in one go.
    """
    if edit.kind not in ("keep", "reword") or edit.saw not in {p.wording_key for p in shown if p is not None}:
        return edit
    return evolve(edit, saw=left.wording_key) if left is not None else edit


def part_of(review: Review, part_id: str) -> Part | None:
    """Give a part of a review, also one that the draft holds back; None when there is none."""
    return next((p for p in (*review.parts, *review.draft.spare) if p.id == part_id), None)


def undo_of(edits: Sequence[Edit], name: str | None = None) -> tuple[Edit, ...]:
    """Give the edits that take back what was done last; empty when there is nothing to take back.

    `name` is the request's own: sent twice it takes back once.
    """
    if name and any(batch_of(e) == UNDO + name for e in edits):
        return ()
    gone = undone_now(edits)
    live = [e for e in edits if e.id not in gone and not batch_of(e).startswith((UNDO, REDO))]
    return (
        _undone([e for e in live if batch_of(e) == batch_of(live[-1])], UNDO + (name or new_batch()))
        if live
        else ()
    )


def redo_of(edits: Sequence[Edit], name: str | None = None) -> tuple[Edit, ...]:
    """Give the edits that bring back what was undone last; empty once something else was done after it.

    `name` is the request's own, as for `undo_of`.
    """
    if name and any(batch_of(e) == REDO + name for e in edits):
        return ()
    gone = undone_now(edits)
    since: list[Edit] = []
    for edit in edits:
        if not batch_of(edit).startswith((UNDO, REDO)):
            since = []
        elif batch_of(edit).startswith(UNDO) and edit.id not in gone:
            since.append(edit)
    return (
        _undone([e for e in since if batch_of(e) == batch_of(since[-1])], REDO + (name or new_batch()))
        if since
        else ()
    )


def undone_now(edits: Sequence[Edit]) -> frozenset[str]:
    """Give the ids of edits, undos among them, that a holding undo takes back."""
    gone: set[str] = set()
    for edit in reversed(edits):
        if edit.kind == "undo" and edit.id not in gone:
            gone.add(edit.undoes)
    return frozenset(gone)


def _undone(wanted: Sequence[Edit], batch: str) -> tuple[Edit, ...]:
    return tuple(
        Edit(id=f"{batch}{BATCH}{k}", kind="undo", undoes=e.id) for k, e in enumerate(reversed(list(wanted)))
    )


def free_words(text: str, rep: int, at_s: float, *, good: bool = False) -> Edit:
    """Give the edit that adds an observation in the coach's own words at a moment."""
    return Edit(
        id=new_batch(), kind="add", section="good" if good else "change", text=text, reps=(rep,), at_s=(at_s,)
    )


def choices_of(ask: Ask, edits: Sequence[Edit], review: Review) -> tuple[tuple[str, str], ...]:
    """Give what may be answered to a question after measuring again: a key and the words on the button.

    `keep` says that the words still fit where they stand now, `keep:3` puts them on rep 3, `own:3` makes them an
    own observation there, `drop` takes the edit back.
    """
    edit = next(e for e in edits if e.id == ask.edit)
    part = part_of(review, ask.part)
    if part is None:
        own = [(f"own:{s.n}", f"Keep it as my own on rep {s.n}") for s in review.draft.spans] if edit.text else []
        return (*own, ("drop", "Let it go"))
    if edit.kind == "mark" or part.id.startswith(OWN):
        keep = [(f"keep:{s.n}", f"Keep at rep {s.n}") for s in _nearest(review.draft.spans, _moment(edit, part))]
        return (*keep, ("drop", "Drop it"))
    where = ", ".join(str(n) for n in part.reps)
    still = {"drop": "Still dropped", "accept": "Still accepted"}.get(edit.kind, f"Keep it at rep {where}")
    return (("keep", still), ("drop", "Take it back"))


def _moment(edit: Edit, part: Part) -> float:
    return (edit.at_s or part.at_s or (0.0,))[0]


def _nearest(spans: Sequence[RepSpan], at_s: float) -> list[RepSpan]:
    """Order reps by how near they lie to a moment; the one that holds it comes first."""
    return sorted(spans, key=lambda s: (max(s.start_s - at_s, at_s - s.end_s, 0.0), s.n))


def answer_of(
    ask: Ask, choice: str, edits: Sequence[Edit], review: Review, batch: str | None = None
) -> tuple[Edit, ...]:
    """Give the edits that answer a question after measuring again.

    Raises
    ------
    EditError
        When that is no answer to it.
    """
    if choice not in {key for key, _ in choices_of(ask, edits, review)}:
        raise EditError("That is no answer to this question any more; reload the page.")
    name = batch or new_batch()
    edit = next(e for e in edits if e.id == ask.edit)
    part = part_of(review, ask.part)
    kind, _, rep = choice.partition(":")
    if kind == "drop":
        gone = [e for e in effective(tuple(edits)) if _target(e) == ask.part] if part is None else [edit]
        if edit.kind != "add" and part is not None and part.id.startswith(OWN):
            gone = [e for e in effective(tuple(edits)) if _target(e) == part.id]
        return _undone(gone, name)
    if kind == "own":
        at = _within(review.draft.spans, int(rep), (edit.at_s or (0.0,))[0])
        section = ask.part.partition(":")[0]
        added = Edit(
            id=f"{name}{BATCH}0", kind="add", section="good" if section == "good" else "change", text=edit.text,
            reps=(int(rep),), at_s=(at,),
        )  # fmt: skip
        gone = [e for e in effective(tuple(edits)) if _target(e) == ask.part]
        undone = (evolve(u, id=f"{name}{BATCH}{k + 1}") for k, u in enumerate(_undone(gone, name)))
        return (added, *undone)
    assert part is not None
    if rep:
        reps, at_s = (int(rep),), (_within(review.draft.spans, int(rep), _moment(edit, part)),)
        if edit.kind == "mark":
            again = evolve(edit, id=f"{name}{BATCH}0", reps=reps, at_s=at_s)
            return (again, Edit(id=f"{name}{BATCH}1", kind="undo", undoes=edit.id))
        return (Edit(id=f"{name}{BATCH}0", kind="keep", part=part.id, reps=reps, at_s=at_s),)
    return (evolve(edit, id=f"{name}{BATCH}0", reps=part.reps, at_s=part.at_s, saw=part.wording_key if edit.saw
                   else ""),)  # fmt: skip


def _target(edit: Edit) -> str:
    return own_id(edit) if edit.kind == "add" else edit.part


def _within(spans: Sequence[RepSpan], rep: int, at_s: float) -> float:
    """Give the moment itself where it lies in the rep, else the nearest one within."""
    span = next(s for s in spans if s.n == rep)
    return min(max(at_s, span.start_s), span.end_s)


def accepted_of(edits: Sequence[Edit]) -> tuple[tuple[str, date | None, float | None], ...]:
    """Give what a set's edits accept of its lifter: about what, until when, up to which load."""
    last: dict[str, Edit] = {}
    for edit in effective(tuple(edits)):
        if edit.kind in ("keep", "drop", "accept"):
            last[edit.part] = edit
    return tuple(
        (e.part.partition(":")[2], e.until, e.up_to_kg)
        for e in last.values()
        if e.kind == "accept" and not e.part.startswith(OWN)
    )
