"""A pinhole camera looking at a bar, and the plane in which the bar's near end moves.

World axes, in metres, with the origin at the near plate's centre at its reference place:

- `ahead`: in the plane of motion, positive to the *right of the picture* when the camera stands side-on,
- `away`: along the bar, from the near plate to the far one,
- `up`: against gravity.

`turn` is the camera's yaw in these picture-bound terms: positive moves the far end of the bar to the right of
the picture. Which way the lifter faces turns `ahead` and `turn` into forward and yaw, and nothing else here
needs to know it. That keeps the geometry the same for both facings: a mirrored clip changes two signs.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np
from attrs import frozen

from midfoot.records.base import FloatArray


@frozen
class Ellipse:
    """The picture of a circle: centre and half-axes in px, minor/major, major axis' angle from image x (deg)."""

    x_px: float
    y_px: float
    major_px: float
    minor_px: float
    axis_deg: float

    @property
    def aspect(self) -> float:
        """Minor over major axis."""
        return self.minor_px / self.major_px


@frozen
class Camera:
    """A pinhole camera.

    Parameters
    ----------
    focal_px : float
        Focal length in pixels of the upright picture.
    centre_px : (float, float)
        Principal point; the picture's middle unless somebody knows better.
    turn_rad, pitch_rad, roll_rad : float
        See the module; pitch is positive looking down, roll is positive when the picture must be turned
        clockwise to stand upright.
    plate_px : (float, float)
        Where the origin (the near plate's centre at its reference place) appears.
    depth_m : float
        Distance of the origin from the camera along the optical axis.
    """

    focal_px: float
    centre_px: tuple[float, float]
    turn_rad: float
    pitch_rad: float
    roll_rad: float
    plate_px: tuple[float, float]
    depth_m: float

    @cached_property
    def rotation(self) -> FloatArray:
        """Rows: the camera's right, down and viewing axes in the world's (ahead, away, up)."""
        s, c = math.sin(self.turn_rad), math.cos(self.turn_rad)
        sp, cp = math.sin(self.pitch_rad), math.cos(self.pitch_rad)
        sr, cr = math.sin(self.roll_rad), math.cos(self.roll_rad)
        # level camera: right (c, s, 0), view (-s, c, 0); pitched: down = -cp up - sp view; rolled: both mixed
        down = (sp * s, -sp * c, -cp)
        return np.array(
            [
                [cr * c + sr * down[0], cr * s + sr * down[1], sr * down[2]],
                [-sr * c + cr * down[0], -sr * s + cr * down[1], cr * down[2]],
                [-cp * s, cp * c, -sp],
            ]
        )

    @cached_property
    def plate_camera_m(self) -> FloatArray:
        """The origin in the camera's axes (right, down, view), metres."""
        x = (self.plate_px[0] - self.centre_px[0]) / self.focal_px
        y = (self.plate_px[1] - self.centre_px[1]) / self.focal_px
        return np.array([x * self.depth_m, y * self.depth_m, self.depth_m])

    @cached_property
    def position_m(self) -> FloatArray:
        """The camera in the world's axes (ahead, away, up), metres from the near plate's reference place."""
        return np.asarray(-self.rotation.T @ self.plate_camera_m)

    @property
    def distance_m(self) -> float:
        """Straight line from the camera to the near plate's reference place."""
        return float(np.linalg.norm(self.plate_camera_m))

    @property
    def m_per_px(self) -> float:
        """Metres per pixel at the near plate's reference depth."""
        return self.depth_m / self.focal_px

    def camera_m(self, points_m: FloatArray) -> FloatArray:
        """Carry world points (..., 3) into the camera's axes."""
        return np.asarray(points_m @ self.rotation.T + self.plate_camera_m)

    def project(self, points_m: FloatArray) -> FloatArray:
        """Give the picture (..., 2) px of world points (..., 3) m; NaN behind the camera."""
        at = self.camera_m(points_m)
        z = np.where(at[..., 2:] > 1e-6, at[..., 2:], np.nan)
        return np.asarray(np.array(self.centre_px) + self.focal_px * at[..., :2] / z)

    def on_plane(self, xy_px: FloatArray, away_m: float = 0.0) -> FloatArray:
        """Carry pixels (..., 2) back onto the vertical plane at `away_m` behind the near plate.

        Returns
        -------
        (..., 2) m
            `ahead`, `up`; NaN where the pixel is NaN or its ray does not meet the plane before the camera.
        """
        rays = np.ones((*xy_px.shape[:-1], 3))
        rays[..., :2] = (xy_px - np.array(self.centre_px)) / self.focal_px
        world = rays @ self.rotation
        start = self.position_m
        with np.errstate(divide="ignore", invalid="ignore"):
            length = (away_m - start[1]) / world[..., 1]
            length = np.where(length > 0.0, length, np.nan)
        return np.asarray(start[::2] + length[..., None] * world[..., ::2])

    def about_plane(self, xy_px: FloatArray, away_m: float = 0.0) -> FloatArray:
        """Carry pixels (..., 2) back to world points (..., 3) on or near the vertical plane at `away_m`.

        From the front the plane of motion is seen edge-on and a ray may miss it. Here the point then drifts to the
        depth of the plane's own middle instead of running away; seen from the side it is `on_plane` within 2 % of
        what depth changes. For fitting, where no view may be a dead end.
        """
        rays = np.ones((*xy_px.shape[:-1], 3))
        rays[..., :2] = (xy_px - np.array(self.centre_px)) / self.focal_px
        world = rays @ self.rotation
        depth = self.depth_m + away_m * self.rotation[2, 1]
        along = world[..., 1:2]
        missing = away_m - self.position_m[1] - depth * along
        return np.asarray(self.position_m + world * (depth + along * missing / (along**2 + 0.15**2)))

    def plate_on_plane(self, xy_px: FloatArray, radius_m: float) -> FloatArray:
        """Carry the centres of the near rim's *ellipses* back onto the plane of motion.

        The centre of a circle's picture is not the picture of its centre once it is seen at an angle (some 7 mm
        at 30 degrees and 3 m): the dual conic of the circle gives the shift, which is taken out here.

        Parameters
        ----------
        xy_px : (n, 2) px
        radius_m : float

        Returns
        -------
        (n, 2) m
            `ahead`, `up`.
        """
        if radius_m <= 0.0:
            return self.on_plane(xy_px)
        return self.on_plane(self.rim_to_centre(xy_px, radius_m))

    def rim_to_centre(self, xy_px: FloatArray, radius_m: float) -> FloatArray:
        """Give where the disc's centre appears when its ellipse's centre is seen at `xy_px` (n, 2)."""
        normal = self.rotation[:, 1]
        z2 = self.camera_m(self.about_plane(xy_px))[..., 2:3] ** 2
        r2 = radius_m**2
        seen = (xy_px - np.array(self.centre_px)) / self.focal_px
        true = (seen * (z2 - r2 * (1.0 - normal[2] ** 2)) - r2 * normal[2] * normal[:2]) / z2
        return np.asarray(true * self.focal_px + np.array(self.centre_px))

    def ellipse(self, centre_m: FloatArray, radius_m: float) -> Ellipse:
        """Give the picture of a disc square to the bar, centred at `centre_m` (3,).

        From the dual conic of the circle: K (R^2 (I - n n') - C C') K' (Hartley & Zisserman, Multiple View
        Geometry, ch. 8: the image of a conic under a plane homography).
        """
        c, shape, _ = self._conic(np.atleast_2d(centre_m), radius_m)
        values, vectors = np.linalg.eigh(shape[0])
        major = vectors[:, 1]
        return Ellipse(
            float(c[0, 0]),
            float(c[0, 1]),
            math.sqrt(float(values[1])),
            math.sqrt(max(float(values[0]), 0.0)),
            math.degrees(math.atan2(float(major[1]), float(major[0]))) % 180.0,
        )

    def ellipse_centres(self, centres_m: FloatArray, radius_m: float) -> FloatArray:
        """Give the centres (n, 2) px of the pictures of discs at `centres_m` (n, 3)."""
        return self._conic(centres_m, radius_m)[0]

    def _conic(self, centres_m: FloatArray, radius_m: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        at = self.camera_m(centres_m)
        n = self.rotation[:, 1]
        dual = radius_m**2 * (np.eye(3) - np.outer(n, n)) - at[:, :, None] * at[:, None, :]
        k = -dual[:, 2, 2]
        c = -dual[:, :2, 2] / k[:, None]
        shape = dual[:, :2, :2] / k[:, None, None] + c[:, :, None] * c[:, None, :]
        return c * self.focal_px + np.array(self.centre_px), shape * self.focal_px**2, k


def focal_from_view_angle(long_side_px: float, angle_deg: float) -> float:
    """Give the focal length in px of a lens that sees `angle_deg` along the picture's long side."""
    return 0.5 * long_side_px / math.tan(math.radians(angle_deg) / 2.0)
