"""Reps that a person says were missed, and what he says is none: put in and taken out of those that were found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import evolve

from midfoot.records.clip import ClipInfo
from midfoot.records.reps import Moment, Rep
from midfoot.reps.given import GivenError, GivenReps
from midfoot.reps.heights import Heights
from midfoot.reps.moments import BAND_MM, quits_extreme, reaches_extreme

SAME = 0.5
"""Sharing this much of the shorter of the two, a rep that was found and one said to be missing are one."""


def put_right(
    found: Sequence[Rep], given: GivenReps, parts: Sequence[Heights], lift: str, info: ClipInfo
) -> list[Rep]:
    """Take out what is no rep, put in what was missed, and number what is left anew.

    A missed rep starts and ends where the person said. When it is at its low (deadlift: its top) is found in the
    heights by the rule of bands, and not known where the bar was not seen. Said of what is found by now, as after
    another repair, it changes nothing.

    Raises
    ------
    GivenError
        When a missing rep lies outside the clip.
    """
    out = [r for r in found if not any(_holds(r, t) for t in given.false_at)]
    for from_s, to_s in given.missing:
        if not 0 <= from_s < to_s <= info.duration_s + info.frame_interval_median_s:
            raise GivenError(
                f"A rep from {from_s:.2f} to {to_s:.2f} s does not lie in the clip "
                f"(0 to {info.duration_s:.2f} seconds)."
            )
        if not any(_shared(r, from_s, to_s) >= SAME for r in out):
            out.append(_added(from_s, to_s, parts, lift, info))
    out.sort(key=lambda r: _span(r)[0])
    return [evolve(r, n=n) for n, r in enumerate(out, start=1)]


def _span(rep: Rep) -> tuple[float, float]:
    all_of = (rep.start, rep.low_start, rep.low_end, rep.top_start, rep.top_end, rep.end)
    times = [m.t_s for m in all_of if m is not None]
    return (min(times), max(times)) if times else (np.inf, -np.inf)


def _holds(rep: Rep, t_s: float) -> bool:
    from_s, to_s = _span(rep)
    return from_s <= t_s <= to_s


def _shared(rep: Rep, from_s: float, to_s: float) -> float:
    """Give which share of the shorter of the two lies in both."""
    a, b = _span(rep)
    shorter = min(b - a, to_s - from_s)
    return (min(b, to_s) - max(a, from_s)) / shorter if shorter > 0 else 0.0


def _added(from_s: float, to_s: float, parts: Sequence[Heights], lift: str, info: ClipInfo) -> Rep:
    sd = info.frame_interval_median_s / 12**0.5
    first = last = None
    h = max(parts, key=lambda p: min(p.t_s[-1], to_s) - max(p.t_s[0], from_s), default=None)
    if h is not None and h.t_s[0] < to_s and h.t_s[-1] > from_s:
        first, last = _extreme(h, h.index(from_s), h.index(to_s), "top" if lift == "deadlift" else "lowest point")
    rep = Rep(1, "completed", True, True, Moment(from_s, sd, "given"), Moment(to_s, sd, "given"), why="given")
    if lift == "deadlift":
        return evolve(rep, top_start=first, top_end=last)
    return evolve(rep, low_start=first, low_end=last)


def _extreme(h: Heights, a: int, b: int, what: str) -> tuple[Moment | None, Moment | None]:
    """Give when the extreme within a stretch is reached and left; None where nothing goes there and back."""
    at = a + int(np.argmin(h.x_mm[a : b + 1]))
    away = min(float(h.x_mm[a] - h.x_mm[at]), float(h.x_mm[b] - h.x_mm[at]))
    if away < 2 * BAND_MM or h.gap_length_s(at) > 0:
        return None, None
    return reaches_extreme(h, a, at, what), quits_extreme(h, at, b, what)
