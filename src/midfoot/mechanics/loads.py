"""Moments, moment arms, work and power of every rep, with their errors."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from attrs import evolve

from midfoot.mechanics.dynamics import G_M_S2, joint_moment
from midfoot.mechanics.posture import BEYOND, JOINTS, SIGN, bodies, second
from midfoot.mechanics.sources import body_sources, state_at
from midfoot.mechanics.spread import Source, State, spread
from midfoot.records.base import FloatArray
from midfoot.records.mechanics import (
    DriftCost,
    JointLoad,
    Known,
    Lifter,
    MomentOfRep,
    Places,
    RepMechanics,
)

BAR_CUTOFF_HZ = 6.0
"""Low-pass of the bar's path before differentiating twice (6 Hz is the commonest in lifting papers; from
memory)."""
SEGMENT_SHARE_SD = 0.3
"""Of the part that the segments' own accelerations have in a moment: landmarks are slow (common practice)."""
DRIFT_M = 0.010
NO_LOAD = "the load is not known; give --load"
NO_LIFTER = "segments need both body mass and stature; give the missing one (--body-mass, --stature)"
NEEDS = {
    "hip": ("hip",), "knee": ("hip", "knee"), "ankle": ("hip", "knee", "ankle"),
    "shoulder": ("shoulder", "elbow"), "elbow": ("elbow",),
}  # fmt: skip
"""Which joints a moment needs to be seen: its own, and those whose parts it holds up."""


def mechanics_of(
    lift: str,
    places: Places,
    reps: Sequence[tuple[int, Mapping[str, float], tuple[float, float] | None]],
    lifter: Lifter | None,
    load_kg: float | None,
) -> tuple[tuple[RepMechanics, ...], DriftCost | None]:
    """Work out the loads of every rep.

    Parameters
    ----------
    lift : squat, bench or deadlift.
    places : bar and joints over time.
    reps : number, named moments (s), begin and end of the ascent (s) or None where the clip does not show it.
    lifter : None where body mass or stature is not known: the body's share is then left out, with the reason.
    load_kg : None where it is not known: moment arms remain.

    Returns
    -------
    reps, drift
        `drift` is None without a load, or on the bench.
    """
    motion = _bar_motion(places)
    found = tuple(
        RepMechanics(
            n,
            tuple(_moment(lift, places, name, at_s, lifter, load_kg, motion) for name, at_s in named.items()),
            *_work(places, ascent, load_kg, motion),
        )
        for n, named, ascent in reps
    )
    return found, None if lift == "bench" else _drift(found, load_kg)


def static(lift: str, joint: str, state: State, lifter: Lifter | None) -> dict[str, float]:
    """Give arm (m), the bar's moment and the whole quasi-static moment (N m) of one joint for a state.

    Entries that cannot be given for want of load, body or joints are left out.
    """
    place = {k: np.array([[state[f"{k}.x"], state[f"{k}.y"]]]) for k in _named(state)}
    out = {"arm": state["bar.x"] - state[f"{joint}.x"]}
    sign = SIGN[joint]
    load = state.get("load")
    if load is not None:
        out["bar"] = sign * load * G_M_S2 * out["arm"]
    if load is not None and lifter is not None and all(f"{k}.x" in state for k in NEEDS[joint]):
        parts = bodies(_scaled(lifter, state), lift, _whole(place), load)
        out["moment"] = sign * float(joint_moment(place[joint], [parts[b] for b in BEYOND[joint]])[0])
    return out


def _named(state: State) -> list[str]:
    return [key[:-2] for key in state if key.endswith(".x")]


def _whole(place: dict[str, FloatArray]) -> dict[str, FloatArray]:
    hidden = np.full((1, 2), np.nan)
    return {name: place.get(name, hidden) for name in ("bar", "hip", "knee", "ankle", "shoulder", "elbow")}


def _scaled(lifter: Lifter, state: State) -> Lifter:
    segments = {}
    for name, s in lifter.segments.items():
        length = s.length_m * (state["trunk_length"] if name == "trunk" else 1.0)
        mass = s.mass_kg * state["mass"] * state[f"share.{name}"]
        segments[name] = evolve(s, mass_kg=mass, com=s.com + state[f"com.{name}"], length_m=length)
    return evolve(lifter, segments=segments)


def _moment(
    lift: str, places: Places, name: str, at_s: float, lifter: Lifter | None, load_kg: float | None,
    motion: tuple[FloatArray, FloatArray, float],
) -> MomentOfRep:  # fmt: skip
    state, sources = state_at(places, at_s)
    extra, more = body_sources(lifter, load_kg)
    whole, errors = {**state, **extra}, sources + more
    loads = tuple(_load(lift, j, whole, errors, lifter, places, at_s, motion) for j in JOINTS[lift])
    spots = {k: (whole[f"{k}.x"], whole[f"{k}.y"]) for k in _named(state)}
    return MomentOfRep(name, at_s, loads, _trunk(lift, whole, errors), spots)


def _load(
    lift: str, joint: str, state: State, sources: list[Source], lifter: Lifter | None, places: Places, at_s: float,
    motion: tuple[FloatArray, FloatArray, float],
) -> JointLoad:  # fmt: skip
    if f"{joint}.x" not in state:
        return JointLoad(joint, None, None, None, None, f"the near {joint} is not seen at {at_s:.1f} s")
    known = spread(lambda s: static(lift, joint, s, lifter), state, sources)
    arm = known["arm"]
    moment = known.get("moment")
    reason = ""
    if "load" not in state:
        reason = NO_LOAD
    elif lifter is None:
        reason = NO_LIFTER
    elif moment is None:
        missing = [j for j in NEEDS[joint] if f"{j}.x" not in state]
        reason = f"{' and '.join(missing)} not seen, whose parts this joint holds up"
    dynamic = None
    if moment is not None and lifter is not None:
        dynamic = _dynamic(lift, joint, places, at_s, lifter, state["load"], moment, motion)
    mm = Known(1000 * arm.value, 1000 * arm.sd, 1000 * arm.sd_common)
    return JointLoad(joint, mm, known.get("bar"), moment, dynamic, reason)


def _dynamic(
    lift: str, joint: str, places: Places, at_s: float, lifter: Lifter, load_kg: float, static_nm: Known,
    motion: tuple[FloatArray, FloatArray, float],
) -> Known | None:  # fmt: skip
    """Add what the accelerations ask to the quasi-static moment; the bench stays quasi-static."""
    if lift == "bench":
        return None
    row = int(np.argmin(np.abs(places.t_s - at_s)))
    place = {name: np.asarray(p) for name, p in places.joints.items()} | {"bar": places.bar}
    if not all(np.isfinite(place[j][row]).all() for j in NEEDS[joint]):
        return None
    parts = bodies(lifter, lift, place, load_kg, places.t_s)
    still = bodies(lifter, lift, place, load_kg)
    names = [b for b in BEYOND[joint] if b != "bar"]
    at = place[joint]
    body = joint_moment(at, [parts[b] for b in names]) - joint_moment(at, [still[b] for b in names])
    lever = places.bar[row] - at[row]
    k = int(np.argmin(np.abs(places.path_t_s - at_s)))
    _, acceleration, sd = motion
    bar = load_kg * (lever[0] * acceleration[k, 1] - lever[1] * acceleration[k, 0])
    added = SIGN[joint] * (float(body[row]) + float(bar))
    if not math.isfinite(added):
        return None
    extra = math.hypot(SEGMENT_SHARE_SD * float(body[row]), load_kg * float(np.hypot(*lever)) * sd)
    return Known(static_nm.value + added, math.hypot(static_nm.sd, extra), static_nm.sd_common)


def _bar_motion(places: Places) -> tuple[FloatArray, FloatArray, float]:
    """Give the bar's velocity and acceleration (m, 2) and the sd of a component of the acceleration."""
    pairs = [second(places.path_t_s, places.path[:, k], BAR_CUTOFF_HZ) for k in (0, 1)]
    step = float(np.median(np.diff(places.path_t_s))) if len(places.path_t_s) > 1 else 1.0
    half = 400
    pulse = np.zeros(2 * half + 1)
    pulse[half] = places.bar_sd_m
    answer = second(np.arange(2 * half + 1, dtype=np.float64) * step, pulse, BAR_CUTOFF_HZ)[1]
    sd = float(np.sqrt(np.nansum(answer**2)))
    return np.stack([p[0] for p in pairs], 1), np.stack([p[1] for p in pairs], 1), sd


def _trunk(lift: str, state: State, sources: list[Source]) -> Known | None:
    top = "shoulder" if lift == "deadlift" and "shoulder.x" in state else "bar"
    if lift == "bench" or "hip.x" not in state or (lift == "deadlift" and top == "bar"):
        return None

    def lean(s: State) -> dict[str, float]:
        return {"lean": math.degrees(math.atan2(s[f"{top}.x"] - s["hip.x"], s[f"{top}.y"] - s["hip.y"]))}

    return spread(lean, state, sources)["lean"]


def _work(
    places: Places, ascent: tuple[float, float] | None, load_kg: float | None,
    motion: tuple[FloatArray, FloatArray, float],
) -> tuple[Known | None, Known | None, Known | None, Known | None, str]:  # fmt: skip
    if load_kg is None or ascent is None:
        return None, None, None, None, NO_LOAD if load_kg is None else "the clip does not show the ascent whole"
    t = places.path_t_s
    rows = np.flatnonzero((t >= ascent[0]) & (t <= ascent[1]))
    velocity, acceleration, sd_a = motion
    if len(rows) < 5 or not np.isfinite(acceleration[rows]).any():
        return None, None, None, None, "too few frames show the ascent; film at 60 frames a second"
    up = np.interp(ascent, t, places.path[:, 1])
    scale = abs(float(places.common.get("scale", {}).get("share", np.zeros(2))[0]))
    weight = load_kg * G_M_S2
    speed = velocity[rows]
    ends = 0.5 * load_kg * float(np.sum(speed[-1] ** 2) - np.sum(speed[0] ** 2))
    work = weight * float(up[1] - up[0]) + ends
    lasting = ascent[1] - ascent[0]
    force = load_kg * (acceleration[rows] + np.array([0.0, G_M_S2]))
    power = np.sum(force * speed, axis=1)
    k, top = int(np.nanargmax(power)), int(np.nanargmax(force[:, 1]))
    sd_v = sd_a / (2 * math.pi * BAR_CUTOFF_HZ)
    shared = math.hypot(scale, LOAD_SHARE)
    peak_sd = math.hypot(float(speed[k, 1]) * load_kg * sd_a, float(force[k, 1]) * sd_v)
    return (
        Known(work, math.sqrt(2) * weight * places.bar_sd_m, abs(work) * shared),
        Known(work / lasting, math.sqrt(2) * weight * places.bar_sd_m / lasting, abs(work) / lasting * shared),
        Known(float(power[k]), peak_sd, abs(float(power[k])) * shared),
        Known(float(force[top, 1]), load_kg * sd_a, float(force[top, 1]) * LOAD_SHARE),
        "",
    )


LOAD_SHARE = 0.0025


def _drift(reps: Sequence[RepMechanics], load_kg: float | None) -> DriftCost | None:
    if load_kg is None:
        return None
    cost = load_kg * G_M_S2 * DRIFT_M
    arms = [
        load.arm_mm for rep in reps for m in rep.moments for load in m.loads
        if load.joint == "hip" and load.arm_mm is not None and load.arm_mm.value > 3 * load.arm_mm.total_sd
    ]  # fmt: skip
    if not arms:
        return DriftCost(cost, None, None)
    arm = arms[0].value
    kg = load_kg * 1000 * DRIFT_M / arm
    return DriftCost(cost, Known(kg, kg * arms[0].sd / arm, kg * arms[0].sd_common / arm), arm)
