"""Faults to plant into a set. What a fault does to the measures is read from the truth, never from here."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from attrs import evolve, frozen

from lab.render.motion import RepPlan


@frozen
class Fault:
    """One fault.

    Parameters
    ----------
    kind : one of `KINDS`.
    size : how much is asked, in the kind's unit: m, s, degrees, or a share of the time (`slower`).
    from_rep : the first rep (counted from 1) that has it.
    grows : the fault grows evenly to its size at the last rep, else it is whole from `from_rep` on.
    """

    kind: str
    size: float
    from_rep: int = 2
    grows: bool = False


Plant = Callable[[str, RepPlan, float], RepPlan]


def _late(lift: str, p: RepPlan, size: float) -> RepPlan:
    return evolve(p, late_m=p.late_m + size, touch_m=p.touch_m + 0.6 * size)


PLANTS: dict[str, tuple[tuple[str, ...], Plant]] = {
    "forward_drift": (
        ("squat", "deadlift"),
        lambda _lift, p, size: evolve(p, drift_m=p.drift_m + size),
    ),
    "late_toward_feet": (("bench",), _late),
    "lockout_short": (
        ("squat", "bench", "deadlift"),
        lambda _lift, p, size: evolve(p, short_m=p.short_m + size),
    ),
    "shallower": (("squat",), lambda _lift, p, size: evolve(p, deeper_m=p.deeper_m - size)),
    "hips_first": (("squat", "deadlift"), lambda _lift, p, size: evolve(p, lead_deg=p.lead_deg + size)),
    "slower": (("squat", "bench", "deadlift"), lambda _lift, p, size: evolve(p, up_s=p.up_s * (1 + size))),
    "pause_shorter": (
        ("bench", "squat"),
        lambda _lift, p, size: evolve(p, pause_s=max(p.pause_s - size, 0.02)),
    ),
    "hips_off": (("bench",), lambda _lift, p, size: evolve(p, hips_m=p.hips_m + size)),
    "shoulders_creep": (("bench",), lambda _lift, p, size: evolve(p, shoulders_m=p.shoulders_m + size)),
    "sinks": (("squat", "bench", "deadlift"), lambda _lift, p, size: evolve(p, dip_m=p.dip_m + size)),
    "bar_tilts": (("squat", "bench", "deadlift"), lambda _lift, p, size: evolve(p, tilt_deg=p.tilt_deg + size)),
}
"""By kind: the lifts that can have it, and what is asked of a rep that has it."""
GRIP = "grip_narrower"
"""The grip is a set's: both hands this much (together, m) nearer to each other than this lifter's own."""
KINDS = (*PLANTS, GRIP)


def planted(lift: str, plans: Sequence[RepPlan], faults: Sequence[Fault]) -> tuple[tuple[RepPlan, ...], float]:
    """Give the plans with the faults in them, and how much each hand's place changes, m.

    Raises
    ------
    ValueError
        For a kind that is not known or that the lift cannot have.
    """
    out, grip_m = list(plans), 0.0
    for fault in faults:
        if fault.kind == GRIP:
            grip_m -= fault.size / 2.0
            continue
        if fault.kind not in PLANTS:
            raise ValueError(f"kind: expected one of {KINDS}, got {fault.kind!r}")
        lifts, plant = PLANTS[fault.kind]
        if lift not in lifts:
            raise ValueError(f"kind: {fault.kind} is a fault of {' and '.join(lifts)}, not of the {lift}")
        count = max(len(out) - fault.from_rep, 0) + 1
        for k in range(fault.from_rep - 1, len(out)):
            share = (k - fault.from_rep + 2) / count if fault.grows else 1.0
            out[k] = plant(lift, out[k], fault.size * share)
    return tuple(out), grip_m
