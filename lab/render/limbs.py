"""Inverse kinematics of arms, legs and hands: from where an end must be to how every bone turns."""

from __future__ import annotations

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from lab.render.body import Body
from lab.render.rotation import about, across, cross, turn, twist_deg, unit

Array = NDArray[np.float64]
SIDES = ("L", "R")
FINGERS = ("2", "3", "4", "5")


class OutOfReach(ValueError):
    """The end of a limb was asked to be where the limb cannot reach."""


def sign(side: str) -> float:
    """+1 for the lifter's left (+x), -1 for the right."""
    return 1.0 if side == "L" else -1.0


def middle_joint(start: Array, end: Array, first_m: float, second_m: float, pole: Array) -> Array:
    """Place the joint between two bones of known lengths.

    Parameters
    ----------
    start, end : (3,), m, where the limb starts and ends.
    pole : (3,), the way the joint points, for example forward for a knee.
    """
    line = end - start
    distance = float(np.linalg.norm(line))
    if not abs(first_m - second_m) < distance <= first_m + second_m + 1e-9:
        raise OutOfReach(f"limb of {first_m:.3f} and {second_m:.3f} m cannot span {distance:.3f} m")
    along = (first_m**2 - second_m**2 + distance**2) / (2.0 * distance)
    off = np.sqrt(max(first_m**2 - along**2, 0.0))
    return np.asarray(start + line / distance * along + across(pole, line) * off)


def span_at(first_m: float, second_m: float, bend_deg: float) -> float:
    """Distance between the ends of a limb bent by `bend_deg` at its middle joint (0 = straight), m."""
    inner = np.pi - np.radians(bend_deg)
    return float(np.sqrt(first_m**2 + second_m**2 - 2.0 * first_m * second_m * np.cos(inner)))


def bend_at(first_m: float, second_m: float, span_m: float) -> float:
    """Bend of the middle joint, degrees, of a limb that spans `span_m` (0 = straight)."""
    cos = (first_m**2 + second_m**2 - span_m**2) / (2.0 * first_m * second_m)
    return float(180.0 - np.degrees(np.arccos(np.clip(cos, -1.0, 1.0))))


def _two_bones(
    rest: tuple[Array, Array, Array], rest_pole: Array, now: tuple[Array, Array, Array], pole: Array
) -> tuple[Array, Array]:
    """Turns of a limb's two bones; the hinge is at right angles to the pole in both poses."""
    hinge_rest = cross(across(rest_pole, rest[2] - rest[0]), unit(rest[2] - rest[0]))
    hinge = cross(across(pole, now[2] - now[0]), unit(now[2] - now[0]))
    first = turn(rest[1] - rest[0], hinge_rest, now[1] - now[0], hinge)
    second = turn(rest[2] - rest[1], hinge_rest, now[2] - now[1], hinge)
    return first, second


def leg(body: Body, side: str, hip: Array, ankle: Array, pole: Array, foot_turn: Array) -> dict[str, Array]:
    """Turns of one leg whose hip and ankle joints are given (m) and whose knee points along `pole`."""
    names = [f"{n}.{side}" for n in ("upperleg01", "lowerleg01", "foot")]
    rest = tuple(body.head(n) for n in names)
    knee = middle_joint(hip, ankle, body.length(names[0], names[1]), body.length(names[1], names[2]), pole)
    thigh, shank = _two_bones((rest[0], rest[1], rest[2]), np.array([0.0, -1.0, 0.0]), (hip, knee, ankle), pole)
    return {
        f"upperleg01.{side}": thigh,
        f"upperleg02.{side}": thigh,
        f"lowerleg01.{side}": shank,
        f"lowerleg02.{side}": shank,
        f"foot.{side}": foot_turn,
    }


@frozen
class Hand:
    """A hand at rest: from the wrist to the knuckles, across the knuckles, out of the palm (unit vectors)."""

    reach: Array
    knuckles: Array
    palm: Array
    reach_m: float

    @classmethod
    def of(cls, body: Body, side: str) -> Hand:
        wrist = body.head(f"wrist.{side}")
        middle = body.head(f"finger3-1.{side}")
        reach = unit(middle - wrist)
        knuckles = across(body.head(f"finger2-1.{side}") - body.head(f"finger5-1.{side}"), reach)
        palm = cross(reach, knuckles)
        curl = body.head(f"finger3-3.{side}") - middle
        if float(palm @ curl) < 0.0:
            palm = -palm
        return cls(reach=reach, knuckles=knuckles, palm=palm, reach_m=float(np.linalg.norm(middle - wrist)))


@frozen
class Grip:
    """How a hand holds the bar.

    `reach` is the way from the wrist to the knuckles and `palm` the way the palm faces, in the world; the bar's
    axis lies `along_m` from the wrist toward the knuckles and `out_m` out of the palm.
    """

    reach: Array
    palm: Array
    along_m: float = 0.08
    out_m: float = 0.026

    def wrist(self, held: Array) -> Array:
        """Where the wrist is when the bar's axis passes through `held` (3,), m."""
        return held - unit(self.reach) * self.along_m - across(self.palm, self.reach) * self.out_m


def arm(body: Body, side: str, shoulder: Array, held: Array, grip: Grip, pole: Array) -> dict[str, Array]:
    """Turns of one arm and its closed hand on the bar at `held`; the elbow points along `pole`."""
    names = [f"{n}.{side}" for n in ("upperarm01", "lowerarm01", "wrist")]
    rest = tuple(body.head(n) for n in names)
    wrist = grip.wrist(held)
    upper_m, fore_m = body.length(names[0], names[1]), body.length(names[1], names[2])
    far = float(np.linalg.norm(wrist - shoulder))
    limit = (upper_m + fore_m) * 0.9995
    if far > limit + 0.02:
        raise OutOfReach(f"arm of {upper_m + fore_m:.3f} m cannot reach {far:.3f} m")
    if far > limit:
        # The last millimetres of a straight arm: fingers hang on the bar, the hand moves and not the bar.
        wrist = shoulder + (wrist - shoulder) * (limit / far)
    elbow = middle_joint(shoulder, wrist, upper_m, fore_m, pole)
    rest_pole = rest[1] - (rest[0] + rest[2]) / 2.0
    upper, fore = _two_bones((rest[0], rest[1], rest[2]), rest_pole, (shoulder, elbow, wrist), pole)
    hand = Hand.of(body, side)
    hand_turn = turn(hand.reach, hand.palm, grip.reach, grip.palm)
    axis = unit(wrist - elbow)
    twist = twist_deg(hand_turn @ fore.T, axis)
    turns = {
        f"upperarm01.{side}": upper,
        f"upperarm02.{side}": upper,
        f"lowerarm01.{side}": about(axis, 0.35 * twist) @ fore,
        f"lowerarm02.{side}": about(axis, 0.75 * twist) @ fore,
        f"wrist.{side}": hand_turn,
    }
    turns.update(_fist(body, side, hand, hand_turn))
    return turns


def _fist(body: Body, side: str, hand: Hand, hand_turn: Array) -> dict[str, Array]:
    """Fingers around a shaft of 28 mm, the thumb across."""
    # Turning about this axis by a positive angle takes the fingers toward the palm.
    axis = cross(hand.reach, hand.palm)
    turns: dict[str, Array] = {}
    for finger in FINGERS:
        for joint, bend in (("1", 62.0), ("2", 150.0), ("3", 200.0)):
            name = f"finger{finger}-{joint}.{side}"
            if name in body.bones:
                turns[name] = hand_turn @ about(axis, bend)
    thumb = f"finger1-1.{side}"
    tip = body.head(f"finger1-3.{side}") - body.head(thumb)
    over = cross(tip, hand.palm)
    if float(np.linalg.norm(over)) > 1e-6:
        for joint, bend in (("1", 25.0), ("2", 45.0), ("3", 70.0)):
            turns[f"finger1-{joint}.{side}"] = hand_turn @ about(over, bend)
    return turns
