"""Postures of the three lifts on a lifter's own segments, solved from a few closed constraints.

Squat: bar over the middle of the foot, hips at the knees' height. Deadlift: bar over the middle of the foot at the
height of the disc's centre, shoulders a little before it. Bench: forearm upright at the touch. Geometry alone:
strength, mobility and habit are not in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import least_squares

from midfoot.mechanics.spread import Source, State
from midfoot.records.base import FloatArray
from midfoot.records.mechanics import Lifter

ANKLE_HEIGHT = 0.039
"""Share of stature (Drillis and Contini 1966 as in Winter, Fig. 4.1; population never defined)."""
HALF_SHOULDERS = 0.118
"""Half the distance of the shoulder joints, as a share of stature: 0.1295 to the outer edge in Winter's figure,
less some 20 mm to the joint (common practice, no source)."""
HALF_HIPS = 0.052
"""Half the distance of the hip joints, as a share of stature: 0.33 of the width between the front spines of the
pelvis and 7 mm (Harrington et al. 2007, J Biomech 40:595-602, as public code has it) is 86 mm for a width of
240 mm; the markers of one person (OpenCap validation data) stand 95 mm from the middle. The width over the hips,
0.191 of stature in Winter's figure, is that of the trochanters and no distance of joints."""
KNUCKLE = {"de_leva": 1.0, "winter": 0.5}
"""From the wrist to the knuckles as a share of the table's hand: de Leva's ends there, Winter's at the
fingertips."""
DISC_M, BEHIND_M = 0.225, 0.03
SPREADS = {
    "shank_deg": 4.0, "chest_m": 0.02, "lean_m": 0.03, "down_m": 0.02, "drop_m": 0.015, "half_hips": 0.006,
    "half_shoulders": 0.010,
}  # fmt: skip
"""One sd of what is assumed of a posture (common practice, no source)."""
DEFAULTS = {
    "squat": {"stance_m": 0.42, "down_m": 0.0, "heel_m": 0.0, "shank_deg": 28.0, "turn_deg": 20.0},
    "deadlift": {"stance_m": 0.32, "hands_m": 0.55, "lean_m": 0.03, "shank_deg": 12.0, "turn_deg": 14.0,
                 "drop_m": 0.03},
    "bench": {"grip_m": 0.70, "chest_m": 0.12},
}  # fmt: skip
"""The posture as assumed before the change (deadlift: conventional, Escamilla et al. 2000, MSSE 32:1265-1275)."""


def posture(lift: str, state: State) -> dict[str, float]:
    """Give the measures of one posture: mm and degrees, NaN where the segments cannot meet the constraints."""
    return {"squat": _squat, "deadlift": _deadlift, "bench": _bench}[lift](state)


def lengths_state(lifter: Lifter, lift: str) -> tuple[State, list[Source]]:
    """Give the lifter's lengths (m) and the assumed posture as a state, and what is uncertain of it."""
    s = lifter.segments
    state: State = {n: s[n].length_m for n in ("thigh", "shank", "trunk", "upper_arm", "forearm", "foot")}
    state["hand"] = KNUCKLE[lifter.table] * s["hand"].length_m
    state["stature"] = lifter.stature_m
    state["half_hips"], state["half_shoulders"] = HALF_HIPS, HALF_SHOULDERS
    state |= DEFAULTS[lift]
    sources = [
        Source(n, {n: s[n].length_sd * state[n]}, common=True)
        for n in ("thigh", "shank", "trunk", "upper_arm", "forearm")
    ]
    sources += [Source(n, {n: sd}, common=True) for n, sd in SPREADS.items() if n in state]
    return state, sources


def _solve(equations: Callable[[FloatArray], list[float]], first: list[float]) -> FloatArray | None:
    found = least_squares(equations, first, xtol=1e-13, ftol=1e-13, gtol=1e-13)
    return np.asarray(found.x) if float(np.max(np.abs(found.fun))) < 1e-6 else None


def _leg(state: State, lean: float) -> tuple[float, float, float]:
    """Give the knee before and above the ankle, and what of the thigh lies in the side plane.

    The knee goes along the foot, which is turned out by `turn_deg`; the thigh reaches from it to the hip's
    half width.
    """
    turn = math.radians(state["turn_deg"])
    along = state["shank"] * math.sin(lean)
    out = max(0.5 * state["stance_m"] + along * math.sin(turn) - state["half_hips"] * state["stature"], 0.0)
    plane = math.sqrt(max(state["thigh"] ** 2 - out**2, 1e-6))
    return along * math.cos(turn), state["shank"] * math.cos(lean), plane


def _middle(state: State) -> float:
    """Give how far before the ankle the middle of the foot lies; a foot that is turned out reaches less far."""
    return 0.25 * state["foot"] * math.cos(math.radians(state["turn_deg"]))


def _squat(state: State) -> dict[str, float]:
    lean = math.radians(state["shank_deg"]) + math.atan2(state["heel_m"], state["foot"])
    up = ANKLE_HEIGHT * state["stature"] + state["heel_m"]
    fore, rise, thigh = _leg(state, lean)
    knee = (fore, up + rise)
    middle = _middle(state)
    reach = state["trunk"] - state["down_m"]

    def bar_at(hip: tuple[float, float], trunk: float) -> tuple[float, float]:
        s, c = math.sin(trunk), math.cos(trunk)
        return hip[0] + reach * s - BEHIND_M * c, hip[1] + reach * c + BEHIND_M * s

    def misses(x: FloatArray) -> list[float]:
        hip = (knee[0] - thigh * math.cos(x[0]), knee[1] + thigh * math.sin(x[0]))
        return [hip[1] - knee[1], bar_at(hip, float(x[1]))[0] - middle]

    found = _solve(misses, [0.0, 0.7])
    if found is None:
        return dict.fromkeys(("trunk_angle", "hip_arm", "range_of_motion"), math.nan)
    hip = (knee[0] - thigh, knee[1])
    low = bar_at(hip, float(found[1]))[1]
    out = max(0.5 * state["stance_m"] - state["half_hips"] * state["stature"], 0.0)
    standing = up + math.sqrt(max((state["thigh"] + state["shank"]) ** 2 - out**2, 0.0)) + reach
    return {
        "trunk_angle": math.degrees(float(found[1])),
        "hip_arm": 1000 * (middle - hip[0]),
        "range_of_motion": 1000 * (standing - low),
    }


def _deadlift(state: State) -> dict[str, float]:
    up, middle = ANKLE_HEIGHT * state["stature"], _middle(state)
    lean = math.radians(state["shank_deg"])
    fore, rise, thigh = _leg(state, lean)
    knee = (fore, up + rise)
    arm = state["upper_arm"] + state["forearm"] + state["hand"]
    trunk = state["trunk"] - state["drop_m"]  # the load pulls the shoulders down along the trunk
    aside = max(0.5 * state["hands_m"] - state["half_shoulders"] * state["stature"], 0.0)
    hang = math.sqrt(max(arm**2 - aside**2 - state["lean_m"] ** 2, 1e-6))
    shoulder = (middle + state["lean_m"], DISC_M + hang)

    def misses(x: FloatArray) -> list[float]:
        hip = (knee[0] - thigh * math.cos(x[0]), knee[1] + thigh * math.sin(x[0]))
        top = (hip[0] + trunk * math.sin(x[1]), hip[1] + trunk * math.cos(x[1]))
        return [top[0] - shoulder[0], top[1] - shoulder[1]]

    found = _solve(misses, [0.3, 1.0])
    if found is None:
        return dict.fromkeys(("trunk_angle", "hip_arm", "range_of_motion"), math.nan)
    out = max(0.5 * state["stance_m"] - state["half_hips"] * state["stature"], 0.0)
    standing = up + math.sqrt(max((state["thigh"] + state["shank"]) ** 2 - out**2, 0.0)) + trunk
    straight = math.sqrt(max(arm**2 - aside**2, 1e-6))
    return {
        "trunk_angle": math.degrees(float(found[1])),
        "hip_arm": 1000 * (middle - knee[0] + thigh * math.cos(float(found[0]))),
        "range_of_motion": 1000 * (standing - straight - DISC_M),
    }


def _bench(state: State) -> dict[str, float]:
    aside = 0.5 * state["grip_m"] - state["half_shoulders"] * state["stature"]
    fore = state["forearm"] + 0.5 * state["hand"]  # the bar lies in the palm
    arm = state["upper_arm"] + fore

    def misses(x: FloatArray) -> list[float]:
        # elbow from the shoulder: toward the feet, up; the forearm stands upright and carries the bar to the chest
        return [x[0] ** 2 + aside**2 + x[1] ** 2 - state["upper_arm"] ** 2, x[1] + fore - state["chest_m"]]

    found = _solve(misses, [0.15, -0.1])
    if found is None or abs(aside) > arm:
        return dict.fromkeys(("touch_point", "range_of_motion"), math.nan)
    lockout = math.sqrt(arm**2 - aside**2)
    return {
        "touch_point": 1000 * abs(float(found[0])),
        "range_of_motion": 1000 * (lockout - state["chest_m"]),
    }
