"""The moment of a rep at which to look for a finding."""

from __future__ import annotations

import numpy as np

from midfoot.findings.look import Look
from midfoot.records.reps import Rep

AT_PART = {"descent": 0.8, "ascent": 0.35}
"""Share of the descent or the ascent at which to look when nothing better is known: late in the one, early in the
other, where squat, bench and deadlift are lost (common practice, no source)."""


def moment(part: str, measure: str, look: Look, i: int) -> float:
    """Give the moment to look at in a rep, s: where path or drop is largest, or else by the part of the rep."""
    rep = look.reps[i]
    span = rep.ascent_s
    if span is not None and measure in ("path_forward_mm", "downward_movement_mm"):
        found = _on_path(measure, look, rep, span)
        if found is not None:
            return round(found, 3)
    return round(_of_part(part, rep, look), 3)


def _on_path(measure: str, look: Look, rep: Rep, span: tuple[float, float]) -> float | None:
    path = look.data.path
    if path is None:
        return None
    inside = np.flatnonzero((path.t_s >= span[0]) & (path.t_s <= span[1]))
    values = path.forward_mm[inside] if measure == "path_forward_mm" else path.up_mm[inside]
    if len(inside) < 5 or not np.isfinite(values).all():
        return None
    if measure == "path_forward_mm":
        return float(path.t_s[inside[int(np.argmax(values - values[0]))]])
    return float(path.t_s[inside[int(np.argmax(np.maximum.accumulate(values) - values))]])


def _of_part(part: str, rep: Rep, look: Look) -> float:
    low = rep.low_start or rep.low_end
    finish = rep.top_start or rep.end
    span = rep.ascent_s
    if part == "descent" and rep.start is not None and low is not None:
        return rep.start.t_s + AT_PART["descent"] * (low.t_s - rep.start.t_s)
    if part == "low" and rep.low_start is not None and rep.low_end is not None:
        return (rep.low_start.t_s + rep.low_end.t_s) / 2
    if part == "ascent" and span is not None:
        return span[0] + AT_PART["ascent"] * (span[1] - span[0])
    wanted = {"start": (rep.start,), "low": (low,), "finish": (finish,)}.get(part, ())
    known = [m for m in (*wanted, rep.start, low, finish, rep.end) if m is not None]
    return known[0].t_s if known else float(look.data.track.t_s[0]) if len(look.data.track.t_s) else 0.0
