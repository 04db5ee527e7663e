"""Made clips for the whole job: both ends of a drawn bar go down and up before a still wall. Nobody is in them."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from clips import write_clip

SIZE = (320, 240)
RADIUS_PX = 34
FAR_X_PX, FAR_SIZE = 92.0, 0.78
"""Where the bar's far end appears beside the near one, and how much smaller it is there."""
SQUAT_S = 1.6


def drawn_px(radius: float) -> float:
    """Diameter of the drawn plate, from its dark area: the drawing adds half a pixel and a soft edge all round."""
    side = round(4 * radius)
    picture = np.full((side, side), 255, np.uint8)
    centre = (8 * side, 8 * side)
    cv2.circle(picture, centre, round(radius * 16), 0, -1, cv2.LINE_AA, 4)
    return float(2 * np.sqrt((255.0 - picture).sum() / 255 / np.pi))


def fall_px(t_s: np.ndarray, *, way_px: float = 70.0, starts_s: tuple[float, ...] = (0.6,)) -> np.ndarray:
    """How far down (px) the disc is: one smooth way down and up from each of `starts_s`."""
    out = np.zeros_like(t_s)
    for start in starts_s:
        phase = np.clip((t_s - start) / SQUAT_S, 0, 1)
        out += way_px * np.sin(np.pi * phase) ** 2
    return out


def wall(seed: int = 3, size: tuple[int, int] = SIZE) -> np.ndarray:
    """A still background with texture, RGB."""
    random = np.random.default_rng(seed)
    small = random.integers(90, 200, (size[1] // 20, size[0] // 20, 3)).astype(np.uint8)
    picture = cv2.resize(small, size, interpolation=cv2.INTER_CUBIC)
    cv2.rectangle(picture, (0, size[1] - 30), (size[0], size[1]), (70, 66, 60), -1)
    return picture


def with_disc(picture: np.ndarray, x: float, y: float, radius: float = RADIUS_PX) -> np.ndarray:
    """Draw a plate on a copy: dark rubber, a lighter ring, three holes, a steel hub; sub-pixel places."""
    out, sixteenth = picture.copy(), 4

    def ring(r: float, colour: tuple[int, int, int], thick: int = -1, at: tuple[float, float] = (x, y)) -> None:
        centre = (round(at[0] * 16), round(at[1] * 16))
        cv2.circle(out, centre, round(r * 16), colour, thick, cv2.LINE_AA, sixteenth)

    ring(radius, (26, 26, 30))
    ring(0.93 * radius, (58, 58, 64), 2)
    ring(0.62 * radius, (38, 38, 44))
    for turn in (0.5, 2.6, 4.7):
        ring(
            0.1 * radius, (130, 126, 120), -1, (x + 0.45 * radius * np.cos(turn), y + 0.45 * radius * np.sin(turn))
        )
    ring(0.2 * radius, (190, 190, 196))
    ring(0.1 * radius, (90, 90, 96))
    return out


def write_gym(
    path: Path,
    *,
    seconds: float = 3.0,
    fps: float = 30.0,
    starts_s: tuple[float, ...] = (0.6,),
    disc: bool = True,
    level: float = 1.0,
    scale: float = 1.0,
    seed: int = 3,
    **more: object,
) -> np.ndarray:
    """Write a clip of one disc going down and up; gives the timestamps. `scale` enlarges the picture."""
    t_s = np.arange(round(seconds * fps)) / fps
    return write_clip(
        path, times_s=t_s, size=(round(SIZE[0] * scale), round(SIZE[1] * scale)),
        pictures=gym_pictures(t_s, starts_s=starts_s, disc=disc, level=level, scale=scale, seed=seed),
        **more,  # type: ignore[arg-type]
    )  # fmt: skip


def gym_pictures(
    t_s: np.ndarray,
    *,
    starts_s: tuple[float, ...] = (0.6,),
    disc: bool = True,
    level: float = 1.0,
    scale: float = 1.0,
    seed: int = 3,
    radius: float = RADIUS_PX,
    x: float = 150.0,
    y: float = 70.0,
) -> list[np.ndarray]:
    """The pictures of such a clip, RGB."""
    back = wall(seed)
    noise = np.random.default_rng(seed + 1)
    out = []
    for down in fall_px(t_s, starts_s=starts_s, way_px=70.0 * radius / RADIUS_PX):
        picture = back
        if disc:
            far = radius * FAR_SIZE
            picture = with_disc(picture, x + FAR_X_PX * radius / RADIUS_PX, y + FAR_SIZE * down - 4, far)
            picture = with_disc(picture, x, y + down, radius)
        shaken = picture * level + noise.normal(0, 2.0, picture.shape)
        picture = np.clip(shaken, 0, 255).astype(np.uint8)
        if scale != 1:
            picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_LINEAR)
        out.append(picture)
    return out
