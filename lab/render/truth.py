"""What is true of a rendered clip, in numbers: the bar, the discs in the picture, the body, the reps."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from lab.render import moments
from lab.render.barbell import Loading, end_centres
from lab.render.body import Posed
from lab.render.camera import Camera, View
from lab.render.lifters import Lifter

Array = NDArray[np.float64]
JOINTS = {"hip": "upperleg01", "knee": "lowerleg01", "ankle": "foot", "shoulder": "upperarm01",
          "elbow": "lowerarm01", "wrist": "wrist"}  # fmt: skip
AXES = (
    "t_s: timestamp of each frame in the file. bar_mm: [forward, up] of the bar's middle above the floor; forward "
    "= the way the lifter faces, on the bench toward the feet. near_px, far_px: centre of the outer face of the "
    "outermost of the largest discs at the bar's end near to and far from the camera; bar_px: the bar's middle; "
    "near_mm: [forward, up] of that near disc's centre. "
    "Pixels: x right, y down, centre of the first pixel at (0, 0), upright picture. joints_m, keypoints_m: "
    "[left, back, up] in the world. events, reps: on the noise-free path at 2 ms, by the rule of 10 mm bands."
)


@frozen
class FrameTruth:
    """One frame's truth, gathered while drawing."""

    t_s: float
    bar_mm: tuple[float, float]
    near_mm: tuple[float, float]
    near_px: Array = field(eq=False)
    far_px: Array = field(eq=False)
    bar_px: Array = field(eq=False)
    keypoints_m: Array = field(eq=False)
    keypoints_px: Array = field(eq=False)
    joints_m: Array = field(eq=False)
    joints_px: Array = field(eq=False)


def joint_names() -> list[str]:
    return [f"{side}_{joint}" for joint in JOINTS for side in ("left", "right")]


def joints_m(posed: Posed) -> Array:
    """Joint centres (12, 3), m, in the order of `joint_names`."""
    return np.array([posed.start(f"{bone}.{s}") for bone in JOINTS.values() for s in ("L", "R")])


def of_frame(
    t_s: float, lifter: Lifter, posed: Posed, view: View, loading: Loading,
    project: Callable[[Array], Array] | None = None, *, marks_too: bool = True,
) -> FrameTruth:  # fmt: skip
    """Gather the truth of one frame as the camera `view` sees it; `project` puts points into its picture.

    Without `marks_too` the landmarks on the skin are left out, which spares skinning the body.
    """
    lay = project or view.project
    course = lifter.course
    forward, up = float(course.at("forward_m", t_s)), float(course.at("up_m", t_s))
    middle = np.array([0.0, -forward, up])
    left, right = end_centres(
        middle, loading.largest_face_m, float(course.at("flex_m", t_s)), float(course.at("tilt_deg", t_s))
    )
    near_m, far_m = (left, right) if view.camera.side == "left" else (right, left)
    near, far, bar = lay(np.stack([near_m, far_m, middle]))
    weights = posed.body.keypoint_weights if marks_too else None
    marks = np.asarray(weights @ posed.vertices()) if weights is not None else np.zeros((0, 3))
    joints = joints_m(posed)
    return FrameTruth(
        t_s=t_s, bar_mm=(1000.0 * forward, 1000.0 * up),
        near_mm=(-1000.0 * float(near_m[1]), 1000.0 * float(near_m[2])), near_px=near, far_px=far, bar_px=bar,
        keypoints_m=marks, keypoints_px=lay(marks), joints_m=joints, joints_px=lay(joints),
    )  # fmt: skip


def _middle(posed: Posed, joint: str) -> Array:
    """Middle of the left and right joint, as (forward, up), m."""
    at = (posed.start(f"{JOINTS[joint]}.L") + posed.start(f"{JOINTS[joint]}.R")) / 2.0
    return np.array([-at[1], at[2]])


def _trunk_deg(posed: Posed) -> float:
    line = _middle(posed, "shoulder") - _middle(posed, "hip")
    return float(np.degrees(np.arctan2(line[0], line[1])))


def _knee_deg(posed: Posed) -> float:
    hip, knee, ankle = (posed.start(f"{JOINTS[j]}.L") for j in ("hip", "knee", "ankle"))
    a, b = hip - knee, ankle - knee
    return float(180.0 - np.degrees(np.arccos(a @ b / np.linalg.norm(a) / np.linalg.norm(b))))


def body_figures(lift: str, lifter: Lifter, event: Mapping[str, float]) -> dict[str, float]:
    """Measure the body in one rep on the true joints. Joints are joint centres, not surfaces."""
    course = lifter.course
    start, turn = lifter.at(event["start_s"]), lifter.at(event["turn_s"])
    if lift == "bench":
        began, still = event["start_s"], event["low_start_s"]
        late = course.at("forward_m", np.array([still - (still - began) / 3.0, still]))
        touch = float(course.at("forward_m", event["turn_s"]))
        wrist, elbow = turn.start("wrist.L"), turn.start("lowerarm01.L")
        fore = wrist - elbow
        return {
            "touch_point_mm": 1000.0 * (touch - float(_middle(turn, "shoulder")[0])),
            "late_descent_travel_mm": 1000.0 * float(late[1] - late[0]),
            "forearm_angle_deg": float(np.degrees(np.arctan2(-fore[1], fore[2]))),
            "grip_width_mm": 2000.0 * abs(float(wrist[0])),
        }
    deadlift = lift == "deadlift"
    low, top = (event["held_m"], event["extreme_m"]) if deadlift else (event["extreme_m"], event["then_m"])
    begin = event["start_s"] if deadlift else event["turn_s"]
    stop = event["turn_s"] if deadlift else event["end_s"]
    t = course.t_s[(course.t_s >= begin) & (course.t_s <= stop)]
    up = course.at("up_m", t)
    third = float(t[int(np.argmax(up >= low + (top - low) / 3.0))])
    hips = _middle(lifter.at(third), "hip")[1] - _middle(lifter.at(begin), "hip")[1]
    bar = float(course.at("up_m", third) - course.at("up_m", begin))
    out = {"hip_lead_ratio": float(hips / bar), "trunk_angle_start_deg": _trunk_deg(start)}
    if deadlift:
        out["knee_at_top_deg"] = _knee_deg(turn)
        out["trunk_angle_top_deg"] = _trunk_deg(turn)
        return out
    out["trunk_angle_low_deg"] = _trunk_deg(turn)
    for name, at_s, posed in (("start", event["start_s"], start), ("low", event["turn_s"], turn)):
        line = np.array([course.at("forward_m", at_s), course.at("up_m", at_s)]) - _middle(posed, "hip")
        out[f"hip_bar_{name}_deg"] = float(np.degrees(np.arctan2(line[0], line[1])))
    out["squat_depth_mm"] = 1000.0 * float(_middle(turn, "knee")[1] - _middle(turn, "hip")[1])
    out["knee_at_low_deg"] = _knee_deg(turn)
    return out


def camera_truth(camera: Camera, lifter: Lifter, loading: Loading) -> dict[str, Any]:
    """What holds of the camera on its tripod, at the bar's place at the start of the first rep."""
    course = lifter.course
    t = course.marks[0]["start"]
    middle = np.array([0.0, -float(course.at("forward_m", t)), float(course.at("up_m", t))])
    side = 1.0 if camera.side == "left" else -1.0
    view = camera.still()
    near = view.seen(middle + np.array([side * loading.largest_face_m, 0.0, 0.0]))[0, 2]
    body = view.seen(middle)[0, 2]
    facing = "image_left" if camera.side == "left" else "image_right"
    return {
        "near_side": camera.side, "facing": facing, "yaw_deg": camera.yaw_deg, "roll_deg": camera.roll_deg,
        "pitch_deg": round(camera.pitch_deg, 3), "near_plate_depth_m": round(float(near), 4),
        "camera_distance_m": camera.distance_m,
        "camera_height_m": camera.height_m, "long_side_fov_deg": camera.fov_deg,
        "focal_px": round(camera.focal_px, 3), "target_m": list(camera.target_m), "aim_m": camera.aim_m,
        "place_m": [round(float(v), 4) for v in camera.place_m],
        "mm_per_px": round(1000.0 * float(near) / camera.focal_px, 5),
        "body_mm_per_px": round(1000.0 * float(body) / camera.focal_px, 5),
    }  # fmt: skip


def of_reps(lift: str, lifter: Lifter) -> tuple[list[dict[str, float]], list[dict[str, float]]]:
    """Moments and measures of every rep, of the discs (mean of both ends) and the true joints."""
    course = lifter.course
    up_m, deadlift = course.plates_up_m, lift == "deadlift"
    events = moments.of_set(course.t_s, up_m, course.marks, deadlift=deadlift, outcomes=course.outcomes)
    figures = moments.figures(course.t_s, course.forward_m, up_m, events, lift=lift)
    for row, event in zip(figures, events, strict=True):
        row.update(body_figures(lift, lifter, event))
        row.update(_over_the_set(lift, lifter, event, events[0]))
    if lift == "squat":
        hips = [1000.0 * float(_middle(lifter.at(e["turn_s"]), "hip")[1]) for e in events]
        for row, hip in zip(figures, hips, strict=True):
            row["depth_change_mm"] = hip - min(hips)
    return events, figures


def _wrists_mm(posed: Posed) -> float:
    """Distance of the wrists along the bar, mm."""
    return 1000.0 * abs(float(posed.start(f"{JOINTS['wrist']}.L")[0] - posed.start(f"{JOINTS['wrist']}.R")[0]))


def _over_the_set(
    lift: str, lifter: Lifter, event: Mapping[str, float], first: Mapping[str, float]
) -> dict[str, float]:
    """Tilt of the bar and width of the hands in a rep; hips and shoulders on the bench from the first start on."""
    course = lifter.course
    rising = (
        (event["start_s"], event["top_start_s"]) if lift == "deadlift" else (event["low_end_s"], event["end_s"])
    )
    t = course.t_s[(course.t_s >= rising[0]) & (course.t_s <= rising[1])]
    tilt = course.at("tilt_deg", t)
    change = tilt - tilt[0]
    out = {
        "tilt_left_up_deg": float(np.mean(tilt)),
        "tilt_change_left_up_deg": float(change[int(np.argmax(np.abs(change)))]),
        "wrists_apart_mm": _wrists_mm(lifter.at(event["start_s"])),
    }
    if lift != "bench":
        return out
    moments_s = np.linspace(event["start_s"], event["end_s"], 60)
    hips = [float(_middle(lifter.at(float(s)), "hip")[1]) for s in moments_s]
    out["hip_lift_mm"] = 1000.0 * (max(hips) - hips[0])
    now, then = (_middle(lifter.at(e), "shoulder")[0] for e in (event["end_s"], first["start_s"]))
    out["shoulder_shift_mm"] = 1000.0 * float(now - then)
    return out


def of_clip(
    *, name: str, lift: str, lifter: Lifter, camera: Camera, loading: Loading, frames: Sequence[FrameTruth],
    keypoints: Sequence[str], stature_m: float, planted: Sequence[str], extra: Mapping[str, Any],
) -> dict[str, Any]:  # fmt: skip
    """Put a clip's whole truth together, ready for JSON."""
    course = lifter.course
    events, figures = of_reps(lift, lifter)

    def rounded(rows: Sequence[Mapping[str, float]]) -> list[dict[str, float]]:
        return [{key: round(float(value), 4) for key, value in row.items()} for row in rows]

    def array(key: str, digits: int) -> Any:
        return np.round(np.array([getattr(f, key) for f in frames]), digits).tolist()

    return {
        "clip": name, "lift": lift, "axes": AXES, **extra,
        "plate_diameter_mm": 1000.0 * loading.outer_diameter_m, "face_mm": 1000.0 * loading.largest_face_m,
        "stature_m": round(stature_m, 4), "planted": list(planted),
        "camera": camera_truth(camera, lifter, loading),
        "outcomes": list(course.outcomes), "events": rounded(events), "reps": rounded(figures),
        "t_s": array("t_s", 6), "bar_mm": array("bar_mm", 2), "near_mm": array("near_mm", 2),
        "near_px": array("near_px", 3),
        "far_px": array("far_px", 3), "bar_px": array("bar_px", 3), "joints": joint_names(),
        "joints_m": array("joints_m", 4), "joints_px": array("joints_px", 2), "keypoints": list(keypoints),
        "keypoints_m": array("keypoints_m", 4), "keypoints_px": array("keypoints_px", 2),
    }  # fmt: skip


def thinned(truth: Mapping[str, Any], every: int) -> dict[str, Any]:
    """Keep the bar in every frame but the body in every n-th only, without its place in the world."""
    kept = {
        k: v for k, v in truth.items() if k not in ("joints_m", "keypoints_m", "bar_px", "near_mm", "outcomes")
    }
    kept["body_every"] = every
    for key in ("joints_px", "keypoints_px"):
        kept[key] = np.round(np.array(truth[key])[::every], 1).tolist()
    for key in ("near_px", "far_px"):
        kept[key] = np.round(np.array(truth[key]), 2).tolist()
    kept["bar_mm"] = np.round(np.array(truth["bar_mm"]), 1).tolist()
    kept["t_s"] = np.round(np.array(truth["t_s"]), 5).tolist()
    return kept


def write(truth: Mapping[str, Any], path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(truth, separators=(",", ":")) + "\n")
