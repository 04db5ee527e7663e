"""Triangles with normals and colours, and the simple solids a gym is made of."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from attrs import field, frozen
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Colour = tuple[float, float, float]

PLAIN, GRAIN, WOOD, BRICK, FLECK = 0.0, 1.0, 2.0, 3.0, 4.0
"""Surfaces the shader knows: even, fine grain, planks along y, courses of bricks, rubber with flecks."""


@frozen
class Mesh:
    """Triangles: corners (3 n, 3) m, their normals, colours and (surface, gloss)."""

    corners: Array = field(eq=False)
    normals: Array = field(eq=False)
    colours: Array = field(eq=False)
    finish: Array = field(eq=False)

    def rows(self) -> NDArray[np.float32]:
        """Rows of 11 float32 as the drawing wants them."""
        return np.concatenate([self.corners, self.normals, self.colours, self.finish], axis=1).astype("f4")

    def moved(self, shift: ArrayLike, turn: Array | None = None) -> Mesh:
        """Turn about the origin, then shift."""
        t = np.eye(3) if turn is None else turn
        return Mesh(self.corners @ t.T + np.asarray(shift), self.normals @ t.T, self.colours, self.finish)


def joined(meshes: Sequence[Mesh]) -> Mesh:
    return Mesh(
        *(
            np.concatenate([getattr(m, name) for m in meshes])
            for name in ("corners", "normals", "colours", "finish")
        )
    )


def flat(corners: Array, colour: Colour, surface: float = PLAIN, gloss: float = 0.05) -> Mesh:
    """Flat-shaded triangles from corners (n, 3, 3)."""
    c = np.asarray(corners, dtype=float)
    n = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    n /= np.linalg.norm(n, axis=1, keepdims=True)
    rows = len(c) * 3
    return Mesh(
        c.reshape(-1, 3),
        np.repeat(n, 3, axis=0),
        np.tile(np.asarray(colour, dtype=float), (rows, 1)),
        np.tile(np.array([surface, gloss]), (rows, 1)),
    )


def quad(a: Sequence[float], b: Sequence[float], c: Sequence[float], d: Sequence[float], colour: Colour,
         surface: float = PLAIN, gloss: float = 0.05) -> Mesh:  # fmt: skip
    """A flat four-sided face; seen from the side from which a, b, c, d run anticlockwise."""
    p = [np.asarray(v, dtype=float) for v in (a, b, c, d)]
    return flat(np.array([[p[0], p[1], p[2]], [p[0], p[2], p[3]]]), colour, surface, gloss)


def box(
    centre: Sequence[float], size: Sequence[float], colour: Colour, surface: float = PLAIN, gloss: float = 0.05
) -> Mesh:
    c, h = np.asarray(centre, dtype=float), np.asarray(size, dtype=float) / 2.0
    faces = []
    for axis in range(3):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        for s in (1.0, -1.0):
            p = np.tile(c, (4, 1))
            p[:, axis] += s * h[axis]
            signs = [(-1, -1), (1, -1), (1, 1), (-1, 1)] if s > 0 else [(-1, -1), (-1, 1), (1, 1), (1, -1)]
            for row, (i, j) in enumerate(signs):
                p[row, u] += i * h[u]
                p[row, v] += j * h[v]
            faces.append(p[[0, 1, 2]])
            faces.append(p[[0, 2, 3]])
    return flat(np.array(faces), colour, surface, gloss)


def lathe(
    profile: Sequence[tuple[float, float]], colours: Sequence[Colour], *, around: int = 72,
    gloss: float = 0.15, lettering: Sequence[tuple[int, Colour, Sequence[tuple[float, float]]]] = (),
) -> Mesh:  # fmt: skip
    """Turn a profile about the x axis.

    Parameters
    ----------
    profile : points (x, radius), m, running so that the outside lies on the left of the way they run when x
        points right and the radius up.
    colours : one for each piece between two points.
    lettering : (piece, colour, [(from, to), ...]) paints parts of a piece's circle, in turns (0..1).
    """
    steps = np.arange(around + 1) / around
    a = 2 * np.pi * steps
    ring = np.stack([np.zeros_like(a), np.cos(a), np.sin(a)], axis=1)
    parts = []
    for i, ((x0, r0), (x1, r1)) in enumerate(pairwise(profile)):
        start = ring * r0 + np.array([x0, 0, 0])
        end = ring * r1 + np.array([x1, 0, 0])
        dx, dr = x1 - x0, r1 - r0
        length = float(np.hypot(dx, dr))
        if length == 0.0:
            continue
        normal = ring * (dx / length) + np.array([-dr / length, 0, 0])
        first = np.stack([start[:-1], end[:-1], end[1:]], axis=1)
        second = np.stack([start[:-1], end[1:], start[1:]], axis=1)
        first_n = np.stack([normal[:-1], normal[:-1], normal[1:]], axis=1)
        second_n = np.stack([normal[:-1], normal[1:], normal[1:]], axis=1)
        corners = np.concatenate([first, second]).reshape(-1, 3)
        normals = np.concatenate([first_n, second_n]).reshape(-1, 3)
        paint = np.tile(np.asarray(colours[i], dtype=float), (around, 1))
        for piece, colour, spans in lettering:
            if piece == i:
                for lo, hi in spans:
                    paint[(steps[:-1] >= lo) & (steps[:-1] < hi)] = colour
        painted = np.repeat(np.concatenate([paint, paint]), 3, axis=0)
        finish = np.tile(np.array([PLAIN, gloss]), (len(corners), 1))
        parts.append(Mesh(corners, normals, painted, finish))
    return joined(parts)


def rod(start: Sequence[float], end: Sequence[float], radius: float, colour: Colour, *, around: int = 20,
        gloss: float = 0.3) -> Mesh:  # fmt: skip
    """A round bar with closed ends between two points."""
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    length = float(np.linalg.norm(b - a))
    profile = [(0.0, 0.0), (0.0, radius), (length, radius), (length, 0.0)]
    along = (b - a) / length
    other = np.array([0.0, 0.0, 1.0]) if abs(along[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    second = np.cross(other, along)
    second /= np.linalg.norm(second)
    turn = np.column_stack([along, second, np.cross(along, second)])
    return lathe(profile, [colour] * 3, around=around, gloss=gloss).moved(a, turn)
