"""The bar: in the picture (track), where the camera stood (view, scale), and in the plane of motion (path)."""

from __future__ import annotations

import numpy as np
from attrs import field, frozen

from midfoot.records.base import FloatArray, Value, bool_field, float_field, one_of

BAR_STATUS = ("found", "unsure", "not_found")
BAR_SOURCE = ("plate", "hands", "shaft", "none")
FACINGS = ("image_left", "image_right", "toward", "away", "unknown")
VIEW_CLASSES = ("side", "front_oblique", "rear_oblique", "front", "rear", "unknown")


@frozen
class Box:
    """One disc proposed in one frame: centre, major half-axis, minor/major, score 0..1."""

    x_px: float
    y_px: float
    radius_px: float
    aspect: float
    score: float


@frozen(kw_only=True)
class Sightings:
    """What the first look over the clip saw of discs and of the camera's own movement.

    `boxes[i]` are the discs proposed at `boxes_t_s[i]`. `camera_t_s` (m) and `camera_to_first` (m, 2, 3) are the
    similarity that carries a point of that frame into the coordinates of the first frame (background held
    still); `camera_ok` (m) is false where it could not be told and was bridged.
    """

    boxes_t_s: FloatArray = float_field(None)
    boxes: tuple[tuple[Box, ...], ...]
    camera_t_s: FloatArray = float_field(None)
    camera_to_first: FloatArray = float_field(None, 2, 3)
    camera_ok: np.ndarray = bool_field(None)


@frozen
class Candidate:
    """A place where the bar's near end may be, for one tap by a person."""

    x_px: float
    y_px: float
    radius_px: float
    at_s: float
    score: float


@frozen
class BarTrack:
    """The bar in the picture, one row per frame of the clip.

    Attributes
    ----------
    status, source : str
        `found`, `unsure`, `not_found`; what was followed.
    t_s : (n,) s
    xy_px : (n, 2) px
        Centre of the near plate's outer rim as it appears in each frame (not camera-corrected). NaN where
        nothing is known; bridged rows carry a position with `seen` false.
    steady_px : (n, 2) px
        The same in the first frame's coordinates, the camera's own movement taken out.
    sd_px : (n, 2) px
        Random error of each coordinate, one standard deviation.
    seen : (n,) bool
    diameter_px : Value or None
        Major axis of the near plate's outermost rim at its median place, with sd (which edge included).
    aspect : Value or None
        Minor over major axis of that rim, and the direction of its major axis in `axis_deg` (from image x).
    far_xy_px : (n, 2) px
        Centre of the far plate or far end of the bar, NaN where not seen; same frames.
    far_diameter_px : Value or None
    far_sd_px, far_common_sd_px : float or None
        Random error of each coordinate of the far places, and the error that they all share (which edge of the
        disc was seen), one standard deviation.
    camera_scale_sd : float or None
        How much the background grew and shrank over the clip, as the camera came nearer and went: sd of the
        logarithm of its size about a straight line in time, its own noise taken out.
    near_xy_px : (n, 2) px or None
        Centre of the near plate or near end of the bar where something else of it is followed (its shaft).
    candidates : tuple of Candidate
    reason : str
        Why the status is what it is, in one sentence.
    """

    status: str = field(validator=one_of(*BAR_STATUS))
    source: str = field(validator=one_of(*BAR_SOURCE))
    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, 2)
    steady_px: FloatArray = float_field(None, 2)
    sd_px: FloatArray = float_field(None, 2)
    seen: np.ndarray = bool_field(None)
    far_xy_px: FloatArray = float_field(None, 2)
    diameter_px: Value | None = None
    aspect: Value | None = None
    axis_deg: float | None = None
    far_diameter_px: Value | None = None
    candidates: tuple[Candidate, ...] = ()
    reason: str = ""
    far_sd_px: float | None = None
    far_common_sd_px: float | None = None
    camera_scale_sd: float | None = None
    near_xy_px: FloatArray | None = field(default=None, eq=False)


@frozen
class View:
    """Where the camera stood. Angles in degrees, lengths in metres, each with sd.

    `yaw_deg` 0 is exactly side-on, positive with the camera toward the lifter's front (bench: feet);
    `roll_deg` positive means the picture must be turned clockwise to stand upright; `pitch_deg` positive
    means the camera looks down. `distance_m` is from the camera to the near plate.
    """

    near_side: str | None
    facing: str = field(validator=one_of(*FACINGS))
    view_class: str = field(validator=one_of(*VIEW_CLASSES))
    yaw_deg: Value
    roll_deg: Value
    pitch_deg: Value
    distance_m: Value
    height_m: Value


@frozen
class Scale:
    """Millimetres per pixel at what is followed and at the lifter's mid-plane, and what it rests on.

    Followed is the near plate, or the middle of a shaft that is seen at the hands: then both are nearly the same.
    """

    mm_per_px: Value
    body_mm_per_px: Value
    plate_mm: float | None
    basis: str


READOUT_S = 0.016
"""How much later than its first row a phone reads a picture's last, one sd about at once: no file tells it.
Sensors that are read row by row take some 10 to 30 ms for a picture of a film (common practice, no source)."""


@frozen(kw_only=True)
class BarPath:
    """The bar in the plane of motion, corrected for the camera; 0, 0 where the first rep starts.

    `t_s` (n,), `forward_mm` (n,) toward the way the lifter faces (bench: toward the feet), `up_mm` (n,) against
    gravity, `sd_forward_mm` and `sd_up_mm` (n,) the random part, `seen` (n,). `common` sds hold for the whole
    clip: `scale_pct`, `yaw_deg`, `roll_deg`. Smoothing is not applied here; who differentiates filters.
    `hand_mm` is the slow part of `sd_up_mm` that a hand's sway leaves, 0 on a stand: it differs between moments,
    not from frame to frame. `rolled_mm` is the median of what a picture read row by row leaves in `sd_up_mm` where
    the bar moves. Neither is kept in files, where the sds hold them.
    """

    t_s: FloatArray = float_field(None)
    forward_mm: FloatArray = float_field(None)
    up_mm: FloatArray = float_field(None)
    sd_forward_mm: FloatArray = float_field(None)
    sd_up_mm: FloatArray = float_field(None)
    seen: np.ndarray = bool_field(None)
    scale_pct: float
    yaw_deg: float
    roll_deg: float
    source: str = field(validator=one_of(*BAR_SOURCE))
    hand_mm: float = 0.0
    rolled_mm: float = 0.0

    def moved(self, forward_mm: float, up_mm: float) -> BarPath:
        """Give the same path with its origin moved to (`forward_mm`, `up_mm`)."""
        from attrs import evolve

        return evolve(self, forward_mm=self.forward_mm - forward_mm, up_mm=self.up_mm - up_mm)
