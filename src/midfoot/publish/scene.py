"""A measured set as a player draws it over the running picture: numbers in px of the frame, words beside them.

What stands in a still is drawn by `evidence` and `finding_marks`; here is the same as data, for every frame. Times
are on the clip's clock, NaN is null; places are rounded to a hundredth of a pixel, lengths of the path likewise.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np

from midfoot.publish import finding_marks
from midfoot.publish.findings_section import size_words
from midfoot.publish.moments import PART_WORDS, end_of, part_of, reference_of, said, start_of, written
from midfoot.publish.tables import plain_name
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, BodyTrack
from midfoot.records.findings import Finding
from midfoot.records.measures import Measurement, SetData
from midfoot.records.reps import Rep

DRAWN = (
    "left_shoulder", "right_shoulder", "left_elbow", "right_elbow", "left_wrist", "right_wrist", "left_hip",
    "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle", "left_heel", "right_heel",
    "left_foot_index", "right_foot_index",
)  # fmt: skip
"""Joints that are drawn: none of the face."""
SEGMENTS = (
    ("shoulder", "elbow"), ("elbow", "wrist"), ("shoulder", "hip"), ("hip", "knee"), ("knee", "ankle"),
    ("ankle", "heel"), ("heel", "foot_index"),
)  # fmt: skip
ANGLE_OF = {"squat": ("hip", None), "bench": ("elbow", "wrist"), "deadlift": ("hip", "shoulder")}
"""The one line against the vertical that matters for a lift; None stands for the bar."""
MOST_OFF_SIDE_DEG = 40.0
MOMENT_WORDS = {
    "start": "start", "low_start": "low begins", "low_end": "ascent begins", "top_start": "lockout",
    "top_end": "lowering begins", "end": "end",
}  # fmt: skip
MOMENTS_OF = {
    "squat": ("start", "low_start", "low_end", "end"),
    "bench": ("start", "low_start", "low_end", "end"),
    "deadlift": ("start", "top_start", "top_end", "end"),
}
FORWARD_IDS = ("path_departure_mm", "path_forward_mm", "path_range_mm")
FIGURES: dict[str, dict[str, tuple[str, ...]]] = {
    "squat": {
        "start": ("trunk_angle_start_deg",),
        "low_end": ("squat_depth_mm", "trunk_angle_low_deg", "path_at_low_mm"),
        "slowest": ("sticking_velocity_m_s", "sticking_height_mm", "trunk_angle_slowest_deg"),
        "end": ("lockout_shortfall_mm", "knee_lockout_gap_deg"),
    },
    "bench": {
        "low_end": ("touch_point_mm", "forearm_angle_deg", "pause_time_s"),
        "slowest": ("sticking_velocity_m_s", "sticking_height_mm"),
        "end": ("lockout_shortfall_mm",),
    },
    "deadlift": {
        "start": ("trunk_angle_start_deg", "slack_time_s"),
        "slowest": ("sticking_velocity_m_s", "sticking_height_mm"),
        "top_start": ("lockout_shortfall_mm", "knee_lockout_gap_deg", "hip_lockout_gap_deg"),
    },
}
"""Measures that belong to one moment of a rep: said under the picture while that moment stands in it."""


def scene_of(measurement: Measurement) -> dict[str, Any]:
    """Give everything that is drawn over the picture and said under it, as plain lists, numbers and words."""
    data = measurement.data
    return {
        "lift": data.asked.lift,
        "size_px": [data.clip.width_px, data.clip.height_px],
        "mirrored": data.clip.mirrored,
        "real_speed": _real_speed(measurement),
        "from_s": data.asked.from_s,
        "to_s": data.asked.to_s,
        "forward_px": {"image_left": -1, "image_right": 1}.get(data.view.facing, 0)
        if forward_seen(measurement)
        else 0,
        "lean": _number(math.tan(math.radians(data.view.roll_deg.value)), 5) or 0.0,
        "roll": _said(data.view.roll_deg.value, data.view.roll_deg.sd, "°"),
        "bar": _bar(data),
        "body": _body(data),
        "reps": [_rep(measurement, place, rep) for place, rep in enumerate(data.reps.reps)],
        "phases": [
            {"kind": p.kind, "words": PART_WORDS[p.kind], "start_s": _number(p.start_s), "end_s": _number(p.end_s)}
            for p in data.reps.phases
        ],
        "findings": [_finding(data, finding) for finding in measurement.found.findings],
        "best_rep": measurement.measured.best_rep,
    }


def forward_seen(measurement: Measurement) -> bool:
    """Tell whether this view shows how far forward the bar goes: as the measures of the way forward say.

    The path holds a figure for it from any view; beside the side it is no measurement.
    """
    ways = [m for rep in measurement.measured.reps for m in rep if m.id in FORWARD_IDS]
    if measurement.data.view.facing == "unknown":
        return False
    return not ways or any(m.value is not None for m in ways)


def _real_speed(measurement: Measurement) -> float:
    told: Any = next((s.parameters for s in measurement.steps if s.name == "footage"), {})
    return float(told.get("real_speed") or 1.0)


def _number(value: float | None, digits: int = 3) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), digits)


def _column(values: FloatArray, digits: int) -> list[float | None]:
    return [_number(v, digits) for v in values.tolist()]


def _said(value: float, sd: float, unit: str) -> str:
    if not math.isfinite(value):
        return ""
    number, spread = written(value, sd)
    return f"{number}{unit} (sd {spread})" if spread else f"{number}{unit}"


def _bar(data: SetData) -> dict[str, Any]:
    track, path = data.track, data.path
    ring = None
    if track.source == "plate" and track.diameter_px is not None:
        major = track.diameter_px.value / 2
        aspect = track.aspect.value if track.aspect is not None else 1.0
        ring = [_number(major, 2), _number(major * aspect, 2), _number(track.axis_deg or 0.0, 2)]
    found: dict[str, Any] = {
        "status": track.status,
        "source": track.source,
        "reason": track.reason,
        "ring": ring,
        "candidates": [
            {
                "x": _number(c.x_px, 1),
                "y": _number(c.y_px, 1),
                "r": _number(c.radius_px, 1),
                "at_s": _number(c.at_s),
            }
            for c in track.candidates
        ],
        "t_s": _column(track.t_s, 5),
        "x": _column(track.xy_px[:, 0], 2),
        "y": _column(track.xy_px[:, 1], 2),
        "seen": [int(s) for s in track.seen],
    }
    if path is not None:
        columns = {"forward": path.forward_mm, "up": path.up_mm, "sd_forward": path.sd_forward_mm,
                   "sd_up": path.sd_up_mm}  # fmt: skip
        found |= {name: _column(values, 2) for name, values in columns.items()}
    return found


def _body(data: SetData) -> dict[str, Any]:
    body = data.body
    side = body.near_side or data.view.near_side
    joints = {name: _joint(body, INDEX[name]) for name in DRAWN} if body.status == "seen" else {}
    segments = [[f"{s}_{a}", f"{s}_{b}"] for s in ("left", "right") for a, b in SEGMENTS]
    across = [["left_shoulder", "right_shoulder"], ["left_hip", "right_hip"]]
    angle = None
    if side is not None and abs(data.view.yaw_deg.value) <= MOST_OFF_SIDE_DEG:
        low, high = ANGLE_OF[data.asked.lift]
        angle = [f"{side}_{low}", f"{side}_{high}" if high else None]
    return {
        "status": body.status,
        "reason": body.reason,
        "side": side,
        "t_s": _column(body.t_s, 4),
        "joints": joints,
        "segments": segments + across,
        "angle": angle,
    }


def _joint(body: BodyTrack, k: int) -> dict[str, Any]:
    hidden = body.state[:, k] == HIDDEN
    x, y = (np.where(hidden, np.nan, body.xy_px[:, k, axis]) for axis in (0, 1))
    return {"x": _column(x, 1), "y": _column(y, 1), "state": [int(s) for s in body.state[:, k]]}


def _rep(measurement: Measurement, place: int, rep: Rep) -> dict[str, Any]:
    data, lift = measurement.data, measurement.data.asked.lift
    start, end = start_of(rep, data), end_of(rep, data)
    edges = sorted({start, end, *(m.t_s for m in _moments(rep, lift).values() if start < m.t_s < end)})
    parts = []
    for a, b in pairwise(edges):
        kind = part_of(rep, (a + b) / 2, lift)
        words = "pull" if lift == "deadlift" and kind == "ascent" else PART_WORDS[kind]
        parts.append({"part": kind, "words": words, "start_s": _number(a), "end_s": _number(b)})
    reference = reference_of(rep)
    total = len(data.reps.reps)
    return {
        "n": rep.n,
        "words": f"rep {rep.n} of {total}" if total > 1 else "the rep",
        "outcome": rep.outcome,
        "best": rep.n == measurement.measured.best_rep,
        "start_s": _number(start),
        "end_s": _number(end),
        "reference_s": _number(reference.t_s) if reference is not None else None,
        "parts": parts,
        "moments": [
            {"name": f"{name}_s",
             "words": "lift-off" if (lift, name) == ("deadlift", "start") else MOMENT_WORDS[name],
             "at_s": _number(m.t_s), "sd_s": _number(m.sd_s), "given": m.why == "given"}
            for name, m in _moments(rep, lift).items()
        ],
        "figures": _figures(measurement, place, rep),
    }  # fmt: skip


def _moments(rep: Rep, lift: str) -> dict[str, Any]:
    return {name: m for name in MOMENTS_OF[lift] if (m := getattr(rep, name)) is not None}


def _figures(measurement: Measurement, place: int, rep: Rep) -> list[dict[str, Any]]:
    """Give the measures of single moments: when, and what is said of them (value, unit, sd)."""
    found = []
    for name, ids in FIGURES[measurement.data.asked.lift].items():
        moment = getattr(rep, name, None)
        at_s = moment.t_s if moment is not None else slowest_s(measurement, place) if name == "slowest" else None
        if at_s is None:
            continue
        measures = [m for i in ids if (m := measurement.measured.of(place, i)) is not None and m.value is not None]
        words = [f"{plain_name(m.id)} {said(m, signed=m.unit == 'mm')}" for m in measures]
        angle = next((said(m) for m in measures if m.unit == "deg" and "angle" in m.id), "")
        found.append({"at_s": _number(at_s), "words": words, "angle": angle})
    return found


def slowest_s(measurement: Measurement, place: int) -> float | None:
    """Give when the bar passes the height of its slowest point on the way up; None where there is no such dip."""
    rep, path = measurement.data.reps.reps[place], measurement.data.path
    height = measurement.measured.of(place, "sticking_height_mm")
    span = rep.ascent_s
    if height is None or height.value is None or span is None or path is None:
        return None
    rows = np.flatnonzero((path.t_s >= span[0]) & (path.t_s <= span[1]) & np.isfinite(path.up_mm))
    if not len(rows):
        return None
    risen = np.flatnonzero(path.up_mm[rows] >= path.up_mm[rows].min() + height.value)
    return float(path.t_s[rows[risen[0]]]) if len(risen) else None


def _finding(data: SetData, finding: Finding) -> dict[str, Any]:
    measure = finding.evidence[0].measure if finding.evidence else ""
    figure = size_words(finding)
    levels = []
    for at_s in finding.at_s:
        found = finding_marks.levels_of(data, measure, at_s, at_s, figure)
        if found is not None:
            levels.append({"at_s": _number(at_s), "upper_y": _number(found.upper_y, 1),
                           "bar": [_number(v, 1) for v in found.bar], "words": found.words})  # fmt: skip
    return {
        "id": finding.id,
        "title": finding.title,
        "size": figure,
        "confidence": finding.confidence,
        "reps": list(finding.reps),
        "at_s": [_number(t) for t in finding.at_s],
        "forward": measure in finding_marks.FORWARD,
        "levels": levels,
    }
