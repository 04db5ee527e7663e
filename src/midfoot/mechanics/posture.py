"""From joints to bodies: where the centres of mass are, what lies beyond each joint, and how it all
accelerates."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from midfoot.mechanics.dynamics import Body
from midfoot.numeric import derivative, low_pass, median_rate_hz, resample
from midfoot.records.base import FloatArray
from midfoot.records.mechanics import Lifter

ARM_SHARE = 0.53
"""Centre of mass of a straight arm from the shoulder (Winter, Table 4.1, total arm)."""
ARM = ("upper_arm", "forearm", "hand")
BEYOND = {
    "hip": ("bar", "trunk", "head", "arms"),
    "knee": ("bar", "trunk", "head", "arms", "thigh"),
    "ankle": ("bar", "trunk", "head", "arms", "thigh", "shank"),
    "shoulder": ("bar", "forearm_hand", "upper_arm"),
    "elbow": ("bar", "forearm_hand"),
}
"""What each joint holds up; the bar rests on the back, hangs in the hands, or is held over the chest."""
JOINTS = {"squat": ("hip", "knee", "ankle"), "deadlift": ("hip", "knee", "ankle"), "bench": ("shoulder", "elbow")}
SIGN = {"hip": 1.0, "knee": -1.0, "ankle": 1.0, "shoulder": 1.0, "elbow": 1.0}
"""Turns the moment so that + is the muscles that lift: hip and knee extensors, plantar flexors. For shoulder and
elbow + holds up a bar that is toward the feet of the joint.
"""
BODY_CUTOFF_HZ = 3.0
"""Low-pass of the joints before differentiating: landmarks come some 15 times a second (common practice)."""

Places2 = Mapping[str, FloatArray]


def shoulder_of(lifter: Lifter, places: Places2) -> FloatArray:
    """Give the shoulder (n, 2): as seen, else on the line from hip to bar at the length of the trunk."""
    hip, bar = places["hip"], places["bar"]
    line = bar - hip
    size = np.hypot(line[..., 0], line[..., 1])[..., None]
    guessed = hip + line / np.where(size > 0, size, np.nan) * lifter.segments["trunk"].length_m
    seen = places.get("shoulder")
    return guessed if seen is None else np.where(np.isfinite(seen), seen, guessed)


def centres(lifter: Lifter, lift: str, places: Places2) -> dict[str, tuple[float, float, FloatArray, FloatArray]]:
    """Give mass, inertia, centre (n, 2) and angle (n,) of every part; NaN where its joints are not seen."""
    s, bar = lifter.segments, places["bar"]
    out = {}

    def part(name: str, mass: float, inertia: float, top: FloatArray, bottom: FloatArray, share: float) -> None:
        line = bottom - top
        out[name] = (mass, inertia, top + share * line, np.arctan2(line[..., 1], line[..., 0]))

    if lift == "bench":
        shoulder, elbow = places["shoulder"], places["elbow"]
        part(
            "upper_arm", s["upper_arm"].mass_kg, s["upper_arm"].inertia_kg_m2, shoulder, elbow, s["upper_arm"].com
        )
        low = s["forearm"].mass_kg + s["hand"].mass_kg
        share = (s["forearm"].mass_kg * s["forearm"].com + s["hand"].mass_kg) / low
        part("forearm_hand", low, s["forearm"].inertia_kg_m2, elbow, bar, share)
        return out
    shoulder = shoulder_of(lifter, places)
    part("trunk", s["trunk"].mass_kg, s["trunk"].inertia_kg_m2, shoulder, places["hip"], s["trunk"].com)
    up = shoulder - places["hip"]
    up = up / np.hypot(up[..., 0], up[..., 1])[..., None]
    head = s["head"]
    part("head", head.mass_kg, head.inertia_kg_m2, shoulder + up * head.length_m, shoulder, head.com)
    arms = sum(s[name].mass_kg for name in ARM)
    part("arms", arms, 0.0, shoulder, bar, ARM_SHARE)
    part("thigh", s["thigh"].mass_kg, s["thigh"].inertia_kg_m2, places["hip"], places["knee"], s["thigh"].com)
    part("shank", s["shank"].mass_kg, s["shank"].inertia_kg_m2, places["knee"], places["ankle"], s["shank"].com)
    return out


def bodies(
    lifter: Lifter, lift: str, places: Places2, load_kg: float, t_s: FloatArray | None = None
) -> dict[str, Body]:
    """Give every part and the bar as bodies.

    Parameters
    ----------
    lifter, lift, load_kg : who lifts what.
    places : `bar` and the joints, (n, 2) m each.
    t_s : (n,) s; with it the parts get their accelerations (filtered), without it they stand still.

    Returns
    -------
    dict of Body
        `bar` with the acceleration of the same filter; use the path's own where it is at hand.
    """
    found = {}
    for name, (mass, inertia, com, angle) in centres(lifter, lift, places).items():
        found[name] = _body(mass, inertia, com, angle, t_s)
    found["bar"] = _body(load_kg, 0.0, places["bar"], np.zeros(len(places["bar"])), t_s)
    return found


def _body(mass: float, inertia: float, com: FloatArray, angle: FloatArray, t_s: FloatArray | None) -> Body:
    if t_s is None:
        return Body(mass, inertia, com, np.zeros(com.shape), np.zeros(angle.shape))
    both = [second(t_s, com[:, k], BODY_CUTOFF_HZ)[1] for k in (0, 1)]
    turn = np.full(angle.shape, np.nan)
    known = np.isfinite(angle)
    turn[known] = np.unwrap(angle[known])
    return Body(mass, inertia, com, np.stack(both, axis=1), second(t_s, turn, BODY_CUTOFF_HZ)[1])


def second(t_s: FloatArray, x: FloatArray, cutoff_hz: float) -> tuple[FloatArray, FloatArray]:
    """Give first and second time derivative (n,) at the samples' own times, low-passed; NaN where not seen."""
    rate = median_rate_hz(t_s)
    if not np.isfinite(rate):
        return np.full(x.shape, np.nan), np.full(x.shape, np.nan)
    even = resample(t_s, x, rate)
    flat = low_pass(even.x, rate, cutoff_hz)
    first = derivative(flat, rate)
    again = derivative(first, rate)
    return _at(even.t_s, first, t_s), _at(even.t_s, again, t_s)


def _at(grid_s: FloatArray, x: FloatArray, t_s: FloatArray) -> FloatArray:
    ok = np.isfinite(x)
    if ok.sum() < 2:
        return np.full(t_s.shape, np.nan)
    nearest = np.clip(np.searchsorted(grid_s, t_s), 0, len(grid_s) - 1)
    return np.where(ok[nearest], np.interp(t_s, grid_s[ok], x[ok]), np.nan)
