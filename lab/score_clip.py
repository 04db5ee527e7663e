"""Score one measured random set against its truth file: errors, errors over stated sd, and what was followed."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ON_IT = 0.5
"""Share of the disc's radius within which a place counts as on it."""
MOMENTS = ("start_s", "low_start_s", "low_end_s", "top_start_s", "top_end_s", "end_s")
PER_REP = ("range_of_motion_mm", "ascent_time_s", "ascent_mean_velocity_m_s", "ascent_peak_velocity_m_s",
           "lockout_shortfall_mm", "path_at_low_mm", "path_departure_mm", "squat_depth_mm", "depth_change_mm",
           "hip_lead_ratio", "trunk_angle_low_deg", "trunk_angle_start_deg", "late_descent_travel_mm",
           "hip_lift_mm", "touch_point_mm", "shoulder_shift_mm")  # fmt: skip
SQUAT_LINE = {"trunk_angle_start_deg": "hip_bar_start_deg", "trunk_angle_low_deg": "hip_bar_low_deg"}


def score(found: dict[str, Any], true: dict[str, Any], body: dict[str, Array] | None = None) -> dict[str, Any]:
    """Compare a measurement.json with a truth file; `body` is what body.npz holds.

    Returns
    -------
    dict
        Plain numbers; `errors` and `sds` hold one vote for each quantity: of a rep's measures the middle rep's.
    """
    rows = [r for r in found["bar"]["path"] if r["x_px"] is not None]
    t = np.array([r["t_s"] for r in rows])
    out: dict[str, Any] = {
        "status": found["bar"]["status"], "source": found["bar"]["source"],
        "warnings": [w["id"] for w in found["warnings"]],
        "reps_found": len(found["reps"]), "reps_true": len(true["events"]),
        "outcomes_found": [r["outcome"] for r in found["reps"]], "outcomes_true": true["outcomes"],
        "near_side_right": found["view"]["near_side"] == true["camera"]["near_side"],
        "near_side_told": found["view"]["near_side"] is not None, "errors": {}, "sds": {},
    }  # fmt: skip
    radius = true["plate_diameter_mm"] / 2 / true["camera"]["mm_per_px"]
    true_t = np.array(true["t_s"])
    out["radius_px"] = radius
    seen = np.array([r["seen"] for r in rows], bool)
    if len(t) > 5 and seen.any():
        xy = np.array([[r["x_px"], r["y_px"]] for r in rows])[seen]
        at = {k: _at(t[seen], true_t, np.array(true[k])) for k in ("near_px", "far_px")}
        away = {k: np.hypot(*(xy - v).T) / radius for k, v in at.items()}
        out["seen_pct"] = 100.0 * float(seen.sum()) / len(found["bar"]["path"])
        out["on_near_pct"] = 100.0 * float(np.mean(away["near_px"] < ON_IT))
        out["on_far_pct"] = 100.0 * float(np.mean(away["far_px"] < ON_IT))
        out["centre_off_radii"] = float(np.median(away["near_px"]))
    _view(found, true, out)
    out["lifter_right"] = _lifter(body, true, true_t)
    matched = _matched(found["reps"], true["events"])
    out["reps_matched"] = len(matched)
    if matched:
        _moments(found, true, matched, out)
    if t.size > 5:
        _path(found, true, true_t, out)
    return out


def followed(row: dict[str, Any]) -> str:
    """Name what came of finding the bar: right, far end, wrong, hands, unsure, not found."""
    if row["status"] == "unsure":
        return "unsure"
    if row["status"] == "not_found" and row["source"] == "none":
        return "not found"
    if row["source"] != "plate":
        return "hands"
    if row.get("on_near_pct", 0.0) >= 80.0:
        return "right"
    return "far end" if row.get("on_far_pct", 0.0) >= 80.0 else "wrong"


def _at(t: Array, true_t: Array, values: Array) -> Array:
    return np.stack([np.interp(t, true_t, values[:, k]) for k in range(values.shape[1])], axis=1)


def _vote(out: dict[str, Any], name: str, error: float, sd: float | None) -> None:
    if np.isfinite(error):
        out["errors"][name] = float(error)
        if sd is not None and sd > 0:
            out["sds"][name] = float(sd)


def _view(found: dict[str, Any], true: dict[str, Any], out: dict[str, Any]) -> None:
    camera, view = true["camera"], found["view"]
    if out["near_side_right"]:
        for name in ("yaw_deg", "roll_deg", "pitch_deg"):
            if view[name]["value"] is not None:
                _vote(out, name, view[name]["value"] - camera[name], view[name]["sd"])
    if found["scale"]:
        scale = found["scale"]["mm_per_px"]
        # a shaft is followed at its middle, half a bar behind the near plate, and its scale is that of there
        there = camera["body_mm_per_px" if found["bar"]["source"] == "shaft" else "mm_per_px"]
        _vote(out, "scale_pct", 100 * (scale["value"] / there - 1), 100 * scale["sd"] / scale["value"])
        body = found["scale"]["body_mm_per_px"]
        _vote(out, "body_scale_pct", 100 * (body["value"] / camera["body_mm_per_px"] - 1),
              100 * body["sd"] / body["value"])  # fmt: skip
    distance = view["camera_distance_m"]
    if distance["value"] is not None:
        _vote(out, "distance_m", distance["value"] - camera["near_plate_depth_m"], distance["sd"])


def _lifter(body: dict[str, Array] | None, true: dict[str, Any], true_t: Array) -> bool | None:
    """Whether hips and shoulders are the lifter's: on the median within a quarter of the trunk's length."""
    if body is None or not len(body["t_s"]):
        return None
    joints = np.array(true["joints_px"])
    names, at = true["joints"], true_t[:: true["body_every"]]
    order = [str(n) for n in body["landmarks"]] if "landmarks" in body else None
    if order is None:
        from midfoot.records.body import LANDMARKS

        order = list(LANDMARKS)
    away = []
    trunk = np.median(np.hypot(*(joints[:, names.index("left_shoulder")] - joints[:, names.index("left_hip")]).T))
    for name in ("left_shoulder", "right_shoulder", "left_hip", "right_hip"):
        xy = body["xy_px"][:, order.index(name)]
        off = np.hypot(*(xy - _at(body["t_s"], at, joints[: len(at), names.index(name)])).T)
        away += list(off[np.isfinite(off)])
    standing = np.median(np.hypot(*(joints[:, names.index("left_hip")] - joints[:, names.index("left_ankle")]).T))
    return bool(np.median(away) < 0.4 * max(float(trunk), float(standing))) if len(away) >= 10 else None


def _matched(found: list[dict[str, Any]], true: list[dict[str, float]]) -> list[tuple[int, int]]:
    """Pairs of reps (found, true) that overlap in time, each once."""
    pairs, used = [], set()
    for j, event in enumerate(true):
        for i, rep in enumerate(found):
            a = rep.get("start_s") if rep.get("start_s") is not None else -np.inf
            b = rep.get("end_s") if rep.get("end_s") is not None else np.inf
            shared = min(b, event["end_s"]) - max(a, event["start_s"])
            if i not in used and shared > 0.5 * (event["end_s"] - event["start_s"]):
                pairs.append((i, j))
                used.add(i)
                break
    return pairs


def _moments(
    found: dict[str, Any], true: dict[str, Any], matched: list[tuple[int, int]], out: dict[str, Any]
) -> None:
    i, j = matched[len(matched) // 2]
    rep, event, figures = found["reps"][i], true["events"][j], true["reps"][j]
    for name in MOMENTS:
        if name in event and rep.get(name) is not None:
            _vote(out, name, rep[name] - event[name], rep.get(name[:-1] + "sd_s"))
    worst = [abs(found["reps"][a][n] - true["events"][b][n]) for a, b in matched for n in MOMENTS
             if n in true["events"][b] and found["reps"][a].get(n) is not None]  # fmt: skip
    out["worst_moment_s"] = max(worst) if worst else None
    out["range_true_mm"] = figures["range_of_motion_mm"]
    for name in PER_REP:
        key = SQUAT_LINE.get(name, name) if true["lift"] == "squat" else name
        m = rep["measures"].get(name)
        if key in figures and m is not None and m["value"] is not None:
            _vote(out, name, m["value"] - figures[key], float(np.hypot(m["sd"] or 0.0, m["sd_common"] or 0.0)))


def _path(found: dict[str, Any], true: dict[str, Any], true_t: Array, out: dict[str, Any]) -> None:
    """Path about each rep's start, and the random part: what is left when the clip's own linear map is out."""
    path = [r for r in found["bar"]["path"] if r["up_mm"] is not None and r["seen"]]
    if len(path) < 10:
        return
    t = np.array([r["t_s"] for r in path])
    measured = np.array([[np.nan if r[k] is None else r[k] for k in ("forward_mm", "up_mm")] for r in path], float)
    sds = np.array(
        [[np.nan if r[k] is None else r[k] for k in ("sd_forward_mm", "sd_up_mm")] for r in path], float
    )
    near = _at(t, true_t, np.array(true["near_mm"]))
    parts: list[Array] = []
    inside = np.zeros(len(t), bool)
    for event in true["events"]:
        rows = (t >= event["start_s"]) & (t <= event["end_s"])
        if rows.sum() < 5:
            continue
        inside |= rows
        first = np.flatnonzero(rows)[:2]
        parts.append((measured[rows] - measured[first].mean(axis=0)) - (near[rows] - near[first].mean(axis=0)))
    if not parts:
        return
    rms = np.sqrt(np.nanmean(np.concatenate(parts) ** 2, axis=0))
    out["forward_rms_mm"] = float(rms[0]) if np.isfinite(rms[0]) else None
    out["up_rms_mm"] = float(rms[1])
    known = inside & np.isfinite(measured).all(axis=1)
    if known.sum() >= 30:
        base = np.column_stack([near[known], np.ones(known.sum())])
        left = measured[known] - base @ np.linalg.lstsq(base, measured[known], rcond=None)[0]
        share = np.mean(np.abs(left) <= 2 * sds[known], axis=0)
        out["random_inside_pct"] = [float(100 * s) for s in share]
        out["random_rms_mm"] = [float(v) for v in np.sqrt((left**2).mean(axis=0))]
        out["random_sd_mm"] = [float(v) for v in np.nanmedian(sds[known], axis=0)]
