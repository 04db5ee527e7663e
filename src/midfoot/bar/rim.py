"""Rings in an averaged disc: ellipses along which edges stand across the outline.

A plate is a set of concentric rings (hub, painted ring, lip, rim). They are found together, then the outermost
that is as good as the best; the silhouette beyond it is looked at by `midfoot.bar.silhouette`.

Rule for the next author: keep the optimiser in its bounds; an unbounded one runs into degenerate ellipses with
splendid scores.
"""

from __future__ import annotations

import math
from functools import cache

import cv2
import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from midfoot.bar.patches import Map
from midfoot.records.base import FloatArray

OUTLINE = 72
AS_GOOD = 0.8
"""A ring farther out is taken when its score is at least this share of the best."""
MAX_TILT_DEG = 32.0
"""How far the long axis may lean from vertical: the bar lies across the picture, more or less level."""
MIN_ASPECT = 0.25


@frozen
class Ellipse:
    """Centre, half of the major axis, minor over major, and the major axis' lean from vertical, degrees.

    `lean_deg` is positive clockwise in the picture (x right, y down). Lengths in the unit of the map.
    """

    x: float
    y: float
    a: float
    aspect: float
    lean_deg: float

    def points(self, count: int = OUTLINE, grow: float = 1.0) -> tuple[FloatArray, FloatArray]:
        """Points (count, 2) of the outline and the outward normals' angles (count,), radians."""
        turn = _circle(count)
        return _outline(np.array([[self.x, self.y, self.a * grow, self.aspect, self.lean_deg]]), turn)[0][0], (
            _outline(np.array([[self.x, self.y, self.a * grow, self.aspect, self.lean_deg]]), turn)[1][0]
        )

    def grown(self, ratio: float) -> Ellipse:
        """The same, `ratio` times as large about its centre."""
        return evolve(self, a=self.a * ratio)


@frozen
class Ring:
    """An ellipse with its score: mean edge across the outline, -1..1."""

    ellipse: Ellipse
    score: float


@cache
def _circle(count: int) -> FloatArray:
    turn = np.linspace(0.0, 2 * math.pi, count, endpoint=False)
    turn.setflags(write=False)
    return turn


def _outline(ellipses: FloatArray, turn: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points (k, n, 2) and normals' angles (k, n) of ellipses (k, 5) x, y, a, aspect, lean in degrees."""
    x, y, a, aspect, lean = (ellipses[:, i, None] for i in range(5))
    lean = np.radians(lean)
    # Major axis (down when lean is 0): (-sin, cos); minor axis: (cos, sin).
    cos, sin = np.cos(lean), np.sin(lean)
    c, s = np.cos(turn)[None], np.sin(turn)[None]
    px = x + a * (aspect * c * cos - s * sin)
    py = y + a * (aspect * c * sin + s * cos)
    nx = c * cos - aspect * s * sin
    ny = c * sin + aspect * s * cos
    return np.stack([px, py], axis=-1), np.arctan2(ny, nx)


def across(edge_map: Map, ellipses: FloatArray, unit: float, turn: FloatArray) -> FloatArray:
    """Edge strength across the outline at every outline point, (k, n). Map centre is (0, 0), `unit` px per 1."""
    half = edge_map.shape[0] // 2
    points, normal = _outline(ellipses, turn)
    u = (points[..., 0] * unit + half).astype(np.float32)
    v = (points[..., 1] * unit + half).astype(np.float32)
    values = cv2.remap(edge_map, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(values[..., 0] * np.cos(2 * normal) + values[..., 1] * np.sin(2 * normal), float)


def rings(
    edge_map: Map, unit: float, *, smallest: float = 0.3, largest: float = 1.6, near: float = 0.34
) -> list[Ring]:
    """Find rings about the middle of an averaged edge map.

    Parameters
    ----------
    edge_map : (s, s, 2), middle is the expected centre.
    unit : map pixels per unit of length (coarse radius).
    smallest, largest : half-axes looked at, units.
    near : how far the centre may lie from the middle, units.

    Returns
    -------
    Rings, best first; near copies of a better one are left out.
    """
    blurred = cv2.GaussianBlur(edge_map, (0, 0), 0.05 * unit)
    grid = _grid(smallest, largest, near)
    turn = _circle(48)
    scores = np.concatenate(
        [
            across(blurred, part, unit, turn).mean(axis=1)
            for part in np.array_split(grid, max(1, len(grid) // 4000))
        ]
    )
    order = np.argsort(-scores)[:3000]
    starts: list[FloatArray] = []
    for at in order:
        here = grid[at]
        if all(abs(math.log(here[2] / s[2])) > 0.05 or math.hypot(*(here[:2] - s[:2])) > 0.15 for s in starts):
            starts.append(here)
        if len(starts) >= 24:
            break
    soft = cv2.GaussianBlur(edge_map, (0, 0), 0.02 * unit)
    found = [climb(soft, Ellipse(*(float(v) for v in start)), unit) for start in starts]
    return _apart(sorted(found, key=lambda r: -r.score))


def _grid(smallest: float, largest: float, near: float) -> FloatArray:
    sizes = np.exp(np.arange(math.log(smallest), math.log(largest), 0.05))
    shapes = [(1.0, 0.0)] + [
        (b, t) for b in (0.92, 0.82, 0.7, 0.57, 0.44, 0.33) for t in (-24.0, -12.0, 0.0, 12.0, 24.0)
    ]
    shifts = np.arange(-near, near + 1e-9, near / 4)
    rows = []
    for aspect, lean in shapes:
        x, y, a = np.meshgrid(shifts, shifts, sizes, indexing="ij")
        rows.append(np.stack([x.ravel(), y.ravel(), a.ravel(), np.full(x.size, aspect), np.full(x.size, lean)], 1))
    return np.concatenate(rows)


def climb(edge_map: Map, start: Ellipse, unit: float) -> Ring:
    """Climb from `start` to the nearest top of the score; steps in every parameter, halved when none helps."""
    turn = _circle(OUTLINE)
    low, high = (
        np.array([-0.6, -0.6, 0.2, MIN_ASPECT, -MAX_TILT_DEG]),
        np.array([0.6, 0.6, 1.9, 1.0, MAX_TILT_DEG]),
    )
    steps = np.array([0.04, 0.04, 0.03, 0.05, 6.0])
    here = np.clip([start.x, start.y, start.a, start.aspect, start.lean_deg], low, high)
    best = float(across(edge_map, here[None], unit, turn).mean())
    for _ in range(60):
        moves = here + np.concatenate([np.diag(steps), -np.diag(steps), _pairs(steps)])
        moves = np.clip(moves, low, high)
        scores = across(edge_map, moves, unit, turn).mean(axis=1)
        at = int(np.argmax(scores))
        if scores[at] > best + 1e-6:
            best, here = float(scores[at]), moves[at]
        else:
            steps = steps / 2
            if steps[0] < 5e-4:
                break
    return Ring(Ellipse(*(float(v) for v in here)), best)


def _pairs(steps: FloatArray) -> FloatArray:
    """Moves along two parameters at once, where ridges lie: size with shape, place with size."""
    out = []
    for i, j in ((2, 3), (0, 2), (1, 2), (3, 0), (0, 1)):
        for si in (1.0, -1.0):
            for sj in (1.0, -1.0):
                move = np.zeros(5)
                move[i], move[j] = si * steps[i], sj * steps[j]
                out.append(move)
    return np.array(out)


def _apart(found: list[Ring]) -> list[Ring]:
    kept: list[Ring] = []
    for ring in found:
        e = ring.ellipse
        if all(
            abs(math.log(e.a / k.ellipse.a)) > 0.02 or math.hypot(e.x - k.ellipse.x, e.y - k.ellipse.y) > 0.1 * e.a
            for k in kept
        ):
            kept.append(ring)
    return kept


def outermost(found: list[Ring]) -> Ring | None:
    """Choose the outermost ring that is as good as the best and belongs to the same disc."""
    if not found:
        return None
    best = found[0]
    chosen = best
    for ring in found:
        if ring.score < AS_GOOD * best.score or ring.ellipse.a <= chosen.ellipse.a:
            continue
        inner, outer = chosen.ellipse, ring.ellipse
        if math.hypot(inner.x - outer.x, inner.y - outer.y) < 0.22 * outer.a and (
            abs(inner.aspect - outer.aspect) < 0.2 or inner.a < 0.5 * outer.a
        ):
            chosen = ring
    return chosen


def touched(edge_map: Map, ring: Ring, unit: float, floor: float = 0.15) -> NDArray[np.bool_]:
    """Which of the outline's points have an edge across them."""
    e = ring.ellipse
    values = across(edge_map, np.array([[e.x, e.y, e.a, e.aspect, e.lean_deg]]), unit, _circle(OUTLINE))[0]
    return np.asarray(values > floor)
