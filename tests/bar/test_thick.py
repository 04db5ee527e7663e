"""The outline of a deep stack: size and shape of the face against what was drawn (tests/drawn.py, exact truth)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from drawn import Drawn

from midfoot.bar.disc_model import Sample, sample
from midfoot.bar.rim import Ellipse
from midfoot.bar.silhouette import outermost_rim
from midfoot.bar.standing import DIRECTIONS, Standing, turns
from midfoot.bar.thick import of_stack, swept

SIZE = {"size": (480, 560), "x": 240.0, "top": 150.0, "way": 220.0}
DARK = {"rim": 75.0, "edge": 84.0, "face": 72.0}
"""Discs as dark as their sides: that there are several is hardly seen."""


def seen_as(scene: Drawn, rounder: float) -> tuple[tuple[Sample, ...], Ellipse]:
    """Samples about the middle of the whole outline, as if it had been followed, and an ellipse through it."""
    lean = math.radians(scene.lean_deg)
    aside = 0.5 * scene.side * np.array([math.cos(lean), math.sin(lean)])
    at = np.linspace(0, scene.frames - 1, 20).astype(int)
    samples = tuple(
        sample(scene.picture(i), float(scene.t_s[i]), *(scene.centres[i] + aside), scene.radius) for i in at
    )
    return samples, Ellipse(0.0, 0.0, 1.0, min(scene.aspect + rounder, 1.0), scene.lean_deg)


@pytest.mark.parametrize(
    "scene",
    [
        Drawn(radius=80, aspect=0.70, side=-40, **DARK, **SIZE),
        Drawn(radius=80, aspect=0.80, side=34, lean_deg=6, **DARK, **SIZE),
        Drawn(radius=60, aspect=0.65, side=-30, lean_deg=-8, **DARK, **SIZE),
    ],
    ids=["deep", "the other way, leaning", "small"],
)
def test_the_size_is_told_by_the_ends_of_the_long_axis(scene):
    samples, ring = seen_as(scene, 0.2 * abs(scene.side) / scene.radius)
    rim = outermost_rim(samples, ring)
    got = of_stack(samples, ring, rim)
    # an ellipse through such an outline is too large by 9-12 %
    assert rim.grow > 1.05
    assert got.grow == pytest.approx(1.0, abs=0.01)
    assert got.ellipse.aspect == pytest.approx(scene.aspect, abs=0.015)
    assert abs(got.grow - 1.0) < 2.0 * got.rel_sd
    assert abs(got.ellipse.aspect - scene.aspect) < 2.0 * got.aspect_sd


@pytest.mark.parametrize(
    "scene",
    [
        Drawn(radius=80, **SIZE),
        Drawn(radius=80, aspect=0.8, side=-10, lean_deg=4, **SIZE),
        Drawn(radius=60, aspect=0.85, side=8, legs=True, **SIZE),
        Drawn(radius=60, x=40.0, size=(420, 420), top=120.0, way=160.0),
        Drawn(radius=60, rim=40, room=(15, 80), **SIZE),
        Drawn(radius=100, aspect=0.82, side=-22, lean_deg=-12, rim=95, edge=60, face=100, lip=0.97, **SIZE),
    ],
    ids=[
        "plain",
        "its side seen",
        "legs",
        "cut by the frame",
        "dark before dark",
        "lip clearer than the rim",
    ],
)
def test_a_plain_disc_stays_what_it_is(scene):
    at = np.linspace(0, scene.frames - 1, 20).astype(int)
    samples = tuple(
        sample(scene.picture(i), float(scene.t_s[i]), *scene.centres[i], 0.97 * scene.radius) for i in at
    )
    ring = Ellipse(0.0, 0.0, 1.0, scene.aspect, scene.lean_deg)
    rim = outermost_rim(samples, ring)
    got = of_stack(samples, ring, rim)
    assert got.grow * 0.97 == pytest.approx(1.0, abs=0.012)
    assert abs(got.grow * 0.97 - 1.0) < 3.0 * got.rel_sd


def test_a_face_seen_squarely_is_never_swept():
    # exact truth: a disc seen from some degrees aside, half of whose lip is clearer than its rim
    turn = turns()
    ratio = np.where(np.sin(turn) < -0.75, 0.97, 1.0) + 0.001 * np.cos(3 * turn)
    seen = Standing(
        ratio[:, None], np.ones((DIRECTIONS, 1)), np.ones((DIRECTIONS, 1), bool), np.ones(DIRECTIONS, bool), 80.0
    )
    disc = Ellipse(0.0, 0.0, 1.0, 0.996, 0.0)
    assert swept(seen, disc, disc, 0.004) is None
