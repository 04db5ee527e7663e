"""Numbers about load: points, estimated maximum, load-velocity profile, attempts, what is put on the bar."""

from __future__ import annotations

from attrs import field, frozen

from midfoot.records.base import Value, one_of

SEXES = ("m", "f")
RESULTS = ("total", "squat", "bench", "deadlift")


@frozen
class Points:
    """Points of one formula for one result.

    `points` is as the formula's owner rounds it; `unrounded` is the same with nothing rounded. `body_mass_used_kg`
    differs from the lifter's where the formula holds a body mass at its limit. `coefficient` times the result
    gives the points.
    """

    formula: str
    points: float
    unrounded: float
    coefficient: float
    body_mass_used_kg: float
    held_at_limit: bool
    source: str
    year: int


@frozen
class BodyMassClass:
    """A federation's body-mass class: over `over_kg` (0: none below) and up to `to_kg` (None: no upper end)."""

    federation: str
    name: str
    over_kg: float
    to_kg: float | None
    source: str
    year: int


@frozen
class Method:
    """What one way of estimating gives; `counted` ones make the estimate."""

    id: str
    name: str
    kg: float
    counted: bool


@frozen
class OneRm:
    """An estimated one-repetition maximum.

    `kg` with `sd_kg`; the counted methods lie from `low_kg` to `high_kg`. `to_failure` is the number of
    repetitions that the set would have had at failure, NaN when it was not estimated from one set.
    """

    kg: float
    sd_kg: float
    low_kg: float
    high_kg: float
    to_failure: float
    methods: tuple[Method, ...]
    basis: str

    def range_kg(self, step_kg: float = 2.5) -> tuple[float, float]:
        """Give one sd to either side, rounded outward to `step_kg`: what a lifter reads."""
        low = step_kg * ((self.kg - self.sd_kg) // step_kg)
        high = -step_kg * (-(self.kg + self.sd_kg) // step_kg)
        return low, high


@frozen
class LoadedSet:
    """The fastest repetition of one of the lifter's own sets: load, mean velocity of the ascent with its sd."""

    load_kg: float
    velocity_m_s: float
    sd_m_s: float = 0.0


@frozen
class Profile:
    """The line through a lifter's own sets: velocity = `at_zero_m_s` + `per_kg_m_s` * load; and where it ends.

    `scatter` is the size of the departures from the line in sds (1 as expected). `last` is the velocity taken for
    a maximum, `last_own` whether it is the lifter's own.
    """

    sets: tuple[LoadedSet, ...]
    at_zero_m_s: Value
    per_kg_m_s: Value
    scatter: float
    last: Value
    last_own: bool
    one_rm: OneRm


@frozen
class Attempt:
    """One attempt in kg: what is taken on a bad day, as planned, on a good day."""

    name: str
    low_kg: float
    target_kg: float
    high_kg: float


@frozen
class Plan:
    """Three attempts from one estimate."""

    attempts: tuple[Attempt, Attempt, Attempt]
    one_rm: OneRm
    step_kg: float


@frozen
class Loading:
    """Plates on each side, heaviest (innermost) first, and the whole weight with bar and collars."""

    kg: float
    side: tuple[tuple[str, int], ...]
    kind: str = field(validator=one_of("exact", "below", "above"))


@frozen
class Loaded:
    """Ways to load a bar: `exact` alone, or the nearest `below` and `above` with the reason."""

    asked_kg: float
    bar: str
    collars: str
    plates: str
    exact: Loading | None
    below: Loading | None
    above: Loading | None
    reason: str = ""


@frozen
class Countdown:
    """How far away a competition is, and what that means for changes."""

    days: int
    weeks: float
    words: str
