"""What to say of a moment: which rep, which part of it, and the numbers that belong to it."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.records.base import FloatArray
from midfoot.records.measures import Measure, SetData
from midfoot.records.reps import Moment, Rep

PART_WORDS = {
    "setup": "set-up", "unrack": "unrack", "walkout": "walkout", "hold": "held", "slack": "taking up the slack",
    "descent": "descent", "low": "low", "ascent": "ascent", "top": "top", "lowering": "lowering",
    "between": "between reps", "rerack": "rerack", "missed": "missed", "aside": "not part of the set",
}  # fmt: skip


@frozen
class Now:
    """A moment of the set: the rep at this moment (None outside reps), its part, and both in words."""

    rep: Rep | None
    part: str
    words: str


def start_of(rep: Rep, data: SetData) -> float:
    """Give where the rep begins, or where the clip shows it first."""
    first = rep.start or rep.low_start or rep.low_end or rep.top_start or rep.end
    return first.t_s if first is not None and (rep.start_seen or rep.start) else float(data.track.t_s[0])


def end_of(rep: Rep, data: SetData) -> float:
    """Give where the rep ends, or where the clip shows it last."""
    return rep.end.t_s if rep.end is not None else float(data.track.t_s[-1])


def reference_of(rep: Rep) -> Moment | None:
    """Give the moment whose vertical is the rep's own: the low point, for a deadlift the lift-off."""
    return rep.low_end or rep.start or rep.top_start or rep.end


def part_of(rep: Rep, t_s: float, lift: str) -> str:
    """Name the part of a rep at a moment."""
    if lift == "deadlift":
        if rep.top_start is not None and t_s >= rep.top_start.t_s:
            return "top" if rep.top_end is None or t_s <= rep.top_end.t_s else "lowering"
        return "ascent"
    if rep.low_start is not None and t_s < rep.low_start.t_s:
        return "descent"
    if rep.low_end is not None and t_s > rep.low_end.t_s:
        return "ascent"
    return "low"


def now(data: SetData, t_s: float) -> Now:
    """Say what a moment of the set is."""
    total = len(data.reps.reps)
    for rep in data.reps.reps:
        if start_of(rep, data) <= t_s <= end_of(rep, data):
            part = part_of(rep, t_s, data.asked.lift)
            word = "pull" if data.asked.lift == "deadlift" and part == "ascent" else PART_WORDS[part]
            which = f"rep {rep.n} of {total}" if total > 1 else "the rep"
            tail = "" if rep.outcome == "completed" else f", {rep.outcome.replace('_', ' ')}"
            return Now(rep, part, f"{which}, {word}{tail}")
    for phase in data.reps.phases:
        if phase.start_s <= t_s <= phase.end_s:
            return Now(None, phase.kind, PART_WORDS[phase.kind])
    return Now(None, "aside", "")


def at(values: FloatArray, t_s: FloatArray, moment_s: float, reach_s: float = 0.06) -> float:
    """Interpolate `values` at a moment; NaN where nothing was seen within `reach_s` on both sides."""
    known = np.isfinite(values)
    if not known.any():
        return float("nan")
    times = t_s[known]
    if np.min(np.abs(times - moment_s)) > reach_s:
        return float("nan")
    return float(np.interp(moment_s, times, values[known]))


def said(measure: Measure | None, *, signed: bool = False) -> str:
    """Write a measure for the coach: value, unit, sd; "not seen" where it was not."""
    if measure is None:
        return ""
    if measure.value is None:
        return "not seen" if measure.status == "not_seen" else "–"
    value, sd = written(measure.value, measure.sd, signed=signed)
    unit = {"deg": "°", "ratio": "", "m_s": " m/s"}.get(measure.unit, f" {measure.unit}")
    mark = "inferred, " if measure.status == "inferred" else ""
    return f"{value}{unit} ({mark}sd {sd})" if sd else f"{value}{unit}"


def written(value: float, sd: float | None, *, signed: bool = False) -> tuple[str, str]:
    """Write a value and its sd with the digits that the sd allows: sd to one figure, value to the same place."""
    if sd is None or not np.isfinite(sd) or sd <= 0:
        digits = 2 if abs(value) < 10 else 0
        return _minus(f"{value:{'+' if signed else ''}.{digits}f}"), ""
    digits = int(np.clip(-np.floor(np.log10(sd * 1.05)), 0, 3))
    return _minus(f"{value:{'+' if signed else ''}.{digits}f}"), f"{max(sd, 10.0**-digits):.{digits}f}"


def _minus(text: str) -> str:
    return text.replace("-", "−" if float(text) else "")
