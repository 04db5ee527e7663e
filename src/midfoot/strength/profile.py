"""The load-velocity line of one lifter in one lift, from that lifter's own sets only."""

from __future__ import annotations

import math
from collections.abc import Sequence

from attrs import frozen

from midfoot.records.base import LIFTS, NotMeasured, Value
from midfoot.records.strength import LoadedSet, Method, OneRm, Profile
from midfoot.strength.base import StrengthError, data, within
from midfoot.strength.one_rm import HEAVIEST_KG

FASTEST_M_S = 3.0


@frozen
class _Line:
    at_zero: float
    per_kg: float
    var_at_zero: float
    var_per_kg: float
    covariance: float
    scatter: float


def profile(sets: Sequence[LoadedSet], lift: str, *, last: Value | None = None) -> Profile | NotMeasured:
    """Draw the line through a lifter's sets and read off the maximum.

    Parameters
    ----------
    sets : the fastest repetition of each set, all of one lift and lifter, lifted as fast as possible.
    lift : "squat", "bench" or "deadlift".
    last : this lifter's own mean velocity in a true maximum, m/s; without it power lifters' mean is taken.

    Returns
    -------
    Profile or NotMeasured
        Refused, with the reason, for too few loads, loads too close together, no clear slope, or a heaviest set
        too far from the maximum.

    Raises
    ------
    StrengthError
        When a value cannot be.
    """
    limits = data("profile")
    if lift not in LIFTS:
        raise StrengthError(f"The lift is one of {', '.join(LIFTS)}; got {lift!r}.")
    for one in sets:
        within(one.load_kg, 0.5, HEAVIEST_KG, "The load", "kg")
        within(one.velocity_m_s, 0.01, FASTEST_M_S, "The mean velocity", "m/s")
        within(one.sd_m_s, 0.0, FASTEST_M_S, "The velocity's sd", "m/s")
    loads = sorted({round(one.load_kg, 1) for one in sets})
    if len(loads) < limits["least_loads"]:
        return NotMeasured(
            f"A line needs at least {limits['least_loads']} different loads; there are {len(loads)}.",
            "Film warm-up sets as well, every repetition as fast as it goes.",
        )
    if loads[-1] - loads[0] < limits["least_span"] * loads[-1]:
        return NotMeasured(
            f"The loads lie too close together ({loads[0]:g} to {loads[-1]:g} kg) for a line.",
            f"Add a set at {(1 - limits['least_span']) * loads[-1]:.0f} kg or less, as fast as it goes.",
        )
    line = _fit(sets, limits["day_sd_m_s"])
    if -line.per_kg < limits["least_slope_in_sd"] * math.sqrt(line.var_per_kg):
        return NotMeasured(
            "Velocity does not clearly fall with load in these sets.",
            "Use sets of one lift and one lifter, every repetition as fast as it goes.",
        )
    own = last is not None
    end = last if last is not None else Value(*limits["last"][lift])
    return _read_off(tuple(sets), line, end, own, loads[-1])


def _read_off(
    sets: tuple[LoadedSet, ...], line: _Line, end: Value, own: bool, heaviest: float
) -> Profile | NotMeasured:
    beyond = data("profile")["most_beyond"]
    kg = (end.value - line.at_zero) / line.per_kg
    along = line.var_at_zero + kg * kg * line.var_per_kg + 2 * kg * line.covariance
    sd = math.sqrt(max(0.0, end.sd**2 + along)) / -line.per_kg
    if kg > (1 + beyond) * heaviest:
        return NotMeasured(
            f"The heaviest set ({heaviest:g} kg) is too far from the {kg:.0f} kg that the line points to.",
            f"Add a set at {kg / (1 + beyond):.0f} kg or more.",
        )
    if kg + 2 * sd < heaviest:
        return NotMeasured(
            f"The line ends at {kg:.0f} kg, below a load that was lifted ({heaviest:g} kg).",
            "Light sets were not lifted as fast as possible, or the velocities are not of one lift.",
        )
    kg = max(kg, heaviest)
    basis = f"line through {len(sets)} of the lifter's own sets, to {end.value:.2f} m/s"
    basis += (
        " (the lifter's own)" if own else f" (power lifters, not this one: {data('profile')['last']['source']})"
    )
    rm = OneRm(kg, sd, kg, kg, math.nan, (Method("profile", "load-velocity line", kg, True),), basis)
    return Profile(
        sets, Value(line.at_zero, math.sqrt(line.var_at_zero)), Value(line.per_kg, math.sqrt(line.var_per_kg)),
        line.scatter, end, own, rm,
    )  # fmt: skip


def _fit(sets: Sequence[LoadedSet], day_sd: float) -> _Line:
    """Fit by weighted least squares; sds grow when the sets scatter more than they should, and never shrink."""
    weights = [1.0 / (one.sd_m_s**2 + day_sd**2) for one in sets]
    s = sum(weights)
    centre = sum(w * one.load_kg for w, one in zip(weights, sets)) / s
    mean = sum(w * one.velocity_m_s for w, one in zip(weights, sets)) / s
    spread = sum(w * (one.load_kg - centre) ** 2 for w, one in zip(weights, sets))
    per_kg = sum(w * (one.load_kg - centre) * (one.velocity_m_s - mean) for w, one in zip(weights, sets)) / spread
    at_zero = mean - per_kg * centre
    chi2 = sum(w * (one.velocity_m_s - at_zero - per_kg * one.load_kg) ** 2 for w, one in zip(weights, sets))
    scatter = math.sqrt(chi2 / (len(sets) - 2))
    grown = max(1.0, scatter) ** 2
    return _Line(
        at_zero, per_kg, grown * (1 / s + centre**2 / spread), grown / spread, -grown * centre / spread, scatter
    )  # fmt: skip
