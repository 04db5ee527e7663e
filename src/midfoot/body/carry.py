"""Places carried along with the picture, from frame to frame and back to frames that were seen before.

A head is often made out some time after it came into sight. What the last seconds looked like is kept small, so
that it can be covered from the start; memory is the same whatever the clip's length.
"""

from __future__ import annotations

from collections import deque
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

FLOW_SIDE_PX = 640
BACK_S, ROW_S = 4.0, 1 / 16
"""How far back a place is carried, and how close together frames are kept."""
GRID = np.stack(np.meshgrid(*[np.linspace(-0.7, 0.7, 6)] * 2), axis=-1).reshape(-1, 2)
LEAST_POINTS = len(GRID) // 3
LONGEST_STEP, RETURN = 1.5, 0.3
"""In radii: the longest step from frame to frame, and how far off a step and its way back may end."""
STILL_IT = 0.4
"""Least correlation of what a place shows with what it showed a frame kept before."""

Row = tuple[float, float, float, float]


class Carrier:
    """Carries circles (x, y, radius), px of the clip, along with the picture. Give it every frame."""

    def __init__(self) -> None:
        self._now: NDArray[np.uint8] | None = None
        self._zoom = 1.0
        self._past: deque[tuple[float, NDArray[np.uint8]]] = deque()

    def step(
        self, luma: NDArray[np.uint8], t_s: float, circles: list[tuple[float, float, float]]
    ) -> list[tuple[float, float] | None]:
        """Take the next frame; gives how far each circle went since the last one, None where it cannot be told."""
        small, self._zoom = at_most(luma, FLOW_SIDE_PX)
        before, self._now = self._now, small
        if before is not None and before.shape != small.shape:
            before = None
            self._past.clear()
        if not self._past or t_s - self._past[-1][0] >= ROW_S - 1e-6:
            self._past.append((t_s, small))
        while self._past and t_s - self._past[0][0] > BACK_S:
            self._past.popleft()
        if before is None or not circles:
            return [None] * len(circles)
        return _moves(before, small, circles, self._zoom)

    def back(self, row: Row) -> list[Row]:
        """Give where a circle (moment, x, y, radius) was before that, oldest first; it ends where it is lost."""
        rows: list[Row] = []
        t_s, x, y, radius = row
        now: NDArray[np.uint8] | None = None
        for at_s, then in reversed(self._past):
            if now is None:  # kept frames lie a row apart: the one at that moment, or the last before it
                now = then if at_s <= t_s + 1e-6 else None
                continue
            there = _moves(now, then, [(x, y, radius)], self._zoom)[0]
            if there is None:
                break
            again = _moves(then, now, [(x + there[0], y + there[1], radius)], self._zoom)[0]
            if again is None or np.hypot(there[0] + again[0], there[1] + again[1]) > RETURN * radius:
                break
            if _alike(now, (x, y), then, (x + there[0], y + there[1]), radius, self._zoom) < STILL_IT:
                break
            x, y, now = x + there[0], y + there[1], then
            rows.append((at_s, x, y, radius))
        return rows[::-1]


def _moves(
    before: NDArray[np.uint8], after: NDArray[np.uint8], circles: list[tuple[float, float, float]], zoom: float
) -> list[tuple[float, float] | None]:
    """Tell how far circles went from one small picture to another, px of the clip."""
    starts = [np.array(c[:2]) * zoom + GRID * c[2] * zoom for c in circles]
    points = np.concatenate(starts).astype(np.float32)[:, None]
    moved, there, _ = cv2.calcOpticalFlowPyrLK(before, after, points, None, winSize=(13, 13), maxLevel=3)
    way, good = (moved - points)[:, 0], there.ravel() == 1
    out: list[tuple[float, float] | None] = []
    for k, circle in enumerate(circles):
        mine = slice(k * len(GRID), (k + 1) * len(GRID))
        step = None
        if good[mine].sum() >= LEAST_POINTS:
            dx, dy = np.median(way[mine][good[mine]], axis=0) / zoom
            if np.hypot(dx, dy) < LONGEST_STEP * circle[2]:
                step = float(dx), float(dy)
        out.append(step)
    return out


def _alike(
    a: NDArray[np.uint8],
    a_xy: tuple[float, float],
    b: NDArray[np.uint8],
    b_xy: tuple[float, float],
    radius: float,
    zoom: float,
) -> float:
    """Give the correlation of what two small pictures show at a place in each."""
    side = max(5, round(1.4 * radius * zoom))
    one: Any = cv2.getRectSubPix(a, (side, side), (a_xy[0] * zoom, a_xy[1] * zoom))
    two: Any = cv2.getRectSubPix(b, (side, side), (b_xy[0] * zoom, b_xy[1] * zoom))
    return float(cv2.matchTemplate(one, two, cv2.TM_CCOEFF_NORMED)[0, 0])


def at_most(picture: NDArray[np.uint8], side_px: int) -> tuple[NDArray[np.uint8], float]:
    """Shrink a picture to a long side; gives how many of its px a px of the given one is."""
    zoom = min(1.0, side_px / max(picture.shape[:2]))
    if zoom == 1.0:
        return picture, 1.0
    size = (round(picture.shape[1] * zoom), round(picture.shape[0] * zoom))
    small: Any = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return small, zoom
