"""Own words grouped to observations, held against what a reader takes them for (common practice, no source)."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path

import pytest

from midfoot.desk.answering import choices
from midfoot.desk.grouping import grouped
from midfoot.records.base import LIFTS

BATCHES = tomllib.loads(Path(__file__).with_name("comments.toml").read_text("utf-8"))
LEAST_RIGHT = 28
"""Of thirty. None may be grouped wrong: what stays loose is read by the coach, what is wrong is counted."""


@pytest.mark.parametrize("batch", sorted(BATCHES))
def test_thirty_comments(batch: str) -> None:
    right, wrong = 0, []
    for lift, rows in BATCHES[batch].items():
        for words, meant in rows:
            got = grouped(words, choices(lift))
            right += got in meant.split("|")
            if got and got not in meant.split("|"):
                wrong.append((words, got, meant))
    assert wrong == []
    assert right >= LEAST_RIGHT


@pytest.mark.parametrize(
    ("words", "denied"),
    [
        ("her knees cave", "her knees do not cave"), ("heels come up", "the heels never come up"),
        ("no depth", "great depth"), ("hips shoot up first", "no hips shooting up first"),
    ],
)  # fmt: skip
def test_what_is_denied_or_praised_is_no_complaint(words: str, denied: str) -> None:
    assert grouped(words, choices("squat"))
    assert grouped(denied, choices("squat")) == ""


@pytest.mark.parametrize("lift", LIFTS)
def test_every_observation_is_known_by_its_own_title(lift: str) -> None:
    """A visitor who types what stands in the list means it, or at least nothing else."""
    for what, title in choices(lift):
        assert grouped(title, choices(lift)) in (what, ""), title


def test_words_of_a_phrase_are_not_lost_with_the_small_ones() -> None:
    document = tomllib.loads(resources.files("midfoot.desk").joinpath("said_as.toml").read_text("utf-8"))
    small = set(document["small"].split())
    known = {what for lift in LIFTS for what, _ in choices(lift)}
    rows = {name: row for name, row in document.items() if isinstance(row, dict) and name != "same"}
    assert set(rows) == known
    for name, row in rows.items():
        for words in row.values():
            assert not small & set(words.replace(";", " ").split()), name
