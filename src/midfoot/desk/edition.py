"""An edition in preparation: what stands in its way by name, its script with time codes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import frozen

from midfoot.desk.publish_build import shown_in
from midfoot.desk.publish_gate import Blocker, Case, case_of, of_words
from midfoot.desk.review_sources import NoReviewError
from midfoot.desk.reviewing import reviewed, unseen_in
from midfoot.review.script import WORDS_PER_S, count
from midfoot.reviewing import Reviewed
from midfoot.store import StoreError
from midfoot.store.tables import edition_segments, editions, sets
from midfoot.units import load_words

if TYPE_CHECKING:
    from midfoot.store import Workspace

KINDS = ("review", "recap", "open")
USE_OF = {"review": "edition", "recap": "open_set", "open": "open_set"}
"""Which use the lifter must have allowed for a set to stand there."""
USE_WORDS = {"edition": "being part of an edition", "open_set": "others saying what they see"}
TARGET_S = {"review": 90.0, "recap": 60.0, "open": 45.0}
LIFT_WORDS = {"squat": "squat", "bench": "bench press", "deadlift": "deadlift"}
OPEN_WORDS = (
    "One set is left open. Watch it as often as you like, then say what you see: which rep, which moment, in your "
    "own words.",
    "What the coach sees, and what was measured, comes in the next edition.",
)


class EditionError(ValueError):
    """What cannot be done to an edition: the text says why and what would do."""


@frozen
class Spoken:
    """A line of the script: when in the segment it is spoken, how long it takes, and the clip's moment to show."""

    from_s: float
    length_s: float
    words: str
    cue: str = ""


@frozen(kw_only=True)
class Segment:
    """One piece of the running order.

    Attributes
    ----------
    id, kind : str
    position : int
        From 0.
    set_id : str
    title : str
        What may stand in public: lift, load, a name where it was allowed.
    private : str
        What the coach calls it: whose set it is. Never shown in public.
    target_s, length_s : float
        How long it is to be, and how long its words take.
    lines : tuple of Spoken
    own : str
        The coach's own words, "" where the drafted ones stand.
    blockers : tuple of Blocker
    """

    id: str
    kind: str
    position: int
    set_id: str
    title: str
    private: str
    target_s: float
    length_s: float
    lines: tuple[Spoken, ...] = ()
    own: str = ""
    blockers: tuple[Blocker, ...] = ()


@frozen(kw_only=True)
class Edition:
    """An edition with its running order."""

    id: str
    title: str
    planned_on: date | None
    state: str
    segments: tuple[Segment, ...]

    @property
    def length_s(self) -> float:
        """How long its words take in all."""
        return sum(s.length_s for s in self.segments)

    @property
    def target_s(self) -> float:
        """How long it is to be."""
        return sum(s.target_s for s in self.segments)

    @property
    def blockers(self) -> tuple[tuple[Segment, Blocker], ...]:
        """Everything that stands in the way, with its segment."""
        return tuple((s, b) for s in self.segments for b in s.blockers)


def listed(workspace: Workspace) -> list[dict[str, Any]]:
    """Give every edition with its number of segments, the newest first."""
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(editions, sa.func.count(edition_segments.c.id).label("count"))
            .join(edition_segments, edition_segments.c.edition_id == editions.c.id, isouter=True)
            .group_by(editions.c.id)
            .order_by(editions.c.created_at.desc())
        ).all()
    return [
        {"id": r.id, "title": r.title, "planned_on": r.planned_on, "state": r.state, "count": r.count}
        for r in rows
    ]


def candidates(workspace: Workspace) -> list[dict[str, Any]]:
    """Give the sets that were picked for an edition, and the other ones that are ready, the newest first."""
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(sets).where(sets.c.archived_at.is_(None), sets.c.state == "ready").order_by(
                sa.case((sets.c.picked == "edition", 0), else_=1), sets.c.received_at.desc()
            ).limit(200)
        ).all()  # fmt: skip
        return [
            {
                "id": r.id,
                "picked": r.picked == "edition",
                "lift": r.lift,
                "words": _private(case_of(connection, r.id)),
            }
            for r in rows
        ]


def edition_of(workspace: Workspace, edition_id: str) -> Edition:
    """Give an edition with everything that is known of its segments.

    Raises
    ------
    EditionError
        When there is no such edition.
    """
    with workspace.read() as connection:
        row = connection.execute(sa.select(editions).where(editions.c.id == edition_id)).first()
        if row is None:
            raise EditionError("There is no such edition; go back to the list.")
        found = connection.execute(
            sa.select(edition_segments)
            .where(edition_segments.c.edition_id == edition_id)
            .order_by(edition_segments.c.position)
        ).all()
    segments = tuple(_segment(workspace, s) for s in found)
    return Edition(id=row.id, title=row.title, planned_on=row.planned_on, state=row.state, segments=segments)


def _segment(workspace: Workspace, row: Any) -> Segment:
    with workspace.read() as connection:
        case = case_of(connection, row.set_id) if row.set_id else None
    private = _private(case)
    if case is None:
        gone = Blocker("no_set", "The set of this segment is gone", "Take the segment out.")
        return Segment(
            id=row.id, kind=row.kind, position=row.position, set_id="", title="", private=private,
            target_s=row.target_s or 0.0, length_s=0.0, blockers=(gone,),
        )  # fmt: skip
    done: Reviewed | None = None
    against = list(allowed(case, row.kind))
    try:
        done = reviewed(workspace, row.set_id)
    except (NoReviewError, StoreError) as error:
        against.append(Blocker("no_review", "There is no review yet", str(error)))
    if not case.sha256 or not workspace.blobs.has(case.sha256):
        against.append(Blocker("no_clip", "The clip itself is no longer here", "Put it into the inbox again."))
    if done is not None and row.kind == "review":
        against += [
            Blocker("unseen", f"Not looked at yet: {name}", "Keep it, reword it or drop it at the desk.")
            for name in unseen_in(done.review)
        ]
        against += of_words(done, case, "public")
    own = str((row.script or {}).get("words", ""))
    drafted = _recap(workspace, row.set_id) if row.kind == "recap" and not own.strip() else ()
    lines = timed([(words, "") for words in drafted]) if drafted else lines_of(row.kind, done, case, own)
    return Segment(
        id=row.id, kind=row.kind, position=row.position, set_id=row.set_id, title=title_of(case),
        private=private, target_s=row.target_s or TARGET_S[row.kind],
        length_s=lines[-1].from_s + lines[-1].length_s if lines else 0.0, lines=lines, own=own,
        blockers=tuple(against),
    )  # fmt: skip


def _recap(workspace: Workspace, set_id: str) -> tuple[str, ...]:
    from midfoot.desk.outcome import recap_for  # it asks this module what may be open

    return recap_for(workspace, set_id)


def allowed(case: Case, kind: str) -> tuple[Blocker, ...]:
    """Name what of age and consent keeps a set out of an edition, use by use."""
    use = USE_OF[kind]
    if case.minor:
        return (Blocker("minor", "The lifter is under 18", "Nothing of a minor is ever public."),)
    found = []
    if case.minor is None:
        found.append(
            Blocker("age_unknown", "Nobody said whether the lifter is 18 or older", "Ask, and say it at the set.")
        )
    if use not in case.uses:
        found.append(
            Blocker(f"no_{use}", f"The lifter has not agreed to {USE_WORDS[use]}",
                    "Ask, and note the consent at the set in the words that were used.")
        )  # fmt: skip
    return tuple(found)


def title_of(case: Case) -> str:
    """Give what may stand in public over a set: lift, load, and a name where that was allowed."""
    context = case.context
    words = LIFT_WORDS.get(context.lift or "", "a set")
    if context.load_kg:
        words += f", {load_words(context.load_kg, context.load_unit or 'kg')}"
    if "name" in case.uses and context.lifter:
        words += f", {context.lifter}"
    return words[0].upper() + words[1:]


def _private(case: Case | None) -> str:
    """Give what the coach calls a set: whose it is, lift and load as they were said."""
    if case is None:
        return "a set that is gone"
    context = case.context
    load = f", {load_words(context.load_kg, context.load_unit or 'kg')}" if context.load_kg else ""
    return f"{context.lifter or 'nobody named'}, {LIFT_WORDS.get(context.lift or '', 'lift not said')}{load}"


def lines_of(kind: str, done: Reviewed | None, case: Case, own: str = "") -> tuple[Spoken, ...]:
    """Give what is spoken in a segment: the coach's own words, or the review's script as it may be public."""
    if own.strip():
        return timed([(line.strip(), "") for line in own.splitlines() if line.strip()])
    if kind == "open":
        return timed([(words, "play the whole set" if k == 0 else "") for k, words in enumerate(OPEN_WORDS)])
    if kind == "recap" or done is None:
        return ()
    script = shown_in(done, "edition", case.uses).script
    return timed(
        [(line.words, f"rep {line.rep}, {line.at_s:.1f} s" if line.rep and line.at_s is not None else "")
         for line in script.lines]
    )  # fmt: skip


def timed(lines: Sequence[tuple[str, str]]) -> tuple[Spoken, ...]:
    """Give lines the time that their words take at the pace of the scripts."""
    out: list[Spoken] = []
    at = 0.0
    for words, cue in lines:
        length = max(1.0, count(words) / WORDS_PER_S)
        out.append(Spoken(at, length, words, cue))
        at += length
    return tuple(out)
