"""Follow both ends of the bar: the near plate, and the far one where it can be told from everything else.

The far end is looked for once the near plate is learnt, in the same few dozen frames; where it is believed it is
then laid on every frame beside the near plate. Where it is not, the bar has one end, and nothing else changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from attrs import evolve

from midfoot.bar.far_bar import Ends, inner_span
from midfoot.bar.far_learn import believed
from midfoot.bar.far_look import FarLook
from midfoot.bar.far_shots import FarShots, NearSeen, to_first
from midfoot.bar.follow import Follower
from midfoot.bar.scale import focal_prior, plate_prior
from midfoot.bar.tilt import Tilt
from midfoot.records.bar import BarTrack, Sightings
from midfoot.records.base import FloatArray, Value
from midfoot.records.clip import Asked, ClipInfo, Frame

LEAST_ROWS = 12
PITCH_SDS, PITCH_SD_DEG = 3.0, 2.0
"""The bar itself tilts, and the far end's place errs: so much pitch, one sd."""
SIZE_SD = 0.03
"""Of the far disc's size: which of its edges was seen."""
NOISE_OF_RADIUS = 0.004
"""Least random error of a place in one frame, far radii."""


class BothEnds:
    """A `Follower` that follows the far end too; used in the same way."""

    def __init__(
        self, follower: Follower, info: ClipInfo, asked: Asked, sightings: Sightings | None, tilt: Tilt | None
    ) -> None:
        self._near, self._info, self._asked, self._sightings, self._tilt = follower, info, asked, sightings, tilt
        self._shots = FarShots()
        self._look: FarLook | None = None
        self._sd = math.nan
        self._places: list[tuple[float, float, float]] = []

    @property
    def sample_times_s(self) -> tuple[float, ...]:
        """Moments whose frames `learn` wants to see next, ascending; empty when it wants none."""
        return self._near.sample_times_s

    def learn(self, chosen: Iterable[Frame]) -> None:
        """Look at the frames at `sample_times_s`, in order."""
        self._near.learn(self._shots.beside(chosen))
        if not self._near.sample_times_s:
            self._find()
            self._shots = FarShots()

    def see(self, frame: Frame) -> None:
        """Look at the next frame."""
        self._near.see(frame)
        place = self._near.place
        if self._look is None or place is None:
            self._places.append((math.nan, math.nan, 0.0))
            return
        move = to_first(np.array([frame.t_s]), self._sightings)[0]
        laid = self._look.lay_on(frame.luma, place, move)
        self._places.append((math.nan, math.nan, 0.0) if laid is None else (laid.x_px, laid.y_px, laid.fit))

    def result(self) -> BarTrack:
        """Give the track of both ends, one row per frame seen."""
        track = self._near.result()
        if self._look is None or len(self._places) != len(track.t_s):
            return track
        rows = np.array(self._places).reshape(-1, 3)
        seen = track.seen & (rows[:, 2] >= self._look.accept)
        if seen.sum() < LEAST_ROWS:
            return track
        far = np.where(seen[:, None], rows[:, :2], np.nan)
        diameter = 2.0 * self._look.radius_px
        return evolve(
            track, far_xy_px=far, far_diameter_px=Value(diameter, SIZE_SD * diameter),
            far_sd_px=_noise(far, self._look.radius_px), far_common_sd_px=self._sd,
        )  # fmt: skip

    def _find(self) -> None:
        look = self._near.look
        if look is None:
            return
        ring = look.rim.ellipse
        near = NearSeen(look.t_s, look.xy_px, look.radius_px * look.rim.grow, ring.aspect, ring.lean_deg)
        layers = self._shots.layers(near, self._sightings)
        if layers is None:
            return
        roll = self._tilt.roll_deg if self._tilt is not None else None
        ends = Ends(
            layers.near_px, np.median(layers.near_px, axis=0), layers.radius_px,
            ((self._info.width_px - 1) / 2.0, (self._info.height_px - 1) / 2.0),
            math.radians(roll.value) if roll is not None else 0.0,
            inner_span(self._asked).value, plate_prior(self._asked).mm.value / 2000.0,
        )  # fmt: skip
        lens, aspect = focal_prior(self._info), Value(ring.aspect, look.rim.aspect_sd)
        learnt = believed(self._shots, layers, near, ends, lens, aspect, self._sightings)
        if learnt is not None and self._as_tilted(learnt.look):
            self._look, self._sd = learnt.look, learnt.sd * layers.radius_px

    def _as_tilted(self, look: FarLook) -> bool:
        """Whether the camera that sees the far end there is pitched as the room's own verticals have it."""
        pitch = self._tilt.pitch_deg if self._tilt is not None else None
        if pitch is None:
            return True
        off = math.degrees(look.camera.pitch_rad) - pitch.value
        return abs(off) <= PITCH_SDS * math.hypot(pitch.sd, PITCH_SD_DEG)


def _noise(far: FloatArray, radius_px: float) -> float:
    """Random error of the places, px, from their own third differences (white noise: variance 20)."""
    rows = far[np.isfinite(far).all(axis=1)]
    third = np.abs(np.diff(rows, n=3, axis=0))
    noise = float(np.median(third)) / 0.6745 / math.sqrt(20.0) if third.size else 0.0
    return math.hypot(noise, NOISE_OF_RADIUS * radius_px)
