"""No sentence on the page of a set speaks of the command line."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import pytest

import midfoot
from midfoot.desk import page_words
from midfoot.desk.page_words import on_page

SOURCES = Path(midfoot.__file__).parent
SPOKEN = ("mechanics_words.py", "mechanics_set.py", "positions.py", "bar", "measures", "mechanics")
"""Modules whose sentences stand on the page: measures' reasons, warnings of bar and scale, mechanics."""


def sentences() -> list[str]:
    files = [p for s in SPOKEN for p in ([SOURCES / s] if s.endswith(".py") else (SOURCES / s).rglob("*.py"))]
    found = [m for p in files for m in re.findall(r'"([^"\n]* --[a-z][^"\n]*)"', p.read_text("utf-8"))]
    return sorted({s for s in found if "{" not in s})


def test_the_examples_hold() -> None:
    assert doctest.testmod(page_words).failed == 0


@pytest.mark.parametrize("sentence", sentences())
def test_no_option_is_left(sentence: str) -> None:
    assert "--" not in on_page(sentence)


def test_a_sentence_without_options_stays() -> None:
    assert on_page("Film from the side – level.") == "Film from the side – level."
