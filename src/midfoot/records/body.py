"""People in the clip, and the lifter's body over time."""

from __future__ import annotations

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from midfoot.records.base import FloatArray, float_field, floats, one_of, shaped, small_ints

LANDMARKS = (
    "nose", "left_eye_inner", "left_eye", "left_eye_outer", "right_eye_inner", "right_eye", "right_eye_outer",
    "left_ear", "right_ear", "mouth_left", "mouth_right", "left_shoulder", "right_shoulder", "left_elbow",
    "right_elbow", "left_wrist", "right_wrist", "left_pinky", "right_pinky", "left_index", "right_index",
    "left_thumb", "right_thumb", "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle",
    "right_ankle", "left_heel", "right_heel", "left_foot_index", "right_foot_index",
)  # fmt: skip
INDEX = {name: i for i, name in enumerate(LANDMARKS)}
HIDDEN, INFERRED, SEEN = 0, 1, 2


@frozen
class PersonTrack:
    """One person followed over part of the clip by the pose network.

    `t_s` (m,), `xy_px` (m, 33, 2), `peak` (m, 33) the height 0..1 of each landmark's heat map, `presence` (m,)
    0..1, `region` (m, 4): centre x, centre y, side in px, turn in radians. `carried_px` (m, 3): how far the
    picture itself moved down since the row before at the left wrist, the right wrist and beyond them on their
    line, the frame's own shake taken out; no rows where that was not looked at.
    """

    id: int
    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, len(LANDMARKS), 2)
    peak: FloatArray = float_field(None, len(LANDMARKS))
    presence: FloatArray = float_field(None)
    region: FloatArray = float_field(None, 4)
    carried_px: FloatArray = field(
        factory=lambda: np.zeros((0, 3)), converter=floats, validator=shaped(None, 3), eq=False
    )


@frozen
class People:
    """Everybody followed in the first look over the clip; `looked_t_s` are the moments looked at."""

    looked_t_s: FloatArray = float_field(None)
    tracks: tuple[PersonTrack, ...] = ()


@frozen(kw_only=True)
class BodyTrack:
    """The lifter's landmarks over time.

    Attributes
    ----------
    status : str
        `seen` or `not_seen`; with `not_seen` the arrays have no rows and `reason` says why.
    model : str
        Name of the network.
    t_s : (n,) s
    xy_px : (n, 33, 2) px, NaN where hidden
        Smoothed; in the frame's own coordinates.
    sd_px : (n, 33) px
        Standard deviation per axis, random and slow errors together.
    state : (n, 33) int8
        0 hidden, 1 inferred from bone lengths and seen neighbours, 2 seen.
    peak : (n, 33)
        Heat-map peak of the network's own answer.
    near_side : str or None
        `left` or `right`: which side of the lifter is toward the camera, None when it cannot be told.
    near_side_margin : float
        How clear that is, 0..1.
    depth_m : (n, 33)
        The network's own estimate of depth relative to the hips, metres, toward the camera negative; weak.
    """

    status: str = field(validator=one_of("seen", "not_seen"))
    model: str
    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, len(LANDMARKS), 2)
    sd_px: FloatArray = float_field(None, len(LANDMARKS))
    state: NDArray[np.int8] = field(converter=small_ints, eq=False)
    peak: FloatArray = float_field(None, len(LANDMARKS))
    depth_m: FloatArray = float_field(None, len(LANDMARKS))
    world_m: FloatArray = float_field(None, len(LANDMARKS), 3)
    near_side: str | None = None
    near_side_margin: float = 0.0
    reason: str = ""
