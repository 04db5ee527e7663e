"""Lines in one frame that may be the bar's shaft: two parallel edges as far apart as a bar is thick.

A strip is cut along the line from fist to fist and beyond them. For every slope and height of a line in it the
edges on both its sides are averaged over pieces of a hand's width: which side is brighter may change from piece to
piece (what is behind changes), within one it may not, so that grain averages out. The best few are measured to a
fraction of a pixel.

Rule for the next author: one frame does not tell the shaft from the edge of a board; `shaft` does, over the clip.
"""

from __future__ import annotations

import math
from functools import cache

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.bar.patches import Picture
from midfoot.records.base import FloatArray

UNIT = 200.0
"""Strip pixels per metre: a bar of 28-29 mm (rulebooks) is nearly 6 of them thick."""
HALF_LONG_M, HALF_HIGH_M = 0.75, 0.16
"""The strip: sleeves begin 0.66 m from the bar's middle (rulebook: 1.31 m between the collars); fists are told to
some centimetres."""
STEEPEST_DEG, SLOPE_STEP_DEG = 9.0, 0.75
HALF_THICK = (2, 3, 4)
"""Half the bar's thickness in strip pixels: what a pixel is worth is known to a fifth or so."""
SAME_SIDE = 0.5
"""A line that is a step and not a ridge counts so much: a bar shaded from light to dark before a middling room."""
STRONG = 3.0
"""Edge from which more counts no more, luma per strip pixel: a step of some 8 of 255."""
BLOCK, PIECE = 5, 4
"""Strip pixels to a block, blocks to a piece (0.1 m)."""
FIST_M = 0.07
"""So far to each side of a fist's middle the bar is covered by it."""
KEPT, LEAST_SCORE = 6, 0.02
APART_PX = 2
"""Lines nearer than this in height at the middle are one line."""
GROUPS, AROUND_PX = 4, 10
"""Parts of a line's length, and how far around it the edges are kept, strip pixels."""


@frozen(eq=False)
class Lines:
    """The best lines of one frame, best first; lengths in metres at the strip's scale.

    `height_m` (k,) below the line of the fists, at their middle, and `slope` (k,) against that line, + = falling
    to the right, both to a strip pixel; `score` (k,) 0..1 above what the strip holds everywhere; `around`
    (k, GROUPS, 2 AROUND_PX + 1) uint8: how strong the edges along the line are in each part of its length, from
    above it to below.
    """

    height_m: FloatArray
    slope: FloatArray
    score: FloatArray
    around: NDArray[np.uint8]


NO_LINES = Lines(np.zeros(0), np.zeros(0), np.zeros(0), np.zeros((0, GROUPS, 2 * AROUND_PX + 1), np.uint8))


@frozen
class Grip:
    """Both fists in one frame, left and right in the picture: middle (2,) px, half way between them (2,) px.

    `px_per_m` is the picture's scale at the bar.
    """

    middle_px: FloatArray
    half_px: FloatArray
    px_per_m: float

    @property
    def along(self) -> FloatArray:
        """Unit vector to the right along the line of the fists."""
        return np.asarray(self.half_px / np.hypot(*self.half_px))

    @property
    def across(self) -> FloatArray:
        """Unit vector square to it, downward in the picture."""
        u = self.along
        return np.array([-u[1], u[0]])


def lines(luma: Picture, grip: Grip) -> Lines:
    """Find the lines near the fists that may be the shaft.

    Parameters
    ----------
    luma : (h, w) uint8.
    grip : where the fists are.

    Returns
    -------
    Lines
        Up to `KEPT`; none where less than a third of the strip lies in the picture.
    """
    strip, inside = _strip(luma, grip)
    if inside.mean() < 0.34:
        return NO_LINES
    clear = _clear(inside, float(np.hypot(*grip.half_px)) / grip.px_per_m)
    edges = cv2.GaussianBlur(strip, (1, 5), sigmaX=0.1, sigmaY=0.8)
    edges = cv2.Sobel(edges, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)
    blocks = edges.reshape(edges.shape[0], -1, BLOCK).mean(axis=2)
    slope_map, rows_map = _sheared(edges.shape[0])
    sheared = cv2.remap(blocks, slope_map, rows_map, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    n = len(_slopes())
    pieces = sheared.reshape(n, -1, blocks.shape[1] // PIECE, PIECE).mean(axis=3)
    told = np.zeros_like(pieces)
    for half in HALF_THICK:
        upper, lower = np.roll(pieces, half, axis=1), np.roll(pieces, -half, axis=1)
        both = np.minimum(np.abs(upper), np.abs(lower))
        told = np.maximum(told, np.where(upper * lower < 0, both, SAME_SIDE * both))
    margin = max(HALF_THICK) + 2
    told[:, :margin] = 0.0
    told[:, -margin:] = 0.0
    weight = clear / max(float(clear.sum()), 1e-6)
    score = np.minimum(told / STRONG, 1.0) @ weight
    score -= float(np.median(score[:, margin:-margin]))
    return _measured(score, told, pieces, weight)


@cache
def _slopes() -> FloatArray:
    return np.asarray(np.tan(np.radians(np.arange(-STEEPEST_DEG, STEEPEST_DEG + 1e-9, SLOPE_STEP_DEG))))


def _size() -> tuple[int, int]:
    """Half-height and width of the strip in its own pixels; the width is a whole number of pieces."""
    long = BLOCK * PIECE * round(2 * HALF_LONG_M * UNIT / (BLOCK * PIECE))
    return round(HALF_HIGH_M * UNIT), long


@cache
def _sheared(height: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Where the blocks' values are for every slope, stacked over the slopes."""
    blocks = _size()[1] // BLOCK
    away = (np.arange(blocks) - 0.5 * (blocks - 1)) * BLOCK
    rows = np.arange(height)[None, :, None] + _slopes()[:, None, None] * away[None, None, :]
    columns = np.broadcast_to(np.arange(blocks, dtype=np.float32), rows.shape)
    flat = (-1, blocks)
    return np.ascontiguousarray(columns.reshape(flat), np.float32), rows.reshape(flat).astype(np.float32)


def _strip(luma: Picture, grip: Grip) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Cut the strip, level along the fists, and where it lies in the picture."""
    half, long = _size()
    factor = min(1.0, UNIT / grip.px_per_m)
    x, y = grip.middle_px
    reach = 1.1 * grip.px_per_m * math.hypot(HALF_LONG_M, HALF_HIGH_M) + 8
    h, w = luma.shape
    x0, y0 = max(0, int(x - reach)), max(0, int(y - reach))
    x1, y1 = min(w, int(x + reach) + 1), min(h, int(y + reach) + 1)
    size = (2 * half + 1, long)
    if x1 - x0 < 16 or y1 - y0 < 16:
        return np.zeros(size, np.float32), np.zeros(size, np.float32)
    part = luma[y0:y1, x0:x1]
    if factor < 0.8:
        part = cv2.resize(part, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    fx, fy = part.shape[1] / (x1 - x0), part.shape[0] / (y1 - y0)
    step = grip.px_per_m / UNIT
    to_px = np.column_stack([grip.along * step, grip.across * step])
    start = grip.middle_px - to_px @ np.array([0.5 * (long - 1), half])
    scale = np.array([fx, fy])
    shift = (start - [x0, y0] + 0.5) * scale - 0.5
    matrix = np.column_stack([scale[:, None] * to_px, shift])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    cut = cv2.warpAffine(part, matrix, size[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)
    shown = cv2.warpAffine(np.ones(part.shape, np.float32), matrix, size[::-1], flags=flags)
    return cut.astype(np.float32), shown


def _clear(inside: NDArray[np.float32], half_grip_m: float) -> FloatArray:
    """How far each piece of the strip can show the bar: in the picture, and not under a fist."""
    pieces = inside.shape[1] // (BLOCK * PIECE)
    middle = (np.arange(pieces) - 0.5 * (pieces - 1)) * BLOCK * PIECE / UNIT
    shown = (inside.min(axis=0).reshape(pieces, -1) > 0.5).mean(axis=1)
    return np.where(np.abs(np.abs(middle) - half_grip_m) > FIST_M, shown, 0.0)


def _measured(
    score: FloatArray, told: NDArray[np.float32], edges: NDArray[np.float32], weight: FloatArray
) -> Lines:
    """Take the best lines, and what lies around each of them."""
    slopes, half = _slopes(), score.shape[1] // 2
    score = score.astype(np.float32)
    tops = (score >= cv2.dilate(score, np.ones((3, 2 * APART_PX + 1)))) & (score > LEAST_SCORE)
    at = np.argwhere(tops)
    at = at[np.argsort(-score[tops], kind="stable")]
    kept: list[tuple[int, int]] = []
    for k, row in at:
        if all(abs(row - other) > APART_PX for _, other in kept):
            kept.append((int(k), int(row)))
        if len(kept) == KEPT:
            break
    if not kept:
        return NO_LINES
    groups = _groups(weight)
    around = np.zeros((len(kept), GROUPS, 2 * AROUND_PX + 1))
    for i, (k, row) in enumerate(kept):
        first, last = max(row - AROUND_PX, 0), min(row + AROUND_PX + 1, edges.shape[1])
        part = np.abs(edges[k, first:last]) @ groups
        around[i, :, first - row + AROUND_PX : last - row + AROUND_PX] = part.T / max(float(part.max()), STRONG)
    picked = np.array(kept)
    return Lines(
        (picked[:, 1] - half) / UNIT, slopes[picked[:, 0]], score[picked[:, 0], picked[:, 1]].astype(float),
        np.round(255.0 * around).astype(np.uint8),
    )  # fmt: skip


def _groups(weight: FloatArray) -> FloatArray:
    """Share of each piece (n,) in each group of neighbours (n, GROUPS): pieces that show nothing have none."""
    out = np.zeros((len(weight), GROUPS))
    for g, part in enumerate(np.array_split(np.arange(len(weight)), GROUPS)):
        total = float(weight[part].sum())
        if total > 1e-6:
            out[part, g] = weight[part] / total
    return out
