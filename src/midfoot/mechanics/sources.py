"""What a moment's state is made of, and which errors move it."""

from __future__ import annotations

import math

import numpy as np

from midfoot.mechanics.spread import Source, State
from midfoot.records.mechanics import Lifter, Places

MASS_SD = 0.01
"""Of a body mass that was told (common practice, no source)."""
LOAD_SD = 0.0025
"""Of a load that was told: the tolerance of a disc (IPF technical rules, 0.25 %)."""
SHARE_SD = 0.05
"""Of a segment's share of body mass, between people (common practice, no source); the two published tables
differ by
0.4 for the thigh and 0.14 for the trunk, which no sd of one table covers."""
COM_SD = 0.03
"""Of a centre of mass, as a share of the segment's length (common practice, no source)."""
REACH_S = 0.12
"""A joint is read at the nearest time at which it is seen, no farther off than this."""


def state_at(places: Places, at_s: float) -> tuple[State, list[Source]]:
    """Give bar and joints at a moment as a state, with their own and their shared errors.

    Joints not seen within 0.12 s are left out of the state.
    """
    state: State = {}
    sources: list[Source] = []
    for k, axis in enumerate("xy"):
        state[f"bar.{axis}"] = float(np.interp(at_s, places.path_t_s, places.path[:, k]))
        sources.append(Source(f"bar {axis}", {f"bar.{axis}": places.bar_sd_m}, common=False))
    for name, place in places.joints.items():
        seen = np.flatnonzero(np.isfinite(place).all(axis=1) & (np.abs(places.t_s - at_s) <= REACH_S))
        if not len(seen):
            continue
        row = seen[int(np.argmin(np.abs(places.t_s[seen] - at_s)))]
        for k, axis in enumerate("xy"):
            state[f"{name}.{axis}"] = float(place[row, k])
            sd = float(places.sd[name][row])
            own, slow = sd * places.own_share, sd * math.sqrt(1.0 - places.own_share**2)
            sources.append(Source(f"{name} {axis}", {f"{name}.{axis}": own}, common=False))
            sources.append(Source(f"{name} {axis} in this posture", {f"{name}.{axis}": slow}, common=True))
    for name, effects in places.common.items():
        moves = {
            f"{joint}.{axis}": float(effect[k])
            for joint, effect in effects.items()
            for k, axis in enumerate("xy")
            if f"{joint}.{axis}" in state
        }
        sources.append(Source(name, moves, common=True))
    return state, sources


def body_sources(lifter: Lifter | None, load_kg: float | None) -> tuple[State, list[Source]]:
    """Give the factors of load, body mass, shares and centres of mass (1 or 0 as they stand) and their errors."""
    state: State = {}
    sources: list[Source] = []
    if load_kg is not None:
        state["load"] = load_kg
        sources.append(Source("load", {"load": LOAD_SD * load_kg}, common=True))
    if lifter is not None:
        state["mass"] = 1.0
        sources.append(Source("body mass", {"mass": MASS_SD}, common=True))
        state["trunk_length"] = 1.0
        sources.append(
            Source("length of the trunk", {"trunk_length": lifter.segments["trunk"].length_sd}, common=True)
        )
        for name in lifter.segments:
            state[f"share.{name}"], state[f"com.{name}"] = 1.0, 0.0
            sources.append(Source(f"mass of the {name}", {f"share.{name}": SHARE_SD}, common=True))
            sources.append(Source(f"centre of the {name}", {f"com.{name}": COM_SD}, common=True))
    return state, sources
