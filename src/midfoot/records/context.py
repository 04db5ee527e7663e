"""What was said of a set by the person who sent it or by the coach: the lifter, the set, the question, safety."""

from __future__ import annotations

from datetime import date

from attrs import field, frozen
from attrs.validators import optional

from midfoot.records.base import LIFTS, one_of

SEXES = ("female", "male", "mx")
FILMED = ("self", "permission")
USES = ("public", "open_set", "name", "face", "sound", "pain", "injury", "body_mass", "age")
"""What a lifter may allow, one by one; what is not named here stays private."""
ADULT_YEARS = 18


MEET_CLOSE_WEEKS, MEET_NEAR_WEEKS = 4.0, 10.0
"""Up to so close only the rules count; up to so near there is time for one change (common practice, no source)."""


def weeks_until(day: date, today: date) -> float | None:
    """Count the weeks from `today` to a day; None when it is past."""
    days = (day - today).days
    return None if days < 0 else days / 7.0


@frozen
class Consent:
    """One use that the lifter allowed, with the words and the day if they were told."""

    use: str = field(validator=one_of(*USES))
    wording: str = ""
    given_on: date | None = None


@frozen
class Competition:
    """The next competition: its day and the rule set by which it is judged (a name of the rules stage)."""

    on: date | None = None
    rules: str | None = None
    name: str = ""


@frozen(kw_only=True)
class Context:
    """Everything said about a set beside the clip; None where nothing was said.

    Attributes
    ----------
    pain, injury, safeties, spotter : str or None
        None: nothing was said. "": it was said that there is none. Otherwise the words.
    load_unit : str or None
        kg or lb, as the load was written: it is said in the same unit. None: kilograms.
    working_on, equipment : tuple of str
    rpe, rir : float or None
        5..10 in halves; 0..5. When only one was said the other follows from it (10 - rpe), see `effort_rpe`.
    filmed : str or None
        Whether the sender is the person filmed (`self`) or has that person's `permission`.
    read_on : date or None
        The day on which this was read; what is near or past counts from it.
    depth_offset_mm, depth_offset_sd_mm : float or None
        This lifter's squat depth by crease and knee top minus that by joint centres, from an earlier clip.
    under_18 : bool or None
        Said of the lifter without an age; None where nothing was said. An age says more.
    sha256 : str or None
        Of the file that it was read from.
    """

    title: str | None = None
    lifter: str | None = None
    age_years: int | None = None
    sex: str | None = field(default=None, validator=optional(one_of(*SEXES)))
    body_mass_kg: float | None = None
    stature_m: float | None = None
    training_age_years: float | None = None
    lift: str | None = field(default=None, validator=optional(one_of(*LIFTS)))
    variation: str | None = None
    load_kg: float | None = None
    load_unit: str | None = field(default=None, validator=optional(one_of("kg", "lb")))
    plate_mm: float | None = None
    reps: int | None = None
    rpe: float | None = None
    rir: float | None = None
    equipment: tuple[str, ...] = ()
    spotter: str | None = None
    safeties: str | None = None
    question: str | None = None
    working_on: tuple[str, ...] = ()
    pain: str | None = None
    injury: str | None = None
    competition: Competition | None = None
    consents: tuple[Consent, ...] = ()
    filmed: str | None = field(default=None, validator=optional(one_of(*FILMED)))
    depth_offset_mm: float | None = None
    depth_offset_sd_mm: float | None = None
    read_on: date | None = None
    under_18: bool | None = None
    sha256: str | None = None

    @property
    def hurts(self) -> bool:
        """Whether pain or an injury was named."""
        return bool(self.pain or self.injury)

    @property
    def guarded(self) -> bool:
        """Whether safeties or a spotter were named."""
        return bool(self.safeties or self.spotter)

    @property
    def minor(self) -> bool | None:
        """Whether the lifter is under 18; None when neither age nor this was said."""
        return self.under_18 if self.age_years is None else self.age_years < ADULT_YEARS

    @property
    def effort_rpe(self) -> float | None:
        """How hard it was on the scale to 10, from `rpe` or else from the reps left (10 - `rir`)."""
        if self.rpe is not None:
            return self.rpe
        return None if self.rir is None else 10.0 - self.rir

    @property
    def competition_ahead(self) -> date | None:
        """The day of the competition, None when there is none, it is past or no day is known."""
        return None if self.competition is None or self.weeks_to_competition is None else self.competition.on

    @property
    def weeks_to_competition(self) -> float | None:
        """Weeks until the competition, None when there is none, it is past or no day is known."""
        if self.competition is None or self.competition.on is None or self.read_on is None:
            return None
        return weeks_until(self.competition.on, self.read_on)

    def allows(self, use: str) -> bool:
        """Tell whether the lifter allowed a use; a minor is never public."""
        if use in ("public", "open_set") and self.minor:
            return False
        return any(c.use == use for c in self.consents)
