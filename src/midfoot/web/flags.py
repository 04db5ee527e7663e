"""What a coach should know before opening a set: pain, a minor, a competition soon, no safeties said."""

from __future__ import annotations

from datetime import date

from attrs import frozen

from midfoot.records.context import MEET_CLOSE_WEEKS, MEET_NEAR_WEEKS, Context, weeks_until

USE_WORDS = {
    "review": "review", "public": "public page", "public_page": "public page", "edition": "edition",
    "open_set": "open set", "keep_original": "original kept", "voice": "voice", "name": "name", "face": "face",
    "sound": "sound", "pain": "pain", "injury": "injury", "body_mass": "body mass", "age": "age",
}  # fmt: skip
"""How a use that was allowed is said in a list."""


@frozen
class Flag:
    """One thing to know; `quiet` ones change nothing by themselves."""

    words: str
    quiet: bool = False


def flags_of(context: Context, lift: str | None, minor: bool, today: date) -> tuple[Flag, ...]:
    """Give the flags of a set, the gravest first."""
    found = []
    if context.pain:
        found.append(Flag(f"Pain: {_short(context.pain)}"))
    if context.injury:
        found.append(Flag(f"Injury: {_short(context.injury)}"))
    if minor or context.minor:
        found.append(Flag("Under 18"))
    weeks = weeks_until(context.competition.on, today) if context.competition and context.competition.on else None
    if weeks is not None:
        near = weeks <= MEET_NEAR_WEEKS
        found.append(Flag(f"Competes {weeks_words(weeks)}", quiet=not near))
        if weeks <= MEET_CLOSE_WEEKS:
            found[-1] = Flag(f"Competes {weeks_words(weeks)}: rules first")
    if lift in ("squat", "bench") and not context.guarded:
        found.append(Flag("No safeties said"))
    if context.filmed is None:
        found.append(Flag("Not said who was filmed", quiet=True))
    return tuple(found)


def weeks_words(weeks: float) -> str:
    """Say how far off a day is: today, in 5 days, in 3 weeks."""
    days = round(weeks * 7)
    if days == 0:
        return "today"
    if days < 14:
        return f"in {days} day{'s' if days > 1 else ''}"
    return f"in {round(weeks)} weeks"


def _short(text: str, limit: int = 60) -> str:
    return text if len(text) <= limit else text[: limit - 1].rsplit(" ", 1)[0] + "…"
