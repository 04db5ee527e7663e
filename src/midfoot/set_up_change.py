"""What a change of grip, stance, bar position or heels does on this lifter's own segments: findings and mechanics.

Composed here because stages never know each other. Said only where body mass and stature were told or the clip
shows the segments that matter, and where the change stands clear of its error. Not with pain.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from attrs import evolve

from midfoot.mechanics import joined, predictions, seen_lengths, the_lifter
from midfoot.positions import places_of
from midfoot.records.base import NotMeasured, RecordError
from midfoot.records.findings import Change, Finding
from midfoot.records.measures import Measurement
from midfoot.records.mechanics import Length, Lifter

NEEDED = {
    "squat": ("thigh", "shank", "trunk"), "bench": ("upper_arm", "forearm"),
    "deadlift": ("thigh", "shank", "trunk", "upper_arm", "forearm"),
}  # fmt: skip
"""Segments that the clip must show where nobody told the stature."""
ANY_MASS_KG = 75.0
"""Geometry needs no mass; the table asks for one."""


def with_geometry(measurement: Measurement) -> Measurement:
    """Give every change of set-up that says by how much its predictions; the rest stays as it is.

    Parameters
    ----------
    measurement : a set with its findings.

    Returns
    -------
    Measurement
        The same where nothing can be predicted: no such change, pain, neither stature nor segments known.
    """
    found = measurement.found.findings
    wanted = [c for f in found for c in (*f.changes, *f.other_changes) if _asks(c)]
    if not wanted or measurement.context.hurts:
        return measurement
    lifter = lifter_of(measurement)
    if lifter is None:
        return measurement
    lift = measurement.data.asked.lift

    def told(change: Change) -> Change:
        if not _asks(change) or change.by_mm is None:
            return change
        try:
            return evolve(change, geometry=predictions(lift, lifter, change.alters, change.by_mm))
        except RecordError:
            return change

    def changed(finding: Finding) -> Finding:
        return evolve(
            finding,
            changes=tuple(map(told, finding.changes)),
            other_changes=tuple(map(told, finding.other_changes)),
        )

    return evolve(measurement, found=evolve(measurement.found, findings=tuple(map(changed, found))))


def _asks(change: Change) -> bool:
    return change.by_mm is not None and bool(change.alters)


def lifter_of(measurement: Measurement) -> Lifter | None:
    """Scale the segments to the lifter of a set: as told, joined with what is seen; None where neither will do."""
    context = measurement.context
    told_m = context.stature_m or measurement.data.asked.stature_m
    seen = _seen(measurement)
    sex = "female" if context.sex == "female" else "male"
    try:
        if told_m is not None:
            mass = context.body_mass_kg or ANY_MASS_KG
            plain = the_lifter(sex, told_m, mass)
            return the_lifter(sex, told_m, mass, lengths=joined(plain, seen))
        if not all(name in seen for name in NEEDED[measurement.data.asked.lift]):
            return None
        return _of_seen(sex, seen)
    except RecordError:
        return None


def _seen(measurement: Measurement) -> Mapping[str, Length]:
    places = places_of(measurement.data)
    return {} if isinstance(places, NotMeasured) else seen_lengths(places)


def _of_seen(sex: str, seen: Mapping[str, Length]) -> Lifter | None:
    """Scale to the stature that fits the segments that are seen; None where they contradict each other."""
    unit = the_lifter(sex, 1.7, ANY_MASS_KG).segments
    ratios = {n: s.m / unit[n].length_m for n, s in seen.items()}
    sds = {n: math.hypot(seen[n].sd_m / unit[n].length_m, unit[n].length_sd) for n in seen}
    weights = {n: 1.0 / sds[n] ** 2 for n in seen}
    mean = sum(weights[n] * ratios[n] for n in seen) / sum(weights.values())
    plain = the_lifter(sex, 1.7 * mean, ANY_MASS_KG)
    lengths = joined(plain, seen)
    if len(lengths) < len(seen):
        return None
    return the_lifter(sex, 1.7 * mean, ANY_MASS_KG, lengths=lengths)
