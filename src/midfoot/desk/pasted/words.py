"""What readers of fields share: hits, doubts, clauses, numbers as people write them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from attrs import frozen

NUMBER_WORDS = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10,
    "twelve": 12, "single": 1, "double": 2, "triple": 3, "a": 1, "an": 1,
}  # fmt: skip
NUMBER = r"\d+(?:[.,]\d+)?"
COUNT = r"(?:\d{1,2}|one|two|three|four|five|six|seven|eight|nine|ten|twelve)"
MASS_UNIT = r"(?:kgs?|kilos?|kilograms?|lbs?|pounds?|#)"
PLAIN = str.maketrans({"’": "'", "‘": "'", "“": '"', "”": '"', "″": '"', "′": "'", "×": "x", "–": "-", "—": "-",
                       "\u00a0": " ", "\t": " "})  # fmt: skip
"""One sign for one: places in the plain text are places in the original."""
CLAUSE_END = re.compile(
    r"(?<!\d)[.!?;](?=\s|$)|(?<=\d)[.!?;](?=\s|$)|\n|,(?=\s|$)|\s(?=but\b)|\s(?=though\b)", re.I
)
SENTENCE_END = re.compile(r"[.!?;](?=\s|$)|\n")


@frozen(kw_only=True)
class Said:
    """One thing that was understood.

    Attributes
    ----------
    field : str
        Of `records.Context`, or `name`, `view`, `file`.
    value : object
        In SI, as the record takes it.
    words : str
        What it was read from.
    sure : bool
        False where something was assumed; `note` says what.
    """

    field: str
    value: Any
    words: str
    sure: bool = True
    note: str = ""
    start: int = 0
    end: int = 0


@frozen
class Doubt:
    """Something that the coach has to decide: nothing was set for it."""

    field: str
    text: str
    options: tuple[str, ...] = ()


def plain(text: str) -> str:
    """Give the text with typographic signs made plain, of the same length."""
    return text.translate(PLAIN)


def clauses(text: str) -> Iterator[tuple[int, int]]:
    """Give where each clause starts and ends: parted by stops, commas, lines, "but"."""
    yield from _parts(text, CLAUSE_END)


def sentences(text: str) -> Iterator[tuple[int, int]]:
    """Give where each sentence starts and ends, its stop within it."""
    yield from _parts(text, SENTENCE_END)


def _parts(text: str, ends: re.Pattern[str]) -> Iterator[tuple[int, int]]:
    start = 0
    for found in (*ends.finditer(text), None):
        end = len(text) if found is None else found.end()
        if text[start:end].strip():
            yield start, end
        start = end


def number(text: str) -> float:
    """Read "142,5" or "142.5"."""
    return float(text.replace(",", "."))


def count(text: str) -> int:
    """Read "5" or "five"."""
    return NUMBER_WORDS.get(text.lower()) or int(text)


def is_lb(unit: str) -> bool:
    """Tell whether a unit is pounds."""
    return unit.lower()[:1] in ("l", "p", "#")


def trimmed(text: str, start: int, end: int) -> tuple[int, int]:
    """Take spaces, stops and joining words off both ends."""
    found = re.match(r"[\s,.;:!\-]*(?:(?:but|and|also|though|so)\b[\s,]*)?", text[start:end], re.I)
    start += found.end() if found else 0
    while end > start and text[end - 1] in " \n,.;:!-":
        end -= 1
    return start, end


FILLER = frozenset(re.findall(r"\S+", """
    a about all also am an and are as at back be been being bit but by can clip coach could do does feel
    feels felt for from get go got guys had hard has have he hello here hey hi his her how i if i'm im in
    is it it's its just kg lb like lot me mine my nice of ok on one or our out please pls quite rep reps
    really set sets she so some still thanks thank that the then there they this to today too top up us
    very video vid was we weight well were what when which while who will with would yes you your thx
    cheers regards best hope attached sent sending below above was's last first second x @ : pretty
    little - lift load comp competition compete competing meet age height bodyweight bw question pain
    injury name lifter rpe rir view focus notes note there's i've kgs lbs don't
"""))  # fmt: skip
"""Words that say nothing by themselves: a stretch of nothing else is not left over."""
