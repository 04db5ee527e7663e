"""Small pictures cut around a place, and what of them is compared: edges by direction, whatever their polarity.

A disc in front of changing background keeps its outline but not which side of it is brighter. Gradients are
therefore stored by double angle (an edge and its reverse are the same) and squashed, so that a few strong edges
do not decide alone.

Convention: a patch of half-size h has (2h + 1)^2 pixels; its pixel (h, h) is the place it was cut around, and one
patch pixel is `step_px` pixels of the frame.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Map = NDArray[np.float32]

OUTSIDE_BLUR = 0.9


Shape = tuple[float, float]
"""How the plate's outline is bent against its mean by perspective: (stretch along x, slope of x lines)."""
STRAIGHT: Shape = (0.0, 0.0)


def cut(
    luma: Picture, x_px: float, y_px: float, step_px: float, half: int, shape: Shape = STRAIGHT
) -> tuple[Map, Map]:
    """Cut a patch around a place, anti-aliased.

    Parameters
    ----------
    luma : (h, w) uint8.
    x_px, y_px : place in the frame.
    step_px : frame pixels per patch pixel; may be below 1.
    half : half-size of the patch in its own pixels.
    shape : (stretch, slope): one patch pixel to the right is `step_px` (1 + stretch) px to the right and
        `step_px` slope px down in the frame.

    Returns
    -------
    (2 half + 1, 2 half + 1) float32 luma, and the same size 0..1: how far the frame covers each pixel.
    """
    height, width = luma.shape
    stretch, slope = 1.0 + shape[0], shape[1]
    reach = (half + 4) * step_px * (max(1.0, stretch) + abs(slope)) + 4
    x0, y0 = max(0, int(x_px - reach)), max(0, int(y_px - reach))
    x1, y1 = min(width, int(x_px + reach) + 2), min(height, int(y_px + reach) + 2)
    size = 2 * half + 1
    if x1 - x0 < 4 or y1 - y0 < 4:
        return np.zeros((size, size), np.float32), np.zeros((size, size), np.float32)
    part = luma[y0:y1, x0:x1]
    shrink = 1
    while step_px / shrink >= 1.8 and min(part.shape) >= 8:
        part = cv2.pyrDown(part)  # keeps even pixels where they are, at half their coordinate
        shrink *= 2
    left, top = (x_px - x0) / shrink, (y_px - y0) / shrink
    step = step_px / shrink
    matrix = np.array(
        [
            [step * stretch, 0, left - half * step * stretch],
            [step * slope, step, top - half * step * (1 + slope)],
        ],
        np.float64,
    )
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    patch = cv2.warpAffine(
        part.astype(np.float32), matrix, (size, size), flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(patch, np.float32), _covered(matrix, size, part.shape)


def _covered(matrix: NDArray[np.float64], size: int, shape: tuple[int, ...]) -> Map:
    """Which patch pixels lie in the frame (0 or 1)."""
    (a, _, left), (b, d, top) = matrix
    corners = [(0, 0), (size - 1, 0), (0, size - 1), (size - 1, size - 1)]
    x = [a * i + left for i, _ in corners]
    y = [b * i + d * j + top for i, j in corners]
    if min(x) >= -0.5 and max(x) <= shape[1] - 0.5 and min(y) >= -0.5 and max(y) <= shape[0] - 0.5:
        return np.ones((size, size), np.float32)
    steps = np.arange(size)
    u = a * steps + left
    v = (b * steps)[None, :] + (d * steps + top)[:, None]
    inside = (v >= -0.5) & (v <= shape[0] - 0.5) & ((u >= -0.5) & (u <= shape[1] - 0.5))[None, :]
    return np.asarray(inside, np.float32)


def gradients(patch: Map) -> tuple[Map, Map]:
    """Horizontal and vertical derivative, per patch pixel."""
    smooth = cv2.GaussianBlur(patch, (0, 0), OUTSIDE_BLUR)
    gx = cv2.Scharr(smooth, cv2.CV_32F, 1, 0, scale=1 / 32.0)
    gy = cv2.Scharr(smooth, cv2.CV_32F, 0, 1, scale=1 / 32.0)
    return np.asarray(gx, np.float32), np.asarray(gy, np.float32)


def edges(patch: Map, covered: Map | None = None, floor: float = 2.0) -> Map:
    """Edge strength by double angle, squashed: (h, w, 2) float32.

    The strength at which the squashing sets in follows the patch's own contrast, so a dim clip looks like a
    bright one; `floor` keeps the noise of an empty patch from being blown up.
    """
    gx, gy = gradients(patch)
    strength = cv2.magnitude(gx, gy)
    knee = max(floor, float(np.mean(strength)) * 1.2)
    weight = 1.0 / (strength * (strength + knee) + 1e-6)
    out = np.empty((*patch.shape, 2), np.float32)
    np.multiply(gx * gx - gy * gy, weight, out=out[..., 0])
    np.multiply(2.0 * gx * gy, weight, out=out[..., 1])
    if covered is not None and covered.min() < 1.0:
        out = times(out, np.asarray(cv2.erode(covered, np.ones((5, 5), np.uint8)), np.float32))
    return out


def times(edge_map: Map, weight: Map) -> Map:
    """Weigh a two-channel map (h, w, 2) by (h, w): channel by channel, three times as fast as by broadcasting."""
    out = np.empty_like(edge_map)
    for channel in (0, 1):
        np.multiply(edge_map[..., channel], weight, out=out[..., channel])
    return out


def likeness(scene: Map, template: Map, weight: Map) -> Map:
    """Weighted normalised correlation of a two-channel template at every place of a two-channel scene.

    `weight` (h, w) belongs to the template. Gives (H - h + 1, W - w + 1) float32 in -1..1.
    """
    weighted = times(template, weight)
    up = cv2.matchTemplate(scene, weighted, cv2.TM_CCORR)
    squares = scene * scene
    energy = squares[..., 0] + squares[..., 1]
    down = cv2.matchTemplate(energy, weight, cv2.TM_CCORR)
    own = float(np.sum(weighted * template))
    floor = 1e-3 * float(weight.sum())
    return np.asarray(up / np.sqrt(np.maximum(down, floor) * max(own, 1e-9)), np.float32)


def peak(score: Map, row: int, column: int) -> tuple[float, float, float, float, float]:
    """Sub-pixel top of the score near a maximum: row, column, height, curvature along rows and columns.

    Curvatures are positive at a maximum, per pixel squared; 0 on the border, where none is known.
    """
    rows, columns = score.shape
    if not (0 < row < rows - 1 and 0 < column < columns - 1):
        return float(row), float(column), float(score[row, column]), 0.0, 0.0
    block = score[row - 1 : row + 2, column - 1 : column + 2].astype(np.float64)
    # Least-squares quadratic over the nine values.
    dr = (block[2].sum() - block[0].sum()) / 6.0
    dc = (block[:, 2].sum() - block[:, 0].sum()) / 6.0
    drr = (block[2].sum() + block[0].sum() - 2 * block[1].sum()) / 3.0
    dcc = (block[:, 2].sum() + block[:, 0].sum() - 2 * block[:, 1].sum()) / 3.0
    drc = (block[2, 2] + block[0, 0] - block[2, 0] - block[0, 2]) / 4.0
    determinant = drr * dcc - drc * drc
    if drr >= 0 or dcc >= 0 or determinant <= 0:
        return float(row), float(column), float(score[row, column]), 0.0, 0.0
    up = -(dcc * dr - drc * dc) / determinant
    across = -(drr * dc - drc * dr) / determinant
    up, across = float(np.clip(up, -1, 1)), float(np.clip(across, -1, 1))
    top = float(score[row, column]) + 0.5 * max(0.0, dr * up + dc * across)
    return row + up, column + across, top, float(-drr), float(-dcc)
