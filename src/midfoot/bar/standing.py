"""What stands around the outline of a followed plate: edges that go with it, and where its stillness ends.

Samples laid over each other are unrolled about the followed ring: directions one way, sizes the other. Two things
tell the plate from the room. An edge of the plate is there in every sample, whatever its contrast. And inside of
the rim a plate stays the same from sample to sample, while beyond it the room passes by: a dark rim before a dark
room shows no edge to speak of and still ends where the stillness ends. A sharp edge that trembles by a fraction of
a pixel is no end of stillness, so as much as the samples tremble is taken out first.

Rule for the next author: everything that stands is handed on, the weak with the strong. Which of it is the rim is
asked of whole ellipses (`silhouette`), never of one direction.
"""

from __future__ import annotations

import cv2
import numpy as np
from attrs import field, frozen

from midfoot.bar.disc_model import Sample
from midfoot.bar.rim import Ellipse
from midfoot.records.base import FloatArray

DIRECTIONS = 144
INNER, OUTER, STEP = 0.80, 1.32, 0.0025
FACE = 0.97
"""Sizes up to which the light of a sample is held against that of the others."""
BLUR_PX = 0.6
LEAST_SAMPLES, LEAST_SHARE = 3, 0.2
NEAR_TOP, TOP_OF_DIRECTIONS = (0.90, 1.12), 0.6
"""The clear edges that others are counted against: the best near the ring, of this share of the directions."""
CLEAR, ABOVE_NEIGHBOURS, NEIGHBOURS = 0.12, 1.2, 0.05
"""An edge counts from this share of a clear one, and this many times the mean of what lies about it."""
WHOLE = 0.6
MOST_EDGES = 14
TREMBLE, STEEP, ABOUT = 1.2, 0.95, 6
"""How much of the trembling is taken out; which slopes tell it; directions either side that tell it together."""
ENDS, ENDS_WHOLE, ENDS_WORTH = 0.35, 0.55, 0.75
"""Contrast (outside less inside over both) from which stillness ends, from which surely, and its weight."""
ASIDE_PX, RUN = 0.7, 0.02
"""What is compared across an end of stillness: a run of sizes either side, the edge's own blur left out."""
EXPLAINED_PX, PAST_EDGE_PX, STILL_BETWEEN = 3.0, 0.8, 0.6
"""An end of stillness this close outside of an edge is that edge's, unless past the edge the change is still, or
again, down to this share of what it is beyond."""


@frozen(eq=False)
class Standing:
    """What stands, as ratios to the ring, by direction.

    `ratio` and `weight` (directions, k) with weight 0 where there is none; `is_edge` (directions, k) tells edges
    from ends of stillness; `known` (directions,) is false where too few samples show anything beyond the ring.
    `unit` are the samples' own pixels per half-axis of the ring.
    """

    ratio: FloatArray = field()
    weight: FloatArray = field()
    is_edge: np.ndarray = field()
    known: np.ndarray = field()
    unit: float


def turns() -> FloatArray:
    """The directions: eccentric angles (DIRECTIONS,), radians."""
    return np.linspace(0, 2 * np.pi, DIRECTIONS, endpoint=False)


def standing(samples: tuple[Sample, ...], ring: Ellipse) -> Standing:
    """Find what stands about the ring.

    Parameters
    ----------
    samples : laid over each other, sizes counted in the ring's major half-axis.
    ring : centre 0, half-axis 1.
    """
    sizes = np.arange(INNER, OUTER, STEP)
    unit = float(np.median([s.unit * s.scale for s in samples]))
    pictures = _evenly_lit(unrolled(samples, ring, sizes), sizes < FACE)
    shown = np.isfinite(pictures).sum(axis=0)
    enough = shown >= max(LEAST_SAMPLES, LEAST_SHARE * len(pictures))
    soft = _smoothed(pictures, BLUR_PX / unit / STEP)
    steep = np.abs(np.diff(soft, axis=2)) / STEP
    both = enough[:, 1:] & enough[:, :-1]
    count = np.maximum(np.isfinite(steep).sum(axis=0), 1)
    edge = _over_neighbours(np.where(both, np.nansum(steep, axis=0) / count, 0.0))
    edges = _edges(edge, 0.5 * (sizes[1:] + sizes[:-1]))
    found = edges + _ends(pictures, enough, sizes, unit, edges)
    ratio, weight = np.full((DIRECTIONS, MOST_EDGES), 9.0), np.zeros((DIRECTIONS, MOST_EDGES))
    is_edge = np.zeros((DIRECTIONS, MOST_EDGES), bool)
    rows: list[list[tuple[float, float, bool]]] = [[] for _ in range(DIRECTIONS)]
    for direction, at, worth, kind in found:
        rows[direction].append((at, worth, kind))
    for i, row in enumerate(rows):
        for k, one in enumerate(sorted(row, key=lambda r: -r[1])[:MOST_EDGES]):
            ratio[i, k], weight[i, k], is_edge[i, k] = one
    known = enough[:, (sizes > 1.0) & (sizes < NEAR_TOP[1])].mean(axis=1) > 0.5
    return Standing(ratio, weight, is_edge, known, unit)


def unrolled(samples: tuple[Sample, ...], ring: Ellipse, sizes: FloatArray) -> FloatArray:
    """Luma along directions and sizes about the ring: (samples, directions, sizes), NaN outside of the frame."""
    outline, _ = ring.points(DIRECTIONS)
    rays = outline[:, None] * sizes[None, :, None]
    out = np.empty((len(samples), DIRECTIONS, len(sizes)), np.float32)
    for i, item in enumerate(samples):
        half, per_unit = item.luma.shape[0] // 2, item.unit * item.scale
        stretch, slope = item.shape
        u = (half + item.off[0] + rays[..., 0] * per_unit * (1 + stretch)).astype(np.float32)
        v = (half + item.off[1] + (rays[..., 1] + rays[..., 0] * slope) * per_unit).astype(np.float32)
        out[i] = cv2.remap(item.luma.astype(np.float32), u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        outside = (u < 0) | (v < 0) | (u > 2 * half) | (v > 2 * half)
        if item.covered.size > 1:
            shown = cv2.remap(item.covered, u, v, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
            outside |= shown == 0
        out[i][outside] = np.nan
    return np.asarray(out, np.float64)


def _evenly_lit(pictures: FloatArray, face: np.ndarray) -> FloatArray:
    """Bring every sample's face to the brightness and contrast of the median one."""
    inside = pictures[:, :, face].reshape(len(pictures), -1)
    known = np.isfinite(inside).mean(axis=0) > 0.5
    if not known.any():
        return pictures
    inside = inside[:, known]
    model = np.nanmedian(inside, axis=0)
    middle = float(np.median(model))
    spread = float(np.median(np.abs(model - middle)))
    out = np.empty_like(pictures)
    for i, row in enumerate(inside):
        if not np.isfinite(row).any():
            out[i] = np.nan
            continue
        own = float(np.nanmedian(row))
        gain = spread / max(float(np.nanmedian(np.abs(row - own))), 1e-3)
        out[i] = (pictures[i] - own) * float(np.clip(gain, 0.5, 2.0)) + middle
    return out


def _edges(edge: FloatArray, at: FloatArray) -> list[tuple[int, float, float, bool]]:
    """Direction, ratio, weight of the tops of the mean slope, and that they are edges."""
    near = (at > NEAR_TOP[0]) & (at < NEAR_TOP[1])
    clear = float(np.quantile(edge[:, near].max(axis=1), TOP_OF_DIRECTIONS))
    reach = 2 * round(NEIGHBOURS / STEP) + 1
    about = cv2.blur(edge.astype(np.float32), (reach, 1), borderType=cv2.BORDER_REPLICATE)
    inner = edge[:, 1:-1]
    top = (inner > edge[:, :-2]) & (inner >= edge[:, 2:])
    top &= (inner > CLEAR * clear) & (inner > ABOVE_NEIGHBOURS * about[:, 1:-1])
    out = []
    for i, k in zip(*np.nonzero(top), strict=True):
        a, b, c = edge[i, k : k + 3]
        place = at[k + 1] + STEP * 0.5 * (a - c) / min(a - 2 * b + c, -1e-9)
        out.append((int(i), float(place), float(min(1.0, b / max(WHOLE * clear, 1e-6))), True))
    return out


def _ends(
    pictures: FloatArray,
    enough: np.ndarray,
    sizes: FloatArray,
    unit: float,
    edges: list[tuple[int, float, float, bool]],
) -> list[tuple[int, float, float, bool]]:
    """Direction, ratio, weight of where the stillness ends, and that they are no edges.

    Just outside of an edge it counts only where it is still in between: else the edge itself is where it ends.
    """
    filled = np.where(enough[None], pictures, 0.0)
    change = np.nanstd(filled, axis=0)
    slope = np.abs(np.gradient(np.nanmean(filled, axis=0), STEP, axis=1))
    slope = np.where(enough, slope, 0.0)
    untouched = _over_neighbours(change)
    change = np.sqrt(np.maximum(change**2 - (TREMBLE * _tremble(change, slope, sizes) * slope) ** 2, 0.0))
    change = _over_neighbours(change)
    noise = max(1.5, float(np.quantile(change[enough], 0.05))) if enough.any() else 1.5
    aside, run = max(1, round(max(0.004, ASIDE_PX / unit) / STEP)), round(RUN / STEP)
    total = np.concatenate([np.zeros((DIRECTIONS, 1)), np.cumsum(change, axis=1)], axis=1)
    middle = np.arange(run + aside, len(sizes) - run - aside)
    inside = (total[:, middle - aside] - total[:, middle - aside - run]) / run
    beyond = (total[:, middle + aside + run] - total[:, middle + aside]) / run
    contrast = (beyond - inside) / (beyond + inside + noise)
    tops = cv2.dilate(contrast.astype(np.float32), np.ones((1, run + 1 + run % 2), np.uint8)) <= contrast + 1e-6
    out = []
    for i, k in zip(*np.nonzero(tops & (contrast > ENDS) & enough[:, middle]), strict=True):
        half = 0.4 * inside[i, k] + 0.6 * beyond[i, k]
        first = middle[k] - aside - run // 2
        span = change[i, first : middle[k] + aside + run // 2 + 1]
        crossed = np.flatnonzero((span[:-1] <= half) & (span[1:] > half))
        if not len(crossed):
            continue
        nearest = int(crossed[np.argmin(np.abs(crossed + first - middle[k]))])
        share = (half - span[nearest]) / max(span[nearest + 1] - span[nearest], 1e-9)
        place = sizes[first + nearest] + STEP * share
        within = [at for way, at, worth, _ in edges if way == i and 0.0 <= place - at < EXPLAINED_PX / unit]
        if within:
            between = untouched[i, int((max(within) + PAST_EDGE_PX / unit - INNER) / STEP) : first + nearest + 1]
            if not len(between) or between.min() > STILL_BETWEEN * beyond[i, k]:
                continue
        out.append((int(i), float(place), ENDS_WORTH * float(min(1.0, contrast[i, k] / ENDS_WHOLE)), False))
    return out


def _tremble(change: FloatArray, slope: FloatArray, sizes: FloatArray) -> FloatArray:
    """How far sharp edges move to and fro, in sizes, (directions, 1): change over slope where it is steep."""
    near = (sizes > NEAR_TOP[0]) & (sizes < NEAR_TOP[1])
    steep = (slope > float(np.quantile(slope[:, near], STEEP))) & (slope > 0)
    if not steep.any():
        return np.zeros((len(slope), 1))
    moved = np.where(steep, change / np.maximum(slope, 1e-3), np.nan)
    whole = float(np.nanmedian(moved))
    out = np.full((len(slope), 1), whole)
    for i in range(len(slope)):
        some = moved[np.arange(i - ABOUT, i + ABOUT + 1) % len(slope)]
        if np.isfinite(some).sum() >= ABOUT:
            out[i] = np.clip(np.nanmedian(some), whole, 2.0 * whole)
    return out


def _over_neighbours(rows: FloatArray) -> FloatArray:
    """Mean of every direction and its two neighbours."""
    return (np.roll(rows, 1, 0) + rows + np.roll(rows, -1, 0)) / 3


def _smoothed(pictures: FloatArray, sigma: float) -> FloatArray:
    """Smooth along the sizes; NaN stays where it was."""
    reach = max(1, int(np.ceil(3 * sigma)))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / max(sigma, 0.3)) ** 2)
    kernel /= kernel.sum()
    filled = np.where(np.isfinite(pictures), pictures, 0.0)
    flat = filled.reshape(-1, filled.shape[2]).astype(np.float32)
    soft = cv2.filter2D(flat, -1, kernel[None].astype(np.float32), borderType=cv2.BORDER_REPLICATE)
    return np.where(np.isfinite(pictures), soft.reshape(pictures.shape), np.nan)
