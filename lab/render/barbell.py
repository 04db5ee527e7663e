"""The loaded bar: shaft, sleeves, plates, collars. Lengths after the sport's usual bar (2.2 m, 1.31 m inside)."""

from __future__ import annotations

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from lab.render.mesh import Colour, Mesh, joined, lathe, rod
from lab.render.rotation import Y, Z, about

Array = NDArray[np.float64]

LENGTH_M = 2.2
INSIDE_M = 1.31
SHAFT_M = 0.028
SLEEVE_M = 0.050
FLANGE_M = 0.030
STEEL: Colour = (0.62, 0.63, 0.65)
DARK_STEEL: Colour = (0.40, 0.41, 0.43)


@frozen
class Plate:
    """One disc of a pair.

    `lip_share` is where the raised, painted lip starts, as a share of the radius.
    """

    diameter_m: float
    thickness_m: float
    colour: Colour
    lip: Colour
    hub: Colour = STEEL
    letters: Colour = (0.92, 0.92, 0.90)
    lip_share: float = 0.93
    gloss: float = 0.18

    def mesh(self) -> Mesh:
        """The disc with its inner face at x = 0 and its outer face at x = thickness."""
        r, w = self.diameter_m / 2.0, self.thickness_m
        web = w * 0.28
        edge = min(0.006, w * 0.2)
        lip = r * self.lip_share
        dark = tuple(c * 0.8 for c in self.colour)
        ring: Colour = (dark[0], dark[1], dark[2])
        profile = [
            (0.0, 0.027), (0.0, r * 0.30), (web, r * 0.34), (web, lip * 0.97), (0.0, lip), (0.0, r - edge),
            (edge, r), (w - edge, r), (w, r - edge), (w, lip), (w - web * 0.8, lip * 0.97),
            (w - web, r * 0.80), (w - web, r * 0.60), (w - web, r * 0.36), (w, r * 0.32), (w, r * 0.17),
            (w, 0.027),
        ]  # fmt: skip
        colours: list[Colour] = [
            self.colour, ring, self.colour, ring, self.lip, self.colour, self.colour, self.colour, self.lip,
            ring, self.colour, self.colour, self.colour, ring, self.colour, self.hub,
        ]  # fmt: skip
        # Blocks stand for raised lettering: a few words around the disc, the same on both halves.
        spans = []
        for word, letters in ((0.04, 6), (0.30, 4), (0.54, 6), (0.80, 4)):
            spans += [(word + 0.024 * k, word + 0.024 * k + 0.015) for k in range(letters)]
        return lathe(profile, colours, around=120, gloss=self.gloss, lettering=[(11, self.letters, spans)])


@frozen
class Loading:
    """What hangs on each end, from the inside out, and the collar that holds it."""

    plates: tuple[Plate, ...]
    collar: Colour = (0.75, 0.62, 0.12)

    @property
    def face_m(self) -> float:
        """Distance of the outermost plate's outer face from the bar's middle, m."""
        return INSIDE_M / 2.0 + FLANGE_M + sum(p.thickness_m for p in self.plates)

    @property
    def outer_diameter_m(self) -> float:
        """Diameter of the largest disc, m."""
        return max(p.diameter_m for p in self.plates)

    @property
    def largest_face_m(self) -> float:
        """Distance of the outermost of the largest discs' outer face from the bar's middle, m."""
        at = INSIDE_M / 2.0 + FLANGE_M
        face = at
        for plate in self.plates:
            at += plate.thickness_m
            if plate.diameter_m >= self.outer_diameter_m - 1e-9:
                face = at
        return face


def bar_mesh() -> Mesh:
    """The bare bar, its middle at the origin, along x."""
    half, inside = LENGTH_M / 2.0, INSIDE_M / 2.0
    pieces = [rod((-inside, 0, 0), (inside, 0, 0), SHAFT_M / 2.0, DARK_STEEL, gloss=0.5)]
    for s in (1.0, -1.0):
        pieces.append(rod((s * inside, 0, 0), (s * (inside + FLANGE_M), 0, 0), 0.040, STEEL, around=32, gloss=0.5))
        pieces.append(
            rod((s * (inside + FLANGE_M), 0, 0), (s * half, 0, 0), SLEEVE_M / 2.0, STEEL, around=32, gloss=0.5)
        )
        pieces.append(rod((s * (half - 0.002), 0, 0), (s * half + s * 0.001, 0, 0), 0.018, (0.2, 0.2, 0.22)))
    return joined(pieces)


def plates_mesh(loading: Loading) -> Mesh:
    """Plates and collars of both ends, for a bar whose middle is at the origin."""
    return joined([end_mesh(loading, 1.0), end_mesh(loading, -1.0)])


def end_mesh(loading: Loading, side: float) -> Mesh:
    """Plates and collar of the end at +x (`side` 1) or -x (-1), for a bar whose middle is at the origin."""
    pieces = []
    turn = None if side > 0 else about(Z, 180.0)
    at = INSIDE_M / 2.0 + FLANGE_M
    for plate in loading.plates:
        pieces.append(plate.mesh().moved((at, 0, 0)).moved((0, 0, 0), turn))
        at += plate.thickness_m
    collar = [(0.0, 0.026), (0.0, 0.045), (0.045, 0.045), (0.05, 0.038), (0.05, 0.026)]
    ring = lathe(collar, [loading.collar] * 4, around=32, gloss=0.4).moved((at, 0, 0))
    knob = rod((at + 0.025, 0.0, 0.04), (at + 0.025, 0.0, 0.085), 0.008, (0.1, 0.1, 0.1))
    pieces.append(joined([ring, knob]).moved((0, 0, 0), turn))
    return joined(pieces)


def bent(bar: Mesh, flex_m: float, face_m: float) -> Mesh:
    """The bare bar bent so that it is `flex_m` higher at `face_m` from its middle than there: a parabola."""
    corners = bar.corners.copy()
    corners[:, 2] += flex_m * (corners[:, 0] / face_m) ** 2
    return Mesh(corners, bar.normals, bar.colours, bar.finish)


def end_centres(middle: Array, face_m: float, flex_m: float, tilt_deg: float) -> tuple[Array, Array]:
    """Centres of the discs' faces at +x and -x, m, of a bent and tilted bar whose middle is at `middle`."""
    turned = about(Y, -tilt_deg)
    return middle + turned @ np.array([face_m, 0.0, flex_m]), middle + turned @ np.array([-face_m, 0.0, flex_m])
