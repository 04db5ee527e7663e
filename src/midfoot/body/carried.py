"""What moves with a person's hands: the picture's own motion at the wrists and further out on their line.

A bar is rigid: the pixels at both hands and those beyond the hands go up and down together. A spotter's hands
beside the bar, or hands that gesture, do not carry anything. No plate needs to be known for this.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from midfoot.body.search import HELD
from midfoot.records.base import FloatArray

LONG_SIDE = 256
OUT = np.array([0.35, 0.7, 1.0])
"""How far beyond each hand the motion is read, in distances between the hands."""
TOGETHER = 0.25
"""Hands nearer than this (in body lengths) are one point in the picture: a side view."""
RING = 0.22
"""Then the motion is read on a ring of this radius (body lengths) round them: the plate in front of them."""


class Motion:
    """Vertical motion between successive frames, at a reduced size, the frame's median taken out."""

    def __init__(self) -> None:
        opencv: Any = cv2  # its stubs lack this class
        self._flow = opencv.DISOpticalFlow_create(cv2.DISOPTICAL_FLOW_PRESET_FAST)
        self._before: NDArray[np.uint8] | None = None
        self._scale = 1.0
        self._vertical: NDArray[np.float32] | None = None

    def see(self, luma: NDArray[np.uint8]) -> None:
        """Take the next frame."""
        self._scale = min(1.0, LONG_SIDE / max(luma.shape))
        size = (max(16, round(luma.shape[1] * self._scale)), max(16, round(luma.shape[0] * self._scale)))
        small = np.asarray(cv2.resize(luma, size, interpolation=cv2.INTER_AREA), np.uint8)
        if self._before is None or self._before.shape != small.shape:
            self._vertical = None
        else:
            vertical = self._flow.calc(self._before, small, None)[..., 1]
            self._vertical = vertical - np.median(vertical)
        self._before = small

    def at(self, points: FloatArray) -> FloatArray:
        """Give the motion (k,) px downward at points (k, 2) of the earlier frame, NaN outside and at first."""
        out = np.full(len(points), np.nan)
        if self._vertical is None:
            return out
        at = np.floor((points + 0.5) * self._scale)
        h, w = self._vertical.shape
        inside = np.isfinite(at).all(axis=1) & (at >= 0).all(axis=1) & (at[:, 0] < w) & (at[:, 1] < h)
        cells = at[inside].astype(np.intp)
        out[inside] = self._vertical[cells[:, 1], cells[:, 0]] / self._scale
        return out


def carried(motion: Motion, xy_px: FloatArray, body_px: float) -> FloatArray:
    """Give the downward motion, px, at the left wrist, the right wrist and beyond them (median), (3,)."""
    left, right = xy_px[HELD[0]], xy_px[HELD[1]]
    line = right - left
    if np.hypot(*line) < TOGETHER * body_px:
        turn = np.arange(8) * (np.pi / 4)
        beyond = (left + right) / 2 + RING * body_px * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    else:
        beyond = np.concatenate([left - OUT[:, None] * line, right + OUT[:, None] * line])
    moves = motion.at(np.concatenate([left[None], right[None], beyond]))
    outer = moves[2:][np.isfinite(moves[2:])]
    return np.array([moves[0], moves[1], np.median(outer) if len(outer) else np.nan])


def shared(up: FloatArray) -> FloatArray:
    """Give the part of the moves (..., k) that all k share in direction: signed, 0 where they disagree or NaN."""
    low = np.abs(up).min(axis=-1)
    agree = np.all(up > 0, axis=-1) | np.all(up < 0, axis=-1)
    out: FloatArray = np.where(agree, low * np.sign(up[..., 0]), 0.0)
    return out
