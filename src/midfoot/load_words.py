"""What the set's load says, for the report: composed from what was said and what was counted."""

from __future__ import annotations

from midfoot.records.measures import Measurement
from midfoot.records.strength import OneRm
from midfoot.strength import for_the_lifter, next_range_kg, one_rm
from midfoot.units import on_the_bar

FOR_THE_LIFTER = "the same for the lifter"


def load_facts(measurement: Measurement) -> list[tuple[str, str]]:
    """Give name and words of what the load says; nothing where it would not change what the coach says.

    Nothing with pain, for a minor, without load or effort, with a rep that was not completed, or when the set says
    too little about the maximum (more than three repetitions left, more than ten done).
    """
    found, said = _estimate(measurement), measurement.context
    if found is None:
        return []
    return [
        (
            "estimated maximum",
            f"{found.kg:.0f} kg (sd {found.sd_kg:.0f}), methods from {found.low_kg:.0f} to {found.high_kg:.0f}; "
            f"from {found.basis} as told"
            if found.sd_kg
            else f"{found.kg:.0f} kg: {found.basis}",
        ),
        (FOR_THE_LIFTER, for_the_lifter(found, said.load_unit or "kg")),
    ]


def next_load(measurement: Measurement, *, more: bool) -> str:
    """Give the loads of the next session in words, for as many reps again at an effort of 7 to 8; "" without one.

    `more` allows a little above what was lifted. Nothing where `load_facts` says nothing.
    """
    asked = measurement.data.asked
    effort = asked.rpe if asked.rir is None else 10.0 - asked.rir
    if _estimate(measurement) is None or asked.load_kg is None or effort is None:
        return ""
    loads = next_range_kg(asked.load_kg, len(measurement.data.reps.reps), effort, more=more)
    if loads is None:
        return ""
    unit = measurement.context.load_unit or "kg"
    low, high = (on_the_bar(kg, unit) for kg in loads)  # both down: a load is never rounded up for anybody
    return f"{low:g} to {high:g} {unit}" if low < high else f"{high:g} {unit}"


def _estimate(measurement: Measurement) -> OneRm | None:
    """Estimate the maximum where it may be spoken of and the set says enough about it."""
    asked, said, reps = measurement.data.asked, measurement.context, measurement.data.reps.reps
    effort = asked.rpe is not None or asked.rir is not None
    if said.hurts or said.minor or not asked.load_kg or not effort:
        return None
    if not reps or any(rep.outcome != "completed" or not rep.start_seen for rep in reps):
        return None
    found = one_rm(asked.load_kg, len(reps), rpe=asked.rpe, rir=asked.rir)
    return found if isinstance(found, OneRm) else None
