"""A measured folder made of a figure's joints seen from 4 m, with or without a clip of the same times."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
from clips import write_clip

from midfoot.outputs import write_numbers
from midfoot.records.bar import BarPath, BarTrack, Scale, View
from midfoot.records.base import Value
from midfoot.records.body import LANDMARKS, SEEN, BodyTrack
from midfoot.records.clip import Asked, ClipInfo
from midfoot.records.measures import Measured, Measurement, SetData, Step
from midfoot.records.reps import Moment, Rep, RepSet

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
    state = np.zeros((N, len(LANDMARKS)), np.int8)
    for name, (x, y) in spots.items():
        k = LANDMARKS.index(f"left_{name}")
        xy[:, k] = np.stack([640 + 0.8 * PX_PER_M * x, 650 - 0.8 * PX_PER_M * y], 1)
        state[:, k] = SEEN
    known = Value(0.0, 1.0)
    plate = np.stack([np.full(N, 640.0), 190.0 + 0.5 * PX_PER_M * s], 1)
    unseen, all_seen = np.full((N, 2), np.nan), np.ones(N, bool)
    rest = np.full((N, len(LANDMARKS)), np.nan)
    data = SetData(
        asked=Asked(lift="squat", load_kg=load_kg, stature_m=stature_m),
        clip=ClipInfo(
            name="set.mp4", sha256="0" * 64, duration_s=N / 30.0, frames=N, width_px=1280, height_px=720,
            rotation_deg=0, mirrored=False, variable_rate=False, frame_interval_median_s=1 / 30,
            frame_interval_max_s=1 / 30, codec="h264", bit_depth=8, hdr=False,
        ),
        view=View("left", "image_right", "side", known, known, known, Value(2.8, 0.2), known),
        scale=Scale(Value(3.125, 0.03), Value(3.9, 0.06), 450.0, "told"),
        track=BarTrack("found", "plate", t, plate, plate, np.full((N, 2), 0.3), all_seen, unseen),
        path=BarPath(t_s=t, forward_mm=np.zeros(N), up_mm=-500.0 * s, sd_forward_mm=np.full(N, 0.7),
                     sd_up_mm=np.full(N, 0.7), seen=all_seen, scale_pct=1.0, yaw_deg=1.0, roll_deg=0.5,
                     source="plate"),
        body=BodyTrack(status="seen", model="none", t_s=t, xy_px=xy, sd_px=np.full(state.shape, 2.0), state=state,
                       peak=rest, depth_m=rest, world_m=np.full((N, len(LANDMARKS), 3), np.nan), near_side="left"),
        reps=RepSet((Rep(1, "completed", True, True, Moment(0.1, 0.01), Moment(2.9, 0.01),
                         low_start=Moment(1.5, 0.01), low_end=Moment(1.5, 0.01)),), ()),
    )  # fmt: skip
    step = Step("footage", "1", {"mirrored": False, "real_speed": 1.0})
    write_numbers(Measurement(data, Measured(((),)), (), (step,)), folder)
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
