"""What a finding says of itself: its signs in the measures, possible causes with their tests, changes to try."""

from __future__ import annotations

from collections.abc import Callable

from attrs import field, frozen

from midfoot.records.base import LIFTS, RecordError, one_of
from midfoot.records.context import Context
from midfoot.records.findings import ALTERS, CHANGE_KINDS, CONFIDENCES, DIRECTIONS, NATURES

COMMON_PRACTICE = "common practice, no source"
WAYS = ("more", "less", "away")
AGAINST = ("reference", "nothing")
JOINS = ("strongest", "first_seen")
PARTS = ("start", "descent", "low", "ascent", "finish")


@frozen(kw_only=True)
class Sign:
    """One measure in which a finding shows, and what counts.

    Attributes
    ----------
    measure, words : str
        Id of the measure, and what it is in plain words (heading of the evidence).
    said : str
        Half a sentence with `{size}` and `{ref}` ("rep 2"), such as "the bar came {size} farther forward than in
        {ref}".
    ways : tuple of str
        Words for `{way}` in `said`: where the measure lies above what it is held against, and where below.
    worse : str
        `more` or `less` than what it is held against, or farther `away` from it to either side.
    against : str
        `reference`: the reference rep's value, on the random errors alone. `nothing`: the value itself, with both
        kinds of error: an absolute, or a measure that is already a difference.
    limit : str
        Id in thresholds.toml.
    as_pct : bool
        The change is taken in per cent of the reference rep's value.
    of_set : bool
        It is a measure of the whole set.
    of_extreme : bool
        It counts from the set's own highest or lowest, so one rep stands at nothing whatever the others do.
    tires : bool
        Where it changes it goes one way over the set, as people tire: that is asked for before all.
    chance_by : str
        Measure of the same path that is asked as well whether chance makes it, where every rep has it: for one
        that stops at nothing and so hides how far a clean rep is from it.
    gone : str
        Said instead of `said` of a rep whose value is too small to be told.
    due : float or None
        Only with `when`: falling short of this is the sign's size, whatever the other reps do.
    when : callable or None
        Whether what was said of the set makes the sign count at all.
    most : str
        The surest this sign alone may make a finding.
    close : float or None
        For a line that a rule draws: this near to it, on either side, is a hint.
    """

    measure: str
    words: str
    said: str
    limit: str
    worse: str = field(default="more", validator=one_of(*WAYS))
    against: str = field(default="reference", validator=one_of(*AGAINST))
    ways: tuple[str, str] = ("", "")
    as_pct: bool = False
    of_set: bool = False
    of_extreme: bool = False
    tires: bool = False
    chance_by: str = ""
    gone: str = ""
    due: float | None = None
    when: Callable[[Context], bool] | None = field(default=None, eq=False, repr=False)
    close: float | None = None
    most: str = field(default="sure", validator=one_of(*CONFIDENCES))


@frozen(kw_only=True)
class Clue:
    """A geometric test of a possible cause in the rep that shows the finding most, against the reference rep.

    Speaks for the cause where the change reaches `clear` and stands clear of its error, against it where the
    change stays under half of `clear` and the clip would have shown `clear`; otherwise it says nothing.
    """

    measure: str
    clear: float
    says_for: str
    says_against: str = ""
    worse: str = field(default="more", validator=one_of(*WAYS))
    against: str = field(default="reference", validator=one_of(*AGAINST))


@frozen(kw_only=True)
class Said:
    """A test of a possible cause in what was said of the set: gives words that speak for it, or ""."""

    test: Callable[[Context], str] = field(eq=False, repr=False)


@frozen(kw_only=True)
class PossibleCause:
    """A possible cause with the tests that speak for or against it in a clip."""

    id: str
    text: str
    clues: tuple[Clue | Said, ...] = ()


@frozen(kw_only=True)
class PossibleChange:
    """One thing to try, and what it should do to a measure: change it by `share` of the finding's size.

    `by_mm` is by how much it alters the position, see `records.findings.Change`. `suits` names signs and the side
    (+1 above what it is held against, -1 below) of which it is proposed; empty for every one.
    """

    id: str
    kind: str = field(validator=one_of(*CHANGE_KINDS))
    text: str
    measure: str
    direction: str = field(default="less", validator=one_of(*DIRECTIONS))
    share: float = 0.5
    alters: str = field(default="", validator=one_of(*ALTERS))
    by_mm: float | None = None
    suits: tuple[tuple[str, int], ...] = ()
    max_load_pct: float | None = 80.0
    max_rpe: float | None = 7.0


@frozen(kw_only=True)
class FindingDefinition:
    """A finding: everything its page says, and the signs by which the engine raises it.

    Attributes
    ----------
    id : str
        Stable, never used again for something else; begins with the lift.
    title : str
        The claim in a few plain words.
    what, why, lies : str
        What is seen; why it matters; when it is wrong.
    how : tuple of (view, words)
        How it is measured, view by view.
    sources : tuple of str
    signs : tuple of Sign
        One mechanical event may show in several measures and stays one finding.
    join : str
        `strongest`: the sign that shows most carries it. `first_seen`: the first one that this clip shows at all.
    one_event : bool
        Whether chance makes it is also asked of all its signs together.
    beside : tuple of (measure, words)
        Shown as evidence beside the signs.
    part : str
        The part of the rep to look at.
    needs_bar : bool
        Raised only where a bar was followed.
    """

    id: str
    lift: str = field(validator=one_of(*LIFTS))
    title: str
    what: str
    why: str
    how: tuple[tuple[str, str], ...]
    lies: str
    sources: tuple[str, ...] = (COMMON_PRACTICE,)
    signs: tuple[Sign, ...]
    join: str = field(default="strongest", validator=one_of(*JOINS))
    one_event: bool = False
    beside: tuple[tuple[str, str], ...] = ()
    part: str = field(default="ascent", validator=one_of(*PARTS))
    nature: str = field(default="fault", validator=one_of(*NATURES))
    causes: tuple[PossibleCause, ...] = ()
    changes: tuple[PossibleChange, ...] = ()
    needs_bar: bool = True

    def __attrs_post_init__(self) -> None:
        if not self.id.startswith(f"{self.lift}_"):
            raise RecordError(f"id: expected to begin with {self.lift}_, got {self.id!r}")
        if not self.signs:
            raise RecordError(f"signs: expected at least one for {self.id}, got none")
