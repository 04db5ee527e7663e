"""Roll and pitch of the camera from the scene's own verticals: racks, posts, door frames, corners of walls.

Long straight edges that are nearly upright are collected from a few frames; those that stand at the same place in
most frames (people move) are taken for lines of the room. Each is plumb or is not; the roll and pitch that explain
them best are weighed with how people hold phones, so that few lines, or lines that disagree, leave a wide answer:
a wrong roll turns every path by as much.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from attrs import frozen

from midfoot.bar.camera import focal_from_view_angle
from midfoot.records.bar import Sightings
from midfoot.records.base import FloatArray, Value
from midfoot.records.clip import ClipInfo, Frame

FRAMES = 8
LONG_SIDE_PX = 960
STEEPEST_DEG = 22.0
SHORTEST = 0.025  # of the picture's long side
# How far off plumb posts and door frames stand, and how steady LSD puts an edge's ends.
PLUMB_DEG, END_PX = 0.35, 0.7
# Before looking: how far off level people hold phones; pitch also says where they point them.
ROLL_PRIOR_DEG, PITCH_PRIOR_DEG = 1.7, 8.0
# Lines of one rack lean together: the lines' say counts half.
TEMPER = 0.5
STANDS = 0.5
LINES = 120
FOCAL_SD = 0.2


@frozen
class Tilt:
    """Roll and pitch of the camera in degrees as told by the scene's own verticals; None where it did not tell."""

    roll_deg: Value | None = None
    pitch_deg: Value | None = None


def upright_segments(luma: np.ndarray) -> FloatArray:
    """Find long, nearly upright straight edges.

    Parameters
    ----------
    luma : (h, w) uint8

    Returns
    -------
    (n, 4) px
        x, y of the upper and of the lower end.
    """
    h, w = luma.shape
    factor = min(1.0, LONG_SIDE_PX / max(h, w))
    small = cv2.resize(luma, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) if factor < 1.0 else luma
    found = cv2.createLineSegmentDetector().detect(small)[0]
    if found is None:
        return np.zeros((0, 4))
    ends = (np.asarray(found, dtype=np.float64).reshape(-1, 4) + 0.5) / factor - 0.5
    flip = ends[:, 1] > ends[:, 3]
    ends[flip] = ends[flip][:, [2, 3, 0, 1]]
    run = ends[:, 2:] - ends[:, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    slant = np.degrees(np.arctan2(np.abs(run[:, 0]), run[:, 1]))
    # captions and stickers stand exactly upright and are short; the picture's own border (black bars) is no post
    drawn = (slant < 0.15) & ((length < 0.15 * h) | (ends[:, 0] <= 3.0) | (ends[:, 0] >= w - 4.0))
    keep = (length >= SHORTEST * max(h, w)) & (slant <= STEEPEST_DEG) & ~drawn
    return np.asarray(ends[keep])


class TiltScout:
    """Collects upright edges from a few frames of the clip; memory does not grow with the clip."""

    def __init__(self, info: ClipInfo) -> None:
        self._info = info
        self._every_s = max(info.duration_s / FRAMES, 0.4)
        self._next_s = -math.inf
        self._seen: list[tuple[float, FloatArray]] = []

    def see(self, frame: Frame) -> None:
        """Look at a frame if it is time for one."""
        if frame.t_s < self._next_s or len(self._seen) >= 2 * FRAMES:
            return
        self._next_s = frame.t_s + self._every_s
        self._seen.append((frame.t_s, upright_segments(frame.luma)))

    def result(self, sightings: Sightings | None = None) -> Tilt:
        """Give roll and pitch of the *first frame's* picture, or nothing where the scene does not tell.

        `sightings` brings the camera's own movement; with it, every frame's edges count in the first frame's axes.
        """
        rows = [_to_first(segments, t_s, sightings) for t_s, segments in self._seen]
        segments = np.concatenate(rows) if rows else np.zeros((0, 4))
        if segments.shape[0] == 0:
            return Tilt()
        frame = np.repeat(np.arange(len(rows)), [r.shape[0] for r in rows])
        return tilt_of(segments, frame, (self._info.width_px, self._info.height_px))


def _to_first(segments: FloatArray, t_s: float, sightings: Sightings | None) -> FloatArray:
    if sightings is None or sightings.camera_t_s.size == 0 or segments.shape[0] == 0:
        return segments
    move = sightings.camera_to_first[int(np.argmin(np.abs(sightings.camera_t_s - t_s)))]
    if not np.isfinite(move).all():
        return np.zeros((0, 4))
    return np.concatenate([segments[:, k : k + 2] @ move[:, :2].T + move[:, 2] for k in (0, 2)], axis=1)


def _down(roll: FloatArray, pitch: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give the direction of gravity in the camera's axes (right, down, view)."""
    return np.sin(roll) * np.cos(pitch), np.cos(roll) * np.cos(pitch), np.sin(pitch)


@frozen
class _Lines:
    """Lines of the room: middle (n, 2) in focal lengths from the centre, slant with sd, chance of being plumb."""

    xy: FloatArray
    slant_deg: FloatArray
    sd_deg: FloatArray
    plumb: FloatArray


def _lines(segments_px: FloatArray, frame: np.ndarray, size_px: tuple[int, int], focal_px: float) -> _Lines:
    """Join the edges that stand at one place in most frames; the longest first."""
    w, h = size_px
    frames = int(frame.max()) + 1
    middle = 0.5 * (segments_px[:, :2] + segments_px[:, 2:])
    run = segments_px[:, 2:] - segments_px[:, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    slant = np.arctan2(run[:, 0], run[:, 1])
    near_px = 0.004 * max(w, h)
    free = np.ones(length.shape, dtype=bool)
    rows: list[tuple[float, float, float, float, float]] = []
    for i in np.argsort(-length, kind="stable"):
        if not free[i] or len(rows) >= LINES:
            continue
        gap = middle - middle[i]
        beside = np.abs(gap[:, 0] * math.cos(slant[i]) - gap[:, 1] * math.sin(slant[i]))
        along = np.abs(gap[:, 0] * math.sin(slant[i]) + gap[:, 1] * math.cos(slant[i]))
        same = free & (beside <= near_px) & (along <= 0.5 * (length + length[i]))
        same &= np.abs(slant - slant[i]) <= math.radians(1.7)
        free &= ~same
        share = np.unique(frame[same]).size / frames
        if frames > 2 and share < STANDS:
            continue
        mean = float(np.average(slant[same], weights=length[same]))
        long = float(np.median(length[same]))
        x, y = (np.median(middle[same], axis=0) - np.array([(w - 1) / 2.0, (h - 1) / 2.0])) / focal_px
        rows.append((float(x), float(y), math.degrees(mean), long, share))
    table = np.array(rows).reshape(-1, 5)
    return _Lines(
        table[:, :2],
        table[:, 2],
        np.hypot(PLUMB_DEG, np.degrees(END_PX / np.maximum(table[:, 3], 1.0))),
        # long lines of a room are mostly plumb, short ones may be anything
        0.3 + 0.4 * np.minimum(table[:, 3] / (0.25 * h), 1.0),
    )


def tilt_of(segments_px: FloatArray, frame: np.ndarray, size_px: tuple[int, int]) -> Tilt:
    """Weigh every roll and pitch by how well they explain the room's lines.

    Parameters
    ----------
    segments_px : (n, 4) px
        x, y of the upper and lower ends.
    frame : (n,) int
        Which of the looked-at frames each edge is from.
    size_px : (int, int)
        Width and height of the picture.

    Returns
    -------
    Tilt
        Means and sds of the posterior. Without any line nothing but the habit of holding phones level is left.
    """
    focal = focal_from_view_angle(float(max(size_px)), 60.0)
    lines = _lines(segments_px, frame, size_px, focal)
    roll = np.arange(-10.0, 10.01, 0.1)[:, None]
    pitch = np.arange(-36.0, 36.1, 0.75)[None, :]
    log = -0.5 * (roll / ROLL_PRIOR_DEG) ** 2 - 0.5 * ((pitch - 2.0) / PITCH_PRIOR_DEG) ** 2
    r, p = np.radians(roll), np.radians(pitch)
    # gravity in the camera's axes (right, down, view)
    down = np.sin(r) * np.cos(p), np.cos(r) * np.cos(p), np.sin(p) + 0.0 * r
    for (x, y), slant, sd, plumb in zip(lines.xy, lines.slant_deg, lines.sd_deg, lines.plumb, strict=True):
        hang = np.degrees(np.arctan2(down[0] - x * down[2], down[1] - y * down[2]))
        near = np.exp(-0.5 * ((slant - hang) / sd) ** 2) / (sd * math.sqrt(2.0 * math.pi))
        log += TEMPER * np.log(plumb * near + (1.0 - plumb) / (2.0 * STEEPEST_DEG))
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    roll_deg, pitch_deg = (_moments(weight, axis) for axis in (roll + 0.0 * pitch, pitch + 0.0 * roll))
    roll_sd = math.hypot(roll_deg.sd, PLUMB_DEG)
    pitch_sd = math.hypot(pitch_deg.sd, FOCAL_SD * pitch_deg.value)
    return Tilt(Value(roll_deg.value, roll_sd), Value(pitch_deg.value, pitch_sd))


def _moments(weight: FloatArray, values: FloatArray) -> Value:
    mean = float((weight * values).sum())
    return Value(mean, math.sqrt(float((weight * (values - mean) ** 2).sum())))
