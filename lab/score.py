"""Score measurement.json against a renderer's truth: `python -m lab.score --clips FOLDER [--out DIR] [NAME ...]`.

For every clip.mp4 with a clip.json of truth beside it: measures it through the command line's own pipeline (no
click), compares, prints one table and writes score.json. `--measured DIR` scores results that are there already.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

MOMENTS = ("start_s", "low_start_s", "low_end_s", "top_start_s", "top_end_s", "end_s")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--clips", type=Path, default=Path("../shared/clips/rendered"))
    parser.add_argument("--out", type=Path, default=Path("out/score"))
    parser.add_argument("--measured", type=Path, default=None)
    parser.add_argument("names", nargs="*")
    args = parser.parse_args()
    rows = []
    for truth_path in sorted(args.clips.glob("*.json")):
        name = truth_path.stem
        if args.names and name not in args.names:
            continue
        truth = json.loads(truth_path.read_text())
        folder = (args.measured or args.out) / name
        took = None
        if args.measured is None:
            took = run_measure(args.clips / f"{name}.mp4", truth, folder)
        rows.append(
            {"clip": name, "took_s": took, **score(json.loads((folder / "measurement.json").read_text()), truth)}
        )
    print(table(rows))
    args.out.mkdir(parents=True, exist_ok=True)
    (args.out / "score.json").write_text(json.dumps(rows, indent=1))


def run_measure(clip: Path, truth: dict[str, Any], folder: Path) -> float:
    """Measure one clip by the command line, without the video; gives seconds."""
    command = [sys.executable, "-m", "midfoot", "measure", str(clip), "--lift", truth["lift"], "--no-video",
               "--out", str(folder)]  # fmt: skip
    if truth["plate_diameter_m"] != 0.45:
        command += ["--plate", f"{truth['plate_diameter_m'] * 1000:g}mm"]
    start = time.perf_counter()
    subprocess.run(command, check=True)
    return time.perf_counter() - start


def score(found: dict[str, Any], truth: dict[str, Any]) -> dict[str, Any]:
    """Compare one measurement with its truth; errors are measured minus true, in the unit of the name."""
    rows = found["bar"]["path"]
    t = np.array([r["t_s"] for r in rows])
    known = np.array([r["forward_mm"] is not None for r in rows])
    forward = np.array([r["forward_mm"] if r["forward_mm"] is not None else np.nan for r in rows], float)
    up = np.array([r["up_mm"] if r["up_mm"] is not None else np.nan for r in rows], float)
    seen = np.array([r["seen"] for r in rows], bool)
    true_t, true_bar = np.array(truth["t"]), np.array(truth["bar"]) * 1000.0
    events = truth["events"]
    out: dict[str, Any] = {
        "status": found["bar"]["status"],
        "source": found["bar"]["source"],
        "seen_pct": 100 * float(seen.mean()) if len(seen) else 0.0,
        "reps_found": len(found["reps"]),
        "reps_true": len(events),
        "near_plate_rms_px": _plate_px(rows, truth),
        "facing": found["view"]["facing"],
        "near_side": found["view"]["near_side"],
        "class": found["view"]["class"],
        "view_right": _view_right(found["view"], truth),
    }
    out.update(_camera(found, truth))
    if known.sum() < 10:
        return out
    deviations = {"forward": [], "up": []}
    for event in events:
        inside = known & (t >= event["start_s"]) & (t <= event["end_s"])
        if inside.sum() < 5:
            continue
        for k, (name, values) in enumerate((("forward", forward), ("up", up))):
            measured = values[inside] - np.interp(event["start_s"], t[known], values[known])
            true = np.interp(t[inside], true_t, true_bar[:, k]) - np.interp(
                event["start_s"], true_t, true_bar[:, k]
            )
            deviations[name].append(measured - true)
    out["forward_rep_rms_mm"] = _rms(deviations["forward"])
    out["up_rep_rms_mm"] = _rms(deviations["up"])
    whole = known & (t >= events[0]["start_s"]) & (t <= events[-1]["end_s"])
    zero = np.interp(events[0]["start_s"], t[known], forward[known])
    zero_true = np.interp(events[0]["start_s"], true_t, true_bar[:, 0])
    out["forward_set_rms_mm"] = _rms(
        [forward[whole] - zero - np.interp(t[whole], true_t, true_bar[:, 0]) + zero_true]
    )
    if len(found["reps"]) == len(events):
        out.update(_reps(found, truth))
    return out


def _reps(found: dict[str, Any], truth: dict[str, Any]) -> dict[str, Any]:
    worst: dict[str, float] = {}
    rom, mean, peak, numbers = [], [], [], []
    for rep, event in zip(found["reps"], truth["events"], strict=True):
        for name in MOMENTS:
            if name in event:
                got = rep.get(name)
                error = float("nan") if got is None else got - event[name]
                if not abs(error) <= abs(worst.get(name, 0.0)):
                    worst[name] = error
        rom.append(_relative(rep, "range_of_motion_mm", event["range_m"] * 1000))
        mean.append(_error(rep, "ascent_mean_velocity_m_s", event["ascent_mean_velocity_m_s"]))
        peak.append(_error(rep, "ascent_peak_velocity_m_s", event["ascent_peak_velocity_m_s"]))
        numbers.append(rep["n"])
    return {
        "moment_worst_s": {k: round(v, 3) for k, v in worst.items()},
        "moment_worst_abs_s": max(abs(v) for v in worst.values()),
        "range_worst_pct": _worst(rom),
        "mean_velocity_worst_m_s": _worst(mean),
        "peak_velocity_worst_m_s": _worst(peak),
    }


def _camera(found: dict[str, Any], truth: dict[str, Any]) -> dict[str, Any]:
    camera, view = truth["camera"], found["view"]
    yaw = yaw_of(camera["azimuth"])
    out = {
        "yaw": (view["yaw_deg"]["value"] or 0) - yaw,
        "yaw_sd": view["yaw_deg"]["sd"],
        "roll": (view["roll_deg"]["value"] or 0) + camera["roll"],  # the renderer's sign is the other way round
        "roll_sd": view["roll_deg"]["sd"],
    }
    if found["scale"]:
        mm_px = mm_per_px_of(truth)
        out["scale_pct"] = 100 * (found["scale"]["mm_per_px"]["value"] / mm_px - 1)
        out["scale_sd_pct"] = 100 * found["scale"]["mm_per_px"]["sd"] / mm_px
    distance = view["camera_distance_m"]
    face = truth.get("plate_face_x_m", 0.77)
    true_distance = camera["distance"] - face * np.cos(np.radians(yaw))
    if distance["value"] is not None:
        out["distance_m"] = distance["value"] - true_distance
        out["distance_sd_m"] = distance["sd"]
    return out


def mm_per_px_of(truth: dict[str, Any]) -> float:
    """Give the true millimetres per px at the near plate's face, upright there: by the renderer's own camera.

    The file's `px_per_m_at_plate` is the far plate's where the camera stands on the lifter's right.
    """
    camera = truth["camera"]
    azimuth, distance = np.radians(camera["azimuth"]), camera["distance"]
    target = np.array(camera["target"])
    eye = np.array(
        [target[0] + distance * np.cos(azimuth), target[1] - distance * np.sin(azimuth), camera["height"]]
    )
    look = (target - eye) / np.linalg.norm(target - eye)
    face = truth["plate_face_x_m"] * (1 if abs(camera["azimuth"]) <= 90 else -1)
    middle = np.array([face, -np.median(np.array(truth["bar"])[:, 0]), np.median(np.array(truth["bar"])[:, 1])])
    focal_px = truth["size"][1] / 2 / np.tan(np.radians(camera["vfov"]) / 2)
    return float(1000.0 * ((middle - eye) @ look) / focal_px)


def yaw_of(azimuth_deg: float) -> float:
    """Turn the renderer's azimuth (0 from the lifter's left, 180 from the right) into yaw from side-on."""
    return azimuth_deg if abs(azimuth_deg) <= 90 else (180 - abs(azimuth_deg)) * np.sign(azimuth_deg)


def _view_right(view: dict[str, Any], truth: dict[str, Any]) -> bool:
    azimuth = truth["camera"]["azimuth"]
    near = "left" if abs(azimuth) <= 90 else "right"
    yaw = yaw_of(azimuth)
    kind = "side" if abs(yaw) <= 10 else "front_oblique" if yaw > 0 else "rear_oblique"
    facing = "image_left" if near == "left" else "image_right"
    return (view["near_side"], view["facing"], view["class"]) == (near, facing, kind)


def _plate_px(rows: list[dict[str, Any]], truth: dict[str, Any]) -> float:
    """Distance to the true near plate's centre, constant offset removed, px rms over seen frames."""
    end = np.array(truth["end_px"])[:, 0 if abs(truth["camera"]["azimuth"]) <= 90 else 1]
    true_t = np.array(truth["t"])
    t = np.array([r["t_s"] for r in rows if r["x_px"] is not None and r["seen"]])
    if len(t) < 5:
        return float("nan")
    xy = np.array([[r["x_px"], r["y_px"]] for r in rows if r["x_px"] is not None and r["seen"]])
    true = np.column_stack([np.interp(t, true_t, end[:, 0]), np.interp(t, true_t, end[:, 1])])
    error = xy - true
    return float(np.sqrt(((error - np.median(error, axis=0)) ** 2).sum(axis=1).mean()))


def _value(rep: dict[str, Any], name: str) -> float:
    value = rep["measures"].get(name, {}).get("value")
    return float("nan") if value is None else float(value)


def _error(rep: dict[str, Any], name: str, true: float) -> float:
    return _value(rep, name) - true


def _relative(rep: dict[str, Any], name: str, true: float) -> float:
    return 100 * (_value(rep, name) / true - 1)


def _worst(errors: list[float]) -> float:
    return float("nan") if any(np.isnan(errors)) else float(max(errors, key=abs))


def _rms(parts: list[np.ndarray]) -> float:
    joined = np.concatenate(parts) if parts else np.array([np.nan])
    return float(np.sqrt(np.mean(joined**2)))


SHOWN = (
    "status", "source", "seen_pct", "near_plate_rms_px", "forward_rep_rms_mm", "up_rep_rms_mm",
    "forward_set_rms_mm", "range_worst_pct",
    "reps_found", "reps_true", "moment_worst_abs_s", "mean_velocity_worst_m_s",
    "peak_velocity_worst_m_s", "view_right", "yaw", "yaw_sd", "roll", "roll_sd", "scale_pct", "scale_sd_pct",
    "distance_m", "distance_sd_m", "took_s",
)  # fmt: skip


def table(rows: list[dict[str, Any]]) -> str:
    """Write the rows as a Markdown table, one column a clip."""
    lines = ["| figure | " + " | ".join(r["clip"] for r in rows) + " |", "| --- |" + " --- |" * len(rows)]
    for name in SHOWN:
        lines.append(f"| {name} | " + " | ".join(_shown(r.get(name)) for r in rows) + " |")
    return "\n".join(lines)


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "right" if value else "wrong"
    if isinstance(value, float):
        return f"{value:.3g}"
    return "–" if value is None else str(value)


if __name__ == "__main__":
    main()
