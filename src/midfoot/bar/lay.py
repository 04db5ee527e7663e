"""Lay the averaged disc on one frame: a search with a small template, then the place to a fraction of a pixel."""

from __future__ import annotations

import cv2
import numpy as np
from attrs import frozen

from midfoot.bar.patches import Map, Shape, cut, edges, likeness, peak
from midfoot.bar.plate_look import PlateLook, Template
from midfoot.records.base import FloatArray
from midfoot.records.clip import Frame

REFINE_PX = 3
"""Half-size of the fine search, template pixels."""
PART = 0.3
"""Size of the parts, radii, in which the plate is seen or covered."""
TYPICAL, SEEN_FROM, SEEN_TO, LEAST_TRUST = 0.7, 0.5, 0.8, 0.05
"""A part is seen from this share of how far the better parts are found, in full from the next; least weight."""
MOVES_PX, MOST_MOVES = 2.0, 3
"""The fine search is begun anew where it ends this far off, so many times."""


@frozen
class Laid:
    """Where the averaged disc lies in one frame.

    `fit` is the likeness there; `sharp_x`, `sharp_y` how fast it falls off, per frame pixel squared; `covered` the
    share of the template that lies in the frame; `shown` the share of the plate's own edges whose part is found as
    far as the better parts are: a blur lowers the fit but not this, what stands before the plate lowers both.
    """

    t_s: float
    x_px: float
    y_px: float
    fit: float
    sharp_x: float = 0.0
    sharp_y: float = 0.0
    covered: float = 1.0
    shown: float = 1.0

    @classmethod
    def none(cls, t_s: float) -> Laid:
        """A frame in which it was not found."""
        return cls(t_s, float("nan"), float("nan"), 0.0)


def search_for(
    frame: Frame, look: PlateLook, around_px: FloatArray, radius_px: float, reach: float
) -> Laid | None:
    """Look for the disc within `reach` radii of a place; None when the place is outside of the frame."""
    template = look.search
    extra = max(2, int(np.ceil(reach * template.unit)))
    step = radius_px / template.unit
    x_px, y_px = float(around_px[0]), float(around_px[1])
    shape = look.bend.shape_at(x_px, y_px)
    patch, inside = cut(frame.luma, x_px, y_px, step, template.half + extra, shape)
    if inside.mean() < 0.3:
        return None
    score = likeness(edges(patch, inside), template.edges, template.weight)
    row, column = np.unravel_index(int(np.argmax(score)), score.shape)
    v, u, top, _, _ = peak(score, int(row), int(column))
    return Laid(frame.t_s, float(around_px[0]) + (u - extra) * step, float(around_px[1]) + (v - extra) * step, top)


def lay_on(frame: Frame, look: PlateLook, near: Laid, radius_px: float) -> Laid:
    """Find the place to a fraction of a pixel, starting within a few pixels of it.

    What is covered of the plate there (a post, a hand, a leg) is left out and the place found again: its edges
    would draw the ring towards themselves.
    """
    template = look.fine
    step = radius_px / template.unit
    x_px, y_px = near.x_px, near.y_px
    for _ in range(MOST_MOVES):
        shape = look.bend.shape_at(x_px, y_px)
        patch, inside = cut(frame.luma, x_px, y_px, step, template.half + REFINE_PX, shape)
        scene = edges(patch, inside)
        score = likeness(scene, template.edges, template.weight)
        row, column = np.unravel_index(int(np.argmax(score)), score.shape)
        shown = _shown(_at(scene, int(row), int(column), template), template)
        score = likeness(scene, template.edges, template.weight * shown)
        row, column = np.unravel_index(int(np.argmax(score)), score.shape)
        v, u, _, sharp_v, sharp_u = peak(score, int(row), int(column))
        across, down = u - REFINE_PX, v - REFINE_PX
        x_px, y_px = _from_patch(x_px, y_px, across * step, down * step, shape)
        if max(abs(across), abs(down)) < MOVES_PX:
            break
    return Laid(
        frame.t_s,
        x_px,
        y_px,
        near.fit,
        sharp_u / step**2,
        sharp_v / step**2,
        float(inside.mean()),
        float(np.average(shown, weights=template.strength + 1e-9)),
    )


def _at(scene: Map, row: int, column: int, template: Template) -> Map:
    size = 2 * template.half + 1
    return scene[row : row + size, column : column + size]


def _parts(scene: Map, template: Template) -> tuple[Map, Map]:
    """How far each part of the template is found in the scene (1: as it is), and how much of it is there."""
    size = 2 * max(1, round(0.5 * PART * template.unit)) + 1
    met = np.sum(template.edges * scene, axis=2) * template.weight
    there = cv2.blur(template.strength, (size, size))
    floor = 0.02 * float(there.max()) + 1e-9
    return np.asarray(cv2.blur(met, (size, size)) / (there + floor), np.float32), np.asarray(there, np.float32)


def _typical(found: Map, there: Map) -> float:
    """How far the better seen parts are found."""
    use = there > 0.1 * float(there.max())
    return max(float(np.quantile(found[use], TYPICAL)), 1e-3) if use.any() else 1e-3


def _shown(scene: Map, template: Template) -> Map:
    """Weight of the template's pixels by whether the part around them is seen."""
    found, there = _parts(scene, template)
    return np.asarray(
        np.clip((found / _typical(found, there) - SEEN_FROM) / (SEEN_TO - SEEN_FROM), LEAST_TRUST, 1.0), np.float32
    )


def _from_patch(x_px: float, y_px: float, across: float, down: float, shape: Shape) -> tuple[float, float]:
    """Carry a step within a patch into the frame."""
    return x_px + across * (1 + shape[0]), y_px + down + across * shape[1]
