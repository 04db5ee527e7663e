"""Pictures of a loaded bar as a pinhole of the tests' own sees it: both ends, a lifter between, look-alike discs.

Every disc is a short drum (two faces and the side between them), projected point by point by `pinhole.project`;
nothing of `midfoot.bar` is used. The places of the faces' outlines in each picture are the truth.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from pinhole import Shot, disc, motion, project

THICK_M = 0.075
INNER_M = 0.685
"""Half of the way between the collars' outer faces: 1.31 m (rulebook) and twice 30 mm (from memory)."""


@dataclass(frozen=True)
class Film:
    """What is drawn besides the near plate. `stored`: look-alike discs on the wall, (ahead, up) m."""

    shot: Shot
    far: bool = True
    stored: tuple[tuple[float, float], ...] = ()
    lifter: bool = True
    face: int = 40
    lip: int = 150
    wall: int = 140
    noise: float = 2.0
    every: int = 1
    seed: int = 0
    lively: float = 1.0
    tilt_deg: tuple[float, float] = (0.0, 0.0)
    path: tuple | None = field(default=None, repr=False)

    @property
    def outer_m(self) -> float:
        return INNER_M + THICK_M

    def course(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        t, forward, up = motion(self.shot) if self.path is None else self.path
        return t[:: self.every], forward[:: self.every], up[:: self.every]

    def tilts(self) -> np.ndarray:
        """Tilt of the bar over time, radians, + = near end higher."""
        t, _, _ = self.course()
        mean, swing = self.tilt_deg
        return np.radians(mean + swing * np.sin(2 * np.pi * t / 3.1))

    def ends(self) -> tuple[np.ndarray, np.ndarray]:
        """Centres (n, 3) m of the near disc's outer and of the far disc's inner face."""
        _, forward, up = self.course()
        side, tilt = self.shot.side, self.tilts()
        middle = np.stack([0 * up, -forward, up], axis=1)
        along = np.stack([side * np.cos(tilt), 0 * tilt, np.sin(tilt)], axis=1)
        return middle + self.outer_m * along, middle - INNER_M * along

    def truth(self) -> dict[str, np.ndarray]:
        """Centres of the two outlines, px, and the near one's major half-axis, aspect and lean from vertical."""
        near, far = self.ends()
        r = self.shot.plate_mm / 2000
        one = [disc(self.shot, p, r) for p in near]
        two = [disc(self.shot, p, r) for p in far]
        axis = np.array([d[3] for d in one])
        return {
            "near": np.array([d[0] for d in one]), "far": np.array([d[0] for d in two]),
            "radius": np.array([d[1] / 2 for d in one]), "far_radius": np.array([d[1] / 2 for d in two]),
            "aspect": np.array([d[2] for d in one]),
            "lean": np.where(axis <= 0, axis + 90, axis - 90) if (axis <= 90).all() else axis - 90,
        }  # fmt: skip

    def pictures(self) -> list[np.ndarray]:
        """Luma of every frame, (h, w) uint8."""
        t, forward, up = self.course()
        rng = np.random.default_rng(self.seed)
        w, h = self.shot.size_px
        small = rng.integers(self.wall - 45, self.wall + 45, (h // 36, w // 36)).astype(np.float32)
        back = np.clip(cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC), 0, 255).astype(np.uint8)
        for _ in range(5):
            x, width = int(rng.uniform(0, w)), int(rng.uniform(6, 30))
            cv2.rectangle(back, (x, 0), (x + width, h), int(rng.uniform(30, 220)), -1)
        for ahead, high in self.stored:
            centre = np.array([-self.shot.side * 1.6, -ahead, high])
            self._drum(back, centre, -self.shot.side * 0.05, self.shot.plate_mm / 2000)
        out = []
        near, far = self.ends()
        noise = rng.normal(0, self.noise, (3, h, w))
        for i in range(len(t)):
            picture = back.copy()
            away = (far[i] - near[i]) / np.linalg.norm(far[i] - near[i])
            if self.far:
                self._drum(picture, far[i], THICK_M * away, self.shot.plate_mm / 2000)
            self._rod(picture, far[i], near[i], 0.014, 120)
            if self.lifter:
                self._lifter(picture, forward[i], up[i])
            self._drum(picture, near[i], THICK_M * away, self.shot.plate_mm / 2000)
            self._rod(picture, near[i], near[i] - 0.25 * away, 0.025, 170)
            out.append(np.clip(picture + noise[i % 3], 0, 255).astype(np.uint8))
        return out

    def _polygon(self, picture: np.ndarray, points_m: np.ndarray, value: int, hull: bool = False) -> None:
        p = project(self.shot, points_m)
        if not np.isfinite(p).all() or np.abs(p).max() > 20000:
            return
        if hull:
            p = cv2.convexHull(p.astype(np.float32))[:, 0]
        cv2.fillPoly(picture, [np.round(p * 16).astype(np.int32)], int(value), cv2.LINE_AA, 4)

    def _drum(self, picture: np.ndarray, face: np.ndarray, back: np.ndarray | float, radius: float) -> None:
        """A disc whose face toward the camera is at `face` and whose other face is `back` behind it."""
        depth = np.array([back, 0.0, 0.0]) if np.isscalar(back) else np.asarray(back)
        along = depth / np.linalg.norm(depth)
        up = np.array([0.0, 0.0, 1.0]) - along[2] * along
        up /= np.linalg.norm(up)
        ahead = np.cross(up, along)
        a = np.linspace(0, 2 * np.pi, 64, endpoint=False)
        ring = np.cos(a)[:, None] * ahead + np.sin(a)[:, None] * up
        self._polygon(picture, np.concatenate([face + radius * ring, face + depth + radius * ring]), 25, hull=True)
        for share, value in ((0.99, self.lip), (0.92, self.face), (0.6, self.face + 14), (0.22, 170)):
            self._polygon(picture, face + share * radius * ring, value)
        for turn in (0.4, 2.5, 4.6):
            at = face + 0.75 * radius * (np.cos(turn) * ahead + np.sin(turn) * up)
            self._polygon(picture, at + 0.07 * radius * ring, 200)

    def _rod(self, picture: np.ndarray, start: np.ndarray, end: np.ndarray, radius: float, value: int) -> None:
        up = np.array([0.0, 0.0, radius])
        self._polygon(picture, np.stack([start - up, start + up, end + up, end - up]), value)

    def _lifter(self, picture: np.ndarray, forward: float, up: float) -> None:
        """Legs, trunk and head as thick capsules in the middle plane, under and around the bar."""
        hip = np.array([0.0, -forward + 0.25, max(0.62 * up, 0.4)])
        shoulder = np.array([0.0, -forward - 0.02, up - 0.03])
        for a, b, wide, value in (
            (np.array([0.0, -forward, 0.06]), np.array([0.0, -forward - 0.2, 0.5]), 0.07, 70),
            (np.array([0.0, -forward - 0.2, 0.5]), hip, 0.09, 70),
            (hip, shoulder, 0.15, 180),
            (shoulder, shoulder + np.array([0.0, -0.08, 0.25]), 0.08, 150),
        ):
            for s in (0.12, -0.12):
                aside = np.array([s * self.shot.side, 0.0, 0.0])
                line = b - a
                out = np.cross(line, [1.0, 0.0, 0.0])
                out *= wide / np.linalg.norm(out)
                self._polygon(picture, np.stack([a - out, a + out, b + out, b - out]) + aside, value)
