"""From one tap to a coarse path: what lies under the tap is followed outward, forward and back in time.

The size of the plate is not known yet; a round patch of a usual plate's size is followed, on small pictures kept
compressed and in bounded number. Its path is good enough to lay frames over each other, and these show the rim.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from midfoot.bar.coarse import Coarse
from midfoot.bar.disc_model import window
from midfoot.bar.patches import Map, cut, edges, likeness, peak
from midfoot.bar.scene import reduced
from midfoot.records.base import FloatArray
from midfoot.records.clip import ClipInfo, Frame

LONG_SIDE_PX = 480
RADIUS_OF_LONG_SIDE = 0.06
"""Size of the followed patch: plates' radii are mostly 0.05-0.13 of the picture's long side."""
MOST_FRAMES = 900
INTERVAL_S = 1 / 15
UNIT = 16.0
REACH_RADII = 0.9
KEEP, LOSE = 0.5, 3
"""Likeness to go on with; looks in a row below it after which the trail ends."""
FRESH = 0.5
"""Weight of the recent look of the patch against the one under the tap."""


class TapTrail:
    """Show it the frames at `times_s` in order; `path()` then gives the trail.

    `start_s` is where the measured part begins on the clip's clock, on which the tap is told; its length is the
    clip's `duration_s`.
    """

    def __init__(self, info: ClipInfo, tapped: Coarse, start_s: float = 0.0) -> None:
        self._tap_s, self._place = float(tapped.t_s[0]), tapped.xy_px[0]
        side = max(info.width_px, info.height_px)
        told = float(tapped.radius_px[0])
        self._radius = told if np.isfinite(told) else RADIUS_OF_LONG_SIDE * side
        step = max(INTERVAL_S, info.duration_s / MOST_FRAMES)
        end_s = start_s + info.duration_s
        before = np.arange(self._tap_s, start_s - 1e-9, -step)[::-1]
        self.times_s = tuple(float(t) for t in np.r_[before, np.arange(self._tap_s, end_s, step)[1:]])
        self._kept: list[tuple[float, NDArray[np.uint8]]] = []
        self._factor = 1.0

    def see(self, frame: Frame) -> None:
        """Keep a frame, small and compressed."""
        if self._kept and frame.t_s <= self._kept[-1][0]:
            return
        small, self._factor = reduced(frame.luma, LONG_SIDE_PX)
        _, packed = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 90])
        self._kept.append((frame.t_s, np.asarray(packed, np.uint8)))

    def path(self) -> tuple[FloatArray, FloatArray, float] | None:
        """Times (m,), places (m, 2) px and the patch's radius, px; None when the tap's frame was not shown."""
        if not self._kept:
            return None
        times = np.array([t for t, _ in self._kept])
        start = int(np.argmin(np.abs(times - self._tap_s)))
        place = (self._place + 0.5) * self._factor - 0.5
        found = {start: place}
        for step in (1, -1):
            found.update(self._trail(start, step, place))
        rows = sorted(found)
        self_times = times[rows]
        xy = (np.array([found[i] for i in rows]) + 0.5) / self._factor - 0.5
        self._kept = []
        return self_times, xy, self._radius

    def _edges(self, at: int, x: float, y: float, half: int) -> Map:
        picture = np.asarray(cv2.imdecode(self._kept[at][1], cv2.IMREAD_GRAYSCALE), np.uint8)
        return edges(*cut(picture, x, y, self._radius * self._factor / UNIT, half))

    def _trail(self, start: int, step: int, place: FloatArray) -> dict[int, FloatArray]:
        half, extra = round(1.2 * UNIT), round(REACH_RADII * UNIT)
        per_px = self._radius * self._factor / UNIT
        weight = np.asarray(window(half, UNIT, 0.9, 1.2))
        first = self._edges(start, float(place[0]), float(place[1]), half)
        recent = first
        found: dict[int, FloatArray] = {}
        here, speed, missed = place.astype(float), np.zeros(2), 0
        at = start + step
        while 0 <= at < len(self._kept) and missed < LOSE:
            guess = here + speed
            scene = self._edges(at, float(guess[0]), float(guess[1]), half + extra)
            score = likeness(scene, (1 - FRESH) * first + FRESH * recent, weight)
            row, column = np.unravel_index(int(np.argmax(score)), score.shape)
            v, u, top, _, _ = peak(score, int(row), int(column))
            now = guess + (np.array([u, v]) - extra) * per_px
            if top >= KEEP:
                speed = 0.5 * speed + 0.5 * (now - here) / (missed + 1)
                here, missed = now, 0
                found[at] = now
                recent = 0.8 * recent + 0.2 * self._edges(at, float(now[0]), float(now[1]), half)
            else:
                missed += 1
                here = here + speed
            at += step
        return found
