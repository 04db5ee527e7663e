"""Several clips of one set: joined by rep, so that what the first view cannot give comes from the second.

The first clip stays the measured view: its reps, moments, path and pictures. A measure that it does not show is
taken from the other clip where that one does, and says so. Clocks of two phones differ: reps are matched by the
pattern of their starts and how long they last, never by the time itself; a pattern that fits twice fits nowhere.
"""

from __future__ import annotations

import math

from attrs import evolve

from midfoot import measures
from midfoot.records.base import Warned
from midfoot.records.measures import Measure, Measurement
from midfoot.records.reps import Rep

SAME_START_S = 0.6
"""Starts of the same rep in two clips, once the clocks are set alike, lie within this (common practice)."""
CLEARLY_S = 0.2
"""A match is clear when every other one as long lies off by this much more a rep."""
LENGTH_SHARE = 0.35
"""The same rep lasts as long in both, give or take this share of it."""


class ViewsError(ValueError):
    """Two clips that do not show the same set. The text says why and what would do."""


def join(first: Measurement, second: Measurement, name: str = "the second clip") -> Measurement:
    """Join a second view of the same set to the first.

    Parameters
    ----------
    first : the measured view.
    second : another clip of the same set.
    name : what the second clip is called in the basis of what comes from it.

    Returns
    -------
    Measurement
        The first with the measures that only the second shows; best rep and drift counted anew. Findings and rule
        checks are not: they are for the caller to make again.

    Raises
    ------
    ViewsError
        When the lifts differ or the reps do not fall together.
    """
    lift = first.data.asked.lift
    if second.data.asked.lift != lift:
        raise ViewsError(f"The clips show a {lift} and a {second.data.asked.lift}; give two clips of one set.")
    pairs = matched(first.data.reps.reps, second.data.reps.reps)
    if not pairs:
        raise ViewsError(
            "The reps of the two clips do not fall together, or do so in more than one way; give two clips of one "
            "set that both show all of it."
        )
    rows, taken = [], set()
    for k, row in enumerate(first.measured.reps):
        j = pairs.get(k)
        found = {m.id: m for m in second.measured.reps[j]} if j is not None else {}
        joined = tuple(_better(m, found.get(m.id), name) for m in row)
        taken |= {m.id for m, old in zip(joined, row, strict=True) if m is not old}
        rows.append(joined)
    whole = {m.id: m for m in second.measured.whole}
    of_set = tuple(_better(m, whole.get(m.id), name) for m in first.measured.whole)
    best, drift = measures.over_set(lift, tuple(rows), first.data.reps.reps)
    warnings = first.warnings
    if len(pairs) < len(first.data.reps.reps):
        left = ", ".join(str(r.n) for k, r in enumerate(first.data.reps.reps) if k not in pairs)
        said = f"Of the first clip's reps these are not in {name}: {left}."
        warnings = (*warnings, Warned("views_do_not_match", said, "Film the whole set with both phones."))
    measured = evolve(first.measured, reps=tuple(rows), whole=of_set, best_rep=best, drift=drift)
    return evolve(first, measured=measured, warnings=warnings)


def _better(own: Measure, other: Measure | None, name: str) -> Measure:
    """Take the other clip's measure where this one has none."""
    if own.status != "not_seen" or other is None or other.value is None:
        return own
    return evolve(other, basis=f"{name}: {other.basis}".rstrip(": "))


def matched(first: tuple[Rep, ...], second: tuple[Rep, ...]) -> dict[int, int]:
    """Match reps by the pattern of their starts and how long they last.

    Returns
    -------
    dict
        Position in `first` to position in `second`. Empty where fewer than two thirds of the shorter list fall
        together, where they do so in more than one way, and where one rep stands against several.
    """
    a, b = _spans(first), _spans(second)
    fewest = min(len(a), len(b))
    if not fewest or (fewest == 1 and len(a) != len(b)):
        return {}
    ways: dict[tuple[tuple[int, int], ...], float] = {}
    for start, _ in a.values():
        for other, _ in b.values():
            pairs, off = _at(a, b, other - start)
            key = tuple(sorted(pairs.items()))
            ways[key] = min(off, ways.get(key, math.inf))
    most = max(len(key) for key in ways)
    longest = sorted((off / max(1, most), key) for key, off in ways.items() if len(key) == most)
    if most * 3 < fewest * 2 or (len(longest) > 1 and longest[1][0] < longest[0][0] + CLEARLY_S):
        return {}
    return dict(longest[0][1])


def _at(
    a: dict[int, tuple[float, float]], b: dict[int, tuple[float, float]], offset_s: float
) -> tuple[dict[int, int], float]:
    """Pair reps under one difference of the clocks, each once, and say how far off they lie together."""
    pairs: dict[int, int] = {}
    off = 0.0
    for i, (start, length) in a.items():
        near = [
            (abs(other - offset_s - start), abs(long - length), j)
            for j, (other, long) in b.items()
            if j not in pairs.values() and abs(long - length) <= LENGTH_SHARE * max(length, long)
        ]
        if near and min(near)[0] <= SAME_START_S:
            away, longer, j = min(near)
            pairs[i] = j
            off += away + longer
    return pairs, off


def _spans(reps: tuple[Rep, ...]) -> dict[int, tuple[float, float]]:
    """Give start and length of the part that all views show alike: the way up."""
    found = {}
    for k, rep in enumerate(reps):
        rise = rep.ascent_s
        if rise is not None:
            found[k] = (rise[0], rise[1] - rise[0])
    return found
