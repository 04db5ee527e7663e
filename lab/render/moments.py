"""The moments of every rep on the noise-free path, by the rule the measurement uses, and the bar's figures.

`start` = the bar leaves a band of 10 mm about the height at which it was held (deadlift: at which it rests on the
floor); low (deadlift: top) interval = from first coming within 10 mm of the extreme to leaving it for good;
`end` = it enters the band of 10 mm about the height at which it is then held (deadlift: rests), or of a missed
rise about its highest point: when a bar that stands is highest is a matter of its sway and cannot be seen. A band
of 10 mm is 10 mm to each side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
BAND_M = 0.010
STILL_M_S = 0.030
HELD_S = 0.4


def _crossing(t_s: Array, value: Array, level: float, i: int) -> float:
    """Time between samples i and i + 1 at which `value` passes `level`."""
    a, b = float(value[i]), float(value[i + 1])
    return float(t_s[i] + (t_s[i + 1] - t_s[i]) * (level - a) / (b - a))


def _last_outside(t_s: Array, off: Array, before: int) -> float:
    """Where `off` last goes from within the band to outside of it, up to index `before`."""
    inside = np.flatnonzero(off[: before + 1] <= BAND_M)
    return _crossing(t_s, off, BAND_M, int(inside[-1]))


def _first_inside(t_s: Array, off: Array, after: int) -> float:
    """Where `off` first comes into the band after index `after`."""
    inside = np.flatnonzero(off[after:] <= BAND_M)
    return _crossing(t_s, off, BAND_M, after + int(inside[0]) - 1)


def of_rep(
    t_s: Array, up_m: Array, held_before_s: float, turn_s: float, held_after_s: float, *, deadlift: bool,
    peak_s: float | None = None,
) -> dict[str, float]:  # fmt: skip
    """Find the moments of one rep.

    Parameters
    ----------
    t_s, up_m : a dense path.
    held_before_s, held_after_s : times at which the bar is surely held (rests) before and after the rep; the
        height it is held at is the median over the 0.4 s that end (start) there.
    turn_s : a time near the extreme.
    peak_s : squat and bench: a time near the highest point of a missed rise, at whose height such a rep ends.
    """
    before = (t_s >= held_before_s - HELD_S) & (t_s <= held_before_s)
    after = (t_s >= held_after_s) & (t_s <= held_after_s + HELD_S)
    held = float(np.median(up_m[before]))
    then = float(np.median(up_m[after]))
    missed = peak_s is not None and not deadlift
    if peak_s is not None and missed:
        near_peak = (t_s >= peak_s - HELD_S) & (t_s <= peak_s + HELD_S)
        then, held_after_s = float(up_m[near_peak].max()), peak_s
    lo, hi = np.searchsorted(t_s, [held_before_s, held_after_s])
    span = up_m[lo:hi]
    turn = int(lo + (np.argmax(span) if deadlift else np.argmin(span)))
    extreme = float(up_m[turn])
    start = _last_outside(t_s, np.abs(up_m - held), turn)
    end = _first_inside(t_s, np.abs(up_m - then), turn)
    near = np.abs(up_m - extreme)
    inside = lo + np.flatnonzero(near[lo:hi] <= BAND_M)
    first = _crossing(t_s, near, BAND_M, int(inside[0]) - 1)
    last = _crossing(t_s, near, BAND_M, int(inside[-1]))
    word = "top" if deadlift else "low"
    return {
        "start_s": start, f"{word}_start_s": first, f"{word}_end_s": last, "end_s": end,
        "held_m": held, "extreme_m": extreme, "then_m": then, "turn_s": float(t_s[turn]),
    }  # fmt: skip


def of_set(
    t_s: Array, up_m: Array, marks: Sequence[Mapping[str, float]], *, deadlift: bool,
    outcomes: Sequence[str] = (),
) -> list[dict[str, float]]:  # fmt: skip
    """Find the moments of every rep of a set; `marks` tell roughly where each rep starts, turns and ends."""
    kinds = outcomes or ["completed"] * len(marks)
    return [
        of_rep(t_s, up_m, m["start"] - 0.02, m["turn"], m["end"] + 0.06, deadlift=deadlift,
               peak_s=m["peak"] if kind == "missed" else None)
        for m, kind in zip(marks, kinds, strict=True)
    ]  # fmt: skip


def figures(
    t_s: Array, forward_m: Array, up_m: Array, events: Sequence[Mapping[str, float]], *, lift: str
) -> list[dict[str, float]]:
    """Measure the bar in every rep on the true path; ids and units as in measurement.json."""
    speed = np.gradient(up_m, t_s)
    deadlift = lift == "deadlift"
    word = "top" if deadlift else "low"
    tops = [e["extreme_m"] if deadlift else e["then_m"] for e in events]
    lows = [e["held_m"] if deadlift else e["extreme_m"] for e in events]
    out = []
    for e, top, low in zip(events, tops, lows, strict=True):
        a, b = (e["start_s"], e["top_start_s"]) if deadlift else (e["low_end_s"], e["end_s"])
        rising = (t_s >= a) & (t_s <= b)
        whole = (t_s >= e["start_s"]) & (t_s <= e["end_s"])
        pivot = float(np.interp(a if deadlift else e["turn_s"], t_s, forward_m))
        off = forward_m[rising] - pivot
        height = np.interp([a, b], t_s, up_m)
        inner = (t_s >= e[f"{word}_start_s"]) & (t_s <= e[f"{word}_end_s"])
        row = {
            "range_of_motion_mm": 1000.0 * (top - low),
            "ascent_time_s": b - a,
            "descent_time_s": e["end_s"] - e["top_end_s"] if deadlift else e["low_start_s"] - e["start_s"],
            f"{word}_time_s": e[f"{word}_end_s"] - e[f"{word}_start_s"],
            "pause_time_s": float(np.sum(np.abs(speed[inner]) < STILL_M_S) * (t_s[1] - t_s[0])),
            "ascent_mean_velocity_m_s": float((height[1] - height[0]) / (b - a)),
            "ascent_peak_velocity_m_s": float(speed[rising].max()),
            "path_range_mm": 1000.0 * float(np.ptp(forward_m[whole])),
            "path_forward_mm": 1000.0 * float(max(off.max(), 0.0)),
            "path_departure_mm": 1000.0 * float(off[np.argmax(np.abs(off))]),
            "lockout_shortfall_mm": 1000.0 * (max(tops) - top),
            "downward_movement_mm": 1000.0 * _sunk(up_m[rising]),
        }
        if not deadlift:
            begun = float(np.interp(e["start_s"], t_s, forward_m))
            row["path_at_low_mm"] = 1000.0 * (pivot - begun)
            row["low_height_change_mm"] = 1000.0 * (low - min(lows))
        row.update(_sticking(t_s[rising], up_m[rising], speed[rising], low))
        out.append(row)
    return out


def _sunk(up_m: Array) -> float:
    """Largest drop below a height already reached, m."""
    return float(np.max(np.maximum.accumulate(up_m) - up_m))


def _sticking(t_s: Array, up_m: Array, speed: Array, low_m: float) -> dict[str, float]:
    """First minimum of the rising velocity that is at least 0.03 m/s and a tenth of the peak deep; else empty.

    A dip counts where the velocity has been, and comes again, that much above it: the measure's definition,
    written as a walk over the curve.
    """
    least = max(0.03, 0.1 * float(speed.max()))
    top = bottom = 0
    for i, v in enumerate(speed):
        if v > speed[top] and speed[top] - speed[bottom] < least:
            top = bottom = i
        elif v < speed[bottom]:
            bottom = i
        elif speed[top] - speed[bottom] >= least and v - speed[bottom] >= least:
            height = 1000.0 * float(up_m[bottom] - low_m)
            return {"sticking_velocity_m_s": float(speed[bottom]), "sticking_height_mm": height}
    return {}
