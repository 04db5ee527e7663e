"""What every part of a draft draws on: the set, where sentences come from, and what stands in their braces."""

from __future__ import annotations

from collections.abc import Mapping

from attrs import field, frozen

from midfoot.records.context import MEET_CLOSE_WEEKS, MEET_NEAR_WEEKS, Context
from midfoot.records.findings import Finding
from midfoot.records.measures import Measurement
from midfoot.records.review import Figure
from midfoot.review import moments
from midfoot.review.library import Picker
from midfoot.review.words import at_most, figure, number, reps_words
from midfoot.units import KG_PER_LB, load_words

NEW_YEARS = 1.0
"""Training for less than a year is spoken to as new (common practice, no source)."""
LIFT_ALOUD = {"squat": "the squat", "bench": "the bench press", "deadlift": "the deadlift"}
VIEW_ALOUD = {
    "side": "from the side", "front_oblique": "from the front at an angle",
    "rear_oblique": "from behind at an angle", "front": "from the front", "rear": "from behind",
    "unknown": "from one place",
}  # fmt: skip


@frozen(kw_only=True)
class LoadSays:
    """What mechanics and strength make of the load, put together outside; empty where nothing is to be said.

    `maximum` is the estimated maximum in a lifter's words, `next_load` the range for the next session; `costs_kg`
    by finding what a drift costs the hips, as so many kg more on the bar: least and most.
    """

    maximum: str = ""
    next_load: str = ""
    costs_kg: Mapping[str, tuple[float, float]] = field(factory=dict)


@frozen
class Said:
    """What every part draws on."""

    measurement: Measurement
    picker: Picker
    values: dict[str, str]
    best: int | None
    load: LoadSays

    @property
    def hurts(self) -> bool:
        """Whether pain or an injury was named: then it is only said what was seen, and nothing to try."""
        return self.measurement.context.hurts


def level_of(context: Context) -> str:
    """Tell how a lifter is spoken to: `competing` with one ahead, `new` in the first year, else `trained`."""
    if context.weeks_to_competition is not None:
        return "competing"
    years = context.training_age_years
    return "new" if years is not None and years < NEW_YEARS else "trained"


def weeks_limits(context: Context) -> str:
    """Tell what a coming competition allows: `close`, `near` or ""."""
    weeks = context.weeks_to_competition
    if weeks is None or weeks > MEET_NEAR_WEEKS:
        return ""
    return "close" if weeks <= MEET_CLOSE_WEEKS else "near"


def set_values(measurement: Measurement, best: int | None) -> dict[str, str]:
    """Give what stands in the braces of sentences about the whole set."""
    context, data = measurement.context, measurement.data
    count = len(data.reps.reps)
    load, unit = data.asked.load_kg, context.load_unit or "kg"
    return {
        "hello": f"Hello {context.lifter}" if context.lifter else "Hello",
        "lift": LIFT_ALOUD[data.asked.lift],
        "lift_aloud": LIFT_ALOUD[data.asked.lift],
        "count": f"{count} rep{'s' if count != 1 else ''}",
        "count_aloud": f"{number(count)} repetition{'s' if count != 1 else ''}",
        "load": load_words(load, unit) if load else "",
        "load_aloud": f" with {_aloud(load, unit)}" if load else " ",
        "view": VIEW_ALOUD[data.view.view_class],
        "best": str(best) if best else "",
        "best_aloud": reps_words((best,), aloud=True) if best else "",
    }


def _aloud(kg: float, unit: str) -> str:
    return f"{kg / KG_PER_LB:.0f} pounds" if unit == "lb" else f"{kg:.0f} kilos"


def finding_values(measurement: Measurement, finding: Finding) -> dict[str, str]:
    """Give what stands in the braces of sentences about a finding."""
    size = figure_of(finding)
    worst = finding.worst_rep or (finding.reps[-1] if finding.reps else None)
    at = moments.at_of(finding, worst)
    return {
        "reps": reps_words(finding.reps),
        "reps_aloud": reps_words(finding.reps, aloud=True),
        "rep": str(worst) if worst else "",
        "rep_aloud": reps_words((worst,), aloud=True) if worst else "",
        "size": "" if size is None else at_most(size.size) if len(finding.reps) > 1 else size.words,
        "size_aloud": size.aloud if size else "",
        "ref": _reference(finding),
        "title": finding.title.rstrip(".")[:1].lower() + finding.title.rstrip(".")[1:],
        "moment": moments.words(measurement, worst, at),
    }


def _reference(finding: Finding) -> str:
    rep = finding.evidence[0].reference_rep if finding.evidence else None
    return f"rep {rep}" if rep is not None else "your best one"


def figure_of(finding: Finding) -> Figure | None:
    """Give a finding's size in all its readings; None without one."""
    if finding.size is None:
        return None
    measure = finding.evidence[0].measure if finding.evidence else ""
    return figure(measure, finding.size, finding.worst_rep)


def lines_of(said: Said, wanted: list[tuple[str, str]]) -> list[str]:
    """Give a spoken sentence for each wanted (about, kind) that the library has something new for."""
    found = [said.picker.pick(about, kind, "on_air", said.values) for about, kind in wanted]
    return [" ".join(f.split()).replace(" ,", ",").replace(" .", ".") for f in found if f]
