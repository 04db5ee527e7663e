"""Landmarks of one person in one region: decoding, refinement on the heat maps, and the next region."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.body.network import Network
from midfoot.body.regions import Region, cut, region_of
from midfoot.records.base import FloatArray
from midfoot.records.body import LANDMARKS

COUNT = len(LANDMARKS)
ALL = 39
"""Landmarks of the network: 33 of the body, two that give the next region, four that are not used here."""
SIZE, MAP = 256, 64
OUTPUTS = (0, 1, 3, 4)
"""Landmarks, presence, heat maps, metres; the third, a mask of the person, is not used."""
WINDOW = np.arange(-3, 4)
REFINE_FROM = 0.5
"""Peak of the window from which the heat map moves a landmark."""
_ROW, _COLUMN = (a.ravel() for a in np.meshgrid(WINDOW, WINDOW, indexing="ij"))


@frozen
class Pose:
    """The network's answer for one region of one frame.

    `xy_px` (33, 2) in the picture; `peak` (33,) the height of the landmark's heat map beside it, 0..1, which
    tells a wrong joint far better than the network's own `visibility` (33,) does; `presence` 0..1 that there
    is a person; `depth_px` (33,) relative to the hips, toward the camera negative; `world_m` (33, 3) the
    network's own guess in metres about the hips; `region` what was looked at and `next_region` what to look at
    in the next frame.
    """

    xy_px: FloatArray
    peak: FloatArray
    visibility: FloatArray
    presence: float
    depth_px: FloatArray
    world_m: FloatArray
    region: Region
    next_region: Region


def refine(xy: FloatArray, maps: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Move landmarks to the centre of gravity of their heat map nearby.

    Parameters
    ----------
    xy : (k, 2)
        Fractions of the side.
    maps : (64, 64, k)
        Logits.

    Returns
    -------
    xy : (k, 2), peak : (k,)
        Where the 7 x 7 window's highest value is under 0.5 the landmark stays.
    """
    size = maps.shape[0]
    column = np.floor(xy[:, 0] * size).astype(np.intp)
    row = np.floor(xy[:, 1] * size).astype(np.intp)
    r = row[:, None] + _ROW
    c = column[:, None] + _COLUMN
    inside = (r >= 0) & (r < size) & (c >= 0) & (c < size)
    k = np.arange(len(xy))[:, None]
    logits = maps[np.clip(r, 0, size - 1), np.clip(c, 0, size - 1), k].astype(np.float64)
    weight = np.where(inside, 1 / (1 + np.exp(-np.clip(logits, -50, 50))), 0.0)
    peak = weight.max(axis=1)
    total = weight.sum(axis=1)
    safe = np.where(total > 0, total, 1.0)
    moved = np.stack([(weight * c).sum(axis=1) / safe, (weight * r).sum(axis=1) / safe], axis=1) / size
    use = (peak >= REFINE_FROM) & (total > 0)
    return np.where(use[:, None], moved, xy), peak


def _sigmoid(x: FloatArray) -> FloatArray:
    out: FloatArray = 1 / (1 + np.exp(-np.clip(x, -50, 50)))
    return out


class LandmarkNet:
    """The landmark network (`full` or `heavy`)."""

    def __init__(self, path: Path) -> None:
        self._network = Network(path, OUTPUTS)

    def see(self, rgb: NDArray[np.uint8], region: Region) -> Pose:
        """Give the landmarks of the person in `region` of the picture."""
        flat, flag, maps, world = self._network(cut(rgb, region, SIZE), 1 / 255, 0.0)
        rows = flat.reshape(ALL, 5).astype(np.float64)
        xy, peak = refine(rows[:, :2] / SIZE, maps[0])
        placed = region.to_picture(xy * SIZE, SIZE)
        c, s = np.cos(region.turn), np.sin(region.turn)
        metres = world.reshape(ALL, 3)[:COUNT].astype(np.float64)
        metres[:, :2] = metres[:, :2] @ np.array([[c, s], [-s, c]])
        return Pose(
            xy_px=placed[:COUNT],
            peak=peak[:COUNT],
            visibility=_sigmoid(rows[:COUNT, 3]),
            presence=float(flag.ravel()[0]),
            depth_px=rows[:COUNT, 2] / SIZE * region.side_px,
            world_m=metres,
            region=region,
            next_region=region_of(placed[COUNT], placed[COUNT + 1]),
        )

    def see_twice(self, rgb: NDArray[np.uint8], region: Region) -> Pose:
        """Look again with the region that the first look asks for; people lying down need it."""
        first = self.see(rgb, region)
        if first.presence < 0.2 or first.next_region.side_px < 8:
            return first
        return self.see(rgb, first.next_region)
