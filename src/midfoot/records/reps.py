"""Phases of the set and the moments of every rep."""

from __future__ import annotations

from attrs import field, frozen

from midfoot.records.base import RecordError, Warned, one_of

PHASES = (
    "setup", "unrack", "walkout", "hold", "slack", "descent", "low", "ascent", "top", "lowering", "between",
    "rerack", "missed", "aside",
)  # fmt: skip
OUTCOMES = ("completed", "missed", "assisted", "dropped", "cut_off")
NOT_ALONE = ("missed", "assisted", "dropped")
"""Outcomes of reps that were not finished, or not without help."""


@frozen
class Phase:
    """A stretch of the set, seconds on the clip's clock."""

    kind: str = field(validator=one_of(*PHASES))
    start_s: float
    end_s: float

    def __attrs_post_init__(self) -> None:
        if not self.end_s >= self.start_s:
            raise RecordError(f"end_s: expected at least start_s {self.start_s}, got {self.end_s}")


@frozen
class Moment:
    """A moment with its standard deviation, and the reason it stands where it does."""

    t_s: float
    sd_s: float
    why: str = ""


@frozen
class Rep:
    """One repetition; moments by the rule of bands of 10 mm. None where the clip does not show the moment.

    Squat and bench: `start`, `low_start`, `low_end`, `end`. Deadlift: `start` (leaves the floor), `top_start`,
    `top_end`, `end` (rests on the floor). `low_*` is None for deadlifts and `top_*` for the others.
    """

    n: int
    outcome: str = field(validator=one_of(*OUTCOMES))
    start_seen: bool
    end_seen: bool
    start: Moment | None
    end: Moment | None
    low_start: Moment | None = None
    low_end: Moment | None = None
    top_start: Moment | None = None
    top_end: Moment | None = None
    why: str = ""

    @property
    def ascent_s(self) -> tuple[float, float] | None:
        """Start and end of the ascent (deadlift: of the pull), or None where the clip does not show it."""
        if self.low_end is not None and self.end is not None:
            return self.low_end.t_s, self.end.t_s
        if self.low_end is None and self.start is not None and self.top_start is not None:
            return self.start.t_s, self.top_start.t_s
        return None


@frozen
class RepSet:
    """All reps and phases of a set, in order, with what was noticed while finding them."""

    reps: tuple[Rep, ...]
    phases: tuple[Phase, ...]
    warnings: tuple[Warned, ...] = ()
    lift_fits: str | None = None
