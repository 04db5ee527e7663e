"""What is said of a moment, and how numbers are written."""

from __future__ import annotations

import pytest
from sets import made_set

from midfoot.publish.moments import now, said, written
from midfoot.records.measures import Measure


@pytest.mark.parametrize(
    ("t_s", "words"),
    [
        (0.5, "held"),
        (1.5, "rep 1 of 2, descent"),
        (2.2, "rep 1 of 2, low"),
        (3.0, "rep 1 of 2, ascent"),
        (3.8, "between reps"),
        (6.5, "rep 2 of 2, ascent"),
    ],
)
def test_words_instead_of_counters(t_s: float, words: str) -> None:
    """A moment is said in words."""
    assert now(made_set(), t_s).words == words


@pytest.mark.parametrize(
    ("value", "sd", "text"),
    [
        (35.47, 0.85, ("35.5", "0.8")),
        (593.1, 4.2, ("593", "4")),
        (0.4231, 0.0123, ("0.42", "0.01")),
        (-12.4, 1.3, ("−12", "1")),
        (7.0, None, ("7.00", "")),
        (41.0, 9.7, ("41", "10")),
    ],
)
def test_no_more_digits_than_the_sd_allows(value: float, sd: float | None, text: tuple[str, str]) -> None:
    """The sd keeps one figure and the value ends at the same place."""
    assert written(value, sd) == text


def test_status_is_said() -> None:
    """Inferred and not seen are words, not blanks."""
    assert said(Measure("x_deg", 41.0, "deg", 2.0, 6.0, "inferred")) == "41° (inferred, sd 2)"
    assert said(Measure("x_mm", None, "mm", None, None, "not_seen", "", "hidden")) == "not seen"
