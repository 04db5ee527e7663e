"""What a camera can say of a rule of performance. It is never a decision: the referee decides."""

from __future__ import annotations

from attrs import field, frozen

from midfoot.records.base import one_of

VERDICTS = ("clear", "close", "not_met", "not_seen")


@frozen
class Margin:
    """How far inside (+) or outside (-) a rule, in `unit`, with one standard deviation.

    `sd` holds both kinds of error, the random one and the one common to the clip: a rule is an absolute.
    """

    value: float
    unit: str
    sd: float


@frozen(kw_only=True)
class RuleCheck:
    """One rule of performance held against one rep (or the whole set), as far as the camera can tell.

    Attributes
    ----------
    id : str
        What is checked, such as `depth` or `knees_locked_at_finish`; stable.
    rep : int or None
        Number of the rep, None for what belongs to the set.
    verdict : str
        `clear` inside the rule by more than the error, `not_met` outside by more than it, `close` within it or
        where this view can say no more, `not_seen` with the reason.
    margin : Margin or None
        None with `not_seen`.
    at_s : float or None
        Moment of the clip to look at, s.
    rulebook, clause : str
        Name with version, and where in it the rule stands.
    title : str
        The rule in a few plain words.
    reason : str
        Why the verdict is no stronger, or why there is none, with the remedy.
    measure : str
        Id of the measure it rests on, "" when there is none.
    source : str
        Where the wording of the rule was read.
    """

    id: str
    rep: int | None
    verdict: str = field(validator=one_of(*VERDICTS))
    margin: Margin | None
    at_s: float | None
    rulebook: str
    clause: str
    title: str = ""
    reason: str = ""
    measure: str = ""
    source: str = ""
