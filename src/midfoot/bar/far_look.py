"""What the far disc looks like beside the near one, and laying it on a frame."""

from __future__ import annotations

import math

import cv2
import numpy as np
from attrs import frozen

from midfoot.bar.camera import Camera
from midfoot.bar.far_bar import Ends
from midfoot.bar.far_shots import NEAR_MARGIN, NearSeen
from midfoot.bar.patches import Map, Picture, cut, edges, likeness, peak
from midfoot.records.base import FloatArray

WINDOW = 1.12
"""The template reaches so far beyond the outline."""
SEARCH = 0.18
"""How far from where a rigid bar would have it the far disc is looked for, far radii: some 1.5 degrees of tilt."""
LEAST_SHOWN = 0.3
"""Share of the template that the near plate and the picture's edge must leave."""
LEAST_FIT, ACCEPT = 0.25, 0.6


@frozen
class Place:
    """The far disc in one frame: place in px, and likeness."""

    x_px: float
    y_px: float
    fit: float


@frozen(eq=False)
class FarLook:
    """The averaged far disc: `edges` by double angle around its centre, `unit` patch pixels per far radius.

    `camera` and `ends` tell where it must be for any place of the near plate; `fit` is the likeness that the
    frames it was learnt from reach; `radius_px` its usual size.
    """

    ends: Ends
    camera: Camera
    near: NearSeen
    edges: Map
    weight: Map
    shown: Map
    unit: float
    radius_px: float
    fit: float

    @property
    def half(self) -> int:
        """Half-size of the template in patch pixels."""
        return int(self.edges.shape[0]) // 2

    @property
    def accept(self) -> float:
        """Likeness from which the disc counts as seen."""
        return max(ACCEPT * self.fit, 0.75 * LEAST_FIT)

    def expected(self, near_px: FloatArray, move: FloatArray) -> tuple[FloatArray, float]:
        """Where a rigid bar has the far disc (2,) px of the frame, and its radius there, for a near place (2,).

        `move` (2, 3) carries the frame's pixels to the first frame's.
        """
        steady = np.atleast_2d(move[:, :2] @ near_px + move[:, 2])
        far_m = self.ends.far_m(self.camera, steady)
        disc = self.camera.ellipse(far_m[0], self.ends.radius_m)
        place = np.linalg.solve(move[:, :2], np.array([disc.x_px, disc.y_px]) - move[:, 2])
        return np.asarray(place, float), disc.major_px / math.sqrt(abs(float(np.linalg.det(move[:, :2]))))

    def lay_on(self, luma: Picture, near_px: FloatArray, move: FloatArray, factor: float = 1.0) -> Place | None:
        """Find the far disc in a frame; None where it cannot be seen. Whether it fits is left to the caller.

        Parameters
        ----------
        luma : the frame, or a copy of it reduced by `factor`.
        near_px, move : the near plate's place, and the way to the first frame's pixels, both of the whole frame.
        """
        around, radius = self.expected(near_px, move)
        extra = max(2, round(SEARCH * self.unit))
        seen, shown = patch_of(luma, around, radius / self.unit, self.half + extra, near_px, self.near, factor)
        middle = slice(extra, extra + 2 * self.half + 1)
        weight = self.weight * shown[middle, middle]
        if weight.sum() < LEAST_SHOWN * self.weight.sum():
            return None
        score = likeness(seen, self.edges, np.ascontiguousarray(weight))
        row, column = np.unravel_index(int(np.argmax(score)), score.shape)
        v, u, top, _, _ = peak(score, int(row), int(column))
        step = radius / self.unit
        return Place(float(around[0]) + (u - extra) * step, float(around[1]) + (v - extra) * step, top)


def patch_of(
    luma: Picture, at_px: FloatArray, step_px: float, half: int, near_px: FloatArray, near: NearSeen, factor: float
) -> tuple[Map, Map]:
    """Edges of a patch around `at_px`, and where it is in the picture and free of the near plate."""
    x, y = (at_px + 0.5) * factor - 0.5
    patch, inside = cut(luma, float(x), float(y), step_px * factor, half)
    shown = np.asarray(inside * _beside(near_px, near, at_px, step_px, half), np.float32)
    return edges(patch, shown), shown


def near_radius(near: NearSeen) -> float:
    """The near plate's usual outermost radius, px."""
    return float(np.median(near.radius_px))


def window(half: int, unit: float, aspect: float, axis_deg: float) -> FloatArray:
    """Weight of a patch's pixels: the disc and a little around it."""
    v, u = np.mgrid[-half : half + 1, -half : half + 1] / unit
    c, s = math.cos(math.radians(axis_deg)), math.sin(math.radians(axis_deg))
    r = np.hypot(u * c + v * s, (-u * s + v * c) / max(aspect, 0.3))
    return np.asarray(np.clip((WINDOW - r) / 0.05, 0.0, 1.0))


def _beside(near_px: FloatArray, near: NearSeen, at_px: FloatArray, step_px: float, half: int) -> Map:
    """1 where a patch around `at_px` is free of the near plate."""
    out = np.ones((2 * half + 1, 2 * half + 1), np.float32)
    place = (near_px - at_px) / step_px + half
    axes = near.mask_axes(NEAR_MARGIN * near_radius(near) / step_px)
    if np.abs(place).max() < 30000 and max(axes) < 30000:
        where = (round(float(place[0])), round(float(place[1])))
        cv2.ellipse(out, where, (round(axes[0]), round(axes[1])), near.lean_deg, 0, 360, 0.0, -1)
    return out
