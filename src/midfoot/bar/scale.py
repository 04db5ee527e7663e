"""What is known of lengths before anything is measured: plates, the bar, the lifter, lenses.

Rulebook dimensions: distance between the collars' faces 1.31-1.32 m, bar at most 2.2 m, largest disc at most
450 mm (IPF technical rules, quoted); 450 mm +- 1 mm (IWF technical rules 3.3, quoted). For powerlifting 450 mm is
a *most*, and club iron may be anything down to 400 mm and below: an assumed diameter is always said to be one.
"""

from __future__ import annotations

import math

from attrs import frozen

from midfoot.bar.camera import focal_from_view_angle
from midfoot.records.bar import BarTrack
from midfoot.records.base import Value, Warned
from midfoot.records.clip import Asked, ClipInfo, KnownLength

FULL_SIZE_MM = 450.0
COLLARS_M = 1.31
BAR_M = 2.20
FLANGE_M = 0.030
"""Width of a sleeve's collar (common practice, no source)."""
STACK_M_KG = (0.0014, 0.0006)
"""Depth of a stack a kilogram beyond its first disc's, with its spread between steel and rubber."""
TOLD_SD, FULL_SIZE_SD, IRON_SD = 0.003, 0.007, 0.03
USUAL_SIZES = ((450.0, 0.58), (425.0, 0.21), (400.0, 0.21))
"""What a plate of unknown make on a bar of 60 kg or more may be across, mm, and how likely (common practice, no
source): full size, else club iron. Held against 450 mm the spread of it is 6 %, so 400 mm lies within two sds."""
MIXED_SD = 0.062
LIGHT_KG = 60.0
CLICK_SD_PX = 1.5
"""How well a person clicks the edge of a plate on an enlarged picture (common practice, no source)."""
FULL_SIZE_WORDS = ("competition", "bumper", "calibrated", "full size", "full-size")


@frozen
class Size:
    """A diameter in mm that the plate may have, its relative sd, and how likely it is."""

    mm: float
    share_sd: float
    weight: float


@frozen
class PlatePrior:
    """Diameter of the near plate in mm before measuring, where it comes from, and its warning.

    `sizes`, where it is not empty, are the few that it may have; `mm` then spans them all.
    """

    mm: Value
    basis: str
    warning: Warned | None
    sizes: tuple[Size, ...] = ()


def plate_prior(asked: Asked) -> PlatePrior:
    """Give what is known of the near plate's diameter from what was asked."""
    if asked.plate_mm is not None:
        return PlatePrior(
            Value(asked.plate_mm, TOLD_SD * asked.plate_mm), f"plate told: {asked.plate_mm:g} mm", None
        )
    remedy = "Measure the largest plate across with a tape and give it as --plate."
    if asked.load_kg is not None and asked.load_kg < LIGHT_KG:
        mm = 410.0
        return PlatePrior(
            Value(mm, 2.0 * IRON_SD * mm),
            f"plate of unknown size, {mm:g} mm assumed",
            Warned(
                "plate_diameter_assumed",
                f"Under {LIGHT_KG:g} kg the plates may be of any size: {mm:g} mm +- 6 % was assumed, and every "
                "length and velocity carries that.",
                remedy,
            ),
        )
    words = (asked.variation or "").lower()
    known = any(word in words for word in FULL_SIZE_WORDS)
    share = FULL_SIZE_SD if known else MIXED_SD
    return PlatePrior(
        Value(FULL_SIZE_MM, share * FULL_SIZE_MM),
        "full-size plate of 450 mm assumed",
        Warned(
            "plate_diameter_assumed",
            "The plate's diameter was not told: a full-size plate of 450 mm "
            f"(+- {100 * share:.{1 if known else 0}f} %{'' if known else ': club iron of 400 mm is 11 % less'}) "
            "was assumed, and every length and velocity carries that.",
            remedy,
        ),
        () if known else tuple(Size(mm, FULL_SIZE_SD, weight) for mm, weight in USUAL_SIZES),
    )


def length_px(length: KnownLength) -> Value:
    """Give how far apart the two points of a told length are, px."""
    return Value(length.px, 2**0.5 * CLICK_SD_PX)


def length_prior(length: KnownLength, track: BarTrack) -> PlatePrior:
    """Give the near plate's diameter from a length that was told at its distance from the camera.

    Without a plate in `track` the length itself stands for the diameter of what is seen.
    """
    px = length_px(length)
    share = TOLD_SD**2 + (px.sd / px.value) ** 2
    mm = length.mm
    if track.source == "plate" and track.diameter_px is not None:
        mm *= track.diameter_px.value / px.value
        share += (track.diameter_px.sd / track.diameter_px.value) ** 2
    return PlatePrior(Value(mm, mm * share**0.5), f"two points told: {length.mm:g} mm apart", None)


def span_prior(track: BarTrack, asked: Asked) -> Value:
    """Give the distance in m between what is followed at the near end and at the far end of the bar."""
    stack = stack_prior(asked)
    if track.near_xy_px is not None:
        # discs edge-on, boxed on either side: somewhere in their depth, and to a tenth of their radius
        return Value(COLLARS_M + 2.0 * FLANGE_M + stack.value, math.hypot(0.08, stack.sd))
    if track.source != "plate":
        # the middle of both fists, or the near fist alone: 0 to 0.3 m before the lifter's middle
        return Value(0.3, 0.3)
    if track.far_diameter_px is None:
        # the far point may be a plate or the bar's tip behind it
        return Value(COLLARS_M + 2.0 * (FLANGE_M + stack.value), math.hypot(0.10, 2.0 * stack.sd))
    return Value(COLLARS_M + 2.0 * (FLANGE_M + stack.value), 2.0 * stack.sd)


def stack_prior(asked: Asked) -> Value:
    """Give how deep in m what is loaded on one side is.

    A competition disc of 25 kg is 27 mm thick, a bumper plate of 20 kg 65-80 mm: 1.1 to 4 mm a kilogram (common
    practice, no source). The sleeves take 0.42 m at most. Where the load is not told, one to three such discs.
    """
    if asked.load_kg is None:
        return Value(0.085, 0.06)
    a_side = max(asked.load_kg - 20.0, 0.0) / 2.0
    return Value(min(0.027 + STACK_M_KG[0] * a_side, 0.30), min(0.015 + STACK_M_KG[1] * a_side, 0.08))


def stature_prior(asked: Asked) -> Value:
    """Give the lifter's stature in m: told, or that of adults in general."""
    if asked.stature_m is not None:
        return Value(asked.stature_m, 0.01 * asked.stature_m)
    return Value(1.72, 0.10)


def focal_prior(info: ClipInfo) -> Value:
    """Give the focal length in px of an unknown phone.

    Main cameras of phones are sold as 24 to 27 mm (to a frame of 36 x 24 mm): 65 to 72 degrees along the long side
    of a picture of 4:3, whose width films use too. Stabilisers crop a tenth (60 to 66 degrees) and zoom makes it
    less. One sd here spans 54 to 74 degrees.
    """
    long_side = float(max(info.width_px, info.height_px))
    f = focal_from_view_angle(long_side, 63.0)
    return Value(f, 0.2 * f)


def bar_height_prior(asked: Asked, plate_m: float) -> tuple[Value, str]:
    """Give a height of the bar above the floor in m that the lift implies, and at which end of the path it holds.

    A deadlift starts with the plates on the floor (half a diameter, more from blocks); a squat stands with the bar
    at 0.81 of the stature; a bench press is locked out some 1.0 m above the floor (benches are 0.42-0.45 m high).
    """
    if asked.lift == "deadlift":
        return Value(0.5 * plate_m, 0.03), "lowest"
    if asked.lift == "bench":
        return Value(1.02, 0.09), "highest"
    h = stature_prior(asked)
    return Value(0.81 * h.value, 0.08), "highest"
