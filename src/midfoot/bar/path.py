"""The bar's path in the plane of motion, taken back from the picture through the camera."""

from __future__ import annotations

import math

import numpy as np

from midfoot.bar.camera import Camera
from midfoot.bar.parallax import left_by_hand_mm
from midfoot.bar.rolling import rolled_px
from midfoot.bar.view import reference_px
from midfoot.records.bar import BarPath, BarTrack, Scale, View
from midfoot.records.base import FloatArray
from midfoot.records.body import BodyTrack
from midfoot.records.clip import Asked, ClipInfo

# beyond this the plane of motion is seen nearly edge-on and forward-backward movement is not seen at all
FORWARD_LIMIT_DEG = 70.0


def camera_from(track: BarTrack, view: View, scale: Scale, body: BodyTrack, info: ClipInfo) -> Camera:
    """Rebuild the camera from the view and the scale.

    The focal length follows: distance and mm per px at the same place leave no choice.
    """
    at = reference_px(track, body, info)
    cx, cy = (info.width_px - 1) / 2.0, (info.height_px - 1) / 2.0
    m = scale.mm_per_px.value / 1000.0
    off2 = float((at[0] - cx) ** 2 + (at[1] - cy) ** 2)
    focal = math.sqrt(max((view.distance_m.value / m) ** 2 - off2, 1.0))
    sigma = -1.0 if view.near_side == "left" else 1.0
    return Camera(
        focal_px=focal,
        centre_px=(cx, cy),
        turn_rad=math.radians(sigma * view.yaw_deg.value),
        pitch_rad=math.radians(view.pitch_deg.value),
        roll_rad=math.radians(view.roll_deg.value),
        plate_px=(float(at[0]), float(at[1])),
        depth_m=m * focal,
    )


def _random_sd(camera: Camera, xy_px: FloatArray, sd_px: FloatArray) -> FloatArray:
    """Carry the random pixel error through the camera, (n, 2) m."""
    here = camera.on_plane(xy_px)
    by_x = camera.on_plane(xy_px + np.array([1.0, 0.0])) - here
    by_y = camera.on_plane(xy_px + np.array([0.0, 1.0])) - here
    return np.asarray(np.hypot(by_x * sd_px[:, :1], by_y * sd_px[:, 1:]))


def bar_path(
    track: BarTrack, view: View, scale: Scale | None, body: BodyTrack, asked: Asked, info: ClipInfo
) -> BarPath | None:
    """Give the bar's path in mm in the plane of motion of what was followed.

    Every pixel is carried back onto the vertical plane, square to the bar, in which the near plate moves: so
    forward and up do not mix in oblique views, and the plate's growing as it comes nearer is accounted for. The
    origin is the bar's median place; `BarPath.moved` puts it where the first rep starts. The random error holds
    what a hand's sway leaves behind (parallax.py) and what rows read one after the other do to a bar that moves
    (rolling.py). Beyond 70 degrees of yaw `forward_mm` is NaN (not seen) and
    `up_mm` is taken in the plane that faces the camera.

    Parameters
    ----------
    track, view, scale, body, info
        As given to and by `view_and_scale`; the same body, since it may stand in for the reference place.
    asked : Asked
        Not used for the geometry; kept for what a later version may want of it.

    Returns
    -------
    BarPath or None
        None when nothing was followed or no length is known.
    """
    if scale is None or track.source == "none" or not np.isfinite(track.steady_px).any():
        return None
    camera = camera_from(track, view, scale, body, info)
    sigma = -1.0 if view.near_side == "left" else 1.0
    radius = 0.0 if scale.plate_mm is None or track.source != "plate" else scale.plate_mm / 2000.0
    xy = np.asarray(track.steady_px)
    steep = abs(view.yaw_deg.value) > FORWARD_LIMIT_DEG
    if steep:
        facing = Camera(
            camera.focal_px,
            camera.centre_px,
            0.0,
            camera.pitch_rad,
            camera.roll_rad,
            camera.plate_px,
            camera.depth_m,
        )
        places = facing.on_plane(xy)
        sds = _random_sd(facing, xy, track.sd_px)
        forward = np.full(xy.shape[0], np.nan)
        sd_forward = np.full(xy.shape[0], np.nan)
    else:
        places = camera.plate_on_plane(xy, radius)
        sds = _random_sd(camera, xy, track.sd_px)
        forward = 1000.0 * sigma * places[:, 0]
        sd_forward = 1000.0 * sds[:, 0]
    # What the hand leaves lies in the picture: from an oblique view it counts for more forward than up.
    hand_px = left_by_hand_mm(track, scale.mm_per_px.value, view.distance_m.value) / scale.mm_per_px.value
    hand = 1000.0 * _random_sd(facing if steep else camera, xy, np.full_like(xy, hand_px))
    rolled = 1000.0 * np.nan_to_num(_random_sd(facing if steep else camera, xy, rolled_px(track, info.height_px)))
    known = np.isfinite(hand[:, 1])
    return BarPath(
        t_s=track.t_s,
        forward_mm=forward,
        up_mm=1000.0 * places[:, 1],
        sd_forward_mm=np.hypot(np.hypot(sd_forward, hand[:, 0]), rolled[:, 0]),
        sd_up_mm=np.hypot(np.hypot(1000.0 * sds[:, 1], hand[:, 1]), rolled[:, 1]),
        seen=track.seen & np.isfinite(places).all(axis=1),
        scale_pct=100.0 * scale.mm_per_px.sd / scale.mm_per_px.value,
        yaw_deg=view.yaw_deg.sd,
        roll_deg=view.roll_deg.sd,
        source=track.source,
        hand_mm=float(np.median(hand[known, 1])) if known.any() else 0.0,
        rolled_mm=float(np.median(rolled[known, 1])) if known.any() else 0.0,
    )
