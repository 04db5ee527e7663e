"""A small measured set made from formulas: two squats of 500 mm, the second 12 mm forward on the way up."""

from __future__ import annotations

import numpy as np

from midfoot.records.bar import BarPath, BarTrack, Candidate, Scale, View
from midfoot.records.base import Value, Warned
from midfoot.records.body import INDEX, LANDMARKS, BodyTrack
from midfoot.records.clip import Asked, ClipInfo
from midfoot.records.measures import Curve, Drift, Measure, Measured, Measurement, SetData, Step
from midfoot.records.reps import Moment, Phase, Rep, RepSet

MM_PER_PX = 3.0
RANGE_MM = 500.0


def made_set(*, lift: str = "squat", seen: bool = True) -> SetData:
    """Give the set; 30 frames a second, 8 s, 640 x 480; with `seen` false neither bar nor body was found."""
    t = np.arange(240) / 30
    up, forward = np.zeros_like(t), np.zeros_like(t)
    reps = []
    for n, start in enumerate((1.0, 4.5)):
        phase = np.clip((t - start) / 2.5, 0, 1)
        up -= RANGE_MM * np.sin(np.pi * phase) ** 2
        rising = (t > start + 1.25) & (t < start + 2.5)
        forward += np.where(rising, (12.0 * n) * np.sin(np.pi * (phase - 0.5) * 2), 0.0)
        names = ("start", "low_start", "low_end", "end")
        times = (start + 0.12, start + 1.1, start + 1.35, start + 2.4)
        reps.append(
            Rep(n=n + 1, outcome="completed", start_seen=True, end_seen=True,
                **{k: Moment(v, 0.01, "made") for k, v in zip(names, times, strict=True)})
        )  # fmt: skip
    xy = np.column_stack([320 - forward / MM_PER_PX, 140 - up / MM_PER_PX])
    none = np.full((240, 2), np.nan)
    info = ClipInfo(
        name="made.mp4", sha256="0" * 64, duration_s=8.0, frames=240, width_px=640, height_px=480, rotation_deg=0,
        mirrored=False, variable_rate=False, frame_interval_median_s=1 / 30, frame_interval_max_s=1 / 30,
        codec="h264", bit_depth=8, hdr=False,
    )  # fmt: skip
    view = View(
        "left", "image_left", "side", Value(1, 2), Value(0, 1.5), Value(1, 1), Value(3, 0.3), Value(0.8, 0.1)
    )
    if not seen:
        track = BarTrack(
            status="not_found", source="none", t_s=t, xy_px=none, steady_px=none, sd_px=none,
            seen=np.zeros(240, bool), far_xy_px=none, candidates=(Candidate(10, 20, 30, 1.5, 0.4),),
            reason="no disc moved like a bar",
        )  # fmt: skip
        empty = np.zeros((0, len(LANDMARKS)))
        body = BodyTrack(
            status="not_seen", model="full", t_s=[], xy_px=np.zeros((0, 33, 2)), sd_px=empty, state=empty,
            peak=empty, depth_m=empty, world_m=np.zeros((0, 33, 3)), reason="nobody was seen",
        )  # fmt: skip
        return SetData(Asked(lift), info, view, None, track, None, body, RepSet((), ()))
    track = BarTrack(
        status="found", source="plate", t_s=t, xy_px=xy, steady_px=xy, sd_px=np.full((240, 2), 0.3),
        seen=np.ones(240, bool), far_xy_px=none, diameter_px=Value(150, 0.6),
    )  # fmt: skip
    path = BarPath(
        t_s=t, forward_mm=forward, up_mm=up, sd_forward_mm=np.full(240, 0.9), sd_up_mm=np.full(240, 0.9),
        seen=np.ones(240, bool), scale_pct=0.7, yaw_deg=2.0, roll_deg=1.5, source="plate",
    )  # fmt: skip
    places = np.full((240, 33, 2), np.nan)
    for side in ("left", "right"):
        places[:, INDEX[f"{side}_hip"]] = xy + [40, 120]
        places[:, INDEX[f"{side}_shoulder"]] = xy + [5, 12]
        places[:, INDEX[f"{side}_knee"]] = [300, 370]
        places[:, INDEX[f"{side}_ankle"]] = [320, 440]
        places[:, INDEX[f"{side}_elbow"]] = xy + [20, 60]
        places[:, INDEX[f"{side}_wrist"]] = xy + [5, 5]
    known = np.where(np.isfinite(places[:, :, 0]), 2, 0)
    body = BodyTrack(
        status="seen", model="full", t_s=t, xy_px=places, sd_px=np.full((240, 33), 4.0), state=known,
        peak=np.where(known, 0.8, 0.1), depth_m=np.zeros((240, 33)), world_m=np.zeros((240, 33, 3)),
        near_side="left", near_side_margin=0.9,
    )  # fmt: skip
    phases = (Phase("hold", 0.0, 1.1), Phase("between", 3.4, 4.6))
    scale = Scale(Value(MM_PER_PX, 0.02), Value(3.7, 0.2), 450.0, "plate of 450 mm, told")
    return SetData(Asked(lift, load_kg=100.0), info, view, scale, track, path, body, RepSet(tuple(reps), phases))


def made_measurement(*, lift: str = "squat", seen: bool = True) -> Measurement:
    """Give a whole measurement of the made set with a few measures of every status."""
    data = made_set(lift=lift, seen=seen)
    rows, curves = [], []
    for n, rep in enumerate(data.reps.reps):
        rows.append(
            (
                Measure("range_of_motion_mm", RANGE_MM, "mm", 1.3, 3.5, "measured", "plate"),
                Measure("path_departure_mm", 12.0 * n, "mm", 1.3, 0.1, "measured", "plate"),
                Measure("trunk_angle_low_deg", 41.0, "deg", 2.0, 6.0, "inferred", "hip to bar"),
                Measure("squat_depth_mm", None, "mm", None, None, "not_seen", "", "the plate hides the hip <b>"),
                Measure("pause_time_s", None, "s", None, None, "not_applicable"),
            )
        )
        span = rep.ascent_s
        assert span is not None
        assert data.path is not None
        inside = (data.path.t_s >= span[0]) & (data.path.t_s <= span[1])
        t, up = data.path.t_s[inside], data.path.up_mm[inside]
        v = np.gradient(up, t) / 1000
        curves.append(Curve(n=rep.n, t_s=t - t[0], up_mm=up - up[0], velocity_m_s=v, sd_m_s=np.full(len(v), 0.02)))
    measured = Measured(
        reps=tuple(rows),
        whole=(Measure("velocity_loss_pct", 12.0, "%", 2.0, 0.0, "measured", "plate"),) if seen else (),
        drift=(Drift("path_departure_mm", (0.0, 12.0), 12.0, 1.8, 2, "worse"),) if seen else (),
        curves=tuple(curves),
    )
    warnings = (Warned("plate_diameter_assumed", "The plate was taken for 450 mm.", "Say it with --plate."),)
    return Measurement(data, measured, warnings, (Step("bar", "1", {"bar_at": None}),), "0.1.0")
