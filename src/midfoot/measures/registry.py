"""All measures there are, in the order in which they are shown. A new one is added to its file's catalogue, to
views.toml, and nowhere else; a new file is added here. Measures that only a front or rear view can give get a file
of their own beside these."""

from __future__ import annotations

from midfoot.measures import bench, bench_shift, common, deadlift, ends, frontal, posture, speed, squat, whole
from midfoot.measures.definition import Definition, RepMeasure, SetMeasure
from midfoot.records.base import LIFTS

PER_REP: tuple[RepMeasure, ...] = (
    *common.CATALOGUE,
    *speed.CATALOGUE,
    *squat.CATALOGUE,
    *bench.CATALOGUE,
    *bench_shift.CATALOGUE,
    *deadlift.CATALOGUE,
    *ends.CATALOGUE,
    *posture.CATALOGUE,
    *frontal.CATALOGUE,
)
PER_SET: tuple[SetMeasure, ...] = (*whole.CATALOGUE, *squat.PER_SET, *posture.PER_SET)


def rep_measures(lift: str) -> tuple[RepMeasure, ...]:
    """Give the measures of a rep of a lift."""
    return tuple(m for m in PER_REP if lift in m.lifts)


def set_measures(lift: str) -> tuple[SetMeasure, ...]:
    """Give the measures of a whole set of a lift."""
    return tuple(m for m in PER_SET if lift in m.lifts)


def definition(measure_id: str, lift: str) -> Definition:
    """Give the definition behind an id for a lift; raises KeyError when the lift has no such measure."""
    for found in (*rep_measures(lift), *set_measures(lift)):
        if found.id == measure_id:
            return found
    raise KeyError(f"measure: expected one of the {lift}'s, got {measure_id!r} ({', '.join(LIFTS)} differ)")
