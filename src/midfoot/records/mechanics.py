"""Mechanics of a set: the lifter's segments, where the joints were, what they carry, and what-if geometry.

Lengths in metres, masses in kilograms, moments in newton metres for both sides together; forward is the way the
lifter faces (bench: toward the feet), up is against gravity.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from midfoot.records.base import FloatArray, RecordError, float_field, one_of

SEXES = ("male", "female")
TABLES = ("de_leva", "winter")


@frozen
class Known:
    """A number with its random sd and the sd that all reps of the clip share."""

    value: float
    sd: float
    sd_common: float

    @property
    def total_sd(self) -> float:
        """Both parts together."""
        return math.hypot(self.sd, self.sd_common)


@frozen
class Segment:
    """One part of the body, both sides together where there are two.

    `com` is the centre of mass as a share of `length_m` from the proximal end, `radius` the radius of gyration
    about the side-to-side axis through it as a share of `length_m`, `length_sd` the sd of the length as such a
    share.
    """

    name: str
    mass_kg: float
    length_m: float
    com: float
    radius: float
    length_sd: float = 0.05

    @property
    def inertia_kg_m2(self) -> float:
        """Moment of inertia about the side-to-side axis through the centre of mass."""
        return self.mass_kg * (self.radius * self.length_m) ** 2


@frozen
class Length:
    """A length of the lifter with its sd, m, and in how many frames it was seen."""

    m: float
    sd_m: float
    frames: int


@frozen
class Lifter:
    """A planar body scaled to one lifter."""

    sex: str = field(validator=one_of(*SEXES))
    stature_m: float
    body_mass_kg: float
    table: str = field(validator=one_of(*TABLES))
    segments: Mapping[str, Segment]

    def __attrs_post_init__(self) -> None:
        if not 20.0 <= self.body_mass_kg <= 350.0:
            raise RecordError(f"body_mass_kg: expected 20 to 350, got {self.body_mass_kg:g}")
        if not 1.0 <= self.stature_m <= 2.4:
            raise RecordError(f"stature_m: expected 1.0 to 2.4, got {self.stature_m:g}")


@frozen(kw_only=True)
class Places:
    """Where bar and joints are over time, in metres.

    `t_s` (n,); `bar` (n, 2) forward and up of the middle of the bar; `joints[name]` (n, 2), NaN where hidden, the
    lifter's two sides taken as one. `path_t_s` (m,) and `path` (m, 2) are the bar at every frame. `sd[name]`
    (n,) is the random sd per axis of each joint, `bar_sd_m` of the bar.
    `common[source][name]` (2,) is the signed effect of one sd of an error that the clip shares on a place.
    `own_share` is how much of a joint's sd differs between two readings of the same posture; the rest is the same
    in every rep. `seen[name]` (n,) tells where a joint was seen and not inferred; all are without it.
    """

    t_s: FloatArray = float_field(None)
    bar: FloatArray = float_field(None, 2)
    path_t_s: FloatArray = float_field(None)
    path: FloatArray = float_field(None, 2)
    joints: Mapping[str, FloatArray]
    sd: Mapping[str, FloatArray]
    bar_sd_m: float
    common: Mapping[str, Mapping[str, FloatArray]] = field(factory=dict)
    own_share: float = 1.0
    seen: Mapping[str, NDArray[np.bool_]] = field(factory=dict)


@frozen
class JointLoad:
    """What one joint carries at one moment.

    `arm_mm` is how far the bar is in front of the joint; `moment_nm` the net moment that muscles must balance,
    quasi-static, `bar_nm` the bar's share of it (None without a load); `dynamic_nm` with the accelerations of
    bar and
    segments. None where something needed is not known; `reason` then says what.
    """

    joint: str
    arm_mm: Known | None
    bar_nm: Known | None
    moment_nm: Known | None
    dynamic_nm: Known | None
    reason: str = ""


@frozen
class MomentOfRep:
    """The loads at one named moment of a rep, and where bar and joints are."""

    name: str
    at_s: float
    loads: tuple[JointLoad, ...]
    trunk_deg: Known | None
    places_m: Mapping[str, tuple[float, float]]


@frozen
class ArmLine:
    """A moment arm in the picture: from the joint level to under or over the bar, px of the frame."""

    joint: str
    joint_px: tuple[float, float]
    end_px: tuple[float, float]


@frozen
class ArmsInPicture:
    """The bar's middle, its vertical (upper end, lower end) and the moment arms of one frame, px.

    `lifter_px` are all joints that are seen, for the part of the frame to keep.
    """

    at_s: float
    bar_px: tuple[float, float]
    vertical_px: tuple[tuple[float, float], tuple[float, float]]
    arms: tuple[ArmLine, ...]
    lifter_px: tuple[tuple[float, float], ...] = ()


@frozen
class RepMechanics:
    """One rep. `bar_work_j` and powers are of the ascent; `peak_force_n` is the force of the hands on the bar."""

    n: int
    moments: tuple[MomentOfRep, ...]
    bar_work_j: Known | None
    mean_power_w: Known | None
    peak_power_w: Known | None
    peak_force_n: Known | None
    reason: str = ""


@frozen
class DriftCost:
    """What carrying the bar 10 mm farther forward costs at the hip.

    `moment_nm` is the added moment, `kg` the load that would add as much at the arm of `arm_mm`.
    """

    moment_nm: float
    kg: Known | None
    arm_mm: float | None


@frozen
class WhatIf:
    """One change of set-up on this lifter's segments: predicted value after the change less the value before.

    `now` and `then` are model values for the named measure, `change` their difference with sd.
    """

    what: str
    measure: str
    unit: str
    now: float
    then: float
    change: Known
    measured: float | None = None
    text: str = "Worth trying: film both."
