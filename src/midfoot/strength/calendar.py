"""Weeks to the competition, and what they mean for changes."""

from __future__ import annotations

from datetime import date

from midfoot.records.context import MEET_CLOSE_WEEKS, MEET_NEAR_WEEKS, weeks_until
from midfoot.records.strength import Countdown
from midfoot.strength.base import StrengthError

FARTHEST_DAYS = 3 * 366


def weeks_to(competition: date, today: date) -> Countdown:
    """Count the weeks from `today` to the competition.

    Raises
    ------
    StrengthError
        When it is past, or more than three years away.
    """
    weeks, days = weeks_until(competition, today), (competition - today).days
    if weeks is None:
        raise StrengthError(f"The competition on {competition.isoformat()} is past; give the next one.")
    if days > FARTHEST_DAYS:
        raise StrengthError(
            f"The competition on {competition.isoformat()} is over three years away; check the year."
        )
    if weeks <= MEET_CLOSE_WEEKS:
        words = "rules first; no change of grip, stance or bar position now"
    elif weeks <= MEET_NEAR_WEEKS:
        words = "time for one change, not more"
    else:
        words = "time for changes to settle"
    return Countdown(days, weeks, words)
