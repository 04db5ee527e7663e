"""The outermost rim against drawn plates: the truth is what was drawn, nothing here is from the project itself.

That plates carry lips at 0.9-0.985 of the radius is common practice, no source.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from drawn import Drawn

from midfoot.bar.disc_model import Sample, sample
from midfoot.bar.rim import Ellipse
from midfoot.bar.silhouette import Rim, outermost_rim

SCENES = {
    "lip and rim": Drawn(),
    "larger, oblique, its side seen": Drawn(
        radius=80, aspect=0.8, side=-14, lean_deg=4, size=(480, 560), x=240, top=150, way=220
    ),
    "light lip before a light room": Drawn(
        radius=90, rim=150, edge=200, face=50, room=(100, 220), size=(480, 560), x=240, top=150, way=220
    ),
    "dark rim before a dark room": Drawn(
        radius=70, rim=40, room=(15, 80), size=(420, 460), x=210, top=120, way=200
    ),
    "legs behind": Drawn(radius=60, aspect=0.85, side=8, legs=True, size=(420, 420), x=210, top=120, way=160),
    "no lip": Drawn(radius=60, edge=42, rim=42, size=(420, 420), x=210, top=120, way=160),
    "cut by the frame": Drawn(radius=60, x=40, size=(420, 420), top=120, way=160),
    "the light goes down": Drawn(radius=60, brightness=(1.15, 0.6), size=(420, 420), x=210, top=120, way=160),
}


@cache
def samples_of(name: str) -> tuple[Sample, ...]:
    """Samples cut around the true centres, as if they had been laid over each other rightly."""
    scene = SCENES[name]
    at = np.linspace(0, scene.frames - 1, 20).astype(int)
    return tuple(sample(scene.picture(i), float(scene.t_s[i]), *scene.centres[i], scene.radius) for i in at)


def rim_of(name: str, followed: float, aspect: float = 1.0) -> tuple[Rim, float, float]:
    """The rim from a ring of `followed` radii and `aspect` times the true one; diameter and aspect found."""
    scene = SCENES[name]
    shape = Ellipse(0.0, 0.0, 1.0, min(1.0, scene.aspect * aspect), scene.lean_deg)
    laid = tuple(Sample(s.t_s, s.x_px, s.y_px, s.step_px, s.unit, s.luma, s.covered, scale=followed, fit=0.9)
                 for s in samples_of(name))  # fmt: skip
    rim = outermost_rim(laid, shape)
    return rim, rim.grow * followed * 2 * scene.radius, rim.ellipse.aspect


@pytest.mark.parametrize(
    ("name", "followed"),
    [*((name, 0.94) for name in SCENES), ("lip and rim", 1.05), ("light lip before a light room", 1.02)],
)
def test_the_rim_is_as_large_as_it_is_drawn(name, followed):
    rim, diameter, aspect = rim_of(name, followed)

    true = 2 * SCENES[name].radius
    # asked of plates as large as a phone shows them: 1 %, or a pixel in all
    assert diameter == pytest.approx(true, abs=max(0.01 * true, 1.0))
    assert abs(diameter - true) < 3 * rim.rel_sd * true
    assert aspect == pytest.approx(SCENES[name].aspect, abs=0.02)
    assert rim.told


@pytest.mark.parametrize("aspect", [0.93, 1.07])
def test_a_followed_ring_of_a_wrong_shape_does_not_matter(aspect):
    # the shape of a ring that lay across lip and rim: the old search forced it onto the rim
    _, diameter, found = rim_of("larger, oblique, its side seen", 0.97, aspect)

    assert diameter == pytest.approx(160.0, rel=0.01)
    assert found == pytest.approx(0.8, abs=0.012)


def test_where_no_ring_stands_the_followed_one_is_kept_and_owns_up_to_it():
    room = np.random.default_rng(0).integers(60, 200, (400, 400)).astype(np.uint8)
    nothing = tuple(sample(room, 0.1 * i, 140.0 + 4 * i, 180.0 + 3 * (i % 7), 60.0) for i in range(24))

    rim = outermost_rim(nothing, Ellipse(0.0, 0.0, 1.0, 0.9, 0.0))

    assert not rim.told
    assert rim.grow == 1.0
    assert rim.rel_sd >= 0.02
