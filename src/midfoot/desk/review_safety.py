"""What safety binds in a review, said where the coach writes it: what was withheld and why."""

from __future__ import annotations

from attrs import frozen

from midfoot.records.context import MEET_CLOSE_WEEKS, MEET_NEAR_WEEKS
from midfoot.records.measures import Measurement

ENDED = {"missed": "missed", "assisted": "finished by a spotter", "dropped": "dropped"}


@frozen
class Bound:
    """One rule that binds: a stable id, the sections, a few words, what was withheld and why; its short name."""

    id: str
    sections: tuple[str, ...]
    words: str
    withheld: str
    name: str


def bounds_of(measurement: Measurement) -> tuple[Bound, ...]:
    """Give the rules of safety that bind this set, the gravest first."""
    context = measurement.context
    out: list[Bound] = []
    if context.hurts:
        said = "; ".join(f"“{words}”" for words in (context.pain, context.injury) if words)
        out.append(
            Bound("pain", ("change", "next", "film"), f"Pain or an injury was named: {said}",
                  "No cue, no drill and no load goes out: what was seen is described, and a licensed clinician "
                  "comes first. What you add to try should not load what hurts.", "pain")
        )  # fmt: skip
    if context.minor:
        out.append(
            Bound("minor", ("next",), "The lifter is under 18",
                  "No advice on load; a guardian and a coach in the room are named; nothing of it is ever public.",
                  "a lifter under 18")
        )  # fmt: skip
    ended = sorted({ENDED[r.outcome] for r in measurement.data.reps.reps if r.outcome in ENDED})
    if ended:
        out.append(
            Bound("missed", ("next",), f"A rep was {' or '.join(ended)}", "No advice on load from this set.",
                  "a rep that was not finished")
        )  # fmt: skip
    if not context.guarded:
        pull = measurement.data.asked.lift == "deadlift"
        out.append(
            Bound("unguarded", ("next",),
                  "Nobody said what the bar stands on or who was there" if pull
                  else "Nobody said that safeties or a spotter were set",
                  "No advice on load until that is known.", "nothing said that would catch the bar")
        )  # fmt: skip
    weeks = context.weeks_to_competition
    if weeks is not None and weeks <= MEET_NEAR_WEEKS:
        day = context.competition_ahead
        when = f" on {day.day} {day:%B %Y}" if day is not None else ""
        close = weeks <= MEET_CLOSE_WEEKS
        out.append(
            Bound("meet", ("change", "next"), f"Competition{when}, {in_weeks(weeks)}",
                  "Rules first: no change of grip, stance, bar position or heels, and one change at most." if close
                  else "One change before it; the others are held back.", "the competition")
        )  # fmt: skip
    return tuple(out)


def in_weeks(weeks: float) -> str:
    """Say how far off a day is."""
    whole = round(weeks)
    return "this week" if whole < 1 else f"in {whole} week{'s' if whole > 1 else ''}"
