"""What the follower needs to know of one plate: templates at two sizes, its rim, its size over time.

Rule for the next author: everything here is in units of the chosen ring's major half-axis and centred on that
ring, so that a template's middle is the point the track reports.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from attrs import evolve, field, frozen

from midfoot.bar.behind import larger_behind
from midfoot.bar.disc_model import UNIT_MAX_PX, Average, Bend, Sample, average, lay_over, moved, places_of, relay
from midfoot.bar.patches import Map
from midfoot.bar.rim import Ellipse, Ring, beyond, concentric, rings
from midfoot.bar.silhouette import Rim, outermost_rim
from midfoot.bar.thick import of_stack
from midfoot.records.base import FloatArray

SEARCH_UNIT, FINE_UNIT_MAX = 18, 48
WINDOW = 1.10
"""Templates reach this far beyond the rim, so that the rim itself is in."""
FOCAL_OF_LONG_SIDE = 1.0
HUB, SLEEVE = 0.33, 0.15
"""What is left out of the face: the hub, and half the width of the sleeve's way along the minor axis, radii."""
WIDE_UNIT = 30.0
LARGEST_RING = 1.2
SHAPE_OFF = 0.02
"""A followed ring whose aspect is off the face's by more is laid over again."""
MIN_SCORE = 0.30
"""Mean edge across the outline below which there is no ring to speak of."""


@frozen(eq=False)
class Template:
    """Edges of the averaged disc, `unit` patch pixels per major half-axis, and the weight of each pixel.

    `strength` is how much of an edge counts at every pixel.
    """

    edges: Map
    weight: Map
    unit: float
    strength: Map = field(init=False)

    @strength.default
    def _strength(self) -> Map:
        return np.asarray(np.sum(self.edges * self.edges, axis=2) * self.weight, np.float32)

    @property
    def half(self) -> int:
        """Half-size in patch pixels."""
        return int(self.edges.shape[0]) // 2


@frozen(eq=False)
class PlateLook:
    """One plate learnt from samples.

    `ring` is the followed ring in units of its own major half-axis (centre 0, a 1), in the shape of the plate's
    face, and `aside` where the rim's centre lies from its. `t_s` (m,), `xy_px` (m, 2) and `radius_px` (m,) are the
    rim's centre and the ring's major half-axis at the samples. `fit` is the likeness that good samples reach.
    Where the rim is a larger disc's, behind the followed one, it moves by the share `lag` less about `middle_px`,
    the camera's own movement taken out.
    """

    search: Template
    fine: Template
    ring: Ring
    rim: Rim
    aside: tuple[float, float]
    t_s: FloatArray
    xy_px: FloatArray
    radius_px: FloatArray
    fit: float
    bend: Bend
    samples: tuple[Sample, ...]
    lag: float = 0.0
    middle_px: tuple[float, float] = (0.0, 0.0)

    def rim_at(self, place_px: FloatArray, steady_px: FloatArray, radius_px: FloatArray) -> FloatArray:
        """Where the rim's centre is (n, 2) px when the followed ring's is at `place_px`.

        `steady_px` (n, 2) is that with the camera's own movement taken out, `radius_px` (n,) its half-axis.
        """
        gone = steady_px - np.array(self.middle_px)
        return np.asarray(place_px + radius_px[:, None] * np.array(self.aside) - self.lag * gone)

    def radius_at(self, t_s: float) -> float:
        """Major half-axis at a moment, px."""
        return float(np.interp(t_s, self.t_s, self.radius_px))


Steadied = Callable[[FloatArray, FloatArray], FloatArray]
"""Takes the camera's own movement out of places (n, 2) px at times (n,) s."""


def learn_look(samples: list[Sample], long_side_px: float, steadied: Steadied) -> PlateLook | str:
    """Learn a plate from samples cut along a coarse path; a sentence when there is none to be seen."""
    overlay = lay_over(samples)
    if overlay is None:
        return "The frames along the coarse path do not show one and the same thing."
    first = average(overlay.samples, WIDE_UNIT, _reach(overlay.samples, 1.0, 2.4))
    chosen = concentric(first.edges, rings(first.edges, first.unit, largest=2.0), first.unit)
    if chosen is None or chosen.score < MIN_SCORE:
        return "What moves along the coarse path has no round outline."
    # Again, by the plate alone: the sleeve stands nearer to the lens and walks against the plate.
    items, ring, bend = overlay.samples, chosen, overlay.bend
    for turn_no in range(5):
        items = [_recentred(s, ring.ellipse) for s in items]
        shape = evolve(ring.ellipse, x=0.0, y=0.0, a=1.0)
        turn = turn_of(items, shape.aspect, long_side_px)
        again = relay(items, turn, partial(face_weight, e=shape), partial(rings_only, e=shape))
        if again is None:
            return "What moves along the coarse path keeps no shape."
        sharp = average(again.samples, float(min(again.samples[0].unit, UNIT_MAX_PX)), 1.5)
        found = rings(again.average.edges, again.average.unit, largest=LARGEST_RING, near=0.2)
        settled = concentric(sharp.edges, found, sharp.unit)
        if settled is None:
            return "What moves along the coarse path has no round outline."
        items, ring, bend = again.samples, settled, again.bend
        kept = abs(ring.ellipse.a - 1.0) < 0.04 and abs(ring.ellipse.aspect - shape.aspect) < 0.04
        if kept or turn_no >= 2:
            reach = _reach(items, ring.ellipse.a, 4.0)
            wide = average([_recentred(s, ring.ellipse) for s in items], WIDE_UNIT, reach)
            larger = beyond(wide.edges, Ring(evolve(ring.ellipse, x=0.0, y=0.0, a=1.0), ring.score), WIDE_UNIT)
            if larger == 1.0:
                break
            ring = Ring(ring.ellipse.grown(larger), ring.score)
    items = [_recentred(s, ring.ellipse) for s in items]
    shape = evolve(ring.ellipse, x=0.0, y=0.0, a=1.0)
    rim = outermost_rim(tuple(items), shape)
    if abs(rim.face.aspect - shape.aspect) > SHAPE_OFF:
        # The followed ring lay across two rings of the face: lie over each other again by the face's own shape.
        items = [_recentred(s, rim.face) for s in items]
        shape = evolve(rim.face, x=0.0, y=0.0, a=1.0)
        turn = turn_of(items, shape.aspect, long_side_px)
        again = relay(items, turn, partial(face_weight, e=shape), partial(rings_only, e=shape))
        if again is not None:
            items, bend = again.samples, again.bend
            rim = outermost_rim(tuple(items), shape)
    return _look([_recentred(s, evolve(rim.face, a=1.0)) for s in items], ring.score, bend, rim, steadied)


def _reach(items: list[Sample], radius: float, most: float) -> float:
    """How far the samples show around their centre, in units of `radius`."""
    shown = min(s.luma.shape[0] // 2 / (s.unit * s.scale) for s in items)
    return float(np.clip(shown / radius, 1.3, most))


def turn_of(items: list[Sample], aspect: float, long_side_px: float) -> Bend:
    """How shape goes with place, from the plate's own aspect: the tangent of the turn over the focal length.

    A phone's focal length is close to the picture's long side. Which side is nearer is not told here.
    """
    places = np.array([s.place_px for s in items])
    x, y = (float(v) for v in np.median(places, axis=0))
    tangent = float(np.sqrt(max(0.0, 1.0 / max(aspect, 0.3) ** 2 - 1.0)))
    per_px = tangent / (FOCAL_OF_LONG_SIDE * long_side_px)
    if per_px * float(np.abs(places - (x, y)).max()) < 0.02:
        return Bend(0.0, x, y)
    return Bend(per_px, x, y)


def face_weight(half: int, unit: float, e: Ellipse) -> Map:
    """Weight of a patch's pixels: the face with its rim, without the hub and the way of the sleeve across it."""
    across, along = _in_face(half, unit, e)
    r = np.hypot(across, along)
    inside = np.clip((WINDOW - r) / 0.05, 0.0, 1.0) * np.clip((r - HUB) / 0.05, 0.0, 1.0)
    return np.asarray(inside * np.clip((np.abs(along) - SLEEVE) / 0.05, 0.05, 1.0), np.float32)


def rings_only(shown: Average, e: Ellipse) -> Average:
    """Keep of an average what runs around the centre, the same in every direction.

    The plate's side, seen beyond the face of an oblique plate, and whatever moves along with it are edges as well;
    they change with the place, and a template that holds them walks against the rim. Where a ring is not seen in
    the average (covered, no contrast) its agreement is nought.
    """
    half, unit = shown.half, shown.unit
    across, along = _in_face(half, unit, e)
    r = np.hypot(across, along)
    lean = np.radians(e.lean_deg)
    out = across / max(e.aspect, 0.2)
    normal = np.arctan2(out * np.sin(lean) + along * np.cos(lean), out * np.cos(lean) - along * np.sin(lean))
    c, s = np.cos(2 * normal), np.sin(2 * normal)
    seen = shown.edges[..., 0] * c + shown.edges[..., 1] * s
    use = face_weight(half, unit, e)
    bins = np.round(r * unit * 2).astype(int)
    weight = np.bincount(bins.ravel(), use.ravel())
    level = np.bincount(bins.ravel(), (use * seen).ravel()) / np.maximum(weight, 1e-6)
    ring = level[bins]
    kept = np.clip(np.sign(ring) * seen / np.maximum(np.abs(ring), 0.02), 0.0, 1.0)
    edges = np.stack([ring * c, ring * s], axis=-1)
    return Average(edges.astype(np.float32), (shown.agreement * kept).astype(np.float32), unit)


def _in_face(half: int, unit: float, e: Ellipse) -> tuple[FloatArray, FloatArray]:
    """Every patch pixel in the plate's own plane, radii: across the major axis and along it."""
    v, u = np.mgrid[-half : half + 1, -half : half + 1] / unit
    lean = np.radians(e.lean_deg)
    across = (u * np.cos(lean) + v * np.sin(lean)) / max(e.aspect, 0.2)
    return across, -u * np.sin(lean) + v * np.cos(lean)


def _recentred(item: Sample, e: Ellipse) -> Sample:
    """Move a sample's middle to the ring's centre and count its size in the ring's half-axis."""
    per_unit = item.unit * item.scale
    off = moved(item, e.x * per_unit, e.y * per_unit)
    return evolve(item, off=off, scale=item.scale * e.a)


def _look(items: list[Sample], score: float, bend: Bend, rim: Rim, steadied: Steadied) -> PlateLook:
    own = Ring(evolve(rim.face, x=0.0, y=0.0, a=1.0), score)
    items = sorted(items, key=lambda s: s.t_s)
    times, places, radii = places_of(items)
    steady = steadied(times, places)
    aside, lag = (rim.ellipse.x - rim.face.x, rim.ellipse.y - rim.face.y), 0.0
    larger = larger_behind(items, own.ellipse, rim, steady)
    if larger is None:
        rim = of_stack(tuple(items), own.ellipse, rim)
    else:
        rim, aside, lag = larger.rim, (larger.x, larger.y), larger.lag
    fine_unit = float(np.clip(np.median(radii), SEARCH_UNIT, FINE_UNIT_MAX))
    look = PlateLook(
        _template(items, own.ellipse, float(SEARCH_UNIT), alone=False),
        _template(items, own.ellipse, fine_unit, alone=True),
        own,
        rim,
        aside,
        times,
        places,
        radii,
        float(np.quantile([s.fit for s in items], 0.9)),
        bend,
        tuple(items),
        lag,
        (float(np.median(steady[:, 0])), float(np.median(steady[:, 1]))),
    )
    return evolve(look, xy_px=look.rim_at(places, steady, radii))


def _template(items: list[Sample], e: Ellipse, unit: float, *, alone: bool) -> Template:
    shown = average(items, unit, WINDOW + 0.02)
    if alone:
        shown = rings_only(shown, e)
    weight = face_weight(shown.half, unit, e) * (0.05 + shown.agreement)
    return Template(shown.edges, weight.astype(np.float32), unit)
