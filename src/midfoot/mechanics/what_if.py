"""What-if geometry: grip, stance, bar position, heel height, sumo or conventional, on this lifter's own segments.

Each posture solves a few closed constraints (bar over the middle of the foot, hips at the knees' height, hands
on the
bar, forearm upright at the touch); the change of a measure is the difference of two such postures. Segment lengths
and the assumed angles carry errors, most of which drop out of the difference. Geometry alone: strength,
mobility and
habit are not in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import least_squares

from midfoot.mechanics.spread import Source, State, spread
from midfoot.records.base import FloatArray
from midfoot.records.mechanics import Known, Lifter, WhatIf

HALF_SHOULDERS, HALF_HIPS, ANKLE_HEIGHT = 0.1295, 0.0955, 0.039
"""Shares of stature (Drillis and Contini 1966 as in Winter, Fig. 4.1; population never defined)."""
DISC_M, BEHIND_M = 0.225, 0.03
SPREADS = {"shank_deg": 4.0, "chest_m": 0.02, "lean_m": 0.03, "down_m": 0.02}
"""One sd of what is assumed of a posture (common practice, no source)."""
DEFAULTS = {
    "squat": {"stance_m": 0.42, "down_m": 0.0, "heel_m": 0.0, "shank_deg": 28.0, "turn_deg": 20.0},
    "deadlift": {"stance_m": 0.32, "hands_m": 0.55, "lean_m": 0.03, "shank_deg": 12.0, "turn_deg": 14.0},
    "bench": {"grip_m": 0.70, "chest_m": 0.12},
}
"""The posture as assumed before the change (deadlift: conventional, Escamilla et al. 2000, MSSE 32:1265-1275)."""
CHANGES: dict[str, tuple[tuple[str, dict[str, float]], ...]] = {
    "squat": (
        ("stance 100 mm wider", {"stance_m": 0.10}),
        ("bar 50 mm lower on the back", {"down_m": 0.05}),
        ("heels 20 mm higher", {"heel_m": 0.02}),
        ("hands 100 mm wider on the bar", {"hands_m": 0.10}),
    ),
    "deadlift": (("sumo instead of conventional", {"stance_m": 0.38, "hands_m": -0.08, "turn_deg": 28.0}),
                 ("stance 100 mm wider", {"stance_m": 0.10})),
    "bench": (("hands 100 mm narrower", {"grip_m": -0.10}), ("hands 100 mm wider", {"grip_m": 0.10})),
}  # fmt: skip
MEASURED = {
    ("squat", "trunk_angle"): "trunk_angle_low_deg", ("squat", "range_of_motion"): "range_of_motion_mm",
    ("deadlift", "trunk_angle"): "trunk_angle_start_deg", ("deadlift", "range_of_motion"): "range_of_motion_mm",
    ("bench", "touch_point"): "touch_point_mm", ("bench", "range_of_motion"): "range_of_motion_mm",
}  # fmt: skip
UNITS = {"trunk_angle": "deg"}
NO_EFFECT = "A side view of the squat has no hands in it, so nothing is predicted. Worth trying: film both."


def posture(lift: str, state: State) -> dict[str, float]:
    """Give the measures of one posture: mm and degrees, NaN where the segments cannot meet the constraints."""
    return {"squat": _squat, "deadlift": _deadlift, "bench": _bench}[lift](state)


def what_if(lift: str, lifter: Lifter, measured: dict[str, float | None]) -> tuple[WhatIf, ...]:
    """Predict what each change of set-up does to this lifter's measures.

    Parameters
    ----------
    lift, lifter : whose geometry.
    measured : measures of the rep to show beside, by id.

    Returns
    -------
    tuple of WhatIf
        A change whose constraints cannot be met by these segments is left out.
    """
    base, sources = lengths_state(lifter, lift)
    found = []
    for what, delta in CHANGES[lift]:
        if lift == "squat" and "hands_m" in delta:
            found.append(WhatIf(what, "trunk_angle", "deg", math.nan, math.nan, Known(0, 0, 0), None, NO_EFFECT))
            continue

        def changed(state: State, delta: dict[str, float] = delta) -> dict[str, float]:
            now = posture(lift, state)
            then = posture(lift, {k: v + delta.get(k, 0.0) for k, v in state.items()})
            return {k: then[k] - now[k] for k in now}

        before = posture(lift, base)
        for name, change in spread(changed, base, sources).items():
            ref = measured.get(MEASURED.get((lift, name), ""))
            then = before[name] + change.value
            found.append(WhatIf(what, name, UNITS.get(name, "mm"), before[name], then, change, ref))
    return tuple(found)


def lengths_state(lifter: Lifter, lift: str) -> tuple[State, list[Source]]:
    """Give the lifter's lengths (m) and the assumed posture as a state, and what is uncertain of it."""
    s = lifter.segments
    state: State = {n: s[n].length_m for n in ("thigh", "shank", "trunk", "upper_arm", "forearm", "foot")}
    state["hand"] = 0.5 * s["hand"].length_m
    state["stature"] = lifter.stature_m
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
    out = max(0.5 * state["stance_m"] + along * math.sin(turn) - HALF_HIPS * state["stature"], 0.0)
    plane = math.sqrt(max(state["thigh"] ** 2 - out**2, 1e-6))
    return along * math.cos(turn), state["shank"] * math.cos(lean), plane


def _squat(state: State) -> dict[str, float]:
    lean = math.radians(state["shank_deg"]) + math.atan2(state["heel_m"], state["foot"])
    up = ANKLE_HEIGHT * state["stature"] + state["heel_m"]
    fore, rise, thigh = _leg(state, lean)
    knee = (fore, up + rise)
    middle = 0.25 * state["foot"]
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
    out = max(0.5 * state["stance_m"] - HALF_HIPS * state["stature"], 0.0)
    standing = up + math.sqrt(max((state["thigh"] + state["shank"]) ** 2 - out**2, 0.0)) + reach
    return {
        "trunk_angle": math.degrees(float(found[1])),
        "hip_arm": 1000 * (middle - hip[0]),
        "range_of_motion": 1000 * (standing - low),
    }


def _deadlift(state: State) -> dict[str, float]:
    up, middle = ANKLE_HEIGHT * state["stature"], 0.25 * state["foot"]
    lean = math.radians(state["shank_deg"])
    fore, rise, thigh = _leg(state, lean)
    knee = (fore, up + rise)
    arm = state["upper_arm"] + state["forearm"] + state["hand"]
    aside = max(0.5 * state["hands_m"] - HALF_SHOULDERS * state["stature"], 0.0)
    hang = math.sqrt(max(arm**2 - aside**2 - state["lean_m"] ** 2, 1e-6))
    shoulder = (middle + state["lean_m"], DISC_M + hang)

    def misses(x: FloatArray) -> list[float]:
        hip = (knee[0] - thigh * math.cos(x[0]), knee[1] + thigh * math.sin(x[0]))
        top = (hip[0] + state["trunk"] * math.sin(x[1]), hip[1] + state["trunk"] * math.cos(x[1]))
        return [top[0] - shoulder[0], top[1] - shoulder[1]]

    found = _solve(misses, [0.3, 1.0])
    if found is None:
        return dict.fromkeys(("trunk_angle", "hip_arm", "range_of_motion"), math.nan)
    out = max(0.5 * state["stance_m"] - HALF_HIPS * state["stature"], 0.0)
    standing = up + math.sqrt(max((state["thigh"] + state["shank"]) ** 2 - out**2, 0.0)) + state["trunk"]
    straight = math.sqrt(max(arm**2 - aside**2, 1e-6))
    return {
        "trunk_angle": math.degrees(float(found[1])),
        "hip_arm": 1000 * (middle - knee[0] + thigh * math.cos(float(found[0]))),
        "range_of_motion": 1000 * (standing - straight - DISC_M),
    }


def _bench(state: State) -> dict[str, float]:
    aside = 0.5 * state["grip_m"] - HALF_SHOULDERS * state["stature"]
    fore = state["forearm"] + state["hand"]
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
