"""Bodies and bars in the picture over made heights: someone on two feet, someone on a bench, a bar before them."""

from __future__ import annotations

import numpy as np

from midfoot.records.bar import BarPath, BarTrack
from midfoot.records.body import INDEX, BodyTrack

MM_PX = 4.0


def body_of(
    t: np.ndarray, places: dict[str, tuple[np.ndarray, np.ndarray]], *, noise_px: float = 0.0, seed: int = 0
) -> BodyTrack:
    """A body whose named joints (both sides, 6 px apart) stand at (x, y) px over time."""
    rng = np.random.default_rng(seed)
    xy = np.full((len(t), 33, 2), np.nan)
    for name, (x, y) in places.items():
        for side, shift in (("left", -3.0), ("right", 3.0)):
            xy[:, INDEX[f"{side}_{name}"], 0] = x + shift
            xy[:, INDEX[f"{side}_{name}"], 1] = y
    xy += noise_px * rng.normal(size=xy.shape)
    known = np.where(np.isfinite(xy[:, :, 0]), 2, 0)
    return BodyTrack(
        status="seen", model="made", t_s=t, xy_px=xy, sd_px=np.full((len(t), 33), max(noise_px, 1.0)), state=known,
        peak=np.where(known, 0.8, 0.1), depth_m=np.zeros((len(t), 33)), world_m=np.zeros((len(t), 33, 3)),
        near_side="left", near_side_margin=0.9,
    )  # fmt: skip


def standing(t: np.ndarray, hip_up_mm: np.ndarray, hands_up_mm: np.ndarray, **noise: float) -> BodyTrack:
    """Someone on two feet: ankles at 90 mm, hips and hands as given, trunk of 480 mm."""
    one = np.ones(len(t))
    y = lambda up: 480 - up / MM_PX  # noqa: E731
    return body_of(
        t,
        {
            "ankle": (300 * one, y(90 * one)),
            "knee": (290 - (930 - hip_up_mm) / 20, y(90 + (hip_up_mm - 90) * 0.5)),
            "hip": (300 + (930 - hip_up_mm) / 12, y(hip_up_mm)),
            "shoulder": (300 * one, y(hip_up_mm + 480)),
            "wrist": (300 * one, y(hands_up_mm)),
        },
        **noise,  # type: ignore[arg-type]
    )


def hanging(t: np.ndarray, hip_up_mm: np.ndarray, hands_up_mm: np.ndarray) -> BodyTrack:
    """Someone who pulls: straight arms of 560 mm from the shoulder to the wrist, trunk of 480 mm."""
    one = np.ones(len(t))
    y = lambda up: 480 - up / MM_PX  # noqa: E731
    shoulder = np.minimum(hands_up_mm + 560, hip_up_mm + 480)
    lean = np.sqrt(np.maximum(480.0**2 - (shoulder - hip_up_mm) ** 2, 0.0)) / MM_PX
    return body_of(
        t,
        {
            "ankle": (300 * one, y(90 * one)), "knee": (290 * one, y(90 + (hip_up_mm - 90) * 0.5)),
            "hip": (320 - lean, y(hip_up_mm)), "shoulder": (320 * one, y(shoulder)),
            "elbow": (320 * one, y(shoulder - 280)), "wrist": (320 * one, y(shoulder - 560)),
        },
    )  # fmt: skip


def lying(t: np.ndarray, hands_up_mm: np.ndarray) -> BodyTrack:
    """Someone on a bench, seen from the side."""
    one = np.ones(len(t))
    y = lambda up: 480 - up / MM_PX  # noqa: E731
    return body_of(
        t,
        {
            "ankle": (420 * one, y(90 * one)), "knee": (400 * one, y(480 * one)), "hip": (320 * one, y(500 * one)),
            "shoulder": (200 * one, y(560 * one)), "wrist": (200 * one, y(hands_up_mm)),
        },
    )  # fmt: skip


def plate_track(path: BarPath) -> BarTrack:
    """The bar in the picture, as the bodies above are drawn."""
    xy = np.column_stack([np.full(len(path.t_s), 300.0), 480 - path.up_mm / MM_PX])
    return BarTrack(
        status="found", source="plate", t_s=path.t_s, xy_px=xy, steady_px=xy, sd_px=np.full(xy.shape, 0.3),
        seen=path.seen, far_xy_px=np.full(xy.shape, np.nan),
    )  # fmt: skip
