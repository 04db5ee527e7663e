"""What the set's load says, for the report: composed from what was said and what was counted."""

from __future__ import annotations

from midfoot.records.measures import Measurement
from midfoot.records.strength import OneRm
from midfoot.strength import for_the_lifter, one_rm

FOR_THE_LIFTER = "the same for the lifter"


def load_facts(measurement: Measurement) -> list[tuple[str, str]]:
    """Give name and words of what the load says; nothing where it would not change what the coach says.

    Nothing with pain, for a minor, without load or effort, with a rep that was not completed, or when the set says
    too little about the maximum (more than three repetitions left, more than ten done).
    """
    asked, said, reps = measurement.data.asked, measurement.context, measurement.data.reps.reps
    effort = asked.rpe is not None or asked.rir is not None
    if said.hurts or said.minor or not asked.load_kg or not effort:
        return []
    if not reps or any(rep.outcome != "completed" or not rep.start_seen for rep in reps):
        return []
    found = one_rm(asked.load_kg, len(reps), rpe=asked.rpe, rir=asked.rir)
    if not isinstance(found, OneRm):
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
