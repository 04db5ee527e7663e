"""What follows from what was said: minors, effort, weeks to go, consent."""

from __future__ import annotations

from datetime import date

import pytest

from midfoot.records.base import RecordError
from midfoot.records.context import Competition, Consent, Context


def test_nothing_said_is_not_the_same_as_said_that_there_is_none() -> None:
    """An empty word on safeties is an answer, and the answer is no."""
    assert Context().pain is None
    assert not Context(pain="").hurts
    assert Context(pain="left knee").hurts
    assert Context(injury="old shoulder").hurts
    assert not Context(safeties="", spotter="").guarded
    assert Context(spotter="two").guarded


def test_effort_follows_from_either_scale() -> None:
    """Reps left is ten minus RPE (repetitions-in-reserve scale, Zourdos et al. 2016)."""
    assert Context(rpe=8.5).effort_rpe == 8.5
    assert Context(rir=1.5).effort_rpe == 8.5
    assert Context().effort_rpe is None


def test_weeks_count_from_the_day_it_was_read() -> None:
    """28 days are four weeks; a past day has none."""
    met = Competition(on=date(2030, 5, 29))
    assert Context(competition=met, read_on=date(2030, 5, 1)).weeks_to_competition == pytest.approx(4.0)
    assert Context(competition=met, read_on=date(2030, 5, 30)).weeks_to_competition is None
    assert Context(competition=met).weeks_to_competition is None


def test_a_minor_is_never_public() -> None:
    """Whatever was ticked; other uses stand."""
    ticked = (Consent("public"), Consent("open_set"), Consent("name"))
    young, grown = Context(age_years=17, consents=ticked), Context(age_years=18, consents=ticked)
    assert young.minor is True
    assert not young.allows("public")
    assert not young.allows("open_set")
    assert young.allows("name")
    assert grown.allows("public")
    assert not grown.allows("face")
    assert Context().minor is None


def test_unknown_words_are_refused() -> None:
    """A record does not hold what nobody will read."""
    with pytest.raises(RecordError, match="use"):
        Consent("everything")
    with pytest.raises(RecordError, match="lift"):
        Context(lift="curl")
