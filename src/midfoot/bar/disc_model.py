"""What the near plate looks like: a motion-compensated average over the clip, in the disc's own frame.

Single frames are hopeless for finding a rim; one average of some sixty frames laid over each other is not: the
plate stays, whatever is behind it and in front of it goes. Frames are laid over each other by their edges, a few
rounds from coarse to fine; frames that do not fit the average are left out.

Rule for the next author: `samples` hold small patches only, and as many as `MAX_SAMPLES`; nothing here grows with
the clip.
"""

from __future__ import annotations

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from midfoot.bar.patches import Map, Picture, cut, edges, likeness, peak
from midfoot.records.base import FloatArray

MAX_SAMPLES = 64
UNIT_MIN_PX, UNIT_MAX_PX = 24, 100
"""Patch pixels per coarse radius in stored samples: the frame's own, within these bounds."""
FINE_UNIT = 40
REACH = 2.1
"""Half-size of stored samples, coarse radii."""
COARSE_UNIT = 16
FITS = 0.62
"""Share of the ninth decile of likeness below which a sample is not this plate or not whole."""
SCALES = (0.90, 0.95, 1.0, 1.05, 1.11)


@frozen
class Sample:
    """One frame's patch around the coarse place.

    `x_px`, `y_px` the place it was cut around, `step_px` frame pixels per patch pixel; `off` (2,) patch pixels
    from the patch's middle to the disc's, x and y; `scale` the disc's size against the average's.
    """

    t_s: float
    x_px: float
    y_px: float
    step_px: float
    unit: int
    luma: NDArray[np.uint8]
    covered: NDArray[np.uint8]
    off: tuple[float, float] = (0.0, 0.0)
    scale: float = 1.0
    fit: float = 0.0

    @property
    def place_px(self) -> tuple[float, float]:
        """Where the disc's middle is in the frame."""
        return self.x_px + self.off[0] * self.step_px, self.y_px + self.off[1] * self.step_px


def sample(luma: Picture, t_s: float, x_px: float, y_px: float, radius_px: float) -> Sample:
    """Cut a sample out of a frame around a coarse place."""
    unit = int(np.clip(round(radius_px), UNIT_MIN_PX, UNIT_MAX_PX))
    step = radius_px / unit
    patch, covered = cut(luma, x_px, y_px, step, round(REACH * unit))
    return Sample(
        t_s, x_px, y_px, step, unit, np.clip(np.round(patch), 0, 255).astype(np.uint8), (covered > 0.5).astype(np.uint8)
    )


def again(item: Sample, unit: float, half: int) -> tuple[Map, Map]:
    """Cut the sample anew around its present middle, `unit` patch pixels per radius of the average."""
    middle = item.luma.shape[0] // 2
    step = item.unit * item.scale / unit
    x, y = middle + item.off[0], middle + item.off[1]
    patch, inside = cut(item.luma, x, y, step, half)
    if item.covered.min() == 0:
        shown, _ = cut(item.covered * 255, x, y, step, half)
        inside = inside * (shown > 250)
    return patch, np.asarray(inside, np.float32)


@frozen
class Average:
    """Samples laid over each other: `edges` (s, s, 2) mean edge strength by double angle, `unit` px per radius."""

    edges: Map
    agreement: Map
    unit: float

    @property
    def half(self) -> int:
        """Half-size in patch pixels."""
        return int(self.edges.shape[0]) // 2


def average(samples: list[Sample], unit: float, reach: float) -> Average:
    """Average the edges of samples at their present places; `reach` in radii."""
    half = round(reach * unit)
    size = 2 * half + 1
    total = np.zeros((size, size, 2))
    length = np.zeros((size, size))
    count = np.full((size, size), 1e-3)
    for item in samples:
        patch, inside = again(item, unit, half)
        e = edges(patch, inside)
        total += e * item.fit
        length += np.hypot(e[..., 0], e[..., 1]) * item.fit
        count += inside * item.fit
    mean = total / count[..., None]
    strength = np.hypot(mean[..., 0], mean[..., 1])
    agreement = strength / np.maximum(length / count, 1e-3)
    return Average(mean.astype(np.float32), agreement.astype(np.float32), unit)


def lay_over(samples: list[Sample]) -> tuple[list[Sample], Average | None]:
    """Find each sample's own place and size so that all lie over each other.

    Returns
    -------
    The samples that fit, with their places, and their average; (samples, None) when too few fit.
    """
    if len(samples) < 3:
        return samples, None
    order = _start_with_medoid(samples)
    if order is None:
        return samples, None
    items, reference = order
    current = reference
    for unit, reach, search, sizes in (
        (COARSE_UNIT, 1.25, 0.45, False),
        (COARSE_UNIT, 1.25, 0.30, True),
        (24, 1.25, 0.15, True),
        (FINE_UNIT, 1.25, 0.06, True),
    ):
        if current.unit != unit:
            current = average(_fitting(items), unit, reach)
        items = [_placed(s, current, search, sizes) for s in items]
        items = _smooth_scales(items)
        good = _fitting(items)
        if len(good) < 3:
            return samples, None
        current = average(good, unit, reach)
    return _fitting(items), current


def _start_with_medoid(samples: list[Sample]) -> tuple[list[Sample], Average] | None:
    """Take the sample most like the others as the first average, and place the others on it."""
    best: tuple[float, list[Sample], Average] | None = None
    equal = [evolve(s, fit=1.0) for s in samples]
    for at in np.linspace(0, len(equal) - 1, min(7, len(equal))).round().astype(int):
        reference = average([equal[at]], COARSE_UNIT, 1.25)
        placed = [_placed(s, reference, 0.45, False) for s in equal]
        score = float(np.median([s.fit for s in placed]))
        if best is None or score > best[0]:
            good = _fitting(placed)
            if len(good) >= 3:
                best = (score, placed, average(good, COARSE_UNIT, 1.25))
    return None if best is None else (best[1], best[2])


def window(half: int, unit: float, inner: float = 1.02, outer: float = 1.25) -> Map:
    """Round weight: 1 to `inner` radii, falling to 0 at `outer`."""
    v, u = np.mgrid[-half : half + 1, -half : half + 1]
    r = np.hypot(u, v) / unit
    return np.asarray(np.clip((outer - r) / (outer - inner), 0.0, 1.0), np.float32)


def _placed(item: Sample, onto: Average, search: float, sizes: bool) -> Sample:
    extra = max(2, round(search * onto.unit))
    weight = window(onto.half, onto.unit) * (0.1 + onto.agreement)
    tries = [s * item.scale for s in SCALES] if sizes else [item.scale]
    found: list[tuple[float, Sample]] = []
    for scale in tries:
        patch, inside = again(evolve(item, scale=scale), onto.unit, onto.half + extra)
        score = likeness(edges(patch, inside), onto.edges, weight)
        row, column = np.unravel_index(int(np.argmax(score)), score.shape)
        v, u, top, _, _ = peak(score, int(row), int(column))
        step = item.unit * scale / onto.unit
        off = (item.off[0] + (u - extra) * step, item.off[1] + (v - extra) * step)
        found.append((top, evolve(item, off=off, scale=scale, fit=max(0.0, top))))
    tops = np.array([f[0] for f in found])
    best = int(np.argmax(tops))
    chosen = found[best][1]
    if 0 < best < len(found) - 1:
        a, b, c = tops[best - 1 : best + 2]
        shift = 0.5 * (a - c) / min(a - 2 * b + c, -1e-6)
        ratio = SCALES[best] * (SCALES[best + 1] / SCALES[best]) ** float(np.clip(shift, -0.5, 0.5))
        chosen = evolve(chosen, scale=item.scale * ratio)
    return chosen


def _smooth_scales(items: list[Sample]) -> list[Sample]:
    """The size changes slowly (the bar comes nearer or goes): a running median over time."""
    scales = np.array([s.scale for s in items])
    fits = np.array([s.fit for s in items])
    good = fits >= FITS * np.quantile(fits, 0.9)
    if not good.any():
        return items
    times = np.array([s.t_s for s in items])
    out = []
    for item in items:
        near = np.argsort(np.abs(times - item.t_s) + np.where(good, 0.0, 1e6))[:9]
        out.append(evolve(item, scale=float(np.clip(np.median(scales[near]), 0.6, 1.6))))
    return out


def _fitting(items: list[Sample]) -> list[Sample]:
    fits = np.array([s.fit for s in items])
    return [s for s in items if s.fit >= FITS * np.quantile(fits, 0.9) and s.fit > 0.12]


def places_of(samples: list[Sample]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Times (m,) s, places (m, 2) px and radius scale (m,) of samples, in order of time."""
    rows = sorted(samples, key=lambda s: s.t_s)
    return (
        np.array([s.t_s for s in rows]),
        np.array([s.place_px for s in rows]).reshape(-1, 2),
        np.array([s.scale * s.step_px * s.unit for s in rows]),
    )
