"""A shaft drawn before a room of boards, posts and grain, and a lifter whose fists are told to some centimetres.

Everything is laid down on a grid finer than the picture; nothing of `midfoot.bar` draws here. Pixels: x right, y
down, centre of the first pixel at (0, 0).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from discs import squats

from midfoot.records.body import INDEX, LANDMARKS, SEEN, BodyTrack
from midfoot.records.clip import Frame

PX_PER_M = 280.0
FINER = 4
SIZE = (760, 480)


@dataclass(frozen=True)
class DrawnShaft:
    """A bar that goes down and up, seen from the front.

    Greys 0-255: `top` that of the bar's upper edge, `low` of the lower one. `tilt_deg`: + = falling to the right,
    `slow_px` how far the fists are told off the bar, slowly. `bar` False draws none: empty hands. `still_y`: one
    that hangs in the room at that height. `hidden_s`: from when to when all of the bar is hidden.
    """

    top: float = 200.0
    low: float = 110.0
    tilt_deg: float = 1.5
    swing_deg: float = 0.8
    way: float = 150.0
    slow_px: float = 5.0
    half_grip_m: float = 0.42
    bar: bool = True
    still_y: float | None = None
    hidden_s: tuple[float, float] | None = None
    boards: bool = True
    noise: float = 2.0
    seed: int = 0
    seconds: float = 7.0

    @property
    def t_s(self) -> np.ndarray:
        """Timestamps, 30 a second."""
        return np.arange(round(30 * self.seconds)) / 30.0

    @property
    def middle(self) -> np.ndarray:
        """True middle of the bar in every frame, (n, 2) px."""
        t = self.t_s
        return np.column_stack([380.0 + 4.0 * np.sin(0.9 * t), 150.0 + squats(t, self.way)])

    @property
    def slope(self) -> np.ndarray:
        """True slope of the bar in every frame."""
        return np.tan(np.radians(self.tilt_deg + self.swing_deg * np.sin(1.3 * self.t_s)))

    def body(self) -> BodyTrack:
        """The lifter, looked at in every second frame."""
        t, middle, slope = self.t_s[::2], self.middle[::2], self.slope[::2]
        rng = np.random.default_rng(self.seed)
        grip, unit = self.half_grip_m * PX_PER_M, PX_PER_M
        xy = np.zeros((len(t), len(LANDMARKS), 2))
        xy[:, :] = middle[:, None] + [0.0, -0.15 * unit]
        floor = 150.0 + 1.45 * unit
        for side, sign in (("left", 1.0), ("right", -1.0)):
            # lifter's left is on the right of the picture: he is seen from the front
            off = self.slow_px * np.sin(2 * np.pi * t / 4.1 + rng.uniform(0, 6))
            fist = middle + np.column_stack([np.full(len(t), sign * grip), sign * grip * slope + off])
            xy[:, INDEX[f"{side}_wrist"]] = fist + [0.0, 22.0]
            for finger in ("index", "pinky", "thumb"):
                xy[:, INDEX[f"{side}_{finger}"]] = fist + [0.0, 2.0]
            xy[:, INDEX[f"{side}_shoulder"]] = middle + [sign * 0.17 * unit, 0.05 * unit]
            xy[:, INDEX[f"{side}_elbow"]] = middle + [sign * 0.36 * unit, 0.25 * unit]
            xy[:, INDEX[f"{side}_hip"]] = middle + [sign * 0.10 * unit, 0.54 * unit]
            for name, at in (("knee", 0.42), ("ankle", 0.0), ("heel", -0.02), ("foot_index", -0.06)):
                xy[:, INDEX[f"{side}_{name}"]] = [380.0 + sign * 0.14 * unit, floor - at * unit]
        xy += rng.normal(0, 0.5, xy.shape)
        k = (len(t), len(LANDMARKS))
        return BodyTrack(
            status="seen", model="made-up", t_s=t, xy_px=xy, sd_px=np.full(k, 6.0), state=np.full(k, SEEN),
            peak=np.full(k, 0.8), depth_m=np.zeros(k), world_m=np.zeros((*k, 3)),
        )  # fmt: skip

    def frames(self) -> list[Frame]:
        """All frames."""
        rng = np.random.default_rng(self.seed)
        room = self._room(rng)
        noise = rng.normal(0, self.noise, (4, *room.shape))
        out = []
        for i, t in enumerate(self.t_s):
            picture = room.copy()
            if self.still_y is not None:
                self._tube(picture, np.array([380.0, self.still_y]), 0.0)
            hidden = self.hidden_s is not None and self.hidden_s[0] <= t <= self.hidden_s[1]
            if self.bar and not hidden:
                self._tube(picture, self.middle[i], float(self.slope[i]))
            for sign in (-1, 1):  # the fists
                x = self.middle[i] + sign * self.half_grip_m * PX_PER_M * np.array([1.0, self.slope[i]])
                cv2.circle(picture, (round(x[0]), round(x[1])), 13, 150.0, -1, cv2.LINE_AA)
            head = round(self.middle[i][0]), round(self.middle[i][1]) - 12
            cv2.circle(picture, head, 32, 95.0, -1, cv2.LINE_AA)
            luma = np.clip(picture + noise[i % 4], 0, 255).astype(np.uint8)
            out.append(Frame(i, float(t), luma, _no_colour))
        return out

    def _room(self, rng: np.random.Generator) -> np.ndarray:
        w, h = SIZE
        room = cv2.resize(rng.uniform(110, 190, (h // 30, w // 30)).astype(np.float32), (w, h),
                          interpolation=cv2.INTER_CUBIC).astype(float)  # fmt: skip
        if self.boards:
            for y in (170, 215, 262, 330):
                cv2.rectangle(room, (0, y), (w, y + int(rng.integers(3, 14))), float(rng.uniform(60, 220)), -1)
            for x in (90, 300, 470, 640):
                cv2.rectangle(room, (x, 0), (x + int(rng.integers(5, 16)), h), float(rng.uniform(60, 220)), -1)
        return room

    def _tube(self, picture: np.ndarray, middle: np.ndarray, slope: float) -> None:
        """Draw 1.31 m of a bar of 28.5 mm, shaded from its upper edge to its lower one."""
        half = 0.5 * 0.0285 * PX_PER_M
        reach = 0.655 * PX_PER_M
        x0, x1 = math.floor(middle[0] - reach), math.ceil(middle[0] + reach)
        y0 = max(math.floor(middle[1] - abs(slope) * reach - half) - 1, 0)
        y1 = min(math.ceil(middle[1] + abs(slope) * reach + half) + 2, picture.shape[0])
        v = np.arange(y0, y1, 1 / FINER)[:, None] + (0.5 / FINER - 0.5)
        u = np.arange(x0, x1)[None, :]
        away = (v - middle[1] - slope * (u - middle[0])) / math.hypot(1.0, slope)
        fine = np.repeat(picture[y0:y1, x0:x1], FINER, axis=0)
        shade = self.top + (self.low - self.top) * (away / half + 1.0) / 2.0
        fine = np.where(np.abs(away) <= half, shade, fine)
        picture[y0:y1, x0:x1] = fine.reshape(y1 - y0, FINER, x1 - x0).mean(axis=1)


def _no_colour() -> np.ndarray:
    raise AssertionError("the shaft is looked for in the grey picture")
