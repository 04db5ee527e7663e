"""What a clear forward drift of the bar costs at the hip, for the report: composed from path, load and body.

Said only where it changes what a coach would say: squat or deadlift, the load is told, and one rep carries the bar
clearly farther forward than the straightest. Not with pain: moments explain nobody's pain.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import frozen

from midfoot.mechanics import G_M_S2, joined, mechanics_of, seen_lengths, the_lifter
from midfoot.positions import places_of
from midfoot.records.base import NotMeasured, Value
from midfoot.records.measures import Measurement
from midfoot.records.mechanics import JointLoad
from midfoot.records.reps import Rep
from midfoot.units import load_words

MEASURES = ("path_forward_mm", "path_departure_mm")
"""The second in sets that were measured before the first was a measure."""
LEAST_MM = 10.0
CLEAR_SDS = 1.96
CLEAR_ARM_SDS = 3.0
"""An arm is divided by only where it stands this clear of its error."""


@frozen
class ClearDrift:
    """The rep that carries the bar farthest forward, against the straightest completed one: mm with the sd."""

    rep: int
    against: int
    mm: float
    sd_mm: float
    place: int


@frozen
class HipCost:
    """What a drift costs at the hip: N·m more, the whole where the body is known, kg that weigh alike."""

    drift: ClearDrift
    more_nm: Value
    whole_nm: Value | None
    as_kg: Value | None


def drift_facts(measurement: Measurement) -> list[tuple[str, str]]:
    """Give name and words of what the drift costs; nothing where there is none that is clear."""
    found = hip_cost(measurement)
    load = measurement.data.asked.load_kg
    if found is None or load is None:
        return []
    drift, more = found.drift, found.more_nm
    words = (
        f"rep {drift.rep} carries the bar {drift.mm:.0f} mm (sd {max(drift.sd_mm, 1):.0f}) farther forward than "
        f"rep {drift.against}: {more.value:.0f} N·m (sd {max(more.sd, 1):.0f}) more at the hip "
        f"with {load_words(load)}"
    )
    if found.whole_nm is not None:
        words += f", of {found.whole_nm.value:.0f} (sd {found.whole_nm.sd:.0f}) in all"
    if found.as_kg is not None:
        words += f"; as much as {found.as_kg.value:.0f} kg (sd {found.as_kg.sd:.0f}) more on the bar"
    return [("cost of the drift", words)]


def hip_cost(measurement: Measurement) -> HipCost | None:
    """Work out what the clear drift of a set costs; None without one or a load, on the bench, with pain."""
    asked = measurement.data.asked
    if asked.lift == "bench" or not asked.load_kg or measurement.context.hurts:
        return None
    drift = clear_drift(measurement)
    if drift is None:
        return None
    cost = asked.load_kg * G_M_S2 * drift.mm / 1000
    whole = as_kg = None
    hip = _hip(measurement, drift)
    if hip is not None and hip.arm_mm is not None and hip.moment_nm is not None:
        whole = Value(hip.moment_nm.value, hip.moment_nm.total_sd)
        straight = hip.arm_mm.value - drift.mm
        if straight > CLEAR_ARM_SDS * hip.arm_mm.total_sd:
            kg = asked.load_kg * drift.mm / straight
            as_kg = Value(kg, kg * hip.arm_mm.total_sd / straight)
    return HipCost(drift, Value(cost, cost * drift.sd_mm / drift.mm), whole, as_kg)


def clear_drift(measurement: Measurement) -> ClearDrift | None:
    """Find the clear forward drift of a set, on the random errors alone; None without one."""
    rows = next(filter(None, (_rows(measurement, measure_id) for measure_id in MEASURES)), [])
    done = [row for row in rows if row[1].outcome == "completed"]
    if len(rows) < 2 or not done:
        return None
    straight = min(done, key=lambda row: abs(row[2]))
    far = max(rows, key=lambda row: row[2])
    by, sd = far[2] - straight[2], math.hypot(far[3], straight[3])
    if far[2] <= 0 or by < LEAST_MM or by < CLEAR_SDS * sd:
        return None
    return ClearDrift(far[1].n, straight[1].n, by, sd, far[0])


def _rows(measurement: Measurement, measure_id: str) -> list[tuple[int, Rep, float, float]]:
    """Give place, rep, value and random error wherever the measure was seen."""
    rows = []
    for place, rep in enumerate(measurement.data.reps.reps[: len(measurement.measured.reps)]):
        found = measurement.measured.of(place, measure_id)
        if found is not None and found.value is not None:
            rows.append((place, rep, found.value, found.sd or 0.0))
    return rows


def _hip(measurement: Measurement, drift: ClearDrift) -> JointLoad | None:
    """Give the hip's load where that rep's bar stands farthest forward; None without body mass and stature."""
    data, context = measurement.data, measurement.context
    stature = context.stature_m or data.asked.stature_m
    span = data.reps.reps[drift.place].ascent_s
    if context.body_mass_kg is None or stature is None or data.path is None or span is None:
        return None
    places = places_of(data)
    if isinstance(places, NotMeasured):
        return None
    rows = np.flatnonzero((data.path.t_s >= span[0]) & (data.path.t_s <= span[1]))
    forward = data.path.forward_mm[rows]
    if not len(rows) or not np.isfinite(forward).any():
        return None
    at_s = float(data.path.t_s[rows[int(np.nanargmax(forward))]])
    sex = "female" if context.sex == "female" else "male"
    plain = the_lifter(sex, stature, context.body_mass_kg)
    lifter = the_lifter(sex, stature, context.body_mass_kg, lengths=joined(plain, seen_lengths(places)))
    reps, _ = mechanics_of(
        data.asked.lift, places, [(drift.rep, {"farthest": at_s}, None)], lifter, data.asked.load_kg
    )
    return next((load for m in reps[0].moments for load in m.loads if load.joint == "hip"), None)
