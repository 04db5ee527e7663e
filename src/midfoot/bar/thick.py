"""The outline of a deep stack seen from aside: a disc's ellipse swept along the bar, not an ellipse.

What a stack of discs shows against the room is two arcs with straight pieces between them. An ellipse laid through
it is too round, and too large as well: it bulges out over both ends of its long axis, where the outline runs
straight. So the ellipse of the face is fitted with how far it is swept along its own short axis, which is the way
the bar runs in the picture; the size is then told by the ends of the long axis and the shape by the arcs.

Rule for the next author: a sweep is believed only where the outline says so clearly; a plain disc with a smear of
edges must stay what it is, and a lip that is clearer than the rim is no end of the outline.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import evolve
from scipy.optimize import least_squares

from midfoot.bar.disc_model import Sample
from midfoot.bar.rim import MIN_ASPECT, Ellipse
from midfoot.bar.silhouette import CLOSE, CLOSE_PX, Rim
from midfoot.bar.standing import DIRECTIONS, Standing, standing
from midfoot.records.base import FloatArray

CLEAR = 0.5
WITHIN, BEYOND = 0.10, 3.0
"""How far inside of the ellipse an edge of the outline may stand, radii; and beyond it, times what is close."""
OUTERMOST = 2.0
"""What is worth as much as the whole of an edge's clearness: standing farther out by half of a radius."""
LIP_SHARE = 0.4
"""Share of the directions, of those above the short axis or below, that a ring within the outline takes: a lip."""
STARTS = (-0.25, -0.08, 0.08, 0.25)
MOST_SWEPT, SWEPT_SD = 0.6, 0.5
LEAST_DIRECTIONS, LEAST_SEEN = 60, 0.25
"""Directions with an edge in all, and share of the directions about either end of the long axis that need one."""
BETTER, BETTER_SHARE = 15.0, 0.25
"""How much the misfit must fall (half squares in units of what counts as close), and by which share of it."""
FACE_ON, LEAST_SWEPT = 0.96, 0.06
"""A face seen this squarely (16 degrees) hides its stack's sides; less of a sweep is no outline of its own."""
LEFT = 0.3
"""Share of what the sweep changes that stays in the error: sides are not smooth, and discs behind look smaller."""


def of_stack(samples: tuple[Sample, ...], ring: Ellipse, rim: Rim) -> Rim:
    """Give the rim with the size and shape of the face where the outline is that of a stack, else as it was.

    Parameters
    ----------
    samples : laid over each other, centred on the followed ring, sizes counted in its major half-axis.
    ring : centre 0, half-axis 1.
    rim : the ellipse that was taken for the rim, in the same units.
    """
    if not rim.told:
        return rim
    seen = standing(samples, ring)
    face = swept(seen, ring, rim.ellipse, max(CLOSE, CLOSE_PX / seen.unit))
    if face is None:
        return rim
    a, aspect = face
    rounder, larger = abs(rim.ellipse.aspect - aspect), rim.grow / a - 1.0
    return evolve(
        rim,
        ellipse=evolve(rim.ellipse, a=a, aspect=aspect),
        rel_sd=math.hypot(rim.rel_sd, LEFT * larger),
        aspect_sd=math.hypot(rim.aspect_sd, LEFT * rounder),
    )


def swept(seen: Standing, ring: Ellipse, outline: Ellipse, close: float) -> tuple[float, float] | None:
    """Ask whether the outline is a disc's swept along the bar: half-axis and aspect of that disc.

    `close` is how close to an outline an edge must lie to count, radii. None where a plain ellipse does nearly as
    well.
    """
    points, weight = _edges(seen, ring, outline, close)
    if points is None or weight is None:
        return None
    force = np.sqrt(weight) / close

    def plain(p: FloatArray) -> FloatArray:
        return _off(np.append(p, 0.0), points) * force

    def wide(p: FloatArray) -> FloatArray:
        return np.append(_off(p, points) * force, p[5] / SWEPT_SD)

    low = np.array([-0.6, -0.6, math.log(0.3), MIN_ASPECT - 0.05, outline.lean_deg - 30.0, -MOST_SWEPT])
    high = np.array([0.6, 0.6, math.log(3.0), 1.0, outline.lean_deg + 30.0, MOST_SWEPT])
    shape = min(outline.aspect, 0.999)
    start = np.array([outline.x, outline.y, math.log(outline.a), shape, outline.lean_deg, 0.0])
    disc = least_squares(plain, start[:5], loss="soft_l1", bounds=(low[:5], high[:5]))
    best = None
    for s in STARTS:
        c, n = math.cos(math.radians(outline.lean_deg)), math.sin(math.radians(outline.lean_deg))
        rounder = max(outline.aspect - 0.5 * abs(s), MIN_ASPECT)
        begin = start + np.array([-0.5 * s * c, -0.5 * s * n, 0.0, 0.0, 0.0, s])
        begin[3] = rounder
        got = least_squares(wide, np.clip(begin, low, high), loss="soft_l1", bounds=(low, high))
        if best is None or got.cost < best.cost:
            best = got
    if best is None or disc.cost - best.cost < max(BETTER, BETTER_SHARE * disc.cost):
        return None
    a, aspect = math.exp(float(best.x[2])), float(best.x[3])
    if a > outline.a or aspect > FACE_ON or abs(float(best.x[5])) < LEAST_SWEPT:
        return None
    return a, aspect


def _edges(
    seen: Standing, ring: Ellipse, outline: Ellipse, close: float
) -> tuple[FloatArray, FloatArray] | tuple[None, None]:
    """Places (n, 2) of the clearest and outermost edges near the outline, one a direction, and their weights."""
    rays = ring.points(DIRECTIONS)[0]
    off = seen.ratio - _reach_of(outline, rays)[:, None]
    clear = seen.weight > CLEAR
    near = clear & (off > -WITHIN) & (off < BEYOND * close) & ~_of_a_lip(off, clear, close)
    worth = np.where(near, seen.weight + OUTERMOST * off, -9.0)
    at, use = worth.argmax(axis=1)[:, None], np.asarray(near.any(axis=1))
    along = np.abs(np.sin(np.linspace(0.0, 2.0 * math.pi, DIRECTIONS, endpoint=False)))
    half = DIRECTIONS // 2
    ends = [use[:half][along[:half] > 0.9].mean(), use[half:][along[half:] > 0.9].mean()]
    if use.sum() < LEAST_DIRECTIONS or min(ends) < LEAST_SEEN:
        return None, None
    ratio = np.take_along_axis(seen.ratio, at, axis=1)
    return (ratio * rays)[use], np.take_along_axis(seen.weight, at, axis=1)[use, 0]


def _of_a_lip(off: FloatArray, clear: np.ndarray, close: float) -> np.ndarray:
    """Which edges, `off` the outline, stand on a ring of its shape within it: no outline runs along there."""
    out = np.zeros(off.shape, bool)
    for at in np.arange(-WITHIN, -2.0 * close, close):
        there = clear & (np.abs(off - at) < 1.5 * close)
        rows, half = np.asarray(there.any(axis=1)), DIRECTIONS // 2
        if max(rows[:half].mean(), rows[half:].mean()) > LIP_SHARE:
            out |= there
    return out


def _turned(lean_deg: float, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Parts of places (n, 2) along the short axis and along the long one."""
    c, s = math.cos(math.radians(lean_deg)), math.sin(math.radians(lean_deg))
    return points[:, 0] * c + points[:, 1] * s, points[:, 1] * c - points[:, 0] * s


def _reach_of(e: Ellipse, rays: FloatArray) -> FloatArray:
    """How many times each ray from 0 must be taken to reach the ellipse, (n,); 0 lies within it."""
    across, along = _turned(e.lean_deg, rays)
    x, y = _turned(e.lean_deg, np.array([[e.x, e.y]]))
    u, v = np.array([across / e.aspect, along]) / e.a
    cu, cv = float(x[0]) / e.aspect / e.a, float(y[0]) / e.a
    square, both = u * u + v * v, u * cu + v * cv
    return np.asarray((both + np.sqrt(np.maximum(both**2 + square * (1.0 - cu * cu - cv * cv), 0.0))) / square)


def _off(p: FloatArray, points: FloatArray) -> FloatArray:
    """How far outside of a swept ellipse places lie, radii: x, y, log of its half-axis, aspect, lean, sweep."""
    a, aspect = math.exp(float(p[2])), float(p[3])
    across, along = _turned(float(p[4]), points - p[:2])
    u, v, e = across / (a * aspect), along / a, float(p[5]) / (a * aspect)
    u = u - np.clip(u, min(0.0, e), max(0.0, e))
    off = np.hypot(u, v)
    # along the short axis a share of the half-axis is that much shorter
    return np.asarray((off - 1.0) * a * np.hypot(aspect * u, v) / np.maximum(off, 1e-9))
