"""Square regions of a picture, possibly turned: what is cut out for a network, and how answers map back.

The mapping keeps the corner convention that the landmark network was used with where it was published:
source = centre + R(turn) (target - size / 2) side / size, without a half-pixel shift. Shifting by half a pixel
moves the answers by about 3 px on a person 900 px tall.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.records.base import FloatArray

GROWTH = 1.25
"""A region's side over the diameter of the circle round the whole body."""
BODY_PER_SIDE = 1 / 2.5
"""Hips to the far end of the body over the region's side: the unit of length in which people are compared."""


@frozen
class Region:
    """A square: centre x, y and side in px, and its turn in radians (positive turns its top to the right)."""

    x_px: float
    y_px: float
    side_px: float
    turn: float = 0.0

    @property
    def body_px(self) -> float:
        """Half of a body's length, px: from the hips to the end of the circle round the whole body."""
        return self.side_px * BODY_PER_SIDE

    def as_row(self) -> FloatArray:
        """Give (x, y, side, turn) as an array (4,)."""
        return np.array([self.x_px, self.y_px, self.side_px, self.turn])

    @classmethod
    def from_row(cls, row: FloatArray) -> Region:
        """Build a region from (x, y, side, turn)."""
        return cls(float(row[0]), float(row[1]), float(row[2]), float(row[3]))

    def to_picture(self, points: FloatArray, size: int) -> FloatArray:
        """Carry points (..., 2) of a cut-out of `size` px back into the picture."""
        c, s = np.cos(self.turn), np.sin(self.turn)
        offset = (points - size / 2) * (self.side_px / size)
        rotation = np.array([[c, s], [-s, c]])  # transposed: row vectors
        moved: FloatArray = offset @ rotation + np.array([self.x_px, self.y_px])
        return moved

    def turned(self, by: float) -> Region:
        """Give the same square turned further by `by` radians."""
        return Region(self.x_px, self.y_px, self.side_px, wrap(self.turn + by))


def wrap(angle: float) -> float:
    """Bring an angle in radians into (-pi, pi]."""
    return float(angle - 2 * np.pi * np.ceil((angle - np.pi) / (2 * np.pi)))


def region_of(centre: FloatArray, end: FloatArray) -> Region:
    """Give the region of a body with its hips' middle at `centre` and the end of its circle at `end`, px."""
    dx, dy = float(end[0] - centre[0]), float(end[1] - centre[1])
    side = 2 * np.hypot(dx, dy) * GROWTH
    return Region(float(centre[0]), float(centre[1]), float(side), wrap(np.pi / 2 - np.arctan2(-dy, dx)))


def cut(rgb: NDArray[np.uint8], region: Region, size: int, *, replicate: bool = True) -> NDArray[np.uint8]:
    """Cut a region out of a picture as (size, size, 3) uint8, bilinear.

    Outside the picture stands its border pixel (`replicate`) or black.
    """
    k = region.side_px / size
    c, s = np.cos(region.turn) * k, np.sin(region.turn) * k
    half = size / 2
    matrix = np.array(
        [
            [c, -s, region.x_px - half * c + half * s],
            [s, c, region.y_px - half * s - half * c],
        ]
    )
    border = cv2.BORDER_REPLICATE if replicate else cv2.BORDER_CONSTANT
    out: Any = cv2.warpAffine(
        rgb, matrix, (size, size), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=border
    )
    return np.asarray(out, np.uint8)


def alike(a: Region, b: Region) -> bool:
    """Tell whether two regions would show the network the same person the same way."""
    near = np.hypot(a.x_px - b.x_px, a.y_px - b.y_px) < 0.12 * max(a.side_px, b.side_px)
    ratio = a.side_px / b.side_px
    return bool(near and 0.75 < ratio < 1.33 and abs(wrap(a.turn - b.turn)) < 0.5)
