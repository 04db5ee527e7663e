"""A measured folder made of a figure's joints seen from 4 m, with or without a clip of the same times."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
from clips import write_clip

from midfoot.records.body import LANDMARKS

PX_PER_M = 320.0
N = 91


def measured(folder: Path, *, load_kg: float | None = 100.0, stature_m: float | None = None) -> Path:
    """Write a measured squat seen from 4 m: the bar sinks by 0.5 m and rises over hips that go back."""
    t = np.arange(N) / 30.0
    s = 0.5 - 0.5 * np.cos(2 * np.pi * t / t[-1])
    spots = {
        "shoulder": (0.02 + 0 * s, 1.42 - 0.5 * s), "hip": (-0.25 * s, 0.92 - 0.42 * s),
        "knee": (0.16 * s, 0.48 - 0.03 * s), "ankle": (0 * s, 0.08 + 0 * s), "heel": (-0.05 + 0 * s, 0.03 + 0 * s),
        "foot_index": (0.17 + 0 * s, 0.02 + 0 * s),
    }  # fmt: skip
    xy = np.full((N, len(LANDMARKS), 2), np.nan)
    status = np.full((N, len(LANDMARKS)), "hidden")
    for name, (x, y) in spots.items():
        k = LANDMARKS.index(f"left_{name}")
        xy[:, k] = np.stack([640 + 0.8 * PX_PER_M * x, 650 - 0.8 * PX_PER_M * y], 1)
        status[:, k] = "seen"
    np.savez(folder / "body.npz", t_s=t, xy_px=xy, sd_px=np.full(status.shape, 2.0), status=status)
    path = [
        {"t_s": float(t[i]), "forward_mm": 0.0, "up_mm": -500.0 * float(s[i]), "x_px": 640.0,
         "y_px": 190.0 + 0.5 * PX_PER_M * float(s[i]), "sd_forward_mm": 0.7, "sd_up_mm": 0.7}
        for i in range(N)
    ]  # fmt: skip
    known = {"value": 0.0, "sd": 1.0}
    document = {
        "schema": "midfoot/measurement/1",
        "asked": {"lift": "squat", "load_kg": load_kg, "stature_m": stature_m},
        "clip": {"width_px": 1280, "height_px": 720, "name": "set.mp4", "sha256": "0" * 64},
        "provenance": {"steps": [{"name": "footage", "parameters": {"mirrored": False, "real_speed": 1.0}}]},
        "view": {"near_side": "left", "facing": "image_right", "class": "side", "yaw_deg": known,
                 "roll_deg": known, "pitch_deg": known, "camera_height_m": known,
                 "camera_distance_m": {"value": 2.8, "sd": 0.2}},
        "scale": {"mm_per_px": {"value": 3.125, "sd": 0.03}, "body_mm_per_px": {"value": 3.9, "sd": 0.06},
                  "plate_mm": 450.0, "basis": "told"},
        "bar": {"source": "plate", "path": path, "common": {"scale_pct": 1.0, "yaw_deg": 1.0, "roll_deg": 0.5}},
        "body": {"status": "seen", "near_side": "left", "landmarks": list(LANDMARKS)},
        "reps": [{"n": 1, "start_s": 0.1, "low_end_s": 1.5, "end_s": 2.9, "measures": {}}],
        "set": {"best_rep": None},
    }  # fmt: skip
    (folder / "measurement.json").write_text(json.dumps(document))
    return folder


def with_clip(folder: Path) -> Path:
    """Measured folder and a grey clip of the same size and times; gives the clip."""
    clip = folder / "elsewhere" / "film.mp4"
    clip.parent.mkdir()
    grey = np.full((720, 1280, 3), 90, np.uint8)
    write_clip(clip, size=(1280, 720), times_s=np.arange(N) / 30.0, pictures=[grey] * N)
    document = json.loads((measured(folder) / "measurement.json").read_text())
    document["clip"]["sha256"] = hashlib.sha256(clip.read_bytes()).hexdigest()
    (folder / "measurement.json").write_text(json.dumps(document))
    return clip
