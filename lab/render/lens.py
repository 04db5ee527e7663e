"""A lens that bends straight lines: radial distortion as OpenCV's model has it, one coefficient."""

from __future__ import annotations

import cv2
import numpy as np
from attrs import evolve, field, frozen
from numpy.typing import NDArray

from lab.render.camera import Camera

Array = NDArray[np.float64]
MARGIN = 1.10


@frozen
class Lens:
    """Bends what a pinhole drew on a larger canvas into the picture. `bend` < 0 is a barrel.

    `canvas` is the camera whose picture is drawn: the same place and focal length, more around it.
    """

    camera: Camera
    bend: float
    canvas: Camera = field(init=False)
    _from: tuple[NDArray[np.int16], NDArray[np.uint16]] = field(init=False, eq=False)

    def __attrs_post_init__(self) -> None:
        c = self.camera
        width, height = (2 * round(v * MARGIN / 2) for v in (c.width_px, c.height_px))
        fov = 2 * np.degrees(np.arctan(max(width, height) / 2 / c.focal_px))
        object.__setattr__(self, "canvas", evolve(c, width_px=width, height_px=height, fov_deg=float(fov)))
        x, y = np.meshgrid(np.arange(c.width_px, dtype=float), np.arange(c.height_px, dtype=float))
        rays = cv2.undistortPoints(
            np.stack([x.ravel(), y.ravel()], 1)[:, None], self.matrix, np.array([self.bend, 0, 0, 0])
        )[:, 0]
        at = rays * c.focal_px + [(width - 1) / 2, (height - 1) / 2]
        maps = at.astype("f4").reshape(c.height_px, c.width_px, 2)
        object.__setattr__(self, "_from", cv2.convertMaps(maps, None, cv2.CV_16SC2))

    @property
    def matrix(self) -> Array:
        """Camera matrix (3, 3) as OpenCV has it."""
        c = self.camera
        f = c.focal_px
        return np.array([[f, 0, (c.width_px - 1) / 2], [0, f, (c.height_px - 1) / 2], [0, 0, 1.0]])

    def picture(self, drawn: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Bend a picture of the canvas."""
        return np.asarray(cv2.remap(drawn, *self._from, cv2.INTER_LINEAR), dtype=np.uint8)

    def bent(self, xy_px: Array) -> Array:
        """Where pinhole places (n, 2) px come to lie."""
        middle = np.array([(self.camera.width_px - 1) / 2, (self.camera.height_px - 1) / 2])
        off = (xy_px - middle) / self.camera.focal_px
        return np.asarray(middle + (xy_px - middle) * (1 + self.bend * (off**2).sum(axis=-1, keepdims=True)))
