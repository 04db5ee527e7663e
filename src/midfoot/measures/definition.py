"""What every measure says of itself, and how a measure says that it cannot be told."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from attrs import field, frozen

from midfoot.measures.uncertain import Number
from midfoot.records.base import LIFTS, one_of

if TYPE_CHECKING:
    from midfoot.measures.scene import RepScene, Scene

UNITS = ("mm", "s", "m_s", "deg", "ratio", "pct", "count")
GOOD = ("more", "less", "zero", "same")
COMMON_PRACTICE = "common practice, no source"


class Unseen(Exception):
    """This rep does not show it: why, and what would help; `at_most` where it is too small to be told."""

    def __init__(self, reason: str, remedy: str = "", at_most: float | None = None) -> None:
        super().__init__(reason)
        self.reason = reason
        self.remedy = remedy
        self.at_most = at_most


class DoesNotApply(Exception):
    """The measure has no meaning for this rep (no sticking region; the unrack of a third rep): why."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


@frozen
class Answer:
    """A number and what it was measured from."""

    number: Number
    basis: str


@frozen(kw_only=True)
class Definition:
    """One measure: the function and everything its page says.

    Attributes
    ----------
    id : str
        What, then unit. Other people's scripts rely on it.
    title : str
        In the words of the trade.
    unit : str
    lifts : tuple of str
    compute : (RepScene) -> Answer, or (Scene) -> Answer for a measure of the whole set
        Pure. Raises `Unseen` or `DoesNotApply`.
    what, formula, lies, film : str
        Definition in a sentence or two; how it is computed; when the number misleads; how to film for it.
    source : str
        Where the definition or its yardstick comes from, or `COMMON_PRACTICE`.
    good : str
        Which way is better: `more`, `less`, `zero` (nearer to zero) or `same` (nearer to the best rep: there is no
        better way, only the lifter's own).
    typical : bool
        Counts when the best rep is chosen.
    needs_velocity : bool
        Not given at frame rates too low for a derivative.
    """

    id: str
    title: str
    unit: str = field(validator=one_of(*UNITS))
    lifts: tuple[str, ...] = LIFTS
    what: str
    formula: str
    lies: str
    film: str
    source: str = COMMON_PRACTICE
    good: str = field(default="same", validator=one_of(*GOOD))
    typical: bool = False
    needs_velocity: bool = False


@frozen(kw_only=True)
class RepMeasure(Definition):
    """A measure of one rep."""

    compute: Callable[[RepScene], Answer] = field(eq=False, repr=False)


@frozen(kw_only=True)
class SetMeasure(Definition):
    """A measure of the whole set."""

    compute: Callable[[Scene], Answer] = field(eq=False, repr=False)
