"""The bar as a rigid thing: where its far end must appear while the near one moves, for a guess of three numbers.

A guess says where the far disc appears beside the near one at the near one's median place, and how much smaller it
is. With discs of one size and the bar's length that is a whole camera: the place gives turn and pitch, the size
gives the lens. Which lens a phone has is known within bounds, and so is how much smaller the far end may be.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import frozen

from midfoot.bar.camera import Camera
from midfoot.bar.scale import COLLARS_M, FLANGE_M, stack_prior
from midfoot.records.base import FloatArray, Value
from midfoot.records.clip import Asked

STEEPEST_RAD = math.radians(65.0)
"""Beyond it the discs are seen edge-on and an outline tells nothing."""
OUTLINE = 48
SHAFT_M = COLLARS_M + 0.005 + 2.0 * FLANGE_M
"""Between the inner faces of the inmost discs: the shaft is 1.31-1.32 m long between the collars (rulebook)."""
STACK_M = 0.06
"""Usual depth of the plates on an end."""


def inner_span(asked: Asked) -> Value:
    """Give the distance in m from the near disc's outer face to the far disc's inner one."""
    stack = stack_prior(asked)
    return Value(SHAFT_M + stack.value, math.hypot(0.01, stack.sd))


@frozen
class Guess:
    """Where the far disc appears: `x`, `y` from the near one in its radii (px), `ratio` of their sizes.

    `grow` is the size of the outline that is seen against the disc's.
    """

    x: float
    y: float
    ratio: float
    grow: float = 1.0


@frozen(eq=False)
class Ends:
    """What is known of the near end: place (n, 2) and radius in px, the picture's middle, the bar in metres.

    `span_m` is from the near disc's outer face to the far disc's inner face, which is the one that is seen.
    """

    near_px: FloatArray
    at_px: FloatArray
    radius_px: float
    centre_px: tuple[float, float]
    roll_rad: float
    span_m: float
    radius_m: float

    def camera(self, guess: Guess) -> Camera | None:
        """Give the camera that sees the far disc so; None when there is none."""
        near = (self.at_px - np.array(self.centre_px)) / self.radius_px
        far = near + np.array([guess.x, guess.y])
        # along the bar in the camera's axes, in bar lengths
        right, down = (far / guess.ratio - near) * self.radius_m / self.span_m
        if right * right + down * down >= 0.95:
            return None
        ahead = math.sqrt(1.0 - right * right - down * down)
        c, s = math.cos(self.roll_rad), math.sin(self.roll_rad)
        sideways, below = c * right - s * down, s * right + c * down
        turn = math.asin(sideways)
        pitch = math.asin(float(np.clip(-below / math.cos(turn), -0.95, 0.95)))
        if abs(turn) > STEEPEST_RAD:
            return None
        depth = self.span_m * ahead * guess.ratio / (1.0 - guess.ratio)
        focal = self.radius_px * depth / self.radius_m
        place = (float(self.at_px[0]), float(self.at_px[1]))
        made = Camera(focal, self.centre_px, turn, pitch, self.roll_rad, place, depth)
        # a disc off the middle looks a little larger than focal length and depth say
        focal *= self.radius_px / made.ellipse(np.zeros(3), self.radius_m).major_px
        return Camera(focal, self.centre_px, turn, pitch, self.roll_rad, place, depth)

    def far_m(self, camera: Camera, near_px: FloatArray | None = None) -> FloatArray:
        """Far disc's centre (n, 3) m for near places, in that camera's world."""
        places = self.near_px if near_px is None else near_px
        at = camera.about_plane(camera.rim_to_centre(places, self.radius_m))
        return np.asarray(at + np.array([0.0, self.span_m, 0.0]))

    def outlines(self, camera: Camera, grow: float = 1.0) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Outline of the far disc in every frame.

        Returns
        -------
        (2, n, OUTLINE, 2) px
            Points of the face's rim, and of the rim `STACK_M` behind it, whose far half is seen beside the face.
        (2, n, OUTLINE) radians
            Directions of their normals.
        (OUTLINE,) bool
            Where that far half is.
        """
        turn = np.linspace(0.0, 2.0 * math.pi, OUTLINE, endpoint=False)
        rim = grow * self.radius_m * np.stack([np.cos(turn), 0 * turn, np.sin(turn)], axis=1)
        face = self.far_m(camera)[:, None, :] + rim
        points = camera.project(np.stack([face, face + np.array([0.0, STACK_M, 0.0])]))
        along = np.roll(points, -1, axis=2) - np.roll(points, 1, axis=2)
        middle = points.mean(axis=2)
        behind = np.median(middle[1] - middle[0], axis=0)
        out = np.median(points[0] - middle[0][:, None], axis=0)
        return points, np.arctan2(along[..., 0], -along[..., 1]), out @ behind > 0.0

    def ratio_of(self, focal_px: float) -> float:
        """How much smaller the far disc is, seen about side-on through a lens of `focal_px`."""
        depth = focal_px * self.radius_m / self.radius_px
        return depth / (depth + self.span_m)
