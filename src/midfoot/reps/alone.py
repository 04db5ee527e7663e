"""A path from the body alone, where no bar was followed: hips for the squat, wrists for bench and deadlift."""

from __future__ import annotations

import numpy as np

from midfoot.records.bar import BarPath
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, BodyTrack

FOLLOWED = {"squat": ("left_hip", "right_hip"), "bench": ("left_wrist", "right_wrist"),
            "deadlift": ("left_wrist", "right_wrist")}  # fmt: skip
STATURE_M, STATURE_SD_PCT = 1.70, 8.0
"""Adults are 1.70 m tall, sd 0.10 m with both sexes taken together and the share below added (rough on purpose:
no length is reported from this scale, it only makes the band of 10 mm and the noise comparable)."""
CHAIN = ("shoulder", "hip", "knee", "ankle")
CHAIN_SHARE = 0.78
"""Shoulder to ankle along trunk, thigh and shank as a share of stature (0.288 + 0.245 + 0.246: Winter,
Biomechanics and Motor Control of Human Movement, segment lengths after Drillis and Contini, from memory)."""
LEAST_SD_MM = 5.0


def path_from_body(body: BodyTrack, lift: str) -> BarPath | None:
    """Give the height of hips or wrists as a path with rough millimetres, None where they were not seen.

    `forward_mm` is NaN throughout; `source` is `none`: no bar was followed. The scale comes from the limb chain
    at an adult's usual stature, so heights are good to some 10 %.
    """
    if body.status != "seen" or len(body.t_s) < 4:
        return None
    mm = _mm_per_px(body)
    if mm is None:
        return None
    joints = [INDEX[name] for name in FOLLOWED[lift]]
    known = body.state[:, joints] != HIDDEN
    y = np.where(known, body.xy_px[:, joints, 1], np.nan)
    sd = np.where(known, body.sd_px[:, joints], np.nan)
    if body.near_side is not None and known[:, 0 if body.near_side == "left" else 1].mean() > 0.8:
        one = 0 if body.near_side == "left" else 1
        height, spread = y[:, one], sd[:, one]
    else:
        height, spread = _mean(y), _mean(sd)
    seen = np.isfinite(height)
    if seen.sum() < 4:
        return None
    up = -(height - np.nanmedian(height)) * mm
    n = len(body.t_s)
    return BarPath(
        t_s=body.t_s, forward_mm=np.full(n, np.nan), up_mm=up, sd_forward_mm=np.full(n, np.nan),
        sd_up_mm=np.maximum(np.nan_to_num(spread * mm, nan=1e3), LEAST_SD_MM), seen=seen,
        scale_pct=STATURE_SD_PCT, yaw_deg=90.0, roll_deg=3.0, source="none",
    )  # fmt: skip


def _mean(values: FloatArray) -> FloatArray:
    count = np.isfinite(values).sum(axis=1)
    total = np.nansum(values, axis=1)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def _mm_per_px(body: BodyTrack) -> float | None:
    """Scale from the longest the limb chain is seen (upper decile: foreshortening only shortens)."""
    best: list[float] = []
    for side in ("left", "right"):
        chain = [INDEX[f"{side}_{joint}"] for joint in CHAIN]
        known = (body.state[:, chain] != HIDDEN).all(axis=1)
        if known.sum() < 4:
            continue
        steps = np.diff(body.xy_px[known][:, chain], axis=1)
        length = np.linalg.norm(steps, axis=2).sum(axis=1)
        length = length[np.isfinite(length)]
        if len(length):
            best.append(float(np.quantile(length, 0.9)))
    if not best or max(best) < 10:
        return None
    return CHAIN_SHARE * STATURE_M * 1e3 / max(best)
