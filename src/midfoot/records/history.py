"""Two sets of one lifter held against each other: what really changed, and which predictions held."""

from __future__ import annotations

from attrs import field, frozen

from midfoot.records.base import Value, one_of

KINDS = ("level", "over_the_set")
"""The mean of a set's completed reps; or the change from its first to its last."""
CHANGES = ("more", "less", "no_real_change", "cannot_tell")
VERDICTS = ("held", "not_held", "cannot_tell")


@frozen(kw_only=True)
class Row:
    """One measure of two sets.

    Attributes
    ----------
    measure, title, unit : str
    kind : str
    first, second : Value or None
        Of the two sets; None where it may not be compared or was not seen.
    change : Value or None
        Second minus first.
    smallest : float or None
        The smallest change that these two clips can tell: 1.96 sds of the difference.
    verdict : str
    good : str
        `better`, `worse` or "" where no way is better, or nothing really changed.
    reason : str
        Why it cannot be told.
    """

    measure: str
    title: str
    unit: str
    kind: str = field(validator=one_of(*KINDS))
    first: Value | None = None
    second: Value | None = None
    change: Value | None = None
    smallest: float | None = None
    verdict: str = field(validator=one_of(*CHANGES))
    good: str = field(default="", validator=one_of("better", "worse", ""))
    reason: str = ""


@frozen(kw_only=True)
class Followed:
    """A prediction of the first set held against the second.

    `expected` is what the change should have done, `found` what happened: how much less of the fault there is.
    """

    finding: str
    title: str
    change: str
    measure: str
    unit: str
    expected: Value
    found: Value | None
    verdict: str = field(validator=one_of(*VERDICTS))
    reason: str = ""


@frozen(kw_only=True)
class Side:
    """What is said of one of the two sets."""

    name: str
    reps: int
    load_kg: float | None
    rpe: float | None
    view: str
    best_rep: int | None


@frozen(kw_only=True)
class Comparison:
    """Two sets compared; `refused` says in whole sentences what may not be compared and why."""

    lift: str
    first: Side
    second: Side
    rows: tuple[Row, ...]
    followed: tuple[Followed, ...] = ()
    refused: tuple[str, ...] = ()
