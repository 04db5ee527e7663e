"""The review of one set as the desk shows it: records only, drawn up by `reviewing`."""

from __future__ import annotations

from datetime import datetime

from attrs import frozen

from midfoot.desk.follow_up import Verdict
from midfoot.desk.review_cards import Card, Group
from midfoot.desk.review_safety import Bound
from midfoot.desk.review_sources import Sources
from midfoot.records.review import Ask, Review
from midfoot.reviewing import Reviewed


@frozen
class Question:
    """What is asked since the set was measured again: the ask, the part's name, and the answers that there are."""

    ask: Ask
    name: str
    choices: tuple[tuple[str, str], ...]


@frozen(kw_only=True)
class Last:
    """What the last review of this lifter said."""

    set_id: str
    received_at: datetime
    lift: str
    load_kg: float | None
    texts: tuple[str, ...]


@frozen(kw_only=True)
class OneReview:
    """The review of one set as the desk shows it.

    Attributes
    ----------
    sources, done
        What it was made from, and the review with its script.
    groups, spare
        Cards by section; what was measured and left out.
    bounds : tuple of Bound
        What safety binds.
    questions : tuple of Question
    verdicts : tuple of Verdict
        On the lifter's open changes.
    last : Last or None
    unseen : tuple of str
        Names of what stands in the way of going out.
    can_undo, can_redo : bool
    """

    sources: Sources
    done: Reviewed
    groups: tuple[Group, ...]
    spare: tuple[Card, ...] = ()
    bounds: tuple[Bound, ...] = ()
    questions: tuple[Question, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    last: Last | None = None
    unseen: tuple[str, ...] = ()
    can_undo: bool = False
    can_redo: bool = False

    @property
    def review(self) -> Review:
        """The review with every edit in it."""
        return self.done.review

    @property
    def version(self) -> int:
        """How many edits were ever made: it only grows."""
        return len(self.sources.edits)
