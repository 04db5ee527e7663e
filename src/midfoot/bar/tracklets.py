"""Boxes of single frames connected into paths over the clip.

Two steps. First short runs that leave no doubt: one box after the other where it was going, with a look or two
left out. Then runs are joined over gaps, the clip as a whole: a joined path must be worth more than its parts, so
things that stand still explain their own boxes and cannot lend them to what passes in front of them.

All of it in the first frame's coordinates (the camera's own movement taken out), lengths in radii of the disc:
the same rules for near and far discs. Rule for the next author: no opinion here on what is a bar.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from attrs import define, field, frozen
from scipy.optimize import linear_sum_assignment

from midfoot.records.bar import Box, Sightings
from midfoot.records.base import FloatArray, bool_field, float_field

LEAST_SCORE = 0.12
"""Far under what the proposer is sure of: what moves over the clip decides, not the single frame."""
PATIENCE_S = 0.45
"""A run ends when nothing was seen of it for this long."""
REACH_RADII, REACH_GROWTH = 0.30, 13.0
"""How far from where it was going a box may be: radii, and radii per s^2 times the time squared. Half of
26 radii/s^2 is 5.8 m/s^2 for a disc of 450 mm; a bar that is dropped lands within the reach of its last place."""
SHAKEN_RADII = 0.5
LOST_AROUND_S = 0.08
"""Where the camera's movement was not told within this time, places before and after may not be compared."""
RADIUS_LOG_SD = 0.30
"""Scatter of the proposer's radius: inner rings and lips are taken for the rim at times."""
ASPECT_SD = 0.30
MOST_COST = 6.0
DOUBT_COST = 1.5
"""A run is cut where a step cost more than this; joining, which knows what came later, may mend it."""
CONCENTRIC = 0.30
"""Boxes of one frame whose centres are this near, in radii of the larger, are rings of one disc."""
JOIN_GAP_S = 4.0
OVERLAP_S = 0.8
"""The end of a run may have gone astray for this long before it was found again."""
JOIN_START, JOIN_SPEED = 0.5, 2.2
"""Reach of a join over a gap: radii at once, and radii per s^(1/2)... grown with the root of the gap."""
JOIN_FEE, JOIN_FEE_S = 0.6, 0.35
"""What a join costs in box scores, and per second of its gap."""
FASTEST_RADII_S = 7.0
IN_GAPS = 0.75
"""Share of a path's rows that must fall where another has none for both to be the same thing."""
WORTH_OFFSET = 0.02


@frozen(kw_only=True)
class Seen:
    """Everything proposed over the clip, one row per disc: rings of one disc are one row.

    `look` (n,) index of the look, `t_s` (n,), `xy_px` (n, 2) in the frame, `steady_px` (n, 2) in the first
    frame's coordinates, `radius_px`, `steady_radius_px`, `aspect`, `score` (n,). `looks_t_s` (k,), `shaken` (k,)
    looks at which the camera's movement was not told.
    """

    look: np.ndarray = field(eq=False)
    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, 2)
    steady_px: FloatArray = float_field(None, 2)
    radius_px: FloatArray = float_field(None)
    steady_radius_px: FloatArray = float_field(None)
    aspect: FloatArray = float_field(None)
    score: FloatArray = float_field(None)
    looks_t_s: FloatArray = float_field(None)
    shaken: np.ndarray = bool_field(None)


@frozen
class Path:
    """One thing followed: rows of `Seen`, ascending in time."""

    rows: np.ndarray = field(eq=False)
    worth: float


def camera_at(sightings: Sightings, t_s: FloatArray) -> tuple[FloatArray, np.ndarray]:
    """Give the camera's similarity (k, 2, 3) at `t_s` (k,) and whether it was told there."""
    if not len(sightings.camera_t_s):
        still = np.broadcast_to(np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]), (len(t_s), 2, 3))
        return np.array(still), np.ones(len(t_s), bool)
    row = np.clip(np.searchsorted(sightings.camera_t_s, t_s), 0, len(sightings.camera_t_s) - 1)
    before = np.clip(row - 1, 0, None)
    nearer = np.abs(sightings.camera_t_s[before] - t_s) < np.abs(sightings.camera_t_s[row] - t_s)
    row = np.where(nearer, before, row)
    return sightings.camera_to_first[row], sightings.camera_ok[row]


def gather(sightings: Sightings) -> Seen:
    """Lay out all boxes as rows, with rings of one disc as one row, and take the camera's movement out."""
    look: list[int] = []
    rows: list[Box] = []
    for i, boxes in enumerate(sightings.boxes):
        for box in _one_per_disc([b for b in boxes if b.score >= LEAST_SCORE and b.radius_px > 0]):
            look.append(i)
            rows.append(box)
    looks_t_s = np.asarray(sightings.boxes_t_s, float)
    camera, _ = camera_at(sightings, looks_t_s)
    lost_s = sightings.camera_t_s[~sightings.camera_ok]
    around = np.searchsorted(lost_s, looks_t_s + LOST_AROUND_S) - np.searchsorted(
        lost_s, looks_t_s - LOST_AROUND_S
    )
    index = np.array(look, int)
    xy = np.array([(b.x_px, b.y_px) for b in rows], float).reshape(-1, 2)
    radius = np.array([b.radius_px for b in rows], float)
    matrix = camera[index] if len(index) else np.zeros((0, 2, 3))
    steady = np.einsum("nij,nj->ni", matrix[:, :, :2], xy) + matrix[:, :, 2]
    grown = np.hypot(matrix[:, 0, 0], matrix[:, 1, 0])
    return Seen(
        look=index, t_s=looks_t_s[index] if len(index) else np.zeros(0), xy_px=xy, steady_px=steady,
        radius_px=radius, steady_radius_px=radius * grown, aspect=np.array([b.aspect for b in rows], float),
        score=np.array([b.score for b in rows], float), looks_t_s=looks_t_s, shaken=around > 0,
    )  # fmt: skip


def _one_per_disc(boxes: list[Box]) -> list[Box]:
    """Merge concentric boxes: place of the surest, size of the largest that is not much less sure."""
    out: list[Box] = []
    left = sorted(boxes, key=lambda b: -b.score)
    while left:
        best = left.pop(0)
        rings = [b for b in left if _concentric(best, b)]
        left = [b for b in left if not any(b is r for r in rings)]
        large = max([best, *(r for r in rings if r.score >= 0.5 * best.score)], key=lambda b: b.radius_px)
        out.append(Box(best.x_px, best.y_px, large.radius_px, large.aspect, best.score))
    return out


def _concentric(a: Box, b: Box) -> bool:
    return math.hypot(a.x_px - b.x_px, a.y_px - b.y_px) < CONCENTRIC * max(a.radius_px, b.radius_px)


@define
class _Run:
    """A run being followed: its rows and what is expected of the next."""

    rows: list[int]
    times: list[float]
    places: list[FloatArray]
    log_radius: float
    aspect: float
    doubts: list[int] = field(factory=list)

    def velocity(self) -> FloatArray:
        """Give px/s from the last 0.35 s, zero for a run of one."""
        recent = [i for i in range(len(self.times)) if self.times[-1] - self.times[i] <= 0.35]
        if len(recent) < 2:
            recent = list(range(max(0, len(self.times) - 2), len(self.times)))
        if len(recent) < 2:
            return np.zeros(2)
        t = np.array([self.times[i] for i in recent])
        p = np.array([self.places[i] for i in recent])
        t = t - t.mean()
        slope: FloatArray = (t[:, None] * (p - p.mean(axis=0))).sum(axis=0) / max(float((t * t).sum()), 1e-9)
        return slope

    def add(self, row: int, seen: Seen) -> None:
        """Carry on with `row`."""
        self.rows.append(row)
        self.times.append(float(seen.t_s[row]))
        self.places.append(seen.steady_px[row])
        self.log_radius += 0.3 * (math.log(seen.steady_radius_px[row]) - self.log_radius)
        self.aspect += 0.3 * (seen.aspect[row] - self.aspect)


def runs(seen: Seen) -> list[np.ndarray]:
    """Follow boxes from look to look; gives the rows of each run."""
    live: list[_Run] = []
    done: list[_Run] = []
    for look, t_s in enumerate(seen.looks_t_s):
        here = np.arange(*np.searchsorted(seen.look, (look, look + 1)))
        done += [r for r in live if t_s - r.times[-1] > PATIENCE_S]
        live = [r for r in live if t_s - r.times[-1] <= PATIENCE_S]
        taken: set[int] = set()
        if live and len(here):
            extra = SHAKEN_RADII if seen.shaken[look] else 0.0
            costs = np.array([_costs(r, here, float(t_s), seen, extra) for r in live])
            for i, j in zip(*linear_sum_assignment(np.minimum(costs, 1e3)), strict=True):
                if costs[i, j] < MOST_COST:
                    if costs[i, j] > DOUBT_COST:
                        live[i].doubts.append(len(live[i].rows))
                    live[i].add(int(here[j]), seen)
                    taken.add(int(here[j]))
        for row in here:
            if int(row) not in taken:
                fresh = _Run([], [], [], math.log(seen.steady_radius_px[row]), float(seen.aspect[row]))
                fresh.add(int(row), seen)
                live.append(fresh)
    return [part for r in done + live for part in np.split(np.array(r.rows, int), r.doubts)]


def _costs(run: _Run, here: np.ndarray, t_s: float, seen: Seen, extra: float) -> FloatArray:
    """Cost of carrying `run` on with each of the rows `here`."""
    step = t_s - run.times[-1]
    start = run.places[-1]
    ahead = run.velocity() * step
    radius = np.minimum(math.exp(run.log_radius), seen.steady_radius_px[here])
    offset = seen.steady_px[here] - start
    # whatever was going somewhere may have stopped on the way: distance to the way, not to its end
    length = float(ahead @ ahead)
    along = np.clip(offset @ ahead / length, 0.0, 1.0) if length > 0 else np.zeros(len(here))
    miss = offset - along[:, None] * ahead
    away = np.hypot(miss[:, 0], miss[:, 1]) / radius
    late = np.hypot(*(offset - ahead).T) / radius
    reach = REACH_RADII + REACH_GROWTH * min(step, 0.4) ** 2 + extra
    size = np.log(seen.steady_radius_px[here]) - run.log_radius
    shape = (seen.aspect[here] - run.aspect) / ASPECT_SD
    cost = (away / reach) ** 2 * 3.0 + 0.3 * late + (size / RADIUS_LOG_SD) ** 2 * 0.5 + 0.3 * shape**2
    return np.where(away > 1.5 * reach, 1e6, cost)


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
