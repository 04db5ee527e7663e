"""What is kept of a set so that a lifter's course over the weeks is one question to the database. Pure.

Of every measure the mean over the completed reps with its sd, and what decides whether it may stand beside another
clip's: the view and how well the scale is known.
"""

from __future__ import annotations

from typing import Any

from midfoot.history.compare import FREE_UNITS, MOST_SCALE_PCT, SAME_YAW_DEG, mean_of, row_of
from midfoot.records.measures import Measurement

OF_SCALE = ("mm", "m_s")


def numbers_of(measurement: Measurement) -> dict[str, Any]:
    """Give the set's numbers as plain JSON; keys are only ever added.

    Returns
    -------
    dict
        view {class, yaw_deg}, scale_pct (sd of the scale, None where there is none), best_rep, reps (completed),
        and levels {measure: {value, sd, unit, reps}}: the mean over the completed reps in which it was seen; its
        sd holds the scatter of the reps and the error common to the clip. Measures of the whole set are in it too.
    """
    data = measurement.data
    levels: dict[str, dict[str, Any]] = {}
    ids = dict.fromkeys(m.id for row in measurement.measured.reps for m in row)
    for measure_id in ids:
        row = row_of(measurement, measure_id)
        mean = mean_of(row)
        if mean is not None:
            unit = next(m.unit for m in row if m is not None)
            levels[measure_id] = _level(mean.value, mean.sd, unit, sum(m is not None for m in row))
    for whole in measurement.measured.whole:
        if whole.value is not None and whole.id not in levels:
            sd = ((whole.sd or 0.0) ** 2 + (whole.sd_common or 0.0) ** 2) ** 0.5
            levels[whole.id] = _level(whole.value, sd, whole.unit, 0)
    known = data.scale is not None and data.path is not None
    return {
        "view": {"class": data.view.view_class, "yaw_deg": round(data.view.yaw_deg.value, 1)},
        "scale_pct": round(data.path.scale_pct, 2) if known and data.path is not None else None,
        "best_rep": measurement.measured.best_rep,
        "reps": sum(rep.outcome == "completed" for rep in data.reps.reps),
        "levels": levels,
    }


def why_not_together(unit: str, first: dict[str, Any], second: dict[str, Any]) -> str:
    """Say why a measure of two sets may not stand on one line, "" when it may; the arguments are `numbers_of`."""
    if unit in FREE_UNITS or unit == "%":
        return ""
    a, b = first["view"], second["view"]
    if "unknown" in (a["class"], b["class"]):
        return "the view of one could not be told"
    if a["class"] != b["class"]:
        return f"filmed from the {a['class']} and from the {b['class']}".replace("_", " ")
    if not abs(a["yaw_deg"] - b["yaw_deg"]) <= SAME_YAW_DEG:
        return f"the cameras stood {abs(a['yaw_deg'] - b['yaw_deg']):.0f} degrees apart"
    if unit in OF_SCALE and not all(n["scale_pct"] is not None and n["scale_pct"] < MOST_SCALE_PCT
                                    for n in (first, second)):  # fmt: skip
        return "the plate of one is not known well enough"
    return ""


def _level(value: float, sd: float, unit: str, reps: int) -> dict[str, Any]:
    return {"value": round(value, 4), "sd": round(sd, 4), "unit": unit, "reps": reps}
