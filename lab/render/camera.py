"""A pinhole camera standing beside the lifter, and the hand that holds it.

Pixels: x right, y down, centre of the first pixel at (0, 0). World axes as in `lab.render.body`.
"""

from __future__ import annotations

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from lab.render.rotation import X, Y, Z, about

Array = NDArray[np.float64]


@frozen
class Camera:
    """Where the camera stands and how it looks.

    Parameters
    ----------
    side : "left" or "right", the lifter's side it stands on.
    yaw_deg : 0 is exactly side-on, + is toward the lifter's front (bench: feet).
    distance_m : along the floor from `target_m`.
    height_m : of the lens above the floor.
    target_m : (x, y, z), the point in the world that yaw and distance are counted from.
    aim_m : height above the floor, over the target, at which the middle of the picture looks.
    roll_deg : + = the picture must be turned clockwise to stand upright.
    fov_deg : across the picture's longer side.
    """

    side: str
    yaw_deg: float
    distance_m: float
    height_m: float
    target_m: tuple[float, float, float]
    aim_m: float
    roll_deg: float
    fov_deg: float
    width_px: int
    height_px: int

    @property
    def focal_px(self) -> float:
        return max(self.width_px, self.height_px) / 2.0 / float(np.tan(np.radians(self.fov_deg) / 2.0))

    @property
    def place_m(self) -> Array:
        yaw = np.radians(self.yaw_deg)
        outward = np.array([np.cos(yaw) if self.side == "left" else -np.cos(yaw), -np.sin(yaw), 0.0])
        return np.array([self.target_m[0], self.target_m[1], 0.0]) + outward * self.distance_m + Z * self.height_m

    @property
    def pitch_deg(self) -> float:
        """Looking down is +."""
        return float(np.degrees(np.arctan2(self.height_m - self.aim_m, self.distance_m)))

    def still(self) -> View:
        """The camera on a tripod."""
        to = np.array([self.target_m[0], self.target_m[1], self.aim_m]) - self.place_m
        ahead = to / np.linalg.norm(to)
        right = np.cross(ahead, Z)
        right /= np.linalg.norm(right)
        down = np.cross(ahead, right)
        turn = np.stack([right, down, ahead])
        return View(self, self.place_m, about(Z, -self.roll_deg) @ turn)

    def held(self, shift_m: Array, rock_deg: Array) -> View:
        """The camera in a hand: moved by `shift_m` (3,) and rocked by `rock_deg` (pitch, yaw, roll)."""
        still = self.still()
        rock = about(X, float(rock_deg[0])) @ about(Y, float(rock_deg[1])) @ about(Z, float(rock_deg[2]))
        return View(self, still.place_m + shift_m, rock @ still.turn)


@frozen
class View:
    """A camera at one moment: `turn` takes world axes to right, down, ahead."""

    camera: Camera
    place_m: Array
    turn: Array

    def seen(self, points_m: Array) -> Array:
        """Points (n, 3) in camera axes (right, down, ahead), m."""
        return np.asarray((np.atleast_2d(points_m) - self.place_m) @ self.turn.T)

    def project(self, points_m: Array) -> Array:
        """Where points (n, 3), m, appear (n, 2), px."""
        p = self.seen(points_m)
        f = self.camera.focal_px
        middle = np.array([(self.camera.width_px - 1) / 2.0, (self.camera.height_px - 1) / 2.0])
        return np.asarray(p[:, :2] / p[:, 2:] * f + middle)

    def clip_matrix(self, near_m: float = 0.1, far_m: float = 40.0) -> Array:
        """World to clip space (4, 4) for a picture drawn with its first row at the bottom."""
        w, h, f = self.camera.width_px, self.camera.height_px, self.camera.focal_px
        lens = np.zeros((4, 4))
        lens[0, 0] = 2.0 * f / w
        lens[1, 1] = -2.0 * f / h
        lens[2, 2] = (far_m + near_m) / (far_m - near_m)
        lens[2, 3] = -2.0 * far_m * near_m / (far_m - near_m)
        lens[3, 2] = 1.0
        place = np.eye(4)
        place[:3, :3] = self.turn
        place[:3, 3] = -self.turn @ self.place_m
        return lens @ place


def hand_shake(t_s: Array, rng: np.random.Generator, *, rock_deg: float, shift_m: float) -> tuple[Array, Array]:
    """Draw a hand's tremor and sway at the times `t_s`.

    Returns shifts (n, 3), m, and rocks (n, 3), degrees, each with the given standard deviation: sums of sines
    between 0.15 and 4 Hz, slower parts larger. A hand holding a phone moves so; nothing is fitted to it.
    """

    def waves(sd: float) -> Array:
        hz = np.exp(rng.uniform(np.log(0.15), np.log(4.0), 14))
        size = hz**-0.9
        phase = rng.uniform(0, 2 * np.pi, 14)
        wave = np.sum(size[:, None] * np.sin(2 * np.pi * hz[:, None] * t_s[None] + phase[:, None]), axis=0)
        return np.asarray(wave * sd / np.sqrt(np.sum(size**2) / 2.0))

    shift = np.stack([waves(shift_m) for _ in range(3)], axis=1)
    rock = np.stack([waves(rock_deg), waves(rock_deg), waves(rock_deg * 0.6)], axis=1)
    return shift, rock
