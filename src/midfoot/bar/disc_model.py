"""What the near plate looks like: a motion-compensated average over the clip, in the disc's own frame.

Single frames are hopeless for finding a rim; one average of some sixty frames laid over each other is not: the
plate stays, whatever is behind it and in front of it goes. Frames are laid over each other by their edges, a few
rounds from coarse to fine; frames that do not fit the average are left out.

Rule for the next author: `samples` hold small patches only, and as many as `MAX_SAMPLES`; nothing here grows with
the clip.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from midfoot.bar.patches import STRAIGHT, Map, Picture, Shape, cut, edges, likeness, peak
from midfoot.records.base import FloatArray

MAX_SAMPLES = 60
UNIT_MIN_PX, UNIT_MAX_PX = 24, 80
"""Patch pixels per coarse radius in stored samples: the frame's own, within these bounds."""
FINE_UNIT = 40
REACH = 3.0
"""Half-size of stored samples, coarse radii: a small plate may hang before a large one."""
ALL_COVERED = np.ones((1, 1), np.uint8)
COARSE_UNIT, MIDDLE_UNIT = 16, 24
ROUNDS = (
    (COARSE_UNIT, 0.45, False),
    (MIDDLE_UNIT, 0.20, True),
    (MIDDLE_UNIT, 0.10, True),
    (FINE_UNIT, 0.06, True),
)
"""Patch pixels per radius, reach of the search in radii, and whether sizes are looked at."""
FITS = 0.62
"""Share of the ninth decile of likeness below which a sample is not this plate or not whole."""
TURN_SHARES = (-1.2, -0.6, 0.0, 0.6, 1.2)
CLEAR_SHARE = 0.2
"""Share of the turn from which the nearer side counts as seen."""
SCALES = (0.94, 1.0, 1.064)


@frozen
class Sample:
    """One frame's patch around the coarse place.

    `covered` is 1 where the frame covers the patch; a single 1 when it does everywhere. `x_px`, `y_px` the place
    it was cut around, `step_px` frame pixels per patch pixel; `off` (2,) patch pixels from the patch's middle to
    the disc's, x and y; `scale` the disc's size and `shape` its outline against the average's.
    """

    t_s: float
    x_px: float
    y_px: float
    step_px: float
    unit: float
    luma: NDArray[np.uint8]
    covered: NDArray[np.uint8]
    off: tuple[float, float] = (0.0, 0.0)
    scale: float = 1.0
    shape: Shape = STRAIGHT
    fit: float = 0.0

    @property
    def place_px(self) -> tuple[float, float]:
        """Where the disc's middle is in the frame."""
        return self.x_px + self.off[0] * self.step_px, self.y_px + self.off[1] * self.step_px


def sample(luma: Picture, t_s: float, x_px: float, y_px: float, radius_px: float) -> Sample:
    """Cut a sample out of a frame around a coarse place."""
    unit = float(np.clip(round(radius_px), UNIT_MIN_PX, UNIT_MAX_PX))
    step = radius_px / unit
    patch, covered = cut(luma, x_px, y_px, step, round(REACH * unit))
    grey = np.clip(np.round(patch), 0, 255).astype(np.uint8)
    shown = ALL_COVERED if covered.min() > 0.5 else (covered > 0.5).astype(np.uint8)
    return Sample(t_s, x_px, y_px, step, unit, grey, shown)


def again(item: Sample, unit: float, half: int) -> tuple[Map, Map]:
    """Cut the sample anew around its present middle, `unit` patch pixels per radius of the average."""
    middle = item.luma.shape[0] // 2
    step = item.unit * item.scale / unit
    x, y = middle + item.off[0], middle + item.off[1]
    patch, inside = cut(item.luma, x, y, step, half, item.shape)
    if item.covered.size > 1:
        shown, _ = cut(item.covered * 255, x, y, step, half, item.shape)
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


@frozen
class Bend:
    """How a plate of fixed direction changes its outline with its place: perspective, one number for the clip.

    A plate turned away from the camera has one side nearer. Seen from `dy` px farther down its horizontal lines
    slope by `per_px` dy, and `dx` px to the side they are longer by `per_px` dx: to first order of a pinhole,
    `per_px` is the tangent of the turn over the focal length.
    """

    per_px: float = 0.0
    x_px: float = 0.0
    y_px: float = 0.0

    def shape_at(self, x_px: float, y_px: float) -> Shape:
        """Shape at a place in the picture."""
        return (
            float(np.clip(self.per_px * (x_px - self.x_px), -0.4, 0.4)),
            float(np.clip(self.per_px * (y_px - self.y_px), -0.4, 0.4)),
        )


@frozen(eq=False)
class Overlay:
    """Samples that lie over each other, their average, and how shape goes with place."""

    samples: list[Sample]
    average: Average
    bend: Bend


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


def lay_over(samples: list[Sample]) -> Overlay | None:
    """Find each sample's own place and size so that all lie over each other; None when too few fit."""
    if len(samples) < 3:
        return None
    small = [shrunk(s, 2 * COARSE_UNIT) for s in samples]
    order = _start_with_medoid(small)
    if order is None:
        return None
    items, current = order
    for unit, search, sizes in ROUNDS:
        if unit == FINE_UNIT:
            items = [_as_laid(s, i) for s, i in zip(samples, items, strict=True)]
        if current.unit != unit:
            current = average(_fitting(items), unit, 1.25)
        items = _smooth_scales([_placed(s, current, search, sizes) for s in items])
        good = _fitting(items)
        if len(good) < 3:
            return None
        current = average(good, unit, 1.25)
    return Overlay(_fitting(items), current, Bend())


def shrunk(item: Sample, unit: float) -> Sample:
    """Halve a sample's picture as often as it keeps `unit` pixels per radius."""
    while item.unit / 2 >= unit:
        # Halving keeps even pixels in place; the middle must stay one, so an odd half-size loses its border.
        edge = slice(1, -1) if item.luma.shape[0] // 2 % 2 else slice(None)
        all_of_it = item.covered.size == 1
        item = evolve(
            item,
            luma=np.asarray(cv2.pyrDown(item.luma[edge, edge]), np.uint8),
            covered=ALL_COVERED if all_of_it else item.covered[edge, edge][::2, ::2],
            unit=item.unit / 2,
            step_px=item.step_px * 2,
            off=(item.off[0] / 2, item.off[1] / 2),
        )
    return item


def _as_laid(full: Sample, small: Sample) -> Sample:
    """Carry place, size, shape and fit of a shrunk sample over to the full one."""
    ratio = full.unit / small.unit
    off = (small.off[0] * ratio, small.off[1] * ratio)
    return evolve(full, off=off, scale=small.scale, shape=small.shape, fit=small.fit)


def relay(
    items: list[Sample], turn: Bend, weigh: Callable[[int, float], Map], purify: Callable[[Average], Average]
) -> Overlay | None:
    """Lay samples over each other again, by what `weigh` (half, unit) says is the plate; None when too few fit.

    In the fine rounds they are laid on what `purify` leaves of the average.

    Samples must be centred on the plate already, and their sizes counted in its radius. `turn` is how shape
    goes with place by the plate's own aspect; which side is nearer, and how much of it, the samples say.
    """
    bend = _bend_seen(items, turn, weigh)
    items = [evolve(s, shape=bend.shape_at(*s.place_px)) for s in items]
    for unit, search in ((MIDDLE_UNIT, 0.12), (FINE_UNIT, 0.06), (FINE_UNIT, 0.05)):
        current = average(_fitting(items), unit, 1.25)
        weight = weigh(current.half, unit)
        onto = purify(current) if unit == FINE_UNIT else current
        items = _smooth_scales([_placed(s, onto, search, True, weight) for s in items])
        good = _fitting(items)
        if len(good) < 3:
            return None
    return Overlay(good, average(good, FINE_UNIT, 1.25), bend)


def _bend_seen(items: list[Sample], turn: Bend, weigh: Callable[[int, float], Map]) -> Bend:
    """Try shares of the turn either way; half of the answer is what fits best, half the turn itself.

    Rings slide along themselves, so the best fit shows the side surely and too little of the amount.
    """
    if turn.per_px == 0.0:
        return turn
    some = [shrunk(s, FINE_UNIT) for s in items[:: max(1, len(items) // 24)]]
    scores = []
    for share in TURN_SHARES:
        bend = evolve(turn, per_px=share * turn.per_px)
        bent = [evolve(s, shape=bend.shape_at(*s.place_px)) for s in some]
        for _ in range(2):
            onto = average(bent, FINE_UNIT, 1.25)
            bent = [_placed(s, onto, 0.08, False, weigh(onto.half, FINE_UNIT)) for s in bent]
        scores.append(float(np.mean([s.fit for s in bent])))
    at = int(np.clip(np.argmax(scores), 1, len(scores) - 2))
    a, b, c = scores[at - 1 : at + 2]
    step = TURN_SHARES[1] - TURN_SHARES[0]
    seen = TURN_SHARES[at] + step * float(np.clip(0.5 * (a - c) / min(a - 2 * b + c, -1e-9), -1.0, 1.0))
    if abs(seen) > CLEAR_SHARE:
        seen = 0.5 * (seen + float(np.sign(seen)))
    return evolve(turn, per_px=seen * turn.per_px)


def _start_with_medoid(samples: list[Sample]) -> tuple[list[Sample], Average] | None:
    """Take the sample most like the others as the first average, and place the others on it."""
    best: tuple[float, Average] | None = None
    equal = [evolve(s, fit=1.0) for s in samples]
    for at in np.linspace(0, len(equal) - 1, min(7, len(equal))).round().astype(int):
        reference = average([equal[at]], COARSE_UNIT, 1.25)
        some = [_placed(s, reference, 0.45, False) for s in equal[:: max(1, len(equal) // 20)]]
        score = float(np.median([s.fit for s in some]))
        if best is None or score > best[0]:
            best = (score, reference)
    if best is None:
        return None
    placed = [_placed(s, best[1], 0.45, False) for s in equal]
    good = _fitting(placed)
    return (placed, average(good, COARSE_UNIT, 1.25)) if len(good) >= 3 else None


@cache
def window(half: int, unit: float, inner: float = 1.02, outer: float = 1.25) -> Map:
    """Round weight: 1 to `inner` radii, falling to 0 at `outer`."""
    v, u = np.mgrid[-half : half + 1, -half : half + 1]
    r = np.hypot(u, v) / unit
    made = np.asarray(np.clip((outer - r) / (outer - inner), 0.0, 1.0), np.float32)
    made.setflags(write=False)
    return made


def _placed(item: Sample, onto: Average, search: float, sizes: bool, where: Map | None = None) -> Sample:
    extra = max(2, round(search * onto.unit))
    weight = (window(onto.half, onto.unit) if where is None else where) * (0.1 + onto.agreement)
    tries = [s * item.scale for s in SCALES] if sizes else [item.scale]
    found: list[tuple[float, Sample]] = []
    for scale in tries:
        patch, inside = again(evolve(item, scale=scale), onto.unit, onto.half + extra)
        score = likeness(edges(patch, inside), onto.edges, weight)
        row, column = np.unravel_index(int(np.argmax(score)), score.shape)
        v, u, top, _, _ = peak(score, int(row), int(column))
        step = item.unit * scale / onto.unit
        off = moved(item, (u - extra) * step, (v - extra) * step)
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


def moved(item: Sample, across: float, down: float) -> tuple[float, float]:
    """Where the middle goes when it moves by so much in the average's own frame, sample pixels."""
    stretch, slope = item.shape
    return item.off[0] + across * (1 + stretch), item.off[1] + down + slope * across


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
