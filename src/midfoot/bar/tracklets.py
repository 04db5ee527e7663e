"""Boxes of single frames connected into runs that leave no doubt; `joins` makes paths over the clip of them.

One box after the other where it was going, with a look or two left out. All of it in the first frame's
coordinates (the camera's own movement taken out), lengths in radii of the disc: the same rules for near and far
discs. Rule for the next author: no opinion here on what is a bar.
"""

from __future__ import annotations

import math

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
