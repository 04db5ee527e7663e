"""From pixels to millimetres forward and up, at any distance behind the near plate, with named camera errors.

A pinhole camera whose place follows from the records alone: yaw, roll, pitch, distance to the near plate, and the
millimetres per pixel there (together they give the focal length). World axes in mm, origin at the near plate's
centre where the first rep starts: `forward`, `away` (along the bar, from the near plate to the far one), `up`.
Joints lie nearer to the lifter's mid-plane than the plate; at 3 m the difference is 20 % of every length
(pinhole: (D - d) / D), so each joint is read at its own `away`.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import evolve, field, frozen

from midfoot.records.bar import Scale, View
from midfoot.records.base import FloatArray

LEAST_DISTANCE_MM = 500.0
LEAST_MIDDLE_SD_MM = 30.0
"""Nobody stands in the middle of the bar to better than this (common practice, no source)."""


@frozen
class Lens:
    """A camera that knows forward from backward.

    `sign` is +1 when forward is to the right of the picture, -1 when it is to the left. `distant` marks the
    stand-in for an unknown scale: parallel rays and `mm` that are pixels, good for angles only. `focal_px` makes
    `mm_per_px` true at the plate's distance along the optical axis; `_origin` is the world's origin in the
    camera's axes, mm.
    """

    sign: float
    yaw_rad: float
    roll_rad: float
    pitch_rad: float
    distance_mm: float
    mm_per_px: float
    centre_px: tuple[float, float]
    plate_px: tuple[float, float]
    distant: bool = False
    focal_px: float = field(init=False)
    _rotation: FloatArray = field(init=False, eq=False, repr=False)
    _origin: FloatArray = field(init=False, eq=False, repr=False)

    @_rotation.default
    def _turned(self) -> FloatArray:
        """Rows: the picture's right, down and viewing axes in (ahead, away, up); ahead is to the right."""
        turn = self.sign * self.yaw_rad
        s, c = math.sin(turn), math.cos(turn)
        sp, cp = math.sin(self.pitch_rad), math.cos(self.pitch_rad)
        sr, cr = math.sin(self.roll_rad), math.cos(self.roll_rad)
        right = np.array([c, s, 0.0])
        view = np.array([-s * cp, c * cp, -sp])
        down = np.array([s * sp, -c * sp, -cp])
        return np.array([cr * right + sr * down, -sr * right + cr * down, view])

    @focal_px.default
    def _focal(self) -> float:
        off = math.hypot(self.plate_px[0] - self.centre_px[0], self.plate_px[1] - self.centre_px[1])
        return math.sqrt(max((self.distance_mm / self.mm_per_px) ** 2 - off**2, 1.0))

    @_origin.default
    def _start(self) -> FloatArray:
        depth = self.focal_px * self.mm_per_px
        x = (self.plate_px[0] - self.centre_px[0]) / self.focal_px
        y = (self.plate_px[1] - self.centre_px[1]) / self.focal_px
        return np.array([x * depth, y * depth, depth])

    def project(self, forward_mm: float, up_mm: float, away_mm: float = 0.0) -> tuple[float, float]:
        """Give the pixel of a world point."""
        point = self._rotation @ np.array([self.sign * forward_mm, away_mm, up_mm])
        if self.distant:
            x, y = self.plate_px[0] + point[0] / self.mm_per_px, self.plate_px[1] + point[1] / self.mm_per_px
            return float(x), float(y)
        at = point + self._origin
        f = self.focal_px
        return float(self.centre_px[0] + f * at[0] / at[2]), float(self.centre_px[1] + f * at[1] / at[2])

    def on_plane(self, xy_px: tuple[float, float], away_mm: float = 0.0) -> tuple[float, float]:
        """Give (forward, up) in mm of the point that lies `away_mm` behind the near plate; NaN where none does."""
        forward, up = self.points_on_plane(np.array([xy_px], np.float64), away_mm)[0]
        return float(forward), float(up)

    def points_on_plane(self, xy_px: FloatArray, away_mm: float = 0.0) -> FloatArray:
        """Give (n, 2) forward and up in mm of pixels (n, 2); see `on_plane`."""
        rotation = self._rotation
        if self.distant:
            flat = np.concatenate([xy_px - np.array(self.plate_px), np.zeros((len(xy_px), 1))], axis=1)
            start = (flat * self.mm_per_px) @ rotation
            rays = np.broadcast_to(rotation[2], start.shape)
        else:
            seen = (xy_px - np.array(self.centre_px)) / self.focal_px
            rays = np.concatenate([seen, np.ones((len(xy_px), 1))], axis=1) @ rotation
            start = np.broadcast_to(-rotation.T @ self._origin, rays.shape)
        with np.errstate(divide="ignore", invalid="ignore"):
            length = (away_mm - start[:, 1]) / rays[:, 1]
        if not self.distant:
            length = np.where(length > 0, length, np.nan)
        length = np.where(np.abs(rays[:, 1]) < 1e-9, np.nan, length)
        met = start + length[:, None] * rays
        return np.stack([self.sign * met[:, 0], met[:, 2]], axis=1)

    def along_bar(self, xy_px: tuple[float, float]) -> float:
        """Give how far behind the near plate a point of the bar appears, mm: nearest to its line in the picture.

        Solved on the picture of the bar's line, along which a point at distance a lies at
        (p + a q) / (1 + a r); NaN where the bar points at the camera.
        """
        start, axis = self._origin, self._rotation[:, 1]
        f = self.focal_px
        p = np.array([self.centre_px[0] + f * start[0] / start[2], self.centre_px[1] + f * start[1] / start[2]])
        far = start + 1000.0 * axis
        if far[2] <= 0:
            return float("nan")
        q = np.array([self.centre_px[0] + f * far[0] / far[2], self.centre_px[1] + f * far[1] / far[2]])
        line = q - p
        length = float(np.hypot(*line))
        if length < 20.0:
            return float("nan")
        share = float((np.array(xy_px) - p) @ line) / length**2
        x = p + share * line
        lead = 0 if abs(line[0]) >= abs(line[1]) else 1
        seen = (x[lead] - self.centre_px[lead]) / f
        under = seen * axis[2] - axis[lead]
        return float(start[lead] - seen * start[2]) / float(under) if abs(under) > 1e-9 else float("nan")

    def mm_per_px_at(self, away_mm: float) -> float:
        """Give the size of a pixel on a plane behind the near plate, at the plate's height and place."""
        if self.distant:
            return self.mm_per_px
        depth = float(self._origin[2]) + away_mm * float(self._rotation[2, 1])
        return max(depth, LEAST_DISTANCE_MM) / self.focal_px


@frozen
class Optics:
    """The camera as estimated, and the same camera with each shared error one sd off.

    `middle_mm` is how far the lifter's mid-plane lies behind the near plate, `middle_sd_mm` its error, both from
    the two scales of the record. `scale_share` is the scale's relative sd, applied to lengths as they stand.
    """

    lens: Lens
    off: tuple[tuple[str, Lens], ...]
    middle_mm: float
    middle_sd_mm: float
    scale_share: float

    def effects(self, xy_px: tuple[float, float], away_mm: float) -> tuple[dict[str, float], dict[str, float]]:
        """Give the signed effect of every camera error on forward and on up, mm, of a point on a plane."""
        at = self.lens.on_plane(xy_px, away_mm)
        forward, up = {"scale": at[0] * self.scale_share}, {"scale": at[1] * self.scale_share}
        for source, lens in self.off:
            moved = lens.on_plane(xy_px, away_mm)
            forward[source], up[source] = moved[0] - at[0], moved[1] - at[1]
        return forward, up


def optics(
    view: View,
    scale: Scale | None,
    *,
    size_px: tuple[int, int],
    plate_px: tuple[float, float],
    sds: tuple[float, float, float] | None = None,
) -> Optics | None:
    """Build the camera from the records; None where forward cannot be told from the picture.

    Parameters
    ----------
    view, scale : the records; without a scale the lens is a distant one, good for angles.
    size_px : width and height of the upright picture.
    plate_px : the near plate's centre where the first rep starts, in the coordinates of the steady picture.
    sds : relative scale sd in per cent, yaw sd, roll sd in degrees, as the bar's path states them.
    """
    if view.facing not in ("image_left", "image_right"):
        return None
    sign = 1.0 if view.facing == "image_right" else -1.0
    pct, yaw_sd, roll_sd = sds if sds is not None else (3.0, view.yaw_deg.sd, view.roll_deg.sd)
    if scale is not None and sds is None:
        pct = 100.0 * scale.mm_per_px.sd / scale.mm_per_px.value
    known = scale is not None and math.isfinite(view.distance_m.value) and view.distance_m.value > 0
    lens = Lens(
        sign=sign,
        yaw_rad=math.radians(view.yaw_deg.value),
        roll_rad=math.radians(_or(view.roll_deg.value, 0.0)),
        pitch_rad=math.radians(_or(view.pitch_deg.value, 0.0)),
        distance_mm=max(view.distance_m.value * 1000.0, LEAST_DISTANCE_MM) if known else 1e6,
        mm_per_px=scale.mm_per_px.value if scale is not None else 1.0,
        centre_px=((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0),
        plate_px=plate_px,
        distant=not known,
    )
    off = [
        ("yaw", evolve(lens, yaw_rad=lens.yaw_rad + math.radians(_or(yaw_sd, 3.0)))),
        ("roll", evolve(lens, roll_rad=lens.roll_rad + math.radians(_or(roll_sd, 1.5)))),
        ("pitch", evolve(lens, pitch_rad=lens.pitch_rad + math.radians(_or(view.pitch_deg.sd, 3.0)))),
    ]
    if not known or scale is None:
        return Optics(lens, tuple(off), 0.0, 0.0, pct / 100.0)
    nearer = lens.distance_mm + max(view.distance_m.sd * 1000.0, 0.0)
    off.append(("distance", evolve(lens, distance_mm=nearer)))
    along = lens.focal_px * lens.mm_per_px / max(math.cos(lens.yaw_rad) * math.cos(lens.pitch_rad), 0.2)
    ratio = scale.body_mm_per_px.value / scale.mm_per_px.value
    # The body's scale repeats the plate's own error; only what is beyond it says where the mid-plane lies.
    beyond = (scale.body_mm_per_px.sd / scale.body_mm_per_px.value) ** 2 - (pct / 100.0) ** 2
    middle_sd = max(math.sqrt(max(beyond, 0.0)) * ratio * along, LEAST_MIDDLE_SD_MM)
    return Optics(lens, tuple(off), (ratio - 1.0) * along, middle_sd, pct / 100.0)


def _or(value: float, instead: float) -> float:
    return value if math.isfinite(value) else instead
