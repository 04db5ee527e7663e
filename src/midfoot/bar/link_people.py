"""One person, one track: whom the pose network lost and found again is put together.

A plate that passes before a lifter loses him for a moment at every rep; each part by itself goes with little of
the bar's way. Rule for the next author: doubles (one person twice at the same time) are left alone, the better one
wins.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from midfoot.records.base import FloatArray
from midfoot.records.body import INDEX, People, PersonTrack

BODY_PER_SIDE = 1 / 2.5
"""Half a body's length over the side of a person's region: the unit of length here."""
TRUNK = tuple(INDEX[f"{side}_{n}"] for side in ("left", "right") for n in ("shoulder", "hip"))
LEAST_ROWS, ENDS = 8, 5
"""Shorter parts stay by themselves; so many rows at the end of a part say where he was."""
OVERLAP_S, PAUSE_S = 0.7, 3.0
"""How long one part may last into the next, and the longest pause between them."""
PLACE, SIZES = 0.5, (0.6, 1.7)
"""How far the trunk may have gone over the pause, in bodies, and the ratio of the sizes."""


def made_whole(people: People | None) -> People | None:
    """Give the same people with the parts of one person joined; he keeps the id of his longest part."""
    if people is None:
        return None
    out: list[list[PersonTrack]] = []
    for track in sorted(people.tracks, key=lambda t: float(t.t_s[0]) if len(t.t_s) else 0.0):
        fits = [(away, parts) for parts in out if (away := _away(parts[-1], track)) < PLACE]
        if fits:
            min(fits, key=lambda f: f[0])[1].append(track)
        else:
            out.append([track])
    return People(people.looked_t_s, tuple(_joined(parts) for parts in out))


def _away(a: PersonTrack, b: PersonTrack) -> float:
    """How far `b` begins from where `a` ended, in bodies; infinite where it cannot be the same person later on."""
    if min(len(a.t_s), len(b.t_s)) < LEAST_ROWS or a.t_s[-1] >= b.t_s[-1]:
        return np.inf
    pause = float(b.t_s[0] - a.t_s[-1])
    sides = float(np.median(a.region[-ENDS:, 2])), float(np.median(b.region[:ENDS, 2]))
    if not (-OVERLAP_S < pause < PAUSE_S and SIZES[0] < sides[1] / sides[0] < SIZES[1]):
        return np.inf
    # over an overlap both are compared at the same moments: he may be on his way
    left = _trunk(a, a.t_s >= min(float(b.t_s[0]), float(a.t_s[-ENDS])) - 1e-6)
    came = _trunk(b, b.t_s <= max(float(a.t_s[-1]), float(b.t_s[ENDS - 1])) + 1e-6)
    return float(np.hypot(*(came - left))) / (BODY_PER_SIDE * min(sides))


def _trunk(track: PersonTrack, rows: np.ndarray) -> FloatArray:
    return np.asarray(np.median(track.xy_px[rows][:, TRUNK].mean(axis=1), axis=0))


def _joined(parts: list[PersonTrack]) -> PersonTrack:
    """Lay parts one after the other; where two overlap, each has its half."""
    if len(parts) == 1:
        return parts[0]
    seams = [0.5 * float(a.t_s[-1] + b.t_s[0]) for a, b in pairwise(parts)]
    rows = [
        (part.t_s >= start) & (part.t_s < end)
        for part, start, end in zip(parts, [-np.inf, *seams], [*seams, np.inf], strict=True)
    ]

    def laid(name: str) -> FloatArray:
        return np.concatenate([getattr(part, name)[use] for part, use in zip(parts, rows, strict=True)])

    looked = all(len(part.carried_px) == len(part.t_s) for part in parts)
    return PersonTrack(
        max(parts, key=lambda p: len(p.t_s)).id, laid("t_s"), laid("xy_px"), laid("peak"), laid("presence"),
        laid("region"), laid("carried_px") if looked else np.zeros((0, 3)),
    )  # fmt: skip
