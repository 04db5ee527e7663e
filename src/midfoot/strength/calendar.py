"""Weeks to the competition, and what they mean for changes."""

from __future__ import annotations

from datetime import date

from midfoot.records.strength import Countdown
from midfoot.strength.base import StrengthError

RULES_ONLY_WEEKS, ONE_CHANGE_WEEKS = 4.0, 10.0
"""Common practice, no source."""
FARTHEST_DAYS = 3 * 366


def weeks_to(competition: date, today: date) -> Countdown:
    """Count the weeks from `today` to the competition.

    Raises
    ------
    StrengthError
        When it is past, or more than three years away.
    """
    days = (competition - today).days
    if days < 0:
        raise StrengthError(f"The competition on {competition.isoformat()} is past; give the next one.")
    if days > FARTHEST_DAYS:
        raise StrengthError(
            f"The competition on {competition.isoformat()} is over three years away; check the year."
        )
    weeks = days / 7
    if weeks <= RULES_ONLY_WEEKS:
        words = "rules first; no change of grip, stance or bar position now"
    elif weeks <= ONE_CHANGE_WEEKS:
        words = "time for one change, not more"
    else:
        words = "time for changes to settle"
    return Countdown(days, weeks, words)
