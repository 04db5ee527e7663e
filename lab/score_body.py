"""Score the body measures of measured sets against a renderer's truth: `python -m lab.score_body --measured DIR`.

Truth angles are sagittal (forward and up only), from the renderer's joint key points; the hip-to-bar line and the
knee by the measures' own definitions. Prints bias and the error of differences between reps.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--clips", type=Path, default=Path("../shared/clips/rendered"))
    parser.add_argument("--measured", type=Path, default=Path("out/score"))
    args = parser.parse_args()
    print("| clip | measure | measured | true | bias | worst error of a change between reps |")
    print("| --- | --- | --- | --- | --- | --- |")
    for truth_path in sorted(args.clips.glob("*.json")):
        found_path = args.measured / truth_path.stem / "measurement.json"
        if not found_path.exists():
            continue
        truth, found = json.loads(truth_path.read_text()), json.loads(found_path.read_text())
        if len(found["reps"]) != len(truth["events"]):
            continue
        for name, true in truths(truth).items():
            got = [_value(rep, name) for rep in found["reps"]]
            if all(np.isnan(got)):
                print(f"| {truth_path.stem} | {name} | not seen | {_list(true)} | – | – |")
                continue
            error = np.array(got) - np.array(true)
            known = error[~np.isnan(error)]
            worst = np.ptp(known) if len(known) > 1 else float("nan")
            print(
                f"| {truth_path.stem} | {name} | {_list(got)} | {_list(true)} | {known.mean():.1f} | {worst:.1f} |"
            )


def truths(truth: dict[str, Any]) -> dict[str, list[float]]:
    """Give the true values per rep, by the measures' ids, that this lift has."""
    side = "left" if abs(truth["camera"]["azimuth"]) <= 90 else "right"
    names, t = truth["keypoints"], np.array(truth["t"])
    kp = np.array(truth["kp"]) * 1000.0
    forward, up = -kp[:, :, 1], kp[:, :, 2]
    bar = np.array(truth["bar"]) * 1000.0

    def at(series: np.ndarray, t_s: float) -> float:
        return float(np.interp(t_s, t, series))

    def joint(name: str, t_s: float) -> np.ndarray:
        k = names.index(f"{side}_{name}")
        return np.array([at(forward[:, k], t_s), at(up[:, k], t_s)])

    def bar_at(t_s: float) -> np.ndarray:
        return np.array([at(bar[:, 0], t_s), at(bar[:, 1], t_s)])

    def lean(low: np.ndarray, high: np.ndarray) -> float:
        return float(np.degrees(np.arctan2(high[0] - low[0], high[1] - low[1])))

    def bend(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> float:
        p, q = a - b, c - b
        return 180 - float(np.degrees(np.arccos(np.clip(p @ q / np.hypot(*p) / np.hypot(*q), -1, 1))))

    out: dict[str, list[float]] = {}
    events = truth["events"]
    if truth["lift"] == "squat":
        lows = [e["low_end_s"] for e in events]
        out["trunk_angle_low_deg"] = [lean(joint("hip", s), bar_at(s)) for s in lows]
        out["trunk_angle_start_deg"] = [lean(joint("hip", e["start_s"]), bar_at(e["start_s"])) for e in events]
        out["knee_flexion_low_deg"] = [bend(joint("hip", s), joint("knee", s), joint("ankle", s)) for s in lows]
        depth = [joint("hip", s)[1] for s in lows]
        out["depth_change_mm"] = [d - min(depth) for d in depth]
    if truth["lift"] == "deadlift":
        starts = [e["start_s"] for e in events]
        out["trunk_angle_start_deg"] = [lean(joint("hip", s), joint("shoulder", s)) for s in starts]
    if truth["lift"] == "bench":
        hips = [min(joint("hip", s)[1] for s in (e["low_end_s"], e["end_s"])) for e in events]
        peak = [
            max(joint("hip", s)[1] for s in np.linspace(e["low_end_s"], e["end_s"], 20)) - min(hips)
            for e in events
        ]
        out["hip_lift_mm"] = peak
    return out


def _value(rep: dict[str, Any], name: str) -> float:
    value = rep["measures"].get(name, {}).get("value")
    return float("nan") if value is None else float(value)


def _list(values: list[float]) -> str:
    return " ".join("–" if np.isnan(v) else f"{v:.0f}" for v in values)


if __name__ == "__main__":
    main()
