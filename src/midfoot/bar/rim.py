"""Rings in an averaged disc: ellipses along which edges stand across the outline.

A plate is a set of concentric rings (hub, painted ring, lip, rim). They are found together, then the outermost of
them; which edge of the silhouette the rim is, is asked by `midfoot.bar.silhouette`.

Rule for the next author: keep the optimiser in its bounds; an unbounded one runs into degenerate ellipses with
splendid scores.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
from attrs import evolve, frozen

from midfoot.bar.patches import Map
from midfoot.records.base import FloatArray

OUTLINE = 72
MOST_STARTS = 8
OUTER_SHARE = 0.5
"""The outermost ring of one centre and shape is taken when its score is at least this share of the best."""
BEYOND, BEYOND_SHARE, BEYOND_LEAST = 1.12, 0.45, 0.22
"""A ring around the ring: at least so much larger, so clear against it, and so clear at all."""
MAX_TILT_DEG = 60.0
"""How far the long axis may lean from vertical: seen from above or below, an oblique plate leans a lot."""
MIN_ASPECT = 0.30
CENTRE_SD = 0.35
"""How well the coarse path knows the centre, half-axes of the ring: a ring far aside is another thing's."""


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
    shape, normal = _shape(ellipses[:, 3], ellipses[:, 4], turn)
    points = ellipses[:, None, :2] + ellipses[:, None, 2:3] * shape
    return points, np.arctan2(normal[..., 1], normal[..., 0])


def _shape(aspect: FloatArray, lean_deg: FloatArray, turn: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points (k, n, 2) about the centre of ellipses of major half-axis 1, and their normals, of any length."""
    lean = np.radians(lean_deg)[:, None]
    aspect = aspect[:, None]
    # Major axis (down when lean is 0): (-sin, cos); minor axis: (cos, sin).
    cos, sin = np.cos(lean), np.sin(lean)
    c, s = np.cos(turn)[None], np.sin(turn)[None]
    minor = aspect * c
    points = np.stack([minor * cos - s * sin, minor * sin + s * cos], axis=-1)
    across = aspect * s
    return points, np.stack([c * cos - across * sin, c * sin + across * cos], axis=-1)


def _double(normal: FloatArray) -> FloatArray:
    """Cosine and sine (..., 2) of twice the direction of vectors (..., 2)."""
    x, y = normal[..., 0], normal[..., 1]
    length = x * x + y * y
    return np.stack([(x * x - y * y) / length, 2.0 * x * y / length], axis=-1).astype(np.float32)


def across(edge_map: Map, ellipses: FloatArray, unit: float, turn: FloatArray) -> FloatArray:
    """Edge strength across the outline at every outline point, (k, n). Map centre is (0, 0), `unit` px per 1."""
    shape, normal = _shape(ellipses[:, 3], ellipses[:, 4], turn)
    values = _values(edge_map, ellipses[:, None, :2] + ellipses[:, None, 2:3] * shape, unit)
    return np.asarray(np.einsum("knc,knc->kn", values, _double(normal)), float)


def _values(edge_map: Map, points: FloatArray, unit: float) -> Map:
    """Edges by double angle (..., 2) at points (..., 2) of a map whose centre is (0, 0)."""
    at = (points * unit + edge_map.shape[0] // 2).astype(np.float32).reshape(-1, points.shape[-2], 2)
    values = cv2.remap(edge_map, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(values.reshape(points.shape), np.float32)


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
    grid, scores = _looked_over(blurred, unit, smallest, largest, near)
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


def _looked_over(
    edge_map: Map, unit: float, smallest: float, largest: float, near: float
) -> tuple[FloatArray, FloatArray]:
    """Ellipses (k, 5) of every size, shape and place, and the mean edge across each (k,)."""
    sizes = np.exp(np.arange(math.log(smallest), math.log(largest), 0.05))
    leans = (-54.0, -36.0, -18.0, 0.0, 18.0, 36.0, 54.0)
    shapes = [(1.0, 0.0)] + [(b, t) for b in (0.92, 0.82, 0.7, 0.57, 0.44, 0.34) for t in leans]
    shifts = np.arange(-near, near + 1e-9, near / 4)
    x, y, a = (v.ravel() for v in np.meshgrid(shifts, shifts, sizes, indexing="ij"))
    place, size = np.stack([x, y], axis=1)[:, None], a[:, None, None]
    turn = _circle(48)
    rows, scores = [], []
    for aspect, lean in shapes:
        shape, normal = _shape(np.array([aspect]), np.array([lean]), turn)
        values = _values(edge_map, place + size * shape, unit)
        scores.append(values.reshape(len(x), -1) @ _double(normal).ravel() / len(turn))
        rows.append(np.stack([x, y, a, np.full(x.size, aspect), np.full(x.size, lean)], 1))
    return np.concatenate(rows), np.concatenate(scores)


def climb(edge_map: Map, start: Ellipse, unit: float) -> Ring:
    """Climb from `start` to the nearest top of the score: mean edge across the outline."""

    def score(ellipses: FloatArray) -> FloatArray:
        return np.asarray(across(edge_map, ellipses, unit, _circle(OUTLINE)).mean(axis=1))

    here, best = _ascend(score, _as_row(start))
    return Ring(Ellipse(*(float(v) for v in here)), best)


def concentric(edge_map: Map, starts: list[Ring], unit: float) -> Ring | None:
    """Find centre and shape from all edges of the face at once, then the outermost of its rings.

    Lip, paint and rim stand a few hundredths of a radius apart; one ring alone settles across two of them, and
    the rim of the plate behind is a ring as well. The energy of the profile over all sizes has its top where
    every ring of one face is sharp at once. Where the sleeve comes out over the rim, along the minor axis,
    nothing is looked at.
    """
    best: tuple[float, FloatArray] | None = None
    for start in starts[:MOST_STARTS]:
        here = _sharpest(edge_map, _as_row(start.ellipse), unit, (0.05, 0.02))
        sizes = _sizes(here, edge_map, unit, 0.45)
        shown = np.maximum(_profile(here[None], edge_map, unit, sizes)[0], 0.0)
        aside = float(np.hypot(here[0], here[1]) / here[2])
        energy = float((shown**2 * sizes).sum() * here[2]) * math.exp(-0.5 * (aside / CENTRE_SD) ** 2)
        if best is None or energy > best[0]:
            best = energy, here
    if best is None:
        return None
    here = best[1]
    sizes = _sizes(here, edge_map, unit, 0.8)
    shown = _profile(here[None], edge_map, unit, sizes)[0]
    top = (shown >= np.roll(shown, 1)) & (shown >= np.roll(shown, -1))
    good = np.flatnonzero(top & (shown >= OUTER_SHARE * shown.max()))
    here[2] *= sizes[good[-1]] if len(good) else 1.0
    # Rings nearer to the hub may lie deeper than the rim, a little aside: settle on what is about the rim.
    here = _sharpest(edge_map, here, unit, (0.0,))
    near = np.linspace(0.96, 1.04, 81)
    shown = _profile(here[None], edge_map, unit, near)[0]
    here[2] *= near[int(np.argmax(shown))]
    return Ring(Ellipse(*(float(v) for v in here)), float(shown.max()))


def beyond(edge_map: Map, ring: Ring, unit: float) -> float:
    """How many times as large the outermost ring around a ring is, seen in a wide average; 1 when there is none.

    A change plate before a full-size one, or a painted ring taken for the rim: what goes round the same centre
    in the same shape, clearly and far out, belongs to the bar.
    """
    here = _as_row(ring.ellipse)
    sizes = np.arange(0.9, (edge_map.shape[0] // 2 - 2) / unit / here[2], 0.01)
    shown = _profile(here[None], cv2.GaussianBlur(edge_map, (0, 0), 0.02 * unit), unit, sizes)[0]
    own = float(shown[np.abs(sizes - 1.0) < 0.05].max())
    top = (shown >= np.roll(shown, 1)) & (shown >= np.roll(shown, -1)) & (sizes > BEYOND)
    top[[0, -1]] = False
    good = np.flatnonzero(top & (shown > max(BEYOND_LEAST, BEYOND_SHARE * own)))
    return float(sizes[good[-1]]) if len(good) else 1.0


def _sizes(here: FloatArray, edge_map: Map, unit: float, smallest: float) -> FloatArray:
    """Sizes from `smallest` (units of the map) to where the map ends, as multiples of the ellipse."""
    largest = min(2.2, (edge_map.shape[0] // 2 - 2) / unit - float(np.hypot(here[0], here[1])))
    sizes: FloatArray = np.arange(smallest, max(largest, smallest + 0.1), 0.005) / here[2]
    return sizes


def _sharpest(edge_map: Map, here: FloatArray, unit: float, blurs: tuple[float, ...]) -> FloatArray:
    sizes = np.linspace(0.90, 1.08, 37)
    for blur in blurs:
        soft = cv2.GaussianBlur(edge_map, (0, 0), blur * unit) if blur else edge_map

        def energy(ellipses: FloatArray, soft: Map = soft) -> FloatArray:
            return np.asarray((np.maximum(_profile(ellipses, soft, unit, sizes), 0.0) ** 2).sum(axis=1))

        here, _ = _ascend(energy, here, size_held=True, first=1.0 if blur else 0.25)
    return here


def _profile(ellipses: FloatArray, edge_map: Map, unit: float, sizes: FloatArray) -> FloatArray:
    """Mean edge across the outline of ellipses (k, 5) grown by `sizes` (n,): (k, n)."""
    shape, normal = _shape(ellipses[:, 3], ellipses[:, 4], _off_the_sleeve(OUTLINE))
    grown = (ellipses[:, 2:3] * sizes)[:, :, None, None] * shape[:, None]
    values = _values(edge_map, ellipses[:, None, None, :2] + grown, unit)
    told = np.einsum("ksnc,knc->ks", values, _double(normal))
    return np.asarray(told / shape.shape[1], float)


def _as_row(e: Ellipse) -> FloatArray:
    return np.array([e.x, e.y, e.a, e.aspect, e.lean_deg])


@cache
def _off_the_sleeve(count: int) -> FloatArray:
    turn = _circle(count)
    kept = turn[np.abs(np.sin(turn)) > 0.2]
    kept.setflags(write=False)
    return kept


def _ascend(
    score: Callable[[FloatArray], FloatArray], start: FloatArray, size_held: bool = False, first: float = 1.0
) -> tuple[FloatArray, float]:
    """Climb to the nearest top: steps in every parameter and in pairs of them, halved when none helps."""
    low = np.array([-0.6, -0.6, 0.2, MIN_ASPECT, -MAX_TILT_DEG])
    high = np.array([0.6, 0.6, 1.9, 1.0, MAX_TILT_DEG])
    here = np.clip(start, low, high)
    steps = np.array([0.04, 0.04, 0.0 if size_held else 0.03, 0.05, 6.0]) * first
    best = float(score(here[None])[0])
    for _ in range(60):
        moves = np.clip(here + np.concatenate([np.diag(steps), -np.diag(steps), _pairs(steps)]), low, high)
        scores = score(moves)
        at = int(np.argmax(scores))
        if scores[at] > best + 1e-6:
            best, here = float(scores[at]), moves[at]
        else:
            steps = steps / 2
            if steps[0] < 5e-4:
                break
    return here.copy(), best


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
