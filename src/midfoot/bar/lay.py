"""Lay the averaged disc on one frame: a search with a small template, then the place to a fraction of a pixel."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.bar.patches import Shape, cut, edges, likeness, peak
from midfoot.bar.plate_look import PlateLook
from midfoot.records.base import FloatArray
from midfoot.records.clip import Frame

REFINE_PX = 3
"""Half-size of the fine search, template pixels."""


@frozen
class Laid:
    """Where the averaged disc lies in one frame.

    `fit` is the likeness there; `sharp_x`, `sharp_y` how fast it falls off, per frame pixel squared; `covered` the
    share of the template that lies in the frame.
    """

    t_s: float
    x_px: float
    y_px: float
    fit: float
    sharp_x: float = 0.0
    sharp_y: float = 0.0
    covered: float = 1.0

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
    """Find the place to a fraction of a pixel, starting within a few pixels of it."""
    template = look.fine
    step = radius_px / template.unit
    shape = look.bend.shape_at(near.x_px, near.y_px)
    patch, inside = cut(frame.luma, near.x_px, near.y_px, step, template.half + REFINE_PX, shape)
    score = likeness(edges(patch, inside), template.edges, template.weight)
    row, column = np.unravel_index(int(np.argmax(score)), score.shape)
    v, u, _, sharp_v, sharp_u = peak(score, int(row), int(column))
    x_px, y_px = _from_patch(near.x_px, near.y_px, (u - REFINE_PX) * step, (v - REFINE_PX) * step, shape)
    return Laid(
        frame.t_s,
        x_px,
        y_px,
        near.fit,
        sharp_u / step**2,
        sharp_v / step**2,
        float(inside.mean()),
    )


def _from_patch(x_px: float, y_px: float, across: float, down: float, shape: Shape) -> tuple[float, float]:
    """Carry a step within a patch into the frame."""
    return x_px + across * (1 + shape[0]), y_px + down + across * shape[1]
