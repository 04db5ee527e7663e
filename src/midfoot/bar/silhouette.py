"""Which edge is the plate's outermost rim, and how large it is against the ring that is followed.

Most plates carry a lip, painted or not, at 0.9-0.985 of the radius, and the clearest ring is often that one:
taken for the rim it makes every length too large by as much. What tells them apart is what lies beyond. Inside of
the rim a plate stays the same from frame to frame; beyond it the room passes by, or the plate's own side (its
thickness) is seen. So, direction by direction, the outermost edge that stands over the frames is looked for.
Where the side is seen, that is the far edge of the side and lies farther out; over the rest, half of the outline
or more, it is the rim, at one and the same ratio: the mode of the ratios, a small shift of the centre allowed.
"""

from __future__ import annotations

import cv2
import numpy as np
from attrs import frozen

from midfoot.bar.disc_model import Sample
from midfoot.bar.rim import Ellipse
from midfoot.records.base import FloatArray

DIRECTIONS = 144
INNER, OUTER, STEP = 0.86, 1.26, 0.0025
LOOKED_AT = (0.97, 1.12)
CLEAR = 0.35
"""An edge counts when it is this share of the followed ring's own edge, and stands out of what is beyond."""
KERNEL = 0.006
LIP_TO_RIM, OUTER_RIVAL, DOUBT_RIVAL = (1.018, 1.05), 0.4, 0.3
"""A second heap of edges so much farther out and so high against the highest is the rim, and the first the lip;
not quite as high it leaves a doubt."""
MOST_SHIFT = 0.04
MIN_SHARE = 0.2
"""Share of the directions that must agree on the rim."""
SURE_SD, UNTOLD_SD = 0.006, 0.02
"""Relative sd: one rim seen against the room; no direction tells. Two edges that could be it lie in between."""


@frozen
class Rim:
    """The outermost rim against the followed ring: `grow` times as large, its relative sd, sd of the aspect.

    `shift` is how far its centre lies from the ring's along the minor axis, minor half-axes.
    """

    grow: float
    rel_sd: float
    aspect_sd: float
    shift: float = 0.0


def outermost_rim(samples: tuple[Sample, ...], ring: Ellipse) -> Rim:
    """Find the rim from samples centred on the followed ring.

    Parameters
    ----------
    samples : laid over each other, sizes counted in the ring's major half-axis.
    ring : centre 0, half-axis 1.
    """
    pictures = unrolled(samples, ring)
    radius = float(np.median([s.unit * s.scale for s in samples]))
    sizes = np.arange(INNER, OUTER, STEP)
    turn, ratios = _outer_edges(pictures, sizes, 0.5 / radius)
    aspect_sd = 0.5 / radius + 0.004
    if len(ratios) < MIN_SHARE * DIRECTIONS:
        return Rim(1.0 + UNTOLD_SD / 2, UNTOLD_SD, aspect_sd)
    shift, at, doubt = _mode(turn, ratios)
    near = ratios - shift * np.cos(turn)
    near = near[np.abs(near - at) < 2 * KERNEL]
    if len(near) < MIN_SHARE * DIRECTIONS:
        return Rim(at, UNTOLD_SD, aspect_sd)
    return Rim(float(np.mean(near)), float(np.hypot(max(SURE_SD, doubt), 0.25 / radius)), aspect_sd, shift)


def _mode(turn: FloatArray, ratios: FloatArray) -> tuple[float, float, float]:
    """Shift along the minor axis and ratio at which most directions agree, and the doubt between two edges."""
    grid = np.arange(LOOKED_AT[0], LOOKED_AT[1], 0.001)
    best: tuple[float, float, FloatArray] | None = None
    for shift in np.arange(-MOST_SHIFT, MOST_SHIFT + 1e-9, 0.0025):
        moved = ratios - shift * np.cos(turn)
        heap = np.exp(-0.5 * ((grid[:, None] - moved[None]) / KERNEL) ** 2).sum(axis=1)
        worth = float(heap.max()) * (1.0 - 2.0 * abs(float(shift)))
        if best is None or worth > best[0]:
            best = worth, float(shift), heap
    assert best is not None
    heap = best[2]
    at = float(grid[int(np.argmax(heap))])
    # The rim may be dark on dark over most of the outline, so that the lip is the outermost edge to be seen there.
    beyond = np.where((grid > at * LIP_TO_RIM[0]) & (grid < at * LIP_TO_RIM[1]), heap, 0.0)
    if beyond.max() > OUTER_RIVAL * heap.max():
        rim = float(grid[int(np.argmax(beyond))])
        return best[1], rim, 0.5 * (rim - at)
    doubtful = beyond.max() > DOUBT_RIVAL * heap.max()
    return best[1], at, 0.6 * (float(grid[int(np.argmax(beyond))]) - at) if doubtful else 0.0


def unrolled(samples: tuple[Sample, ...], ring: Ellipse) -> FloatArray:
    """Luma along directions and sizes about the ring: (samples, directions, sizes), NaN outside of the frame."""
    outline, _ = ring.points(DIRECTIONS)
    sizes = np.arange(INNER, OUTER, STEP)
    rays = outline[:, None] * sizes[None, :, None]
    out = np.empty((len(samples), DIRECTIONS, len(sizes)), np.float32)
    for i, item in enumerate(samples):
        half, per_unit = item.luma.shape[0] // 2, item.unit * item.scale
        stretch, slope = item.shape
        u = (half + item.off[0] + rays[..., 0] * per_unit * (1 + stretch)).astype(np.float32)
        v = (half + item.off[1] + (rays[..., 1] + rays[..., 0] * slope) * per_unit).astype(np.float32)
        out[i] = cv2.remap(item.luma.astype(np.float32), u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        if item.covered.size == 1:
            continue
        shown = cv2.remap(item.covered, u, v, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
        out[i][shown == 0] = np.nan
    return np.asarray(out, np.float64)


def _outer_edges(pictures: FloatArray, sizes: FloatArray, blur: float) -> tuple[FloatArray, FloatArray]:
    """Eccentric angles, and the outermost standing edge there as a ratio to the ring, where there is one."""
    slopes = np.abs(np.diff(_smoothed(pictures, blur / STEP), axis=2)) / STEP
    known = np.isfinite(slopes).sum(axis=0) >= max(3, 0.2 * len(pictures))
    standing = np.where(known, np.nansum(slopes, axis=0) / np.maximum(np.isfinite(slopes).sum(axis=0), 1), 0.0)
    standing = (np.roll(standing, 1, 0) + standing + np.roll(standing, -1, 0)) / 3
    at = 0.5 * (sizes[1:] + sizes[:-1])
    own = float(np.median(standing[:, np.abs(at - 1.0) < 0.01].max(axis=1)))
    turn = np.linspace(0, 2 * np.pi, DIRECTIONS, endpoint=False)
    at_turn, out = [], []
    for t, row in zip(turn, standing, strict=True):
        if abs(np.sin(t)) < 0.2:
            continue
        least = max(CLEAR * own, 2.0 * float(np.median(row[at > LOOKED_AT[1]])))
        inner = row[1:-1]
        peaks = (inner > row[:-2]) & (inner >= row[2:]) & (inner > least)
        peaks &= (at[1:-1] > LOOKED_AT[0]) & (at[1:-1] < LOOKED_AT[1])
        if peaks.any():
            i = int(np.flatnonzero(peaks)[-1]) + 1
            a, b, c = row[i - 1 : i + 2]
            at_turn.append(float(t))
            out.append(at[i] + STEP * 0.5 * (a - c) / min(a - 2 * b + c, -1e-9))
    return np.array(at_turn), np.array(out)


def _smoothed(pictures: FloatArray, sigma: float) -> FloatArray:
    """Smooth along the sizes; NaN stays where it was."""
    reach = max(1, int(np.ceil(3 * sigma)))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / max(sigma, 0.3)) ** 2)
    kernel /= kernel.sum()
    filled = np.where(np.isfinite(pictures), pictures, 0.0)
    flat = filled.reshape(-1, filled.shape[2]).astype(np.float32)
    soft = cv2.filter2D(flat, -1, kernel[None].astype(np.float32), borderType=cv2.BORDER_REPLICATE)
    return np.where(np.isfinite(pictures), soft.reshape(pictures.shape), np.nan)
