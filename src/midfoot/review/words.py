"""Numbers as they are read by a lifter and spoken by a coach: rounded ranges, and what one can point at."""

from __future__ import annotations

import math

from midfoot.records.findings import Size
from midfoot.records.review import Figure
from midfoot.units import on_the_bar

FINGER_MM, HAND_MM = 19.0, 76.0
"""Breadth of a finger and of a palm: the old digit (3/4 inch) and palm (3 inches)."""
NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty",
)  # fmt: skip
STEPS = {"mm": 5.0, "deg": 5.0, "s": 0.1, "m_s": 0.05, "pct": 5.0, "ratio": 0.1, "count": 1.0}
"""To what a lifter's figure is rounded, by unit."""
FORESEEN = {
    ("trunk_angle_low_deg", "less"): "the trunk should lean {size} less at the low",
    ("trunk_angle_low_deg", "more"): "the trunk should lean {size} more at the low",
    ("trunk_angle_start_deg", "less"): "the trunk should lean {size} less at the start",
    ("trunk_angle_start_deg", "more"): "the trunk should lean {size} more at the start",
    ("touch_point_mm", "less"): "the bar should touch {size} nearer the shoulders",
    ("touch_point_mm", "more"): "the bar should touch {size} farther from the shoulders",
    ("range_of_motion_mm", "less"): "the bar should travel {size} less",
    ("range_of_motion_mm", "more"): "the bar should travel {size} more",
}  # fmt: skip
"""What a change of set-up does, by measure and direction."""
UNIT = {"deg": "degrees", "s": "seconds", "m_s": "m/s", "pct": "%", "ratio": "", "count": ""}


def figure(measure: str, size: Size, rep: int | None) -> Figure:
    """Give a figure in all its readings."""
    return Figure(measure=measure, size=size, rep=rep, words=rounded(size), aloud=pointed(size))


def foreseen(measure: str, direction: str, size: Size) -> str:
    """Say in half a sentence what a change of set-up should do to a measure; "" without words for it."""
    words = FORESEEN.get((measure, direction), "")
    return words.format(size=rounded(size, step=1.0 if size.unit == "deg" else None)) if words else ""


def rounded(size: Size, *, step: float | None = None) -> str:
    """Write the range of one sd to either side, rounded outward to a step one can use: "1.5 to 2.5 cm".

    The size without its sign: which way is said in words beside it. Without a `step` the unit's own is taken.
    """
    value, sd = abs(size.value), size.sd
    step = step or STEPS.get(size.unit, 1.0)
    low = max(0.0, math.floor((value - sd) / step + 1e-9) * step)
    high = math.ceil((value + sd) / step - 1e-9) * step
    if size.unit == "mm":
        return _range(low / 10, high / 10, "cm", 0.5)
    return _range(low, high, UNIT.get(size.unit, size.unit), step)


def at_most(size: Size) -> str:
    """Write the upper end of the range: "up to 5 cm"; for several reps, of which one has this size."""
    step = STEPS.get(size.unit, 1.0)
    high = math.ceil((abs(size.value) + size.sd) / step - 1e-9) * step
    return (
        _range(0.0, high / 10, "cm", 0.5)
        if size.unit == "mm"
        else _range(0.0, high, UNIT.get(size.unit, size.unit), step)
    )


def _range(low: float, high: float, unit: str, step: float) -> str:
    digits = 0 if step >= 1 else 1 if step >= 0.1 else 2

    def text(value: float) -> str:
        return f"{value:.{digits}f}".rstrip("0").rstrip(".") if digits else f"{value:.0f}"

    tail = f" {unit}" if unit else ""
    if high <= 0:
        return f"under {text(step)}{tail}"
    if low <= 0:
        return f"up to {text(high)}{tail}"
    if text(low) == text(high):
        return f"about {text(low)}{tail}"
    return f"{text(low)} to {text(high)}{tail}"


def pointed(size: Size) -> str:
    """Say a size as one would show it with the hand: no figure finer than that."""
    value = abs(size.value)
    match size.unit:
        case "mm":
            return _by_hand(value)
        case "deg":
            return "a little" if value < 8 else "clearly" if value < 20 else "a good deal"
        case "s":
            return _by_clock(value)
        case "pct":
            return _by_share(value)
        case "m_s":
            return "a little" if value < 0.05 else "clearly"
        case _:
            return "clearly"


def _by_hand(mm: float) -> str:
    fingers = round(mm / FINGER_MM)
    if mm < 0.6 * FINGER_MM:
        return "less than a finger"
    if fingers <= 1:
        return "about a finger's width"
    if fingers <= 3:
        return f"about {NUMBERS[fingers]} fingers' width"
    hands = mm / HAND_MM
    if hands < 1.3:
        return "about a hand's width"
    if hands < 1.75:
        return "a hand's width and a half"
    return f"about {number(round(hands))} hands' width"


def _by_clock(seconds: float) -> str:
    for most, words in ((0.15, "a blink"), (0.32, "a quarter of a second"),
                        (0.42, "a third of a second"), (0.75, "half a second"),
                        (1.25, "a second"), (1.75, "a second and a half")):  # fmt: skip
        if seconds < most:
            return words
    return f"about {number(round(seconds))} seconds"


def _by_share(pct: float) -> str:
    for most, words in ((7.5, "a little"), (15, "about a tenth"), (22.5, "about a fifth"), (29, "about a quarter"),
                        (42, "about a third"), (60, "about half"), (90, "most of it")):  # fmt: skip
        if pct < most:
            return words
    return "as much again"


def number(count: int) -> str:
    """Write a whole number as a word up to twenty."""
    return NUMBERS[count] if 0 <= count < len(NUMBERS) else str(count)


def reps_words(reps: tuple[int, ...], *, aloud: bool = False) -> str:
    """Name reps: "rep 3", "reps 2 and 4", "reps 3 to 5"; spoken "repetition three"."""
    if not reps:
        return "the set"
    word, say = ("repetition", number) if aloud else ("rep", str)
    if len(reps) == 1:
        return f"{word} {say(reps[0])}"
    run = list(range(reps[0], reps[-1] + 1)) == list(reps)
    if len(reps) > 2 and run:
        return f"{word}s {say(reps[0])} to {say(reps[-1])}"
    return f"{word}s {listed([say(r) for r in reps])}"


def listed(items: list[str]) -> str:
    """Join by commas and an "and"."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def bar_load(kg: float, unit: str = "kg", *, down: bool = True) -> str:
    """Write a load that can be put on a bar: whole steps of 2.5 kg or 5 lb."""
    return f"{on_the_bar(kg, unit, down=down):g} {unit}"


def about_load(low_kg: float, high_kg: float, unit: str = "kg") -> str:
    """Write a range of loads, rounded outward to steps that can be put on a bar: "5 to 10 kg"."""
    least, most = on_the_bar(low_kg, unit), on_the_bar(high_kg, unit, down=False)
    return f"{least:g} to {most:g} {unit}" if least > 0 else f"up to {most:g} {unit}"
