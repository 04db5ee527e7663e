"""Pictures covered: a few tiles of mean colour, drawn smooth, over a head or over all that is not sharp."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from midfoot.publish.look import Picture

BLOCKS = 6
"""Tiles across a head at most: no face is told by so few (common practice, no source)."""
LEAST_BLOCK_PX = 5.0
WIDE_TILES = 64
"""Tiles along the picture's long side where all of it is covered: a face of a tenth of it holds six."""
EDGE = 0.12
"""Width of the soft rim over the radius; it lies outside the head."""

Circle = tuple[float, float, float]
"""Middle and radius, px."""


def flattened(rgb: Picture, sharp: NDArray[np.float32]) -> Picture:
    """Give a picture in which a few tiles are left of all that is not `sharp` (rows, columns; 0..1)."""
    height, width = rgb.shape[:2]
    block = max(max(height, width) / WIDE_TILES, LEAST_BLOCK_PX)
    few: Any = cv2.resize(
        rgb, (max(1, int(width / block)), max(1, int(height / block))), interpolation=cv2.INTER_AREA
    )
    flat: Any = cv2.resize(few, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(cv2.blendLinear(np.ascontiguousarray(rgb), flat, sharp, 1 - sharp), np.uint8)


def cover(picture: Picture, circle: Circle) -> None:
    """Cover a circle of a picture in place: a few tiles of mean colour, drawn smooth; a soft rim outside it."""
    x, y, radius = circle
    reach = radius * (1 + EDGE)
    left, right = (int(np.clip(v, 0, picture.shape[1])) for v in (np.floor(x - reach), np.ceil(x + reach) + 1))
    top, bottom = (int(np.clip(v, 0, picture.shape[0])) for v in (np.floor(y - reach), np.ceil(y + reach) + 1))
    if right - left < 1 or bottom - top < 1 or radius <= 0:
        return
    part = picture[top:bottom, left:right]
    block = max(2 * reach / BLOCKS, LEAST_BLOCK_PX)
    tiles = tuple(int(np.clip(np.floor(size / block), 1, BLOCKS)) for size in (right - left, bottom - top))
    few: Any = cv2.resize(part, tiles, interpolation=cv2.INTER_AREA)
    flat: Any = cv2.resize(few, (right - left, bottom - top), interpolation=cv2.INTER_LINEAR)
    rows, columns = np.ogrid[top:bottom, left:right]
    away = np.hypot((columns - x).astype(np.float32), (rows - y).astype(np.float32))
    weight = np.clip((reach - away) / np.float32(max(reach - radius, 1e-6)), 0.0, 1.0)
    part[:] = cv2.blendLinear(flat, np.ascontiguousarray(part), weight, 1 - weight)
