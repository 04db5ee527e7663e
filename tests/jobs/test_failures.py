"""What the desk says when a job could not be done: in its own words, one sentence, with what would help."""

from __future__ import annotations

import errno

import pytest

from midfoot.footage import FootageError
from midfoot.jobs.failures import FULL, MEMORY, sentence
from midfoot.records.base import RecordError
from midfoot.store import StoreError


@pytest.mark.parametrize(
    ("error", "said", "again"),
    [
        (FootageError("a.mp4 lasts 25 minutes; name the set with --from and --to."),
         "a.mp4 lasts 25 minutes; name the set with “Part to measure”.", False),
        (StoreError("/desk: this folder cannot be written to; give another one with --out."),
         "/desk: this folder cannot be written to; see to the workspace's disk.", False),
        (StoreError("/desk: the disk is full; free some room."), FULL, False),
        (OSError(errno.ENOSPC, "No space left on device"), FULL, False),
        (MemoryError(), MEMORY, True),
    ],
)  # fmt: skip
def test_sentences(error: Exception, said: str, again: bool) -> None:
    assert sentence(error) == (said, again)


@pytest.mark.parametrize("error", [KeyError("x"), RecordError("n: expected 1,\n got 2"), OSError("odd")])
def test_what_nobody_thought_of_is_tried_again_and_said_in_one_line(error: Exception) -> None:
    said, again = sentence(error)
    assert again
    assert "\n" not in said
    assert said.startswith("Something in midfoot went wrong")
