"""Find the far end of the bar: the place beside the near plate where a disc of its size moves rigidly with it.

The chosen frames are laid over each other by the near plate's motion, shrunk as a thing at the far end's distance
would move. What belongs to the far end then lies still and all else is smeared out, discs on storage too. The
place is looked for among all outlines of the right size, for a few lenses, and then fitted with the whole pinhole.
The quarters of the frames, taken by the bar's height, must each find it at about the same place. What is left is
proved by `far_learn`.

Rule for the next author: a wrong far end is worse than none. It bends the camera, and with it every length.
"""

from __future__ import annotations

import itertools
import math

import cv2
import numpy as np
from attrs import evolve, field, frozen
from numpy.typing import NDArray

from midfoot.bar.far_bar import OUTLINE, Ends, Guess
from midfoot.bar.far_shots import EDGE_UNIT, Layers
from midfoot.bar.patches import peak
from midfoot.records.base import FloatArray, Value

NDFloat = NDArray[np.float32]
NDBool = NDArray[np.bool_]

LENSES = (-1.6, -0.8, 0.0, 0.8, 1.6)
"""Lens guesses, sds of the focal length."""
ASPECTS = (1.0, 0.93, 0.84, 0.72, 0.58, 0.44)
LEAST_RATIO, MOST_RATIO = 0.45, 0.88
LEAST_GROW, MOST_GROW = 0.92, 1.05
"""Size of the outline against the near plate's by the ratio of the motions: a lip is smaller than its rim."""
STAR = tuple((float(a), float(b)) for a in (-1, 0, 1) for b in (-1, 0, 1) if a or b)
QUARTERS = 4
LEAST_SHOWN = 0.25
QUARTER_STEP = 0.04
LEAST_SCORE, RIVAL_SHARE = 0.25, 0.70
AGREEMENT = 0.20
"""How far the quarters' places may scatter, near radii by the score: a faint outline must lie the more still."""
SHORT_WAY, SHORT_SCORE = 2.0, 0.29
"""A bar that moves by fewer near radii smears the rest out less: the outline must then be clearer."""
LEAST_OUTLINE = 0.45
"""Share of the outline that the near plate must leave free in some frames."""
ODD_LENS, ODDEST_LENS = 0.04, 2.2
"""How much of its score a guess loses by the square of its lens' oddness, and the oddest that is believed, sds."""
STARTS = 7
APART, APART_RATIO = 0.30, 0.07
"""Places nearer to each other than this (near radii) are one place; for another lens it is tried once more."""


@frozen(eq=False)
class FarEnd:
    """The best place for the far end in the chosen frames, and what speaks for it.

    Attributes
    ----------
    guess : where it is.
    score : mean edge across the outline, -1..1.
    shown : share of the outline that is free of the near plate in some frames.
    lens : how far the lens that it asks for is from a phone's usual one, sds.
    quarters : (k, 2), where the quarters of the frames have it beside `guess`, near radii.
    """

    guess: Guess
    score: float
    shown: float
    lens: float
    quarters: FloatArray = field(repr=False)

    @property
    def spread(self) -> float:
        """How far the quarters' places lie from each other, near radii (root mean square); NaN below two."""
        if len(self.quarters) < 2:
            return math.nan
        return float(np.sqrt(np.mean(np.sum((self.quarters - self.quarters.mean(axis=0)) ** 2, axis=1))))

    @property
    def likely(self) -> bool:
        """Whether it is worth being proved."""
        return (
            self.shown >= LEAST_OUTLINE
            and abs(self.lens) <= ODDEST_LENS
            and len(self.quarters) >= 2
            and self.spread <= AGREEMENT * self.score
        )

    def sd(self, edge_sd: float) -> float:
        """Error of the place that all frames share, near radii: of the edge that was seen, and the scatter."""
        return math.hypot(edge_sd, self.spread / math.sqrt(max(len(self.quarters), 1)))


def find(layers: Layers, ends: Ends, focal_px: Value, aspect: Value) -> tuple[FarEnd, ...]:
    """Find places that look like the far end, best first.

    Those with too low a score, or less than `RIVAL_SHARE` of the best one's, are left out.

    Parameters
    ----------
    layers, ends : the chosen frames and the near end in them.
    focal_px : what is known of the lens.
    aspect : the near plate's minor over major axis.
    """
    starts = candidates(layers, ends, focal_px, aspect)
    tried = [_fitted(layers, ends, focal_px, guess) for guess, _ in starts[:STARTS]]
    fitted = sorted((f for f in tried if f is not None and f.score > 0.0), key=lambda f: -f.score)
    kept: list[_Fit] = []
    for one in fitted:
        apart = all(math.hypot(one.guess.x - f.guess.x, one.guess.y - f.guess.y) > APART for f in kept)
        if apart and one.score >= RIVAL_SHARE * fitted[0].score:
            kept.append(one)
    short = float(np.ptp(layers.near_px[:, 1])) < SHORT_WAY * layers.radius_px
    return tuple(
        FarEnd(f.guess, f.score, f.shown, f.lens, _quarters(layers, ends, f.guess))
        for f in kept
        if f.score >= (SHORT_SCORE if short else LEAST_SCORE)
    )


def candidates(layers: Layers, ends: Ends, focal_px: Value, aspect: Value) -> list[tuple[Guess, float]]:
    """Give places that look like the far disc's outline in the frames laid over each other, best first."""
    share = focal_px.sd / focal_px.value
    low = ends.ratio_of(focal_px.value * math.exp(LENSES[0] * share))
    high = ends.ratio_of(focal_px.value * math.exp(LENSES[-1] * share) / math.cos(math.radians(50.0)))
    found: list[tuple[Guess, float]] = []
    for ratio in np.arange(max(low, LEAST_RATIO), min(high, MOST_RATIO) + 0.02, 0.04):
        found += _peaks(layers, ends, float(ratio), focal_px, aspect)
    found.sort(key=lambda item: -item[1])
    kept: list[tuple[Guess, float]] = []
    for guess, score in found:
        if all(
            math.hypot(guess.x - g.x, guess.y - g.y) > APART or abs(guess.ratio - g.ratio) > APART_RATIO
            for g, _ in kept
        ):
            kept.append((guess, score))
    return kept


def _overlay(layers: Layers, ratio: float) -> tuple[NDFloat, NDFloat]:
    """Lay frames over each other along what moves `ratio` as fast as the near plate: mean edges, their share."""
    n, height, width, _ = layers.edges.shape
    total = np.zeros((height, width, 2), np.int16)
    count = np.zeros((height, width), np.uint8)
    steps = np.round((layers.near_px - np.median(layers.near_px, axis=0)) * ratio * layers.factor).astype(int)
    for i, (dx, dy) in enumerate(steps):
        to_y, from_y = _overlap(int(dy), height)
        to_x, from_x = _overlap(int(dx), width)
        total[to_y, to_x] += layers.edges[i, from_y, from_x]
        count[to_y, to_x] += layers.shown[i, from_y, from_x]
    mean = total.astype(np.float32) / np.maximum(count, 1)[..., None] / EDGE_UNIT
    share = np.minimum(count / (0.2 * n), 1.0).astype(np.float32)
    return mean * share[..., None], share


def _overlap(step: int, size: int) -> tuple[slice, slice]:
    return slice(max(0, -step), min(size, size - step)), slice(max(0, step), min(size, size + step))


def _peaks(layers: Layers, ends: Ends, ratio: float, focal_px: Value, near: Value) -> list[tuple[Guess, float]]:
    mean, share = _overlay(layers, ratio)
    radius = ends.radius_px * layers.factor * ratio
    at = layers.inside(ends.at_px)
    height, width = share.shape
    best = np.full((height, width), -1.0, np.float32)
    columns = (np.arange(width) - at[0]) / (ends.radius_px * layers.factor)
    some = np.linspace(columns[0], columns[-1], 24)
    aspects = np.interp(columns, some, [_aspect(ends, float(x), ratio) for x in some])
    for k, aspect in enumerate(ASPECTS):
        mine = np.argmin(np.abs(aspects[:, None] - np.array(ASPECTS)[None]), axis=1) == k
        for first, last in _runs(mine & np.isfinite(aspects)):
            ring, profile = _ring(radius, aspect)
            half_x, half_y = ring.shape[1] // 2, ring.shape[0] // 2
            first, last = max(first, half_x), min(last, width - half_x)
            if last - first < 2 or height < 2 * half_y + 2:
                continue
            part = slice(first - half_x, last + half_x)
            up = cv2.matchTemplate(mean[:, part], ring, cv2.TM_CCORR)
            shown = cv2.matchTemplate(share[:, part], profile, cv2.TM_CCORR)
            score = up / np.maximum(shown, LEAST_SHOWN * float(profile.sum()))
            best[half_y : half_y + score.shape[0], first : first + score.shape[1]] = score
    out: list[tuple[Guess, float]] = []
    reach = max(2, round(0.5 * APART * ends.radius_px * layers.factor))
    tops = (best >= cv2.dilate(best, np.ones((2 * reach + 1, 2 * reach + 1)))) & (best > 0.08)
    for row, column in np.argwhere(tops):
        x, y = (np.array([column, row]) - at) / (ends.radius_px * layers.factor)
        guess = Guess(float(x), float(y), ratio)
        if _likely(ends, guess, focal_px, near):
            out.append((guess, float(best[row, column])))
    return sorted(out, key=lambda item: -item[1])[:8]


def _likely(ends: Ends, guess: Guess, focal_px: Value, aspect: Value) -> bool:
    camera = ends.camera(guess)
    if camera is None:
        return False
    near = camera.ellipse(np.zeros(3), ends.radius_m).aspect
    # part of the plate's side may be taken for its face: an oblique one looks rounder
    sd = math.hypot(aspect.sd, 0.01 + 0.04 * math.sqrt(max(1.0 - near**2, 0.0)))
    return (
        abs(lens_of(ends, guess, focal_px)) <= 2.5
        and abs(near - aspect.value) <= 3.0 * sd
        and -math.radians(25.0) <= camera.pitch_rad <= math.radians(35.0)
    )


def _aspect(ends: Ends, x: float, ratio: float) -> float:
    """How round the far disc looks `x` near radii beside the near one; NaN where it cannot be."""
    camera = ends.camera(Guess(x, 0.0, ratio))
    if camera is None:
        return math.nan
    return camera.ellipse(np.array([0.0, ends.span_m, 0.0]), ends.radius_m).aspect


def _runs(flags: NDBool) -> list[tuple[int, int]]:
    ends = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]])))
    return [(int(a), int(b)) for a, b in zip(ends[::2], ends[1::2], strict=True)]


def _ring(radius: float, aspect: float) -> tuple[NDFloat, NDFloat]:
    """An upright ellipse's outline by double angle, and where it is."""
    half_x, half_y = math.ceil(radius * aspect) + 3, math.ceil(radius) + 3
    v, u = np.mgrid[-half_y : half_y + 1, -half_x : half_x + 1].astype(float)
    r = np.hypot(u / aspect, v)
    gx, gy = u / aspect**2, v
    off = (r - radius) * r / np.maximum(np.hypot(gx, gy), 1e-6)
    profile = np.exp(-0.5 * (off / max(1.0, 0.035 * radius)) ** 2)
    normal = np.arctan2(gy, gx)
    ring = np.stack([np.cos(2 * normal), np.sin(2 * normal)], axis=-1) * profile[..., None]
    return ring.astype(np.float32), profile.astype(np.float32)


def across(layers: Layers, ends: Ends, guess: Guess) -> tuple[FloatArray, NDBool] | None:
    """Edge across the far disc's outline at its points in every frame (n, OUTLINE), and where it can be seen."""
    camera = ends.camera(guess)
    if camera is None:
        return None
    points, normal, far_half = ends.outlines(camera, guess.grow)
    if not np.isfinite(points).all():
        return None
    face, seen = _along(layers, points[0], normal[0])
    back, _ = _along(layers, points[1][:, far_half], normal[1][:, far_half])
    # beside an oblique face the disc's side is seen: there its back edge is the outline as much as the face's rim
    face[:, far_half] = 0.5 * (face[:, far_half] + back)
    return np.where(seen, face, 0.0), seen


def _along(layers: Layers, points: FloatArray, normal: FloatArray) -> tuple[FloatArray, NDBool]:
    """Edge across an outline at points (n, k, 2) px with normals (n, k), and where it can be seen."""
    at = layers.inside(points)
    n, height, width = layers.shown.shape
    left, top = np.floor(at[..., 0]).astype(int), np.floor(at[..., 1]).astype(int)
    inside = (left >= 0) & (top >= 0) & (left < width - 1) & (top < height - 1)
    left, top = np.clip(left, 0, width - 2), np.clip(top, 0, height - 2)
    i = np.arange(n)[:, None]
    # all frames lie one below the other: one look-up for all of them
    u, v = np.clip(at[..., 0], 0, width - 1), np.clip(at[..., 1], 0, height - 1) + height * i
    value = cv2.remap(layers.sheet, u.astype(np.float32), v.astype(np.float32), cv2.INTER_LINEAR)
    seen = inside & layers.shown[i, top, left] & layers.shown[i, top + 1, left + 1]
    strength = value[..., 0] * np.cos(2 * normal) + value[..., 1] * np.sin(2 * normal)
    return np.where(seen, strength, 0.0), seen


def score_of(strength: FloatArray, seen: NDBool) -> tuple[float, float]:
    """Mean over the outline of what the frames say of each of its points, and the share of it that is shown."""
    count = seen.sum(axis=0)
    weight = np.minimum(count / max(0.1 * len(seen), 1.0), 1.0)
    if weight.sum() < LEAST_SHOWN * OUTLINE:
        return 0.0, float(weight.mean())
    mean = strength.sum(axis=0) / np.maximum(count, 1)
    return float((mean * weight).sum() / weight.sum()), float(weight.mean())


@frozen
class _Fit:
    """A fitted guess, its score (less where the lens is odd), share of the outline shown, the lens (sds off)."""

    guess: Guess
    score: float
    shown: float
    lens: float


def _fitted(layers: Layers, ends: Ends, focal_px: Value, start: Guess) -> _Fit | None:
    """Climb from a start, first by half the frames: place, then size and the ratio of the motions, ever finer."""
    best: _Fit | None = None
    thin = evolve(layers, t_s=layers.t_s[::2], near_px=layers.near_px[::2], edges=layers.edges[::2],
                  shown=layers.shown[::2]), evolve(ends, near_px=ends.near_px[::2])  # fmt: skip

    def tried(guess: Guess, fine: bool) -> None:
        nonlocal best
        got = across(*((layers, ends) if fine else thin), guess) if LEAST_GROW <= guess.grow <= MOST_GROW else None
        if got is None:
            return
        score, shown = score_of(*got)
        lens = lens_of(ends, guess, focal_px)
        score *= max(1.0 - ODD_LENS * lens**2, 0.0)
        if best is None or score > best.score:
            best = _Fit(guess, score, shown, lens)

    for fine, steps in ((False, (0.06, 0.04)), (True, (0.025, 0.012))):
        best = None
        tried(start, fine)
        for step in steps:
            for dx, dy in STAR:
                tried(evolve(start, x=start.x + dx * step, y=start.y + dy * step), fine)
            start = start if best is None else best.guess
            for dr, dg in STAR:
                near = evolve(start, ratio=start.ratio + 0.4 * dr * step, grow=start.grow + 0.5 * dg * step)
                tried(near, fine)
            start = start if best is None else best.guess
        if best is None or best.score < 0.5 * LEAST_SCORE:
            return best
    return best


def lens_of(ends: Ends, guess: Guess, focal_px: Value) -> float:
    """Give how far the lens that a guess asks for is from the usual one, sds; infinite when there is none."""
    camera = ends.camera(guess)
    if camera is None:
        return math.inf
    return math.log(camera.focal_px / focal_px.value) / (focal_px.sd / focal_px.value)


def _quarters(layers: Layers, ends: Ends, guess: Guess) -> FloatArray:
    """Where each quarter of the frames by the bar's height has the disc beside `guess`: (k, 2) near radii.

    Quarters in which too little of it is free are left out.
    """
    order = np.argsort(layers.near_px[:, 1], kind="stable")
    parts = np.array_split(order, QUARTERS)
    steps = np.arange(-4, 5) * QUARTER_STEP
    maps = np.zeros((QUARTERS, len(steps), len(steps)))
    shown = np.zeros(QUARTERS)
    for (a, dy), (b, dx) in itertools.product(enumerate(steps), enumerate(steps)):
        got = across(layers, ends, evolve(guess, x=guess.x + float(dx), y=guess.y + float(dy)))
        if got is None:
            continue
        for k, rows in enumerate(parts):
            maps[k, a, b], share = score_of(got[0][rows], got[1][rows])
            shown[k] = max(shown[k], share)
    places = []
    for one, share in zip(maps, shown, strict=True):
        if share < LEAST_SHOWN:
            continue
        row, column = np.unravel_index(int(np.argmax(one)), one.shape)
        v, u, _, _, _ = peak(one.astype(np.float32), int(row), int(column))
        places.append(((u - 4) * QUARTER_STEP, (v - 4) * QUARTER_STEP))
    return np.array(places).reshape(-1, 2)
