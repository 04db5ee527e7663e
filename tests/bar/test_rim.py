"""Rings in averaged edge maps drawn from a formula: an ellipse's edges, stored by double angle."""

from __future__ import annotations

import math

import numpy as np
import pytest

from midfoot.bar.patches import edges
from midfoot.bar.rim import Ellipse, beyond, concentric, rings

UNIT = 30.0
HALF = 60


def drawn(*rows: tuple[Ellipse, float]) -> np.ndarray:
    """The edge map of filled ellipses, each laid over the one before, in greys; four by four points a pixel."""
    side = 2 * HALF + 1
    v, u = (np.mgrid[0 : 4 * side, 0 : 4 * side] + 0.5) / 4 - 0.5 - HALF
    picture = np.full(u.shape, 110.0)
    for e, grey in rows:
        lean = math.radians(e.lean_deg)
        du, dv = u / UNIT - e.x, v / UNIT - e.y
        across, along = du * math.cos(lean) + dv * math.sin(lean), -du * math.sin(lean) + dv * math.cos(lean)
        picture = np.where(np.hypot(across / e.aspect, along) < e.a, grey, picture)
    return edges(picture.reshape(side, 4, side, 4).mean(axis=(1, 3)).astype(np.float32))


@pytest.mark.parametrize(
    "true",
    [Ellipse(0.1, -0.05, 1.0, 0.8, 12.0), Ellipse(0.0, 0.1, 0.8, 0.5, -20.0)],
)
def test_a_ring_is_found_where_it_is(true):
    shown = drawn((true, 30.0))

    found = concentric(shown, rings(shown, UNIT), UNIT)

    assert found is not None
    e = found.ellipse
    assert (e.x, e.y) == (pytest.approx(true.x, abs=0.01), pytest.approx(true.y, abs=0.01))
    assert e.a == pytest.approx(true.a, rel=0.015)
    assert e.aspect == pytest.approx(true.aspect, abs=0.02)
    assert e.lean_deg == pytest.approx(true.lean_deg, abs=3.0)


def test_points_lie_on_the_ellipse():
    # (across / (a b))^2 + (along / a)^2 = 1: the definition
    e = Ellipse(0.3, -0.2, 1.3, 0.6, 25.0)
    points, normals = e.points(48)
    lean = math.radians(e.lean_deg)
    du, dv = points[:, 0] - e.x, points[:, 1] - e.y
    across, along = du * math.cos(lean) + dv * math.sin(lean), -du * math.sin(lean) + dv * math.cos(lean)
    assert np.hypot(across / (e.a * e.aspect), along / e.a) == pytest.approx(np.ones(48))
    # a step along the normal leads outward
    out = points + 0.01 * np.column_stack([np.cos(normals), np.sin(normals)])
    du, dv = out[:, 0] - e.x, out[:, 1] - e.y
    across, along = du * math.cos(lean) + dv * math.sin(lean), -du * math.sin(lean) + dv * math.cos(lean)
    assert (np.hypot(across / (e.a * e.aspect), along / e.a) > 1.0).all()


def test_a_larger_ring_about_a_ring_belongs_to_it_and_none_is_made_up():
    inner, outer = Ellipse(0.0, 0.0, 0.9, 0.9, 0.0), Ellipse(0.0, 0.0, 1.5, 0.9, 0.0)
    alone, both = drawn((inner, 30.0)), drawn((outer, 190.0), (inner, 30.0))
    ring = concentric(alone, rings(alone, UNIT), UNIT)
    assert ring is not None

    assert beyond(alone, ring, UNIT) == 1.0
    assert beyond(both, ring, UNIT) == pytest.approx(1.5 / 0.9, rel=0.03)
