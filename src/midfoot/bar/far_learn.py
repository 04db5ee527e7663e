"""Learn the far disc from the kept frames: its averaged look, its centre by its own rings, how it moves.

The search finds the outline. Beyond the face of an oblique plate its side is seen: the outline may be of either.
The face's own rings (hub, web, rim) say where its centre is, once the frames lie over each other.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from attrs import evolve, frozen

from midfoot.bar.camera import Camera
from midfoot.bar.far_bar import Ends, Guess
from midfoot.bar.far_find import ODDEST_LENS, FarEnd, find, lens_of
from midfoot.bar.far_look import LEAST_FIT, LEAST_SHOWN, WINDOW, FarLook, near_radius, patch_of, window
from midfoot.bar.far_shots import FarShots, Layers, NearSeen, to_first
from midfoot.bar.patches import Map, Picture, likeness
from midfoot.records.bar import Sightings
from midfoot.records.base import FloatArray, Value

UNIT_MIN_PX, UNIT_MAX_PX = 16, 40
LEAST_FRAMES = 8
PROVED_SHOWN, PROVED_NEAR, PROVED_SHARE, PROVED_FIT = 0.3, 0.10, 0.7, 0.7
PROVED_SIZE = (0.88, 1.08)
"""Share of the frames that must show it; how near to a rigid bar's place it must be (far radii) and in what share
of them; median likeness there; the outline's size against the ratio of the motions."""
ASIDE, STEP = 0.20, 0.02
"""How far from the outline's centre the face's may lie, far radii, and by what steps it is looked for."""
RINGS = np.arange(0.22, 1.061, 0.02)
DIRECTIONS = 60
LEAST_RING, FAINT_RING, LEAST_TURN = 0.25, 0.08, 0.45
"""How clear a ring must be, and over what share of its way it must be free, to tell the centre."""
MOST_WORSE = 2.0
"""How much less sure (variance) than by a whole ring the centre may be."""
RING_SD, EDGE_SD = 0.03, 0.07
"""Error of the centre, near radii: by a ring of the face; by the outline alone, which may be the side's."""


@frozen(eq=False)
class Learnt:
    """The far disc's look and the error of its place that all frames share, near radii."""

    look: FarLook
    sd: float


@frozen(eq=False)
class Kept:
    """One kept frame: its reduced picture, the near plate in the frame's pixels, the way to the first frame's."""

    luma: Picture
    near_px: FloatArray
    move: FloatArray


def kept_frames(shots: FarShots, layers: Layers, sightings: Sightings | None) -> list[Kept]:
    """Give the kept frames with what is needed to look for the far disc in each."""
    return [
        Kept(shots.picture(float(t)), np.linalg.solve(move[:, :2], place - move[:, 2]), move)
        for t, place, move in zip(layers.t_s, layers.near_px, to_first(layers.t_s, sightings), strict=True)
    ]


def believed(
    shots: FarShots, layers: Layers, near: NearSeen, ends: Ends, focal_px: Value, aspect: Value,
    sightings: Sightings | None,
) -> Learnt | None:  # fmt: skip
    """Find the far disc, prove it, and learn it; None where it is not seen, or not beyond doubt.

    Parameters
    ----------
    shots, layers, near, ends : the kept frames, and the near end in them.
    focal_px : what is known of the lens.
    aspect : the near plate's minor over major axis.
    sightings : the camera's own movement.
    """
    found = find(layers, ends, focal_px, aspect)
    kept = kept_frames(shots, layers, sightings)
    good = [f for f in found if f.likely and proved(f, kept, near, ends, shots.factor, focal_px)]
    # two places that both move with the bar are not told apart, and the clearest one is not passed over
    if len(good) != 1 or good[0] is not found[0]:
        return None
    return learn(good[0], kept, near, ends, shots.factor)


def proved(found: FarEnd, kept: list[Kept], near: NearSeen, ends: Ends, factor: float, focal_px: Value) -> bool:
    """Whether one half of the frames predicts the other: looks alike there, and moves as one with the near plate.

    The look averaged from every second frame is laid on the frames between, which it has not seen, and the other
    way round. A thing that is not on the bar is not where a rigid bar would have it; a thing nearer than the far
    end (the lifter's back) moves more, and a lens that explains that is not a phone's or does not fit its size.
    """
    places = np.full((len(kept), 2), np.nan)
    fits: list[float] = []
    for half in (0, 1):
        look = _averaged(kept[half::2], near, ends, found.guess, None, factor)
        if look is None:
            return False
        for i in range(1 - half, len(kept), 2):
            place = look.lay_on(kept[i].luma, kept[i].near_px, kept[i].move, factor)
            if place is not None:
                places[i] = place.x_px, place.y_px
                fits.append(place.fit)
    if len(fits) < max(PROVED_SHOWN * len(kept), LEAST_FRAMES) or float(np.median(fits)) < PROVED_FIT:
        return False
    moved = _through(ends, found.guess, places, kept, most=0.2)
    size = found.guess.grow * found.guess.ratio / moved.ratio
    camera = ends.camera(moved)
    if camera is None or not PROVED_SIZE[0] <= size <= PROVED_SIZE[1]:
        return False
    if abs(lens_of(ends, moved, focal_px)) > ODDEST_LENS:
        return False
    rows = np.isfinite(places[:, 0])
    steady = np.array([k.move[:, :2] @ p + k.move[:, 2] for k, p in zip(kept, places, strict=True)])
    off = steady[rows] - camera.ellipse_centres(ends.far_m(camera), ends.radius_m)[rows]
    aside = np.linalg.norm(off, axis=1) / (moved.ratio * ends.radius_px)
    return float(np.mean(aside <= PROVED_NEAR)) >= PROVED_SHARE


def learn(found: FarEnd, kept: list[Kept], near: NearSeen, ends: Ends, factor: float) -> Learnt | None:
    """Learn the far disc; None when what was found fits too few of the frames."""
    guess = found.guess
    places: FloatArray | None = None
    look = None
    for _ in range(2):
        look = _averaged(kept, near, ends, guess, places, factor)
        if look is None:
            return None
        places = _laid(look, kept, factor)
        guess = _through(ends, guess, places, kept)
    look = _averaged(kept, near, ends, guess, places, factor)
    if look is None:
        return None
    aside, clear = _centre(look)
    sd = found.sd(RING_SD if clear else EDGE_SD)
    if clear:
        radius = np.array([look.expected(k.near_px, k.move)[1] for k in kept])
        places = _laid(look, kept, factor) + aside * radius[:, None]
        guess = _through(ends, guess, places, kept)
        look = _averaged(kept, near, ends, guess, places, factor)
    return None if look is None or look.fit < LEAST_FIT else Learnt(look, sd)


def _averaged(
    kept: list[Kept], near: NearSeen, ends: Ends, guess: Guess, places: FloatArray | None, factor: float
) -> FarLook | None:
    """Average the frames' edges around `places` (n, 2) px, NaN where not known; None is a rigid bar's."""
    camera = ends.camera(guess)
    if camera is None:
        return None
    radius = guess.ratio * near_radius(near)
    unit = float(np.clip(round(radius * factor), UNIT_MIN_PX, UNIT_MAX_PX))
    half = math.ceil((WINDOW + 0.02) * unit)
    size = 2 * half + 1
    blank = np.zeros((size, size), np.float32)
    look = FarLook(ends, camera, near, np.zeros((size, size, 2), np.float32), blank, blank, unit, radius, 0.0)
    total, length, count = np.zeros((size, size, 2)), np.zeros((size, size)), np.full((size, size), 1e-3)
    rows: list[tuple[Map, Map]] = []
    for i, item in enumerate(kept):
        at, far_radius = look.expected(item.near_px, item.move)
        if places is not None:
            at = places[i]
        if not np.isfinite(at).all():
            continue
        seen, shown = patch_of(item.luma, at, far_radius / unit, half, item.near_px, near, factor)
        rows.append((seen, shown))
        total += seen
        length += np.hypot(seen[..., 0], seen[..., 1])
        count += shown
    mean = np.asarray(total / count[..., None], np.float32)
    enough = np.minimum(count / max(0.15 * len(rows), 1.0), 1.0)
    agreement = enough * np.hypot(mean[..., 0], mean[..., 1]) / np.maximum(length / count, 1e-3)
    disc = camera.ellipse(np.array([0.0, ends.span_m, 0.0]), ends.radius_m)
    weight = np.asarray(window(half, unit, disc.aspect, disc.axis_deg) * agreement, np.float32)
    free = [(e, np.ascontiguousarray(weight * s)) for e, s in rows]
    fits = [float(likeness(e, mean, w)[0, 0]) for e, w in free if w.sum() > LEAST_SHOWN * weight.sum()]
    if len(fits) < LEAST_FRAMES:
        return None
    return evolve(
        look, edges=mean, weight=weight, shown=np.asarray(enough, np.float32), fit=float(np.median(fits))
    )


def _laid(look: FarLook, kept: list[Kept], factor: float) -> FloatArray:
    """Lay the look on the kept frames: places (n, 2) px, NaN where it does not fit."""
    out = np.full((len(kept), 2), np.nan)
    for i, item in enumerate(kept):
        place = look.lay_on(item.luma, item.near_px, item.move, factor)
        if place is not None and place.fit >= look.accept:
            out[i] = place.x_px, place.y_px
    return out


def _through(ends: Ends, guess: Guess, places: FloatArray, kept: list[Kept], most: float = 0.06) -> Guess:
    """Change a guess so that a rigid bar goes through the places, by the median and by the slope over height.

    `most` is how much the ratio of the motions may change.
    """
    start = guess.ratio
    rows = np.flatnonzero(np.isfinite(places).all(axis=1))
    if len(rows) < LEAST_FRAMES:
        return guess
    steady = np.array([kept[i].move[:, :2] @ places[i] + kept[i].move[:, 2] for i in rows])
    near = ends.near_px[rows]
    height = (near[:, 1] - ends.at_px[1]) / ends.radius_px
    for _ in range(2):
        camera = ends.camera(guess)
        if camera is None:
            return guess
        gap = (steady - camera.ellipse_centres(ends.far_m(camera, near), ends.radius_m)) / ends.radius_px
        slope = 0.0
        if np.ptp(height) >= 1.0:
            design = np.column_stack([height, np.ones_like(height)])
            slope = float(np.linalg.lstsq(design, gap[:, 1], rcond=None)[0][0])
        x, y = np.median(gap - slope * np.column_stack([0 * height, height]), axis=0)
        ratio = float(np.clip(guess.ratio + slope, start - most, start + most))
        guess = evolve(guess, x=guess.x + float(x), y=guess.y + float(y), ratio=ratio)
    return guess


def _shape(camera: Camera, ends: Ends) -> tuple[FloatArray, FloatArray]:
    """Directions' points (k, 2) on a far disc's outline of size 1 and their normals' angles (k,)."""
    disc = camera.ellipse(np.array([0.0, ends.span_m, 0.0]), ends.radius_m)
    turn = np.linspace(0.0, 2.0 * math.pi, DIRECTIONS, endpoint=False)
    c, s = math.cos(math.radians(disc.axis_deg)), math.sin(math.radians(disc.axis_deg))
    u, v = np.cos(turn), np.sin(turn) * disc.aspect
    nu, nv = np.cos(turn), np.sin(turn) / disc.aspect
    return np.column_stack([u * c - v * s, u * s + v * c]), np.arctan2(nu * s + nv * c, nu * c - nv * s)


def _centre(look: FarLook) -> tuple[FloatArray, bool]:
    """Where the face's own rings have their centre beside the look's, (2,) far radii; whether they tell it."""
    points, normal = _shape(look.camera, look.ends)
    steps = np.arange(-ASIDE, ASIDE + STEP / 2, STEP)
    aside = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 1, 1, 2)
    at = ((aside + RINGS[:, None, None] * points) * look.unit + look.half).astype(np.float32)
    flat = at.reshape(len(aside), -1, 2)
    value = cv2.remap(look.edges, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderValue=0)
    shown = cv2.remap(look.shown, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderValue=0)
    shape = (len(aside), len(RINGS), DIRECTIONS)
    across = value[..., 0].reshape(shape) * np.cos(2 * normal) + value[..., 1].reshape(shape) * np.sin(2 * normal)
    free = shown.reshape(shape)
    ring = across.sum(axis=2) / np.maximum(free.sum(axis=2), LEAST_TURN * DIRECTIONS)
    # a face's rings have one centre; what else is round there (the side's edge) is one ring
    place = int(np.argmax((np.maximum(ring - FAINT_RING, 0.0) ** 2).sum(axis=1)))
    size = int(np.argmax(ring[place]))
    row, column = divmod(place, len(steps))
    inside = 0 < row < len(steps) - 1 and 0 < column < len(steps) - 1
    clear = float(ring[place, size]) >= LEAST_RING and inside and _pinned(free[place, size], normal)
    return np.array([steps[column], steps[row]]), clear


def _pinned(free: FloatArray, normal: FloatArray) -> bool:
    """Whether what is free of a ring pins its centre: half a ring may as well be a larger one farther off."""
    design = np.column_stack([np.cos(normal), np.sin(normal), np.ones_like(normal)])
    whole = design.T @ design
    seen = (design * free[:, None]).T @ design
    if np.linalg.cond(seen) > 1e6:
        return False
    worse = np.diag(np.linalg.inv(seen))[:2] / np.diag(np.linalg.inv(whole))[:2]
    return bool(worse.max() <= MOST_WORSE)
