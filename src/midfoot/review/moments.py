"""Moments of reps for the review: where a rep lies in the clip, what to look at in it, and how to say when."""

from __future__ import annotations

from midfoot.records.findings import Finding
from midfoot.records.measures import Measurement
from midfoot.records.reps import NOT_ALONE, Rep


def not_alone(measurement: Measurement) -> tuple[int, ...]:
    """Give the numbers of the reps that were not finished, or not without help."""
    return tuple(r.n for r in measurement.data.reps.reps if r.outcome in NOT_ALONE)


def span(rep: Rep) -> tuple[float, float] | None:
    """Give where a rep lies in the clip as far as it is shown, s; None where no moment of it is."""
    known = [m.t_s for m in (rep.start, rep.low_start, rep.low_end, rep.top_start, rep.top_end, rep.end) if m]
    return (min(known), max(known)) if known else None


def key_moment(rep: Rep) -> float | None:
    """Give the moment to stop at: the end of the low, for a deadlift the lift-off."""
    for moment in (rep.low_end, rep.start, rep.top_start, rep.end):
        if moment is not None:
            return moment.t_s
    return None


def of_reps(measurement: Measurement, numbers: tuple[int, ...]) -> tuple[float, ...]:
    """Give the key moment of each of these reps; empty unless every one has its own."""
    by_number = {r.n: r for r in measurement.data.reps.reps}
    found = [key_moment(by_number[n]) for n in numbers if n in by_number]
    return tuple(t for t in found if t is not None) if all(t is not None for t in found) else ()


def at_of(finding: Finding, rep: int | None) -> float | None:
    """Give the moment that a finding names in a rep, None when it names none."""
    for n, at_s in zip(finding.reps, finding.at_s, strict=False):
        if n == rep:
            return at_s
    return None


def words(measurement: Measurement, number: int | None, at_s: float | None) -> str:
    """Say where in a rep a moment lies: "on the way up", "at the bottom"."""
    rep = next((r for r in measurement.data.reps.reps if r.n == number), None)
    if rep is None:
        return ""
    lift = measurement.data.asked.lift
    at = key_moment(rep) if at_s is None else at_s
    if at is None:
        return ""
    if lift == "deadlift":
        if rep.top_start is not None and at >= rep.top_start.t_s - 0.1:
            return "at the lockout"
        if rep.start is not None and at <= rep.start.t_s + 0.15:
            return "as it leaves the floor"
        return "on the way up"
    low = "on the chest" if lift == "bench" else "at the bottom"
    if rep.low_start is not None and at < rep.low_start.t_s - 0.05:
        return "on the way down" if rep.start is None or at > rep.start.t_s + 0.15 else "before it starts"
    if rep.low_end is not None and at > rep.low_end.t_s + 0.05:
        return "at the lockout" if rep.end is not None and at >= rep.end.t_s - 0.1 else "on the way up"
    return low
