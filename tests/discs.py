"""Boxes as a proposer gives them, made up: a bar with two ends, things that stand about, things that flicker."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from midfoot.records.bar import Box, Sightings
from midfoot.records.body import INDEX, LANDMARKS, People, PersonTrack
from midfoot.records.clip import ClipInfo

SIZE = (1280, 720)
INFO = ClipInfo(
    name="made-up", sha256="", duration_s=12.0, frames=360, width_px=SIZE[0], height_px=SIZE[1], rotation_deg=0,
    mirrored=False, variable_rate=False, frame_interval_median_s=1 / 30, frame_interval_max_s=1 / 30, codec="",
    bit_depth=8, hdr=False,
)  # fmt: skip
LOOKS = np.arange(0.0, 12.0, 0.1)
Place = Callable[[np.ndarray], np.ndarray]


def squats(
    t: np.ndarray, way_px: float, *, start_s: float = 2.0, every_s: float = 3.0, reps: int = 3
) -> np.ndarray:
    """How far down (px) the bar is: `reps` times down and up."""
    phase = (t - start_s) / every_s
    inside = (phase >= 0) & (phase < reps)
    part = np.clip((phase % 1.0) / 0.7, 0, 1)
    return np.where(inside, way_px * 0.5 * (1 - np.cos(2 * np.pi * part)), 0.0)


class Scene:
    """Collects things that a proposer would box, look by look."""

    def __init__(self, seed: int = 0, looks: np.ndarray = LOOKS) -> None:
        self.random = np.random.default_rng(seed)
        self.t_s = looks
        self.boxes: list[list[Box]] = [[] for _ in looks]

    def disc(
        self,
        place: np.ndarray,
        radius: float,
        *,
        seen: float | np.ndarray = 0.85,
        score: tuple[float, float] = (0.4, 0.9),
        jitter: float = 0.05,
        rings: float = 0.0,
        aspect: float = 0.85,
    ) -> np.ndarray:
        """Put a disc at `place` (k, 2); boxed with chance `seen`. Gives the places."""
        chance = np.broadcast_to(seen, (len(self.t_s),))
        for i in range(len(self.t_s)):
            if self.random.random() >= chance[i]:
                continue
            x, y = place[i] + self.random.normal(0, jitter * radius, 2)
            r = radius * np.exp(self.random.normal(0, 0.07))
            self.boxes[i].append(Box(float(x), float(y), float(r), aspect, float(self.random.uniform(*score))))
            if self.random.random() < rings:
                inner = Box(float(x), float(y), float(0.5 * r), aspect, float(self.random.uniform(*score)))
                self.boxes[i].append(inner)
        return place

    def still(self, x: float, y: float, radius: float) -> None:
        """Put a disc that stands."""
        self.disc(np.tile([x, y], (len(self.t_s), 1)).astype(float), radius, jitter=0.02)

    def flicker(self, a_look: float = 1.5) -> None:
        """Put boxes that mean nothing."""
        for boxes in self.boxes:
            for _ in range(self.random.poisson(a_look)):
                x, y = self.random.uniform(0, SIZE[0]), self.random.uniform(0, SIZE[1])
                r = np.exp(self.random.uniform(2.8, 4.5))
                boxes.append(Box(float(x), float(y), float(r), 0.8, float(self.random.uniform(0.15, 0.5))))

    def sightings(self, camera_px: np.ndarray | None = None) -> Sightings:
        """Give everything; `camera_px` (k, 2) is where the picture of a still thing has gone since the first."""
        k = len(self.t_s)
        moved = np.zeros((k, 2)) if camera_px is None else camera_px
        to_first = np.tile(np.array([[1.0, 0, 0], [0, 1.0, 0]]), (k, 1, 1))
        to_first[:, :, 2] = -moved
        boxes = tuple(
            tuple(Box(b.x_px + m[0], b.y_px + m[1], b.radius_px, b.aspect, b.score) for b in row)
            for row, m in zip(self.boxes, moved, strict=True)
        )
        return Sightings(
            boxes_t_s=self.t_s, boxes=boxes, camera_t_s=self.t_s, camera_to_first=to_first,
            camera_ok=np.ones(k, bool),
        )  # fmt: skip


def bar(scene: Scene, near: tuple[float, float] = (520, 260), radius: float = 80, **more: float) -> np.ndarray:
    """Put a bar that squats three times: the near plate, and the far one smaller behind it. Gives the near end."""
    down = squats(scene.t_s, 2.2 * radius)
    near_place = np.stack([np.full(len(down), near[0]), near[1] + down], axis=1)
    far_place = np.stack([np.full(len(down), near[0] + 3.0 * radius), near[1] - 10 + 0.7 * down], axis=1)
    scene.disc(near_place, radius, **more)
    scene.disc(far_place, 0.7 * radius)
    return near_place


def holder(
    place: np.ndarray, t_s: np.ndarray, *, person: int = 0, body_px: float = 300.0, move: float = 1.0
) -> People:
    """Give somebody whose wrists go with `place` (k, 2), `move` of its way."""
    xy = np.zeros((len(t_s), len(LANDMARKS), 2))
    xy[:] = place[:, None, :] + [0.0, 0.4 * body_px]
    down = (place[:, 1] - place[0, 1]) * move
    for name, dx in (("left_wrist", 60.0), ("right_wrist", 220.0), ("left_shoulder", 90), ("right_shoulder", 190)):
        xy[:, INDEX[name], 0] = place[0, 0] + dx
        xy[:, INDEX[name], 1] = place[0, 1] + down
    region = np.tile([place[0, 0], place[0, 1], 2.5 * body_px, 0.0], (len(t_s), 1))
    track = PersonTrack(person, t_s, xy, np.full((len(t_s), len(LANDMARKS)), 0.8), np.ones(len(t_s)), region)
    return People(looked_t_s=t_s, tracks=(track,))
