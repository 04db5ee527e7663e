"""Whether a difference stands out of what this lifter's reps differ by anyway.

People do not repeat a rep to the millimetre. A difference that the clip resolves well may still be nothing but
that scatter, so it is held against it: the scatter expected in a lifter who does nothing wrong (`natural` of the
threshold), made smaller or larger by how steady this set is in everything else, and by what is left of the
measure's own spread when the reps are split into two groups, or follow a line over the set. A step from one rep to
the next, or a steady drift, so stays visible in a steady set, and the same millimetres in a restless one do not.
What stays from some rep on, or grows over the set, needs less than one odd rep: chance seldom keeps such an order.

The multiples were set on made sets without a fault (`python -m lab.score_findings`), not on clips.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from midfoot.records.findings import CONFIDENCES

if TYPE_CHECKING:
    from midfoot.findings.look import Look

STEADY = {
    "squat": {
        "low_height_change_mm": 12.0,
        "range_of_motion_mm": 12.0,
        "descent_time_s": 6.0,
        "path_at_low_mm": 10.0,
        "path_departure_mm": 10.0,
        "trunk_angle_low_deg": 2.0,
        "trunk_angle_start_deg": 2.0,
        "descent_peak_velocity_m_s": 6.0,
    },
    "bench": {
        "range_of_motion_mm": 5.0,
        "descent_time_s": 6.0,
        "path_at_low_mm": 10.0,
        "path_departure_mm": 10.0,
        "low_height_change_mm": 5.0,
        "descent_peak_velocity_m_s": 6.0,
    },
    "deadlift": {
        "range_of_motion_mm": 5.0,
        "descent_time_s": 6.0,
        "path_at_top_mm": 10.0,
        "path_departure_mm": 10.0,
        "hip_height_liftoff_mm": 12.0,
        "trunk_angle_start_deg": 2.0,
        "start_shift_mm": 8.0,
    },
}
"""By lift: measures that tell how steady a lifter is, with the scatter expected of each (times, velocities in per
cent). Assumed, not read: no published figures for these were found."""
LEAST_MEASURES = 3
STEADIEST, RESTLESS = 0.1, 1.2
"""Nobody is believed to be steadier than a tenth of what is expected, or more restless than by a fifth."""
KIN_SHARE = 1.25
"""The largest of the ratios is left out, because a fault moves its own kin (depth and range); that lowers their
mean by a fifth in sets without a fault."""
PRIOR_REPS = 4.0
"""The expected scatter counts like this many reps against what is left of the set's own."""
ODD_TIMES = {"sure": 7.4, "likely": 7.2, "hint": 5.4}
"""How many times the scatter a difference must be wherever in the set it is: reps are few and signs are many, so
it is far more than for one sign whose scatter were known."""
FROM_TIMES = {"sure": 4.8, "likely": 4.5, "hint": 3.5}
"""The same for a step that stays from some rep on, or a drift: chance seldom keeps the order of the reps."""
ERROR_SHARE = 0.6
"""How much of a reading's own error counts as scatter: it is known and asked for by itself (1.96 sd) already."""
LEFT_SHARE = {3: 0.27, 4: 0.385, 5: 0.435, 6: 0.465, 7: 0.49, 8: 0.50}
"""What the best split or line leaves of a normal scatter by the number of reps, mean of many draws; more as 8."""


def consistency(look: Look, without: str) -> float:
    """Give this set's scatter over what is expected, the mean of several measures; 1 when too few are seen.

    A fault moves the measures that it touches. So the scatter of each is what is left of it when the reps are
    split into two groups or follow a line; two reps leave nothing, and their whole difference is taken.
    """
    ratios = []
    for measure_id, expected in STEADY[look.data.asked.lift].items():
        found = look.values(measure_id)
        if measure_id == without or len(found) < 2:
            continue
        values = np.array([m.value for m in found.values()], float)
        errors = np.array([m.sd or 0.0 for m in found.values()])
        scale = 100.0 / max(abs(float(values.mean())), 1e-9) if measure_id.endswith("_s") else 1.0
        ratios.append(_scatter(values, float(np.mean(errors**2))) * scale / expected)
    if len(ratios) < LEAST_MEASURES:
        return 1.0
    return float(np.clip(KIN_SHARE * np.mean(sorted(ratios)[:-1]), STEADIEST, RESTLESS))


def _scatter(values: np.ndarray, error: float) -> float:
    """Scatter of one measure, one sd, less the variance of its readings' own errors."""
    count = len(values)
    if count == 2:
        return math.sqrt(max(float(values.var(ddof=1)) - error, 0.0))
    left = min(_split(values), _line(values)) / (count - 2)
    return math.sqrt(max(left / LEFT_SHARE[min(count, 8)] ** 2 - error, 0.0))


def stands_out(row: Sequence[float], size: float, sd: float, natural: float, steady: float, worse: str) -> str:
    """Give the surest that a difference may be by how far it stands out of the scatter, "" for not at all.

    Parameters
    ----------
    row : values of the measure over the reps, in order, in the threshold's unit.
    size : how much worse than the reference the worst rep is.
    sd : random error of one value.
    natural : expected scatter, one sd; 0 lets everything pass.
    steady : this set's scatter over the expected.
    worse : `more`, `less` or `away`: which way is worse.
    """
    if natural <= 0:
        return "sure"
    odd = size_in_scatter(row, size, sd, natural, steady)
    since = change_in_scatter(row, sd, natural, steady, worse)
    return next((c for c in CONFIDENCES if odd >= ODD_TIMES[c] or since >= FROM_TIMES[c]), "")


def size_in_scatter(row: Sequence[float], size: float, sd: float, natural: float, steady: float) -> float:
    """Give how many times the scatter a difference is, wherever in the set it is."""
    values = np.asarray(row, float)
    left = min(_split(values), _line(values))
    scatter = _joined(left, len(values), sd, natural, steady)
    return size / scatter if scatter > 0 else math.inf


def change_in_scatter(row: Sequence[float], sd: float, natural: float, steady: float, worse: str) -> float:
    """Give how many of its own errors a step that stays from some rep on is, or a drift over the set.

    The largest over all places of the step, as a difference of two means, and of a straight line's slope. Only
    changes for the worse count.
    """
    values = np.asarray(row, float)
    count = len(values)
    if count < 2:
        return 0.0
    if worse == "away":
        return max(change_in_scatter(row, sd, natural, steady, way) for way in ("more", "less"))
    values = values if worse == "more" else -values
    at = np.arange(count) - (count - 1) / 2.0
    slope = float(at @ values) / float(at @ at)
    scatter = _joined(_line(values), count, sd, natural, steady)
    found = [slope * math.sqrt(float(at @ at)) / scatter if scatter > 0 else 0.0]
    for k in range(1, count):
        early, late = values[:k], values[k:]
        left = float(np.sum((early - early.mean()) ** 2) + np.sum((late - late.mean()) ** 2))
        scatter = _joined(left, count, sd, natural, steady) * math.sqrt(1.0 / k + 1.0 / (count - k))
        found.append(float(late.mean() - early.mean()) / scatter if scatter > 0 else 0.0)
    return max(found)


def _joined(left: float, count: int, sd: float, natural: float, steady: float) -> float:
    """Scatter of one rep, one sd, from what is expected and what a set's own reps leave (a sum of squares)."""
    expected = (natural * steady) ** 2 + (ERROR_SHARE * sd) ** 2
    return math.sqrt((PRIOR_REPS * expected + left) / (PRIOR_REPS + max(count - 2, 0)))


def _split(values: np.ndarray) -> float:
    """Sum of squares left within two groups, the best split of the sorted values."""
    ordered = np.sort(values)
    splits = (
        float(np.sum((a - a.mean()) ** 2) + np.sum((b - b.mean()) ** 2))
        for a, b in ((ordered[:k], ordered[k:]) for k in range(1, len(ordered)))
    )
    return min(splits, default=0.0)


def _line(values: np.ndarray) -> float:
    """Sum of squares left about a straight line over the reps."""
    at = np.arange(len(values)) - (len(values) - 1) / 2.0
    away = values - values.mean()
    slope = float(at @ away) / float(at @ at) if len(values) > 1 else 0.0
    return float(np.sum((away - slope * at) ** 2))
