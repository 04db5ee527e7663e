"""The clip as received, how it is asked to be read, and one frame of it."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from attrs import field, frozen
from attrs.validators import gt
from numpy.typing import NDArray

from midfoot.records.base import LIFTS, RecordError, one_of

LEAST_LENGTH_PX = 20.0
"""A shorter stretch cannot be told to better than a tenth by clicks."""


@frozen
class Reading:
    """How a clip is to be read.

    Parameters
    ----------
    from_s, to_s : float or None
        Part of the clip to measure, on the clip's own clock; None is the clip's start or end.
    mirrored : bool
        The file shows a mirror image (front camera); it is flipped on reading.
    real_speed : float
        Seconds of real time per second of file time divided out: a 240 fps scene stored at 30 fps has
        `real_speed = 8`, and its timestamps are divided by 8. 1 is an ordinary clip.
    """

    from_s: float | None = None
    to_s: float | None = None
    mirrored: bool = False
    real_speed: float = 1.0


@frozen
class ClipInfo:
    """What is known of a clip before it is measured. Times in seconds of real time.

    `width_px` and `height_px` are of the upright picture as measured: after rotation, and after the
    reduction of very large pictures (`reduced` is the factor, 1 when none).
    `frame_interval_median_s` and `frame_interval_max_s` come from the timestamps, not from a stated rate.
    `cuts_s` are moments where the picture changes as a whole; `time_base_doubtful` says in a sentence why the
    clock may not be real time ("" when nothing speaks against it).
    """

    name: str
    sha256: str
    duration_s: float
    frames: int
    width_px: int
    height_px: int
    rotation_deg: int
    mirrored: bool
    variable_rate: bool
    frame_interval_median_s: float
    frame_interval_max_s: float
    codec: str
    bit_depth: int
    hdr: bool
    reduced: float = 1.0
    location_data: bool = False
    truncated: bool = False
    median_luma: float = 128.0
    cuts_s: tuple[float, ...] = ()
    time_base_doubtful: str = ""


@frozen
class Frame:
    """One decoded frame, upright.

    `t_s` is the frame's own timestamp in seconds of real time from the clip's first shown frame. `luma` is
    uint8 (height, width); `rgb()` gives uint8 (height, width, 3), converted on the first call.
    """

    index: int
    t_s: float
    luma: NDArray[np.uint8] = field(eq=False, repr=False)
    _convert: Callable[[], NDArray[np.uint8]] = field(eq=False, repr=False)

    def rgb(self) -> NDArray[np.uint8]:
        """Give the frame in colour, uint8 (height, width, 3), R G B."""
        return self._convert()


@frozen
class Asked:
    """What the sender or the coach said about the set; everything but the lift may be unknown (None)."""

    lift: str = field(validator=one_of(*LIFTS))
    variation: str | None = None
    load_kg: float | None = None
    reps: int | None = None
    rpe: float | None = None
    rir: float | None = None
    plate_mm: float | None = None
    from_s: float | None = None
    to_s: float | None = None
    context_sha256: str | None = None
    stature_m: float | None = None


@frozen
class Tap:
    """A place in the upright picture at a moment, given by a person: the bar's end, or the lifter."""

    x_px: float
    y_px: float
    at_s: float


@frozen
class DepthMarks:
    """Crease of the hip and top of the knee as a person marked them at the low of a squat: one pair a lifter."""

    crease: Tap
    knee_top: Tap


@frozen
class KnownLength:
    """Two points of one frame and how far apart they are in mm, as a person told them.

    Both lie on the near plate, or on something as far from the camera as it; across the line of sight.
    """

    a: Tap
    b: Tap
    mm: float = field(validator=gt(0))

    def __attrs_post_init__(self) -> None:
        if not self.px >= LEAST_LENGTH_PX:
            raise RecordError(f"b: expected at least {LEAST_LENGTH_PX:g} px from a, got {self.px:.1f}")

    @property
    def px(self) -> float:
        """How far apart the points are in the picture."""
        return math.hypot(self.b.x_px - self.a.x_px, self.b.y_px - self.a.y_px)


@frozen
class JointMark:
    """Where a joint is at a moment, as a person marked it; `joint` names a landmark of the body."""

    joint: str
    at: Tap
