"""A larger disc behind the followed one, on the same bar: where small discs hang before large ones.

What is told of a plate's diameter is the largest one's. Where a smaller disc hangs before it, or a painted ring is
followed, the largest goes along a little aside, by the view, and a little less far, as it stands farther from the
camera. So the samples are laid over each other once for every such share, and of every ring about every place near
by it is asked whether the picture stays the same within and changes beyond. A round thing that goes along with the
bar and looks larger than the followed disc can only be a larger disc: one as large, farther away, looks smaller.

Rule for the next author: the body that goes along with the bar stays the same as well, on one side. A ring needs
nearly all of its outline.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from attrs import evolve, frozen

from midfoot.bar.disc_model import Sample, again, moved
from midfoot.bar.patches import Map
from midfoot.bar.rim import Ellipse
from midfoot.bar.silhouette import Rim, outermost_rim
from midfoot.records.base import FloatArray

UNIT, DIRECTIONS, MOST_SAMPLES = 24.0, 48, 30
ENDS, END = np.sin(np.linspace(0.0, 2.0 * math.pi, DIRECTIONS, endpoint=False)), 0.8
LAGS, LAG_STEP, LAG_SD = (0.0, 0.025, 0.05, 0.075, 0.10), 0.0125, 0.006
"""How much less it moves: its depth behind the followed disc over its distance, 0.3 m of stack from 3 m at most;
and how well that is told."""
ASIDE, ASIDE_STEP, FINE_ASIDE = 0.36, 0.09, 0.03
LARGER, LARGEST, SIZE_STEP = 1.06, 2.2, 0.01
RUN, GAP = 0.06, 0.02
"""What is compared across a ring: so much of a radius on either side, a gap left out."""
NOISE = 3.0
"""Change from sample to sample, of 255, below which nothing is told by it."""
STEEP, TREMBLE = 0.95, 1.2
"""Which slopes tell how far edges tremble from sample to sample, and how much of it is taken out."""
TOP = 0.05
"""A ring counts where the contrast is at its highest within so much of its size."""
CONTRAST, LEAST_QUARTER = 0.40, 0.10
"""Mean contrast over the outline (beyond less within, over both) from which a larger disc may stand there, and
what three quarters of the directions must have: bodies and racks have one side only. With a larger disc behind it
is 0.7 (drawn clips), with none up to 0.54 just beyond the plate's own rim; an outline must be told as well."""
NEXT_BEHIND = 0.15
"""Another disc as large may stand behind it, by some tenths of what it itself is behind the followed one, and be
seen beyond it on one side: so much of how far it lies aside may its size be off, one sd."""


@frozen
class Behind:
    """A larger disc: where its centre lies from the followed one's (radii), the share by which it moves less, and
    its outermost rim in units of the followed ring (centre 0, half-axis 1)."""

    x: float
    y: float
    lag: float
    rim: Rim


@frozen
class _Found:
    contrast: float
    x: float
    y: float
    lag: float
    size: float


def larger_behind(samples: list[Sample], ring: Ellipse, rim: Rim, places_px: FloatArray) -> Behind | None:
    """Look for a larger disc behind the followed one.

    Parameters
    ----------
    samples : laid over each other, centred on the followed ring, sizes counted in its major half-axis.
    ring : its shape, centre 0, half-axis 1.
    rim : what was taken for its outermost rim.
    places_px : (n, 2) where the samples' middles are, the camera's own movement taken out.

    Returns
    -------
    Behind or None
        None where nothing larger goes round with it.
    """
    some = slice(None, None, max(1, math.ceil(len(samples) / MOST_SAMPLES)))
    few, gone = samples[some], (places_px - np.median(places_px, axis=0))[some]
    steps = np.arange(-ASIDE, ASIDE + 1e-9, ASIDE_STEP)
    smallest = LARGER * max(rim.grow, 1.0)
    best = _clearest(few, gone, ring, LAGS, steps, steps, smallest)
    if best is None:
        return None
    fine = np.linspace(-2.0, 2.0, 5)
    for finer in (1.0, 0.4):
        lags = tuple(best.lag + finer * k * LAG_STEP for k in (-1, 0, 1))
        beside, below = best.x + finer * FINE_ASIDE * fine, best.y + finer * FINE_ASIDE * fine
        best = _clearest(few, gone, ring, lags, beside, below, smallest) or best
    over = [_laid(s, g, best) for s, g in zip(samples, places_px - np.median(places_px, axis=0), strict=True)]
    own = outermost_rim(tuple(over), ring)
    if not own.told or abs(own.grow - 1.0) > TOP:
        return None
    face = own.ellipse
    sd = math.hypot(own.rel_sd, LAG_SD, NEXT_BEHIND * math.hypot(best.x, best.y))
    grown = evolve(face, x=best.x + best.size * face.x, y=best.y + best.size * face.y, a=best.size * face.a)
    if grown.a < LARGER * rim.grow:
        # the thick side of the same plate
        return None
    whole = Rim(grown, rim.face, sd, max(own.aspect_sd, rim.aspect_sd), told=True)
    return Behind(grown.x, grown.y, best.lag, whole)


def _laid(item: Sample, gone_px: FloatArray, found: _Found) -> Sample:
    """Move a sample's middle to the larger disc's centre and count its size in that one's half-axis."""
    per_unit = item.unit * item.scale
    off = moved(_lagged(item, gone_px, found.lag), found.x * per_unit, found.y * per_unit)
    return evolve(item, off=off, scale=item.scale * found.size)


def _lagged(item: Sample, gone_px: FloatArray, lag: float) -> Sample:
    x, y = (float(v) for v in lag * gone_px / item.step_px)
    return evolve(item, off=(item.off[0] - x, item.off[1] - y))


def _clearest(
    samples: list[Sample],
    gone_px: FloatArray,
    ring: Ellipse,
    lags: tuple[float, ...],
    across: FloatArray,
    down: FloatArray,
    smallest: float,
) -> _Found | None:
    """The ring beyond which the picture changes most clearly, nearly all round; None where none is clear."""
    shown = min(s.luma.shape[0] // 2 / (s.unit * s.scale) for s in samples)
    half = int(min(LARGEST + ASIDE, shown - 0.02) * UNIT)
    sizes = np.arange(smallest - TOP - RUN - GAP, min(LARGEST, half / UNIT), SIZE_STEP)
    outline = ring.points(DIRECTIONS)[0].astype(np.float32)
    places = np.array([(x, y) for x in across for y in down])
    best: _Found | None = None
    for lag in lags:
        change, known = _change([_lagged(s, g, lag) for s, g in zip(samples, gone_px, strict=True)], half)
        mean, quarter = _contrast(change, known, outline, sizes, places)
        clear = _tops(mean) & (quarter > LEAST_QUARTER) & (mean > CONTRAST) & (sizes >= smallest)
        if clear.any():
            i, k = np.unravel_index(int(np.argmax(np.where(clear, mean, 0.0))), mean.shape)
            if best is None or mean[i, k] > best.contrast:
                best = _Found(float(mean[i, k]), float(places[i, 0]), float(places[i, 1]), lag, float(sizes[k]))
    return best


def _change(samples: list[Sample], half: int) -> tuple[Map, Map]:
    """How much the picture changes from sample to sample, by the standard deviation, and 1 where that is known."""
    v, u = np.mgrid[-half : half + 1, -half : half + 1] / UNIT
    face = np.hypot(u, v) < 0.85
    count, total, squares = (np.zeros(face.shape, np.float32) for _ in range(3))
    for item in samples:
        patch, inside = again(item, UNIT, half)
        patch = (patch - np.median(patch[face])) * inside
        count += inside
        total += patch
        squares += patch * patch
    known = count >= max(3, len(samples) // 5)
    mean = total / np.maximum(count, 1)
    change = np.sqrt(np.maximum(squares / np.maximum(count, 1) - mean * mean, 0.0))
    # A sharp edge that trembles by a fraction of a pixel is no change.
    slope = cv2.magnitude(cv2.Scharr(mean, cv2.CV_32F, 1, 0), cv2.Scharr(mean, cv2.CV_32F, 0, 1)) / 32.0
    steep = face & (slope > np.quantile(slope[face], STEEP)) & (slope > 0)
    if steep.any():
        tremble = TREMBLE * float(np.median(change[steep] / slope[steep]))
        change = np.sqrt(np.maximum(change**2 - (tremble * slope) ** 2, 0.0))
    return np.asarray(change, np.float32), known.astype(np.float32)


def _contrast(
    change: Map, known: Map, outline: Map, sizes: FloatArray, places: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Change beyond less within over both: mean over the directions and what is least of it, (places, sizes).

    The least is the lower quartile, or the mean about one end of the long axis: the side of a thick plate, seen
    beyond its face, makes that no longer. Nought where half of the directions are not known.
    """
    rays = (sizes[:, None, None] * outline * UNIT).astype(np.float32).reshape(len(sizes), DIRECTIONS, 2)
    run, gap = round(RUN / SIZE_STEP), round(GAP / SIZE_STEP)
    k = np.arange(run + gap, len(sizes) - run - gap)
    mean, quarter = np.zeros((len(places), len(sizes))), np.zeros((len(places), len(sizes)))
    for i, place in enumerate(places):
        at = rays + np.float32(place * UNIT + change.shape[0] // 2)
        rows, there = (cv2.remap(one, at, None, cv2.INTER_LINEAR) for one in (change, known))
        total = np.zeros((len(sizes) + 1, DIRECTIONS), np.float32)
        np.cumsum(rows, axis=0, out=total[1:])
        within = total[k - gap] - total[k - gap - run]
        beyond = total[k + gap + run] - total[k + gap]
        contrast = (beyond - within) / (beyond + within + run * NOISE)
        seen = (there[k - gap - run] > 0.9) & (there[k + gap + run] > 0.9)
        share = seen.mean(axis=1)
        mean[i, k] = np.where(share > 0.5, (contrast * seen).mean(axis=1) / np.maximum(share, 0.5), 0.0)
        low = np.partition(np.where(seen, contrast, 1.0), DIRECTIONS // 4, axis=1)[:, DIRECTIONS // 4]
        for end in (ENDS > END, ENDS < -END):
            there_too = seen[:, end].mean(axis=1)
            mine = (contrast * seen)[:, end].mean(axis=1) / np.maximum(there_too, 0.5)
            low = np.where(there_too > 0.5, np.minimum(low, mine), low)
        quarter[i, k] = np.where(share > 0.5, low, 0.0)
    return mean, quarter


def _tops(mean: FloatArray) -> np.ndarray:
    """Where the contrast is at its highest within `TOP` of a size."""
    reach = 2 * round(TOP / SIZE_STEP) + 1
    return np.asarray(mean >= cv2.dilate(mean, np.ones((1, reach), np.uint8)))
