"""What the terminal shows of a review: what waits for the coach, then the sections in short."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from midfoot.records.review import SECTIONS

if TYPE_CHECKING:
    from midfoot.reviewing import Reviewed

HEADINGS = {
    "since": "since the last review", "asked": "you asked", "good": "what is good", "change": "what to change",
    "seen": "seen besides", "next": "next session",
    "film": "to film next", "caution": "cautions",
}  # fmt: skip


def summary(done: Reviewed) -> Iterator[str]:
    """Give lines: every part that leaves the house by section, then what the coach has still to do."""
    review = done.review
    for section in SECTIONS:
        parts = review.of(section)
        if parts:
            yield HEADINGS[section]
        for part in parts:
            figure = f" [{part.figure.words}]" if part.figure is not None else ""
            yield f"  {'(write this) ' if part.needs_words else ''}{part.text}{figure}"
            if part.try_text:
                yield f"    try: {part.try_text}"
    yield ""
    yield f"script: {done.script.words} words, about {done.script.seconds:.0f} s"
    yield from (f"! {complaint}" for complaint in done.script.complaints)
    yield from (f"? {ask.question}" for ask in review.asks)
    yield from (f"held back: {words}" for words in review.draft.held_back)
    if review.unseen:
        yield f"{len(review.unseen)} of {len(review.parts)} parts not looked at yet: nothing goes out unread."
