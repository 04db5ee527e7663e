"""Figures and reps in the words that a lifter reads and hears."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.records.findings import Size
from midfoot.review.words import pointed, reps_words, rounded


@pytest.mark.parametrize(
    ("size", "read", "aloud"),
    [
        (Size(24, "mm", 4, 8), "2 to 3 cm", "about a finger's width"),
        (Size(-24, "mm", 4, 8), "2 to 3 cm", "about a finger's width"),
        (Size(40, "mm", 3, 8), "3.5 to 4.5 cm", "about two fingers' width"),
        (Size(80, "mm", 3, 8), "7.5 to 8.5 cm", "about a hand's width"),
        (Size(3, "mm", 4, 8), "up to 1 cm", "less than a finger"),
        (Size(11, "deg", 3, 6), "5 to 15 degrees", "clearly"),
        (Size(0.31, "s", 0.04, 0.1), "0.2 to 0.4 seconds", "a quarter of a second"),
        (Size(0.37, "s", 0.03, 0.1), "0.3 to 0.4 seconds", "a third of a second"),
        (Size(12, "pct", 2, 4), "10 to 15 %", "about a tenth"),
    ],
)
def test_figures_as_they_are_read_and_spoken(size: Size, read: str, aloud: str) -> None:
    """One sd to either side, rounded outward; a finger is 19 mm and a hand 76 (the old digit and palm)."""
    assert rounded(size) == read
    assert pointed(size) == aloud


@given(st.floats(-400, 400), st.floats(0, 80), st.sampled_from(["mm", "deg", "s", "pct", "ratio", "m_s"]))
def test_a_rounded_range_holds_the_range_it_rounds(value: float, sd: float, unit: str) -> None:
    """Outward: what the lifter reads is never surer than what was measured."""
    words = rounded(Size(value, unit, sd, sd))
    ends = [float(n) for n in re.findall(r"\d+(?:\.\d+)?", words)]
    factor = 10.0 if unit == "mm" else 1.0

    assert max(ends) * factor >= abs(value) + sd - 0.01
    if words[0].isdigit():
        assert min(ends) * factor <= max(0.0, abs(value) - sd) + 0.01


def test_reps_are_named_as_people_do() -> None:
    assert reps_words((3,)) == "rep 3"
    assert reps_words((2, 4)) == "reps 2 and 4"
    assert reps_words((3, 4, 5)) == "reps 3 to 5"
    assert reps_words((1, 3, 5)) == "reps 1, 3 and 5"
    assert reps_words((3, 4, 5), aloud=True) == "repetitions three to five"
