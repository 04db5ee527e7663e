"""Numbers, times and ids in the words that a coach reads; the filters of the templates."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

from midfoot.desk.glance import HIDDEN
from midfoot.units import KG_PER_LB

LIFT_NAMES = {"squat": "Squat", "bench": "Bench press", "deadlift": "Deadlift"}


def as_time(when: datetime | str) -> datetime:
    """Give a stored time as an aware one in UTC."""
    found = datetime.fromisoformat(when.replace("Z", "+00:00")) if isinstance(when, str) else when
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def load(kg: float | None, unit: str = "kg") -> str:
    """Give a load in the unit of the desk, "" when none was said."""
    if kg is None:
        return ""
    return f"{kg / KG_PER_LB if unit == 'lb' else kg:.1f}".removesuffix(".0") + f" {unit}"


def lift_name(lift: str | None) -> str:
    """Give a lift's name at the head of a line."""
    return LIFT_NAMES.get(lift or "", "Lift not said")


def ago(when: datetime | str, now: datetime | None = None) -> str:
    """Say how long ago something was, in the largest unit that tells it."""
    seconds = ((now or datetime.now(UTC)) - as_time(when)).total_seconds()
    if seconds < 60:
        return "just now"
    for size, name in ((86400 * 7, "week"), (86400, "day"), (3600, "hour"), (60, "minute")):
        if seconds >= size * (2 if name == "week" else 1):
            count = int(seconds // size)
            return f"{count} {name}{'s' if count > 1 else ''} ago"
    return "just now"


def day(when: datetime | date | str) -> str:
    """Give a day: 24 May 2031."""
    found = as_time(when) if isinstance(when, (str, datetime)) else when
    return f"{found.day} {found:%B %Y}"


def clock(seconds: float | None) -> str:
    """Give a length of time: 0:42."""
    if seconds is None:
        return ""
    return f"{int(seconds // 60)}:{int(seconds % 60):02d}"


def size(count: int | None) -> str:
    """Give a number of bytes: 12 MB."""
    if count is None:
        return ""
    for unit, name in ((1e9, "GB"), (1e6, "MB"), (1e3, "kB")):
        if count >= unit:
            return f"{count / unit:.3g} {name}"
    return f"{count} bytes"


def rounded(value: float, sd: float | None) -> str:
    """Give a number with no more digits than its sd allows: one of the sd's digits, at most three decimals."""
    if not sd or not math.isfinite(sd):
        return f"{value:.3g}"
    places = min(3, max(0, -math.floor(math.log10(sd)) + (1 if sd < 1 else 0)))
    return f"{value:.{places}f}"


def counted(count: int, one: str, many: str | None = None) -> str:
    """Give a count with its noun: 1 clip, 3 clips."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def erased_there(result: dict[str, Any]) -> str:
    """Say what went at the public instance, of `erase_there.result_of`."""
    gone = result.get("gone") or {}
    words = [counted(gone[k], k[:-1]) for k in ("links", "sets", "clips", "pages", "answers") if gone.get(k)]
    said = ", ".join(words) or ("the name" if gone.get("lifters") else "nothing of it was there any more")
    return f"{said}. {result['says']}" if result.get("says") else said


def not_judged(ways: list[dict[str, Any]]) -> str:
    """Say what a clip cannot show and how to film for it; "" where nothing is left out.

    `ways` are as `glance.judged` gives them, the most frequent first; that one is said.
    """
    if not ways:
        return ""
    what, how = ways[0]["what"], ways[0]["how"]
    if not how.startswith(HIDDEN):
        return f"; for {counted(len(what), 'more', 'more')} {how}"
    more = f" and {len(what) - 1} more" if len(what) > 1 else ""
    return f"; not “{what[0]}”{more}: {how.removeprefix(HIDDEN)}"


FILTERS: dict[str, Callable[..., Any]] = {
    "load": load, "lift_name": lift_name, "ago": ago, "day": day, "clock": clock, "size": size, "counted": counted,
    "rounded": rounded, "erased_there": erased_there, "not_judged": not_judged,
}  # fmt: skip
