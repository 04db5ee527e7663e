"""How findings write numbers, reps and lists."""

from __future__ import annotations

import math
from collections.abc import Sequence

UNIT_WORDS = {"mm": " mm", "s": " s", "m_s": " m/s", "deg": " degrees", "pct": " %", "ratio": "", "count": ""}


def number(value: float, sd: float) -> str:
    """Write a value with the digits that its sd allows; never finer than a tenth of what it is worth."""
    if not sd > 0:
        return f"{value:.0f}" if abs(value) >= 10 or value == round(value) else f"{value:.2f}"
    digits = max(0, min(3, -math.floor(math.log10(sd * 1.05))))
    if abs(value) >= 10:
        digits = min(digits, 0)
    return f"{value:.{digits}f}"


def amount(value: float, sd: float, unit: str) -> str:
    """Write a value with its unit."""
    return number(value, sd) + UNIT_WORDS.get(unit, f" {unit}")


def deviation(sd: float, value: float) -> str:
    """Write an sd to the place of its value, never as nothing."""
    if not sd > 0:
        return "0"
    digits = max(0, min(3, -math.floor(math.log10(sd * 1.05))))
    if abs(value) >= 10:
        digits = min(digits, 0)
    return f"{max(sd, 10.0**-digits):.{digits}f}"


def listed(words: Sequence[str]) -> str:
    """Join words: a, b and c."""
    if len(words) <= 1:
        return "".join(words)
    return ", ".join(words[:-1]) + " and " + words[-1]


def reps_words(numbers: Sequence[int]) -> str:
    """Name reps: rep 3; reps 2 and 3."""
    return ("rep " if len(numbers) == 1 else "reps ") + listed([str(n) for n in numbers])


def sentence(text: str) -> str:
    """Begin with a capital and end with a full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")
