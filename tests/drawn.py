"""Plates drawn before a room, with exact truth: lip and rim, the plate's side, legs behind, a post in front.

Everything is laid down analytically on a grid finer than the picture and averaged onto its pixels, as a sensor
does. Nothing of `midfoot.bar` draws here. Pixels: x right, y down, centre of the first pixel at (0, 0).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from midfoot.bar.coarse import Coarse
from midfoot.bar.follow import Follower
from midfoot.records.bar import BarTrack
from midfoot.records.clip import ClipInfo, Frame

FINER = 3


@dataclass(frozen=True)
class Drawn:
    """A clip of one plate going down and up. Lengths in px, angles in degrees, greys 0-255.

    `aspect`, `lean_deg` (of the long axis from upright, clockwise) are the outline's; `lip` the lip's radius over
    the rim's; `rim`, `edge`, `face` are the greys of what lies outside of the lip, of the lip's line and within.
    `side` is how far the plate's back lies behind its face along the short axis. `front` is the radius, over the
    rim's, of a smaller disc before it, `front_aside` (radii) off, which moves more by the share `front_lead`.
    """

    radius: float = 42.0
    aspect: float = 1.0
    lean_deg: float = 0.0
    lip: float = 0.955
    rim: float = 45.0
    edge: float = 150.0
    face: float = 40.0
    side: float = 0.0
    size: tuple[int, int] = (360, 360)
    x: float = 180.0
    top: float = 110.0
    way: float = 130.0
    frames: int = 90
    room: tuple[float, float] = (70.0, 210.0)
    seed: int = 1
    front: float = 0.0
    front_aside: tuple[float, float] = (-0.12, 0.10)
    front_lead: float = 0.05
    legs: bool = False
    post_x: float | None = None
    post_width: float = 14.0
    post_speed: float = 0.0
    post_grey: float = 30.0
    brightness: tuple[float, float] = (1.0, 1.0)
    blur: float = 0.6
    noise: float = 2.0
    sleeve: bool = True

    @property
    def t_s(self) -> np.ndarray:
        """Timestamps, 30 a second."""
        return np.arange(self.frames) / 30.0

    @property
    def centres(self) -> np.ndarray:
        """True centre of the rim in every frame, (n, 2)."""
        phase = self.t_s / self.t_s[-1]
        down = self.way * np.sin(np.pi * phase) ** 2
        aside = 0.03 * self.way * np.sin(2 * np.pi * phase)
        return np.column_stack([self.x + aside, self.top + down])

    @property
    def info(self) -> ClipInfo:
        """What a container would say of the clip."""
        return ClipInfo(
            name="drawn", sha256="", duration_s=self.frames / 30, frames=self.frames, width_px=self.size[0],
            height_px=self.size[1], rotation_deg=0, mirrored=False, variable_rate=False,
            frame_interval_median_s=1 / 30, frame_interval_max_s=1 / 30, codec="", bit_depth=8, hdr=False,
        )  # fmt: skip

    def pictures(self) -> list[np.ndarray]:
        """All frames, uint8."""
        return [self.picture(i) for i in range(self.frames)]

    def picture(self, i: int) -> np.ndarray:
        """Frame `i`, uint8."""
        room = _room(self.size, self.room, self.seed)
        light = np.linspace(*self.brightness, self.frames)[i]
        picture = cv2.GaussianBlur(self._frame(room, i) * light, (0, 0), self.blur)
        noise = np.random.default_rng(1000 * self.seed + i).normal(0, self.noise, picture.shape)
        return np.clip(picture + noise, 0, 255).astype(np.uint8)

    def _frame(self, room: np.ndarray, i: int) -> np.ndarray:
        """One frame without noise."""
        centre = self.centres[i]
        post_x = None if self.post_x is None else self.post_x + self.post_speed * self.t_s[i]
        reach = 1.3 * self.radius + abs(self.side)
        x0, x1 = _span(centre[0], reach, self.size[0])
        y0, y1 = _span(centre[1], reach, self.size[1])
        v, u = np.mgrid[y0 : y1 : 1 / FINER, x0 : x1 : 1 / FINER] + (0.5 / FINER - 0.5)
        fine = cv2.resize(room[y0:y1, x0:x1], (u.shape[1], u.shape[0]), interpolation=cv2.INTER_LINEAR)
        lean = math.radians(self.lean_deg)
        du, dv = u - centre[0], v - centre[1]
        short, long = du * math.cos(lean) + dv * math.sin(lean), -du * math.sin(lean) + dv * math.cos(lean)
        if self.legs:
            # Legs of somebody who goes down with the bar: they move, but not as the plate does.
            for dx, grey in ((-0.5, 95.0), (0.9, 120.0)):
                knee = 0.4 * (self.top - centre[1])
                fine[np.abs(du - dx * self.radius - 0.3 * knee - 0.25 * dv) < 0.35 * self.radius] = grey
        if self.side:
            # The side: every disc between the back and the face, which is a disc slid along the short axis.
            half = self.aspect * np.sqrt(np.maximum(1.0 - (long / self.radius) ** 2, 0.0)) * self.radius
            over = (short > min(0.0, self.side) - half) & (short < max(0.0, self.side) + half)
            fine = np.where(over & (np.abs(long) < self.radius), 75.0, fine)
        r = np.hypot(short / self.aspect, long) / self.radius
        turn = np.arctan2(long, short / self.aspect)
        fine = np.where(r < 1.0, self.rim, fine)
        fine = np.where(r < self.lip, self.edge, fine)
        fine = np.where(r < self.lip - 0.02, self.face + 12 * (np.sin(5 * turn) > 0.6) * (r > 0.4), fine)
        fine = np.where(np.abs(r - 0.62) < 0.02, self.face + 50, fine)
        if self.front:
            ahead = self.front_lead * (centre - self.centres.mean(axis=0)) + self.radius * np.array(
                self.front_aside
            )
            short, long = short - ahead[0], long - ahead[1]
            r = np.hypot(short / self.aspect, long) / (self.front * self.radius)
            fine = np.where(
                r < 1.0, 70.0 + 90.0 * (np.abs(r - 0.9) < 0.03) + 40.0 * (np.abs(r - 0.6) < 0.05), fine
            )
            r = r * self.front
        fine = np.where(r < 0.24, 170.0, fine)
        if self.sleeve:
            out = -0.5 * self.radius * math.sqrt(1 - min(self.aspect, 0.995) ** 2) * (1 if self.side >= 0 else -1)
            along = np.clip((short / out if abs(out) > 1 else np.zeros_like(short)), 0, 1)
            fine = np.where(np.hypot(short - along * out, long) < 0.11 * self.radius, 205.0, fine)
        if post_x is not None:
            fine = np.where(np.abs(u - post_x) < self.post_width / 2, self.post_grey + 25 * (u < post_x), fine)
        rows, columns = (y1 - y0), (x1 - x0)
        part = fine.reshape(rows, FINER, columns, FINER).mean(axis=(1, 3))
        picture = room.copy()
        picture[y0:y1, x0:x1] = part
        if post_x is not None:
            across = np.arange(self.size[0])
            outside = (across < x0) | (across >= x1)
            bare = np.where(
                np.abs(across - post_x) < self.post_width / 2, self.post_grey + 25 * (across < post_x), np.nan
            )
            rest = np.ones(picture.shape, bool)
            rest[y0:y1] = outside
            picture = np.where(rest & np.isfinite(bare)[None], np.nan_to_num(bare)[None], picture)
        return picture

    def coarse(self, factor: float = 1.0, seed: int = 0, jitter: float = 0.06) -> Coarse:
        """A coarse path: every third frame, places off by `jitter` radii, the radius `factor` times the true."""
        random = np.random.default_rng(seed)
        at = np.arange(0, self.frames, 3)
        places = self.centres[at] + random.normal(0, jitter * self.radius, (len(at), 2))
        sizes = factor * self.radius * np.exp(random.normal(0, 0.03, len(at)))
        return Coarse("found", self.t_s[at], places, sizes, score=0.9)

    def followed(self, factor: float = 1.0, seed: int = 0, pictures: list[np.ndarray] | None = None) -> BarTrack:
        """Follow it from such a coarse path, as the pipeline does."""
        shown = self.pictures() if pictures is None else pictures
        rows = [Frame(i, float(t), shown[i], _no_colour) for i, t in enumerate(self.t_s)]
        follower = Follower(self.info, self.coarse(factor, seed), None)
        while follower.sample_times_s:
            wanted = {int(np.argmin(np.abs(self.t_s - t))) for t in follower.sample_times_s}
            follower.learn([rows[i] for i in sorted(wanted)])
        for row in rows:
            follower.see(row)
        return follower.result()


def _no_colour() -> np.ndarray:
    raise AssertionError("the follower looks at the grey picture")


def _span(at: float, reach: float, size: int) -> tuple[int, int]:
    return max(0, math.floor(at - reach)), min(size, math.ceil(at + reach) + 1)


@cache
def _room(size: tuple[int, int], greys: tuple[float, float], seed: int) -> np.ndarray:
    """A wall with things on it: smooth patches and boxes."""
    random = np.random.default_rng(seed)
    small = random.uniform(*greys, (size[1] // 24 + 2, size[0] // 24 + 2))
    room = cv2.resize(small, size, interpolation=cv2.INTER_CUBIC)
    for _ in range(14):
        x, y = random.integers(0, size[0]), random.integers(0, size[1])
        w, h = random.integers(8, 60, 2)
        cv2.rectangle(room, (int(x), int(y)), (int(x + w), int(y + h)), float(random.uniform(*greys)), -1)
    return np.clip(cv2.GaussianBlur(room, (0, 0), 0.8), 0, 255)
