"""Angles of the body in the picture, with their error; not a number where a joint is hidden.

Angles are of the image plane on the side toward the camera. The network's own depth is not used for segments: on
rendered bodies it moved shank angles by 8 to 32 degrees. What turning away from side-on does to them is given as
an error that grows with the camera's yaw, common to the clip, and beyond 35 degrees no such angle is given. There
`joint_in_space` is what is left: in a bodyweight squat seen from 45 degrees to the front its knee was within 7
degrees rms of motion capture (far leg) and 13 (near leg), where the image plane was 17 and 34 short in the hole.
"""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.body.bar_place import BarEvidence, bar_of
from midfoot.records.base import FloatArray, float_field
from midfoot.records.body import HIDDEN, INDEX, SEEN, BodyTrack

COMMON_YAW_DEG = (0.0, 10.0, 30.0, 35.0)
COMMON_SD_DEG = (4.0, 6.0, 10.0, 12.0)
"""Error common to the clip against the true angle in the plane of motion, by yaw (from rendered bodies)."""
MOST_YAW_DEG = 35.0
SPACE_SD_DEG = 13.0

SEGMENTS = {
    "trunk": ("hip", "shoulder"),
    "thigh": ("knee", "hip"),
    "shank": ("ankle", "knee"),
    "forearm": ("elbow", "wrist"),
}
"""Lower end, upper end: the angle is 0 where the upper end stands straight over the lower."""
JOINTS = {
    "knee": ("hip", "knee", "ankle"),
    "elbow": ("shoulder", "elbow", "wrist"),
    "hip": ("shoulder", "hip", "knee"),
}


@frozen
class Angle:
    """An angle over time.

    `t_s` (n,), `deg` (n,) NaN where not seen, `sd_deg` (n,) from the joints' errors, `inferred` (n,) true where a
    joint it rests on was inferred (as 0 or 1), `sd_common_deg` shared by the whole clip.
    """

    name: str
    sd_common_deg: float
    t_s: FloatArray = float_field(None)
    deg: FloatArray = float_field(None)
    sd_deg: FloatArray = float_field(None)
    inferred: FloatArray = float_field(None)


def common_sd_deg(yaw_deg: float) -> float:
    """Give the error that the view puts on every angle of the clip, infinite beyond 35 degrees of yaw."""
    if not abs(yaw_deg) <= MOST_YAW_DEG:
        return float("inf")
    return float(np.interp(abs(yaw_deg), COMMON_YAW_DEG, COMMON_SD_DEG))


def segment(
    body: BodyTrack, name: str, *, side: str | None = None, roll_deg: float = 0.0, yaw_deg: float = 0.0
) -> Angle:
    """Give a segment's angle from the vertical, degrees, positive where its upper end leans to the image's right.

    Parameters
    ----------
    body : BodyTrack
    name : `trunk` (hip to shoulder), `thigh`, `shank`, `forearm`.
    side : `left` or `right`; the near side by default.
    roll_deg : how far the picture must be turned clockwise to stand upright.
    yaw_deg : the camera's yaw, for the common error.
    """
    low, high = (_joint(body, j, side) for j in SEGMENTS[name])
    return _lean(body, name, low, high, roll_deg, yaw_deg)


def trunk_to_bar(
    body: BodyTrack,
    bar: BarEvidence,
    *,
    side: str | None = None,
    roll_deg: float = 0.0,
    yaw_deg: float = 0.0,
    sd_px: float = 1.0,
) -> Angle:
    """Give the angle of the line from hip to bar: what stands for the trunk where the plate hides the shoulder.

    Its change is the trunk's change in a squat; it differs from the shoulder line by a constant.
    """
    low = _joint(body, "hip", side)
    at = bar_of(bar).at(body.t_s)
    seen = np.where(np.isfinite(at).all(axis=1), float(SEEN), float(HIDDEN))
    high: _Joint = (at, np.full(len(at), float(sd_px)), seen)
    return _lean(body, "trunk_to_bar", low, high, roll_deg, yaw_deg)


def joint(body: BodyTrack, name: str, *, side: str | None = None, yaw_deg: float = 0.0) -> Angle:
    """Give the angle inside a joint, degrees, 180 when straight: `knee`, `elbow`, `hip`."""
    (a, sd_a, st_a), (b, sd_b, st_b), (c, sd_c, st_c) = (_joint(body, j, side) for j in JOINTS[name])
    u, v = a - b, c - b
    lu, lv = np.hypot(u[:, 0], u[:, 1]), np.hypot(v[:, 0], v[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        cross, dot = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1)
        deg = np.degrees(np.abs(np.arctan2(cross, dot)))
        # moving the middle joint turns both arms: |n_u / lu - n_v / lv| with the arms' unit normals
        nu = np.stack([-u[:, 1], u[:, 0]], axis=1) / (lu**2)[:, None]
        nv = np.stack([-v[:, 1], v[:, 0]], axis=1) / (lv**2)[:, None]
        middle = np.hypot(*(nu - nv).T)
        sd = np.degrees(np.sqrt((sd_a / lu) ** 2 + (sd_c / lv) ** 2 + (sd_b * middle) ** 2))
    return _angle(body, name, deg, sd, np.min([st_a, st_b, st_c], axis=0), yaw_deg)


def joint_in_space(body: BodyTrack, name: str, *, side: str | None = None) -> Angle:
    """Give the angle inside a joint from the network's own guess in three dimensions, degrees, 180 when straight.

    For views beyond the image plane's reach. Error common to the clip: 13 degrees (knee of the nearer leg against
    motion capture, one person, 45 degrees to the front); a frame's error is that of the joints in the picture.
    """
    flat = joint(body, name, side=side)
    a, b, c = (body.world_m[:, INDEX[f"{side or body.near_side or 'left'}_{j}"]] for j in JOINTS[name])
    u, v = a - b, c - b
    with np.errstate(invalid="ignore", divide="ignore"):
        lengths = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
        deg = np.degrees(np.arccos(np.clip((u * v).sum(axis=1) / lengths, -1, 1)))
    seen = np.isfinite(deg) & np.isfinite(flat.deg)
    return Angle(
        name=name, sd_common_deg=SPACE_SD_DEG, t_s=body.t_s, deg=np.where(seen, deg, np.nan),
        sd_deg=np.where(seen, flat.sd_deg, np.nan), inferred=flat.inferred * seen,
    )  # fmt: skip


_Joint = tuple[FloatArray, FloatArray, FloatArray]


def _joint(body: BodyTrack, name: str, side: str | None) -> _Joint:
    k = INDEX[f"{side or body.near_side or 'left'}_{name}"]
    return body.xy_px[:, k], body.sd_px[:, k], body.state[:, k].astype(np.float64)


def _lean(body: BodyTrack, name: str, low: _Joint, high: _Joint, roll_deg: float, yaw_deg: float) -> Angle:
    line = high[0] - low[0]
    with np.errstate(invalid="ignore", divide="ignore"):
        deg = np.degrees(np.arctan2(line[:, 0], -line[:, 1])) + roll_deg
        sd = np.degrees(np.hypot(low[1], high[1]) / np.hypot(line[:, 0], line[:, 1]))
    return _angle(body, name, (deg + 180) % 360 - 180, sd, np.minimum(low[2], high[2]), yaw_deg)


def _angle(
    body: BodyTrack, name: str, deg: FloatArray, sd: FloatArray, state: FloatArray, yaw_deg: float
) -> Angle:
    common = common_sd_deg(yaw_deg)
    seen = (state != HIDDEN) & np.isfinite(deg) & np.isfinite(sd) & np.isfinite(common)
    return Angle(
        name=name, sd_common_deg=common, t_s=body.t_s, deg=np.where(seen, deg, np.nan),
        sd_deg=np.where(seen, sd, np.nan), inferred=(state == 1) & seen,
    )  # fmt: skip
