"""Runs of boxes joined over gaps into paths, the clip as a whole.

A joined path must be worth more than its parts, so that things that stand still explain their own boxes and
cannot lend them to what passes in front of them. Lengths in radii. Rule for the next author: no opinion here on
what is a bar.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from attrs import define, field, frozen

from midfoot.bar.tracklets import Seen, runs
from midfoot.records.base import FloatArray

OVERLAP_S = 0.8
"""The end of a run may have gone astray for this long before it was found again."""
JOIN_START, JOIN_SPEED = 0.5, 2.2
"""Reach of a join over a gap: radii at once, and radii per s^(1/2)... grown with the root of the gap."""
JOIN_GAP_S = 4.0
JOIN_FEE, JOIN_FEE_S = 0.6, 0.35
"""What a join costs in box scores, and per second of its gap."""
FASTEST_RADII_S = 7.0
IN_GAPS = 0.75
"""Share of a path's rows that must fall where another has none for both to be the same thing."""
WORTH_OFFSET = 0.02


@frozen
class Path:
    """One thing followed: rows of `Seen`, ascending in time."""

    rows: np.ndarray = field(eq=False)
    worth: float


@define
class _Piece:
    """A run summed up for joining: its ends, how it left and arrived, its size and its worth."""

    rows: np.ndarray
    start_s: float
    end_s: float
    first: FloatArray
    last: FloatArray
    arrive: FloatArray
    leave: FloatArray
    log_radius: float
    aspect: float
    worth: float


def _pieces(seen: Seen, found: list[np.ndarray]) -> list[_Piece]:
    return sorted((_piece(seen, rows) for rows in found), key=lambda piece: piece.start_s)


def _piece(seen: Seen, rows: np.ndarray) -> _Piece:
    t, p = seen.t_s[rows], seen.steady_px[rows]
    worth = float((seen.score[rows] - WORTH_OFFSET).sum())
    head, tail = t <= t[0] + 0.35, t >= t[-1] - 0.35
    return _Piece(
        rows, float(t[0]), float(t[-1]), p[head][:3].mean(axis=0), p[tail][-3:].mean(axis=0),
        _slope(t[head], p[head]), _slope(t[tail], p[tail]),
        float(np.median(np.log(seen.steady_radius_px[rows]))), float(np.median(seen.aspect[rows])), worth,
    )  # fmt: skip


def _slope(t: FloatArray, p: FloatArray) -> FloatArray:
    if len(t) < 3:
        return np.zeros(2)
    t = t - t.mean()
    out: FloatArray = (t[:, None] * (p - p.mean(axis=0))).sum(axis=0) / max(float((t * t).sum()), 1e-9)
    return out


def _cost_after(seen: Seen, a: _Piece, b: _Piece) -> float:
    """Cost of `b` after `a`, also when `a`'s last rows must be given up for it."""
    if a.end_s < b.start_s:
        return _join_cost(a, b)
    rows = a.rows[seen.t_s[a.rows] < b.start_s]
    if len(rows) < 2:
        return math.inf
    short = _piece(seen, rows)
    return _join_cost(short, b) + a.worth - short.worth


def _join_cost(a: _Piece, b: _Piece) -> float:
    """Cost of `b` being the same thing as `a` later on, in box scores; infinite when it cannot be."""
    gap = b.start_s - a.end_s
    if not 0 < gap <= JOIN_GAP_S:
        return math.inf
    radius = math.exp(min(a.log_radius, b.log_radius))
    # it went on, it had just come from there, or it stood: the best of the three, in radii
    coast = min(gap, 0.3)
    offsets = (
        b.first - a.last,
        b.first - (a.last + a.leave * coast),
        (b.first - b.arrive * coast) - a.last,
        (b.first - 0.5 * b.arrive * coast) - (a.last + 0.5 * a.leave * coast),
    )
    away = min(float(np.hypot(*o)) for o in offsets) / radius
    reach = JOIN_START + JOIN_SPEED * math.sqrt(gap)
    size = abs(a.log_radius - b.log_radius)
    if away > 2.0 * reach or size > 0.9:
        return math.inf
    shape = max(0.0, abs(a.aspect - b.aspect) - 0.2) + 2.0 * max(0.0, size - 0.2)
    return JOIN_FEE * min(1.0, gap / 0.5) + JOIN_FEE_S * gap + 1.5 * (away / reach) ** 2 + shape


def paths(seen: Seen, *, most: int = 24, least_worth: float = 1.2) -> list[Path]:
    """Join runs into paths, the most worthy first; no run is used twice.

    Parameters
    ----------
    seen : what was proposed.
    most : how many paths at most.
    least_worth : sum of box scores under which a path is not given.
    """
    pieces = _pieces(seen, [r for r in runs(seen) if len(r) >= 2])
    joins: list[list[tuple[int, float]]] = [[] for _ in pieces]
    ends = np.array([piece.end_s for piece in pieces])
    for j, later in enumerate(pieces):
        near = (ends < min(later.start_s + OVERLAP_S, later.end_s)) & (ends >= later.start_s - JOIN_GAP_S)
        for i in map(int, np.flatnonzero(near[:j])):
            cost = _cost_after(seen, pieces[i], later)
            if cost < min(pieces[i].worth, later.worth) + 1.0:
                joins[j].append((i, cost))
    used = np.zeros(len(pieces), bool)
    out: list[Path] = []
    while len(out) < most:
        best = np.full(len(pieces), -math.inf)
        before = np.full(len(pieces), -1)
        for j, piece in enumerate(pieces):
            if used[j]:
                continue
            best[j] = piece.worth
            for i, cost in joins[j]:
                if not used[i] and best[i] - cost > 0 and best[i] - cost + piece.worth > best[j]:
                    best[j], before[j] = best[i] - cost + piece.worth, i
        if not len(pieces) or best.max() < least_worth:
            break
        chain = [int(np.argmax(best))]
        worth = float(best.max())
        while before[chain[-1]] >= 0:
            chain.append(int(before[chain[-1]]))
        used[chain] = True
        out.append(Path(_rows(seen, [pieces[i] for i in chain[::-1]]), worth))
    return _filled(seen, out)


def _filled(seen: Seen, found: list[Path]) -> list[Path]:
    """Put paths that lie in the gaps of a better one, where it must have been, into it."""
    left = list(found)
    out: list[Path] = []
    while left:
        best = left.pop(0)
        rest: list[Path] = []
        for other in left:
            rows = _in_gaps(seen, best.rows, other.rows)
            if rows is None:
                rest.append(other)
            else:
                order = np.concatenate([best.rows, rows])
                best = Path(order[np.argsort(seen.t_s[order], kind="stable")], best.worth + other.worth)
        left = rest
        out.append(best)
    return out


def _in_gaps(seen: Seen, rows: np.ndarray, other: np.ndarray) -> np.ndarray | None:
    """Give those of `other` that `rows` lack and may lie between, when that is nearly all; None otherwise."""
    new = other[~np.isin(seen.look[other], seen.look[rows])]
    sizes = [float(np.median(seen.steady_radius_px[r])) for r in (rows, other)]
    if len(new) < IN_GAPS * len(other) or max(sizes) > 1.6 * min(sizes):
        return None
    t_s, t = seen.t_s[rows], seen.t_s[new]
    after = np.searchsorted(t_s, t)
    fits = (after > 0) & (after < len(t_s))
    for neighbour in (np.clip(after - 1, 0, None), np.clip(after, None, len(t_s) - 1)):
        step = np.abs(t_s[neighbour] - t)
        away = np.hypot(*(seen.steady_px[new] - seen.steady_px[rows[neighbour]]).T) / min(sizes)
        fits &= away < JOIN_START + FASTEST_RADII_S * step
    return new[fits] if fits.sum() >= IN_GAPS * len(other) else None


def _rows(seen: Seen, chain: list[_Piece]) -> np.ndarray:
    """Give the rows of a chain; where two pieces overlap the later one's."""
    kept = [a.rows[seen.t_s[a.rows] < b.start_s] for a, b in pairwise(chain)]
    return np.concatenate([*kept, chain[-1].rows])
