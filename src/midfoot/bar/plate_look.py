"""What the follower needs to know of one plate: templates at two sizes, its rim, its size over time.

Rule for the next author: everything here is in units of the chosen ring's major half-axis and centred on that
ring, so that a template's middle is the point the track reports.
"""

from __future__ import annotations

import numpy as np
from attrs import evolve, frozen

from midfoot.bar.disc_model import UNIT_MAX_PX, Average, Bend, Sample, average, lay_over, moved, places_of
from midfoot.bar.patches import Map
from midfoot.bar.rim import Ellipse, Ring, climb, outermost, rings
from midfoot.records.base import FloatArray

SEARCH_UNIT, FINE_UNIT_MAX = 18, 48
WINDOW = 1.10
"""Templates reach this far beyond the rim, so that the rim itself is in."""
LARGEST_RING = 1.2
MIN_SCORE = 0.30
"""Mean edge across the outline below which there is no ring to speak of."""


@frozen(eq=False)
class Template:
    """Edges of the averaged disc, `unit` patch pixels per major half-axis, and the weight of each pixel."""

    edges: Map
    weight: Map
    unit: float

    @property
    def half(self) -> int:
        """Half-size in patch pixels."""
        return int(self.edges.shape[0]) // 2


@frozen
class Rim:
    """The outermost rim against the followed ring: `grow` times as large, relative sd, sd of the aspect."""

    grow: float
    rel_sd: float
    aspect_sd: float


@frozen(eq=False)
class PlateLook:
    """One plate learnt from samples.

    `ring` is the followed ring in units of its own major half-axis (centre 0, a 1). `t_s` (m,), `xy_px` (m, 2)
    and `radius_px` (m,) are centre and major half-axis at the samples. `fit` is the likeness that good samples
    reach.
    """

    search: Template
    fine: Template
    ring: Ring
    rim: Rim
    t_s: FloatArray
    xy_px: FloatArray
    radius_px: FloatArray
    fit: float
    bend: Bend
    samples: tuple[Sample, ...]

    def radius_at(self, t_s: float) -> float:
        """Major half-axis at a moment, px."""
        return float(np.interp(t_s, self.t_s, self.radius_px))


def learn_look(samples: list[Sample]) -> PlateLook | str:
    """Learn a plate from samples cut along a coarse path; a sentence when there is none to be seen."""
    overlay = lay_over(samples)
    if overlay is None:
        return "The frames along the coarse path do not show one and the same thing."
    laid, first = overlay.samples, overlay.average
    found = rings(first.edges, first.unit, largest=LARGEST_RING)
    chosen = outermost(found)
    if chosen is None or chosen.score < MIN_SCORE:
        return "What moves along the coarse path has no round outline."
    unit = float(min(laid[0].unit, UNIT_MAX_PX))
    sharp = average(laid, unit, 1.3)
    ring = _sharpened(sharp, chosen)
    centred = [_recentred(s, ring.ellipse) for s in sorted(laid, key=lambda s: s.t_s)]
    return _look(centred, ring, overlay.bend)


def _sharpened(sharp: Average, chosen: Ring) -> Ring:
    """Find the chosen ring again in the full-size average: the clearest of the edges close to it.

    Which of them is the outermost rim is asked later, with this ring's centre and shape held.
    """
    starts = [chosen.ellipse.grown(g) for g in (0.94, 0.97, 1.0, 1.03, 1.06)]
    return max((climb(sharp.edges, s, sharp.unit) for s in starts), key=lambda r: r.score)


def _recentred(item: Sample, e: Ellipse) -> Sample:
    """Move a sample's middle to the ring's centre and count its size in the ring's half-axis."""
    per_unit = item.unit * item.scale
    off = moved(item, e.x * per_unit, e.y * per_unit)
    return evolve(item, off=off, scale=item.scale * e.a)


def _look(items: list[Sample], ring: Ring, bend: Bend) -> PlateLook:
    own = Ring(evolve(ring.ellipse, x=0.0, y=0.0, a=1.0), ring.score)
    times, places, radii = places_of(items)
    fine_unit = float(np.clip(np.median(radii), SEARCH_UNIT, FINE_UNIT_MAX))
    return PlateLook(
        _template(items, own.ellipse, float(SEARCH_UNIT)),
        _template(items, own.ellipse, fine_unit),
        own,
        Rim(1.0, 0.02, 0.02),
        times,
        places,
        radii,
        float(np.quantile([s.fit for s in items], 0.9)),
        bend,
        tuple(items),
    )


def _template(items: list[Sample], e: Ellipse, unit: float) -> Template:
    shown = average(items, unit, WINDOW + 0.02)
    half = shown.half
    v, u = np.mgrid[-half : half + 1, -half : half + 1] / unit
    lean = np.radians(e.lean_deg)
    across = (u * np.cos(lean) + v * np.sin(lean)) / max(e.aspect, 0.2)
    along = -u * np.sin(lean) + v * np.cos(lean)
    r = np.hypot(across, along)
    inside = np.clip((WINDOW - r) / 0.05, 0.0, 1.0)
    weight = (inside * (0.05 + shown.agreement)).astype(np.float32)
    return Template(shown.edges, weight, unit)
