"""The set from the clip's first frame to its last as named stretches."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from midfoot.records.reps import Phase, Rep
from midfoot.reps.heights import GRID_S, Heights
from midfoot.reps.moments import band_of

LIFTED_MM = 15.0
"""A bar held this much higher than it stood at the clip's start has been lifted out of something."""
WALKED_MM = 80.0
"""Forward travel that makes the time before the first rep a walkout (after the last, the way back)."""
SHORTEST_S = 0.05
SLACK_IN = ("setup", "hold", "between")
"""What the slack of a pull is a part of."""


def phases_of(
    parts: list[Heights],
    reps: list[Rep],
    lift: str,
    span_s: tuple[float, float],
    slack_s: Sequence[tuple[float, float]] = (),
) -> list[Phase]:
    """Name every stretch between the clip's first and last moment, in order; `slack_s` are the slacks seen."""
    return _with_slack(_whole_set(parts, reps, lift, span_s), slack_s)


def _with_slack(phases: list[Phase], slack_s: Sequence[tuple[float, float]]) -> list[Phase]:
    """Put the slack before each pull in place of what stood there."""
    for a, b in slack_s:
        out: list[Phase] = []
        for p in phases:
            if p.kind in SLACK_IN and p.end_s > a and p.start_s < b and p.end_s <= b + 1e-6:
                if p.start_s < a:
                    out.append(Phase(p.kind, p.start_s, a))
                continue
            out.append(p)
        phases = sorted([*out, Phase("slack", a, b)], key=lambda p: p.start_s)
    return phases


def _whole_set(parts: list[Heights], reps: list[Rep], lift: str, span_s: tuple[float, float]) -> list[Phase]:
    begin, end = span_s
    inner: list[Phase] = []
    for rep in reps:
        inner += _of_rep(rep, lift, begin, end)
    inner = _without_overlap(inner)
    if not inner:
        return [Phase("aside", begin, end)] if end > begin else []
    out = _before(parts, reps[0], lift, begin, inner[0].start_s)
    for k, phase in enumerate(inner):
        if k and phase.start_s - inner[k - 1].end_s > SHORTEST_S:
            out.append(Phase("between", inner[k - 1].end_s, phase.start_s))
        out.append(phase)
    return out + _after(parts, reps[-1], lift, inner[-1].end_s, end)


def _of_rep(rep: Rep, lift: str, begin: float, end: float) -> list[Phase]:
    first, second, last, kinds = (
        (rep.top_start, rep.top_end, rep.end, ("ascent", "top", "lowering"))
        if lift == "deadlift"
        else (rep.low_start, rep.low_end, rep.end, ("descent", "low", "ascent"))
    )
    if rep.outcome == "missed":
        kinds = (kinds[0], kinds[1], "missed")
    marks = [rep.start, first, second, last]
    times = [None if m is None else m.t_s for m in marks]
    if times[0] is None and times[1] is None and times[2] is None and times[3] is None:
        return []
    if times[0] is None and not rep.start_seen:
        times[0] = begin if rep.n == 1 else None
    out = []
    for kind, a, b in zip(kinds, times[:-1], times[1:], strict=True):
        if a is not None and b is not None and b > a:
            out.append(Phase(kind, a, b))
    known = [(i, t) for i, t in enumerate(times) if t is not None]
    i, t = known[-1]
    if rep.end is None and i < 3 and end > t and not rep.end_seen and rep.outcome == "cut_off":
        out.append(Phase(kinds[i], t, end))
    return out


def _without_overlap(phases: list[Phase]) -> list[Phase]:
    out: list[Phase] = []
    for phase in sorted(phases, key=lambda p: p.start_s):
        start = max(phase.start_s, out[-1].end_s) if out else phase.start_s
        if phase.end_s > start:
            out.append(Phase(phase.kind, start, phase.end_s))
    return out


def _part_at(parts: list[Heights], t_s: float) -> Heights | None:
    return next((h for h in parts if h.t_s[0] - 0.1 <= t_s <= h.t_s[-1] + 0.1), None)


def _before(parts: list[Heights], rep: Rep, lift: str, begin: float, start: float) -> list[Phase]:
    if start - begin <= SHORTEST_S:
        return []
    h = _part_at(parts, start)
    if h is None or rep.start is None:
        return [Phase("setup", begin, start)]
    at = h.index(start)
    band = max(band_of(h), LIFTED_MM)
    level = float(h.x_mm[at])
    if lift == "deadlift":
        off = np.flatnonzero(np.abs(h.x_mm[:at] - level) > 3 * band)
        moved = float(h.t_s[off[-1]]) if len(off) else begin
        return (
            _named([("setup", begin, moved), ("hold", moved, start)])
            if len(off)
            else [Phase("setup", begin, start)]
        )
    held = next((s for s in reversed(h.still) if s.first < at), None)
    if held is None:
        return [Phase("walkout", begin, start)]
    settled = float(h.t_s[held.first])
    first = h.still[0]
    racked = float(np.median(h.x_mm[first.first : first.past]))
    height = float(np.median(h.x_mm[held.first : min(held.past, at) or None]))
    left = h.x_mm[held.first : at] < height - band
    if level - height > 0.5 * LIFTED_MM and not left.any():
        # Nothing was held between the rack and the first rep.
        off = np.flatnonzero(h.x_mm[held.first : at] > height + band_of(h))
        lifted = float(h.t_s[held.first + off[0]]) if len(off) else start
        return _named([("setup", begin, lifted), ("unrack", lifted, start)])
    if first is held or settled - begin <= SHORTEST_S:
        return _named([("walkout", begin, settled), ("hold", settled, start)])
    if height - racked <= LIFTED_MM:
        still_from = float(h.t_s[first.first])
        walked = _travel(h, first.first, held.first) > WALKED_MM
        if not walked:
            return _named([("walkout", begin, still_from), ("hold", still_from, start)])
        return _named([("walkout", begin, settled), ("hold", settled, start)])
    above = np.flatnonzero(h.x_mm[: held.first + 1] > racked + band_of(h))
    lifted = float(h.t_s[above[0]]) if len(above) else settled
    up = np.flatnonzero(h.x_mm[: held.first + 1] > height - band_of(h))
    out_of_rack = min(max(float(h.t_s[up[0]]) if len(up) else settled, lifted), settled)
    return _named(
        [("setup", begin, lifted), ("unrack", lifted, out_of_rack), ("walkout", out_of_rack, settled),
         ("hold", settled, start)]
    )  # fmt: skip


def _after(parts: list[Heights], rep: Rep, lift: str, stop: float, end: float) -> list[Phase]:
    if end - stop <= SHORTEST_S:
        return []
    h = _part_at(parts, stop)
    if h is None or rep.end is None or lift == "deadlift":
        return [Phase("aside", stop, end)]
    if rep.outcome != "completed":
        return [Phase("missed" if rep.outcome == "missed" else "aside", stop, end)]
    at = h.index(stop)
    level = float(np.median(h.x_mm[at : at + round(0.5 / GRID_S)]))
    off = np.flatnonzero(np.abs(h.x_mm[at:] - level) > max(2 * band_of(h), LIFTED_MM))
    if not len(off):
        return [Phase("hold", stop, end)]
    leaves = float(h.t_s[at + off[0]])
    late = next((s for s in h.still if s.first > at + off[0] and len(h) - s.past < round(0.5 / GRID_S)), None)
    racked = float(h.t_s[late.first]) if late is not None else end
    return _named([("hold", stop, leaves), ("rerack", leaves, racked), ("aside", racked, end)])


def _travel(h: Heights, first: int, past: int) -> float:
    forward = h.forward_mm[first:past]
    forward = forward[np.isfinite(forward)]
    return float(np.ptp(forward)) if len(forward) else 0.0


def _named(rows: list[tuple[str, float, float]]) -> list[Phase]:
    return [Phase(kind, a, b) for kind, a, b in rows if b - a > SHORTEST_S]
