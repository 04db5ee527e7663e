"""How a clip is taken: timing, the hand, lens and sensor, what the file is like."""

from __future__ import annotations

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]
CLOCK = 90_000


@frozen
class Phone:
    """How the clip is taken: timing, hand, sensor, file.

    `noise` is the sensor's standard deviation in a mid-grey, of 255; `gain` brightens (> 1) or darkens;
    `warmth` shifts white balance (+ is warmer); `stored_turned` keeps the picture a quarter turn anticlockwise in
    the file with a flag to turn it back, as phones held upright do.
    `exposure_s` blurs what moves; with `readout_s` the last row is read so much later than the first, the middle
    one at the frame's timestamp. `pan_deg` turns the camera over the clip, `zoom` is the factor at its end, `bend`
    the lens's radial distortion. `mirrored` files are flipped left to right, `real_speed` times slower than life.
    `codec` is h264 or hevc; `mbit_s` 0 fits the file into `max_bytes`.
    """

    fps: float = 30.0
    variable: bool = False
    rock_deg: float = 0.0
    shift_m: float = 0.0
    noise: float = 2.5
    blur_px: float = 0.55
    gain: float = 1.0
    warmth: float = 0.0
    stored_turned: bool = False
    max_bytes: int = 1_900_000
    exposure_s: float = 0.0
    readout_s: float = 0.0
    pan_deg: float = 0.0
    zoom: float = 1.0
    bend: float = 0.0
    mirrored: bool = False
    real_speed: float = 1.0
    caption: str = ""
    codec: str = "h264"
    mbit_s: float = 0.0
    preset: str = "slow"


def frame_times(duration_s: float, phone: Phone, rng: np.random.Generator) -> Array:
    """Draw the frames' timestamps, whole ticks of 1/90000 s, from 0.

    A variable clock starts with a short interval, wavers by 0.4 ms, and now and then takes a longer breath (1.25,
    1.5 or 2 intervals), as phones in poor light do.
    """
    step = 1.0 / phone.fps
    times = [0.0]
    while times[-1] < duration_s:
        wait = step
        if phone.variable:
            wait += rng.normal(0.0, 0.0004)
            if len(times) == 1:
                wait = 0.6 * step
            elif rng.random() < 0.012:
                wait = step * float(rng.choice([1.25, 1.5, 2.0]))
        times.append(times[-1] + wait)
    ticks = np.round(np.array(times[:-1]) * CLOCK)
    return np.asarray(ticks / CLOCK)


class Sensor:
    """Lens blur, white balance, light-dependent noise from a bank of drawn noise, darker corners."""

    def __init__(self, width_px: int, height_px: int, phone: Phone, rng: np.random.Generator) -> None:
        self._rng, self._phone = rng, phone
        bank = [
            cv2.GaussianBlur(
                rng.normal(0.0, 1.0, (height_px + 64, width_px + 64, 3)).astype(np.float32), (0, 0), 0.55
            ) * 1.75
            for _ in range(3)
        ]  # fmt: skip
        y, x = np.mgrid[0:height_px, 0:width_px].astype(np.float32)
        off = np.hypot(x - (width_px - 1) / 2, y - (height_px - 1) / 2) / np.hypot(width_px / 2, height_px / 2)
        corner = (1.0 - 0.16 * off**2.2)[..., None]
        tint = np.array([1.0 + phone.warmth, 1.0, 1.0 - phone.warmth], dtype=np.float32)
        # Whole numbers of 16 bits, a quarter of the memory of floats: the gain in 1/128, the noise in 1/64.
        self._factor = np.round(corner * tint * phone.gain * 128).astype(np.int16)
        self._bank = [np.round(64 * phone.noise * (0.8 * b[..., :1] + 0.35 * b)).astype(np.int16) for b in bank]
        self._strength = np.round(64 * np.sqrt(0.35 + np.arange(256) / 200.0)).astype(np.int16)

    def expose(self, picture: Picture) -> Picture:
        height, width = picture.shape[:2]
        soft = cv2.GaussianBlur(picture, (0, 0), self._phone.blur_px)
        seen = cv2.multiply(soft.astype(np.int16), self._factor, scale=1 / 128)
        bank = self._bank[int(self._rng.integers(len(self._bank)))]
        i, j = (int(k) for k in self._rng.integers(0, 64, 2))
        strength = cv2.LUT(cv2.convertScaleAbs(seen), self._strength)
        noise = cv2.multiply(strength, bank[i : i + height, j : j + width], scale=1 / 4096)
        return np.asarray(cv2.add(seen, noise, dtype=cv2.CV_8U), dtype=np.uint8)
