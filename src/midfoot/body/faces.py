"""Faces in a picture: the face network on overlapping tiles, upright and turned.

The network (BlazeFace, full range, 192 px) answers at 48 x 48 places with a box and a score. It sees small faces
only when they fill some part of what it is given: so the picture is shown whole and in tiles of two sizes.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.body.network import Network
from midfoot.body.regions import Region, cut
from midfoot.records.base import FloatArray

SIZE, CELLS = 192, 48
TILES = (0.25, 0.5, 1.0)
"""Sides of the tiles as shares of the picture's long side: a face of 24 px in 1280 fills 14 of it."""
STEP = 0.7
"""From tile to tile, in their sides: a face on the seam of two lies whole in one."""
OVERHANG = 0.12
NEARER, BESIDE = (5.0, 7.0, 10.0, 14.0), ((0.0, 0.0), (0.12, 0.05), (-0.12, -0.05))
"""Views in which a face is looked at again: sides in its radii, shifts in sides."""
LEAST_CHECKED = 0.05
MOST_SWELL = 1.8
"""How many times larger one answer for a head may be than another: a large false one must not swallow a face."""
HEAD_PER_BOX = 0.95
"""Radius of a circle from hair to chin over the side of the network's box, brow to chin (looked at on clips)."""


@frozen
class Face:
    """A face found: score 0..1, the middle of the head and a radius that holds it, px of the picture; its turn."""

    score: float
    x_px: float
    y_px: float
    radius_px: float
    turn: float = 0.0


def tiles(width_px: int, height_px: int, shares: tuple[float, ...] = TILES) -> list[list[Region]]:
    """List the upright square views, one list a size (a share of the long side), in their order."""
    long_side = max(width_px, height_px)
    out = []
    for share in shares:
        side = share * long_side
        places = [Region(x, y, side) for y in _middles(height_px, side) for x in _middles(width_px, side)]
        out.append(places)
    return out


def _middles(length: int, side: float) -> list[float]:
    """Give where tiles stand along an edge; the outer ones hang over it, for a head that is half in sight."""
    room = length + 2 * OVERHANG * side - side
    if side >= length:
        return [length / 2]
    count = int(np.ceil(room / (STEP * side))) + 1
    return [float(c) for c in side * (0.5 - OVERHANG) + np.linspace(0, room, count)]


def cell_centres() -> FloatArray:
    """Give the middles (2304, 2) of the network's places as fractions of the side."""
    at = (np.arange(CELLS) + 0.5) / CELLS
    y, x = np.meshgrid(at, at, indexing="ij")
    return np.stack([x.ravel(), y.ravel()], axis=1)


def decode(
    raw: NDArray[np.floating], logits: NDArray[np.floating], centres: FloatArray, threshold: float
) -> FloatArray:
    """Turn the network's answers into rows.

    Parameters
    ----------
    raw : (2304, 16)
        Middle of the box from the place, size of the box, six points that are not used; px of 192.
    logits : (2304,)
    centres : (2304, 2)
    threshold : float
        Least score, 0..1.

    Returns
    -------
    (m, 4) : score, middle x, y, side of the box, as fractions of the side; best first.
    """
    keep = np.flatnonzero(logits > np.log(threshold / (1 - threshold)))
    keep = keep[np.argsort(-logits[keep], kind="stable")]
    score = 1 / (1 + np.exp(-np.clip(logits[keep].astype(np.float64), -100, 100)))
    at = raw[keep].astype(np.float64) / SIZE
    side = at[:, 2:4].mean(axis=1)
    return np.concatenate([score[:, None], at[:, 0:2] + centres[keep], side[:, None]], axis=1)


class FaceNet:
    """The face network."""

    def __init__(self, path: Path) -> None:
        self._network = Network(path, (0, 1))
        self._centres = cell_centres()

    def look(self, rgb: NDArray[np.uint8], views: list[Region], threshold: float) -> list[Face]:
        """Give the faces found in the views of a picture, each once, best first."""
        found: list[Face] = []
        for view in views:
            raw, logits = self._network(cut(rgb, view, SIZE, replicate=False), 1 / 127.5, -1.0)
            for score, x, y, side in decode(raw[0], logits[0, :, 0], self._centres, threshold):
                at = view.to_picture(np.array([x, y]) * SIZE, SIZE)
                radius = float(HEAD_PER_BOX * side * view.side_px)
                found.append(Face(float(score), float(at[0]), float(at[1]), radius, view.turn))
        return apart(found)

    def check(self, rgb: NDArray[np.uint8], face: Face) -> float:
        """Look at one face again, nearer and farther and a little beside; gives the mean of the three best scores.

        A face is one in most of these views. A hand, a shoe or a plate is taken for one in some of them.
        """
        best = [0.0]
        for share in NEARER:
            side = share * face.radius_px
            for dx, dy in BESIDE:
                view = Region(face.x_px + dx * side, face.y_px + dy * side, side, face.turn)
                raw, logits = self._network(cut(rgb, view, SIZE, replicate=False), 1 / 127.5, -1.0)
                for score, x, y, box in decode(raw[0], logits[0, :, 0], self._centres, LEAST_CHECKED):
                    at = view.to_picture(np.array([x, y]) * SIZE, SIZE)
                    seen = (float(at[0]), float(at[1]), HEAD_PER_BOX * float(box) * side)
                    if alike(seen, (face.x_px, face.y_px, face.radius_px)):
                        best.append(float(score))
                        break
        return float(np.mean(sorted(best)[-3:])) if len(best) > 3 else 0.0


def alike(a: tuple[float, float, float], b: tuple[float, float, float]) -> bool:
    """Tell whether two circles (x, y, radius) are one head: near each other and of a size."""
    away = float(np.hypot(a[0] - b[0], a[1] - b[1]))
    small, large = sorted((a[2], b[2]))
    return away < 0.5 * small or (away < large and large < MOST_SWELL * small)


def apart(found: list[Face]) -> list[Face]:
    """Keep the best of faces that are one."""
    kept: list[Face] = []
    for face in sorted(found, key=lambda f: -f.score):
        if not any(alike((k.x_px, k.y_px, k.radius_px), (face.x_px, face.y_px, face.radius_px)) for k in kept):
            kept.append(face)
    return kept
