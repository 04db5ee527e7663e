"""Findings: what was seen in a set, how large against what the clip resolves, what may cause it, what to try."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from attrs import Attribute, field, frozen

from midfoot.records.base import RecordError, one_of

SEEN_BY = ("measured", "coach")
CONFIDENCES = ("sure", "likely", "hint")
"""From the strongest to the weakest."""
NATURES = ("fault", "information")
CHANGE_KINDS = ("cue", "setup", "drill", "equipment", "load")
ALTERS = ("grip", "stance", "bar_position", "heels", "")
"""What of the lifter's position a change alters; "" for none of them."""
DIRECTIONS = ("more", "less", "zero", "same")


def _at_least(least: float) -> Callable[[Any, Attribute[Any], Any], None]:
    def check(instance: Any, attribute: Attribute[Any], value: Any) -> None:
        if not value >= least:
            raise RecordError(f"{attribute.name}: expected at least {least:g}, got {value!r}")

    return check


@frozen
class Size:
    """How large a finding is, in `unit`, with the sd of that very number and what this clip can resolve.

    `sd` is the random part for a difference between reps, both parts for an absolute. `resolution` is the smallest
    size that would stand clear of the clip's error (1.96 `sd`).
    """

    value: float
    unit: str
    sd: float = field(validator=_at_least(0.0))
    resolution: float = field(validator=_at_least(0.0))


@frozen
class Cause:
    """A possible cause: what in this clip or context speaks for it and against it. Nobody says that it is the one.

    `speaks_for` is written as `for` in JSON.
    """

    id: str
    text: str
    speaks_for: tuple[str, ...] = ()
    against: tuple[str, ...] = ()


@frozen
class TryAt:
    """How light a change is tried first: share of the set's load in per cent, effort on the scale to 10."""

    max_load_pct: float | None = None
    max_rpe: float | None = None


@frozen
class Prediction:
    """What a change should do to a measure: `less` by about `size` (`sd`) in `unit`; a later set can refute it."""

    measure: str
    direction: str = field(validator=one_of(*DIRECTIONS))
    size: float
    sd: float
    unit: str


@frozen
class Change:
    """One thing to try.

    `by_mm` is by how much it alters the position: hands or feet so much wider apart, the bar lower on the back,
    the heels higher; None where that is not said. `geometry` is what this lifter's own segments make of it, in
    every rep alike: worth trying on film, never a promise.
    """

    id: str
    kind: str = field(validator=one_of(*CHANGE_KINDS))
    text: str
    try_at: TryAt | None
    prediction: Prediction | None
    alters: str = field(default="", validator=one_of(*ALTERS))
    by_mm: float | None = None
    geometry: tuple[Prediction, ...] = ()


@frozen(kw_only=True)
class Evidence:
    """The values of one measure over the reps of the set, in order; None where a rep does not show it.

    `sd` is the random part of each. `reference_rep` is the number of the rep they are held against, None for none.
    """

    measure: str
    title: str
    unit: str
    values: tuple[float | None, ...]
    sds: tuple[float | None, ...]
    reference_rep: int | None = None


@frozen(kw_only=True)
class Finding:
    """What was seen.

    Attributes
    ----------
    id : str
        Stable, never used again for something else.
    by : str
        `measured` by the program or seen by the `coach`: same standing.
    title : str
        The claim in a few plain words.
    text : str
        One or two sentences with the reps and the figures of this set.
    why : str
        Why it matters.
    reps : tuple of int
        Numbers of the reps that show it, in order.
    at_s : tuple of float
        The moment to look at in each of `reps`.
    size : Size or None
        Of the rep that shows it most; None where nothing was measured.
    worst_rep : int or None
        The rep of `size`.
    confidence : str
    nature : str
        `fault`, or `information` for what needs no change by itself (slowing down in a hard set).
    doubts : tuple of str
        Why it is not held surer, and what would make it so.
    possible_causes : tuple of Cause
        The best supported first.
    changes, other_changes : tuple of Change
        What is proposed, and what else could be tried instead.
    evidence : tuple of Evidence
        The first is what `size` was taken from.
    """

    id: str
    by: str = field(validator=one_of(*SEEN_BY))
    title: str
    text: str = ""
    why: str = ""
    reps: tuple[int, ...]
    at_s: tuple[float, ...] = ()
    size: Size | None = None
    worst_rep: int | None = None
    confidence: str = field(validator=one_of(*CONFIDENCES))
    nature: str = field(default="fault", validator=one_of(*NATURES))
    doubts: tuple[str, ...] = ()
    possible_causes: tuple[Cause, ...] = ()
    changes: tuple[Change, ...] = ()
    other_changes: tuple[Change, ...] = ()
    evidence: tuple[Evidence, ...] = ()


@frozen(kw_only=True)
class Held:
    """The good of a set: what held within the smallest change that the clip can tell, and the best rep with why.

    `evidence` names the measures that held. `best_rep` is None below three reps.
    """

    text: str
    evidence: tuple[Evidence, ...] = ()
    best_rep: int | None = None
    best_text: str = ""
    within: tuple[float, ...] = ()

    def __attrs_post_init__(self) -> None:
        if len(self.within) != len(self.evidence):
            raise RecordError(f"within: expected one for each of {len(self.evidence)}, got {len(self.within)}")


@frozen
class Note:
    """What the context did to what is said: stable id, one sentence (no load advice as something hurts)."""

    id: str
    text: str


@frozen(kw_only=True)
class Found:
    """Everything found in a set: findings, the most important first; the good; what the context held back."""

    findings: tuple[Finding, ...] = ()
    held: Held | None = None
    notes: tuple[Note, ...] = ()
