"""From a set and a camera to a file: frame times, the sensor, the encoder, the rotation flag."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from lab.render import gym, truth
from lab.render.barbell import Loading, bar_mesh, plates_mesh
from lab.render.camera import Camera, View, hand_shake
from lab.render.draw import Light, Stage
from lab.render.figure import Figure
from lab.render.lifters import Lifter, bar_at
from lab.render.motion import sway
from lab.render.rotation import X, about

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]
CLOCK = 90_000


@frozen
class Phone:
    """How the clip is taken: timing, hand, sensor, file.

    `noise` is the sensor's standard deviation in a mid-grey, of 255; `gain` brightens (> 1) or darkens;
    `warmth` shifts white balance (+ is warmer); `stored_turned` keeps the picture a quarter turn anticlockwise in
    the file with a flag to turn it back, as phones held upright do.
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
        self._bank = [
            cv2.GaussianBlur(
                rng.normal(0.0, 1.0, (height_px + 64, width_px + 64, 3)).astype(np.float32), (0, 0), 0.55
            ) * 1.75
            for _ in range(3)
        ]  # fmt: skip
        y, x = np.mgrid[0:height_px, 0:width_px].astype(np.float32)
        off = np.hypot(x - (width_px - 1) / 2, y - (height_px - 1) / 2) / np.hypot(width_px / 2, height_px / 2)
        corner = (1.0 - 0.16 * off**2.2)[..., None]
        tint = np.array([1.0 + phone.warmth, 1.0, 1.0 - phone.warmth], dtype=np.float32)
        self._factor = (corner * tint * phone.gain).astype(np.float32)

    def expose(self, picture: Picture) -> Picture:
        height, width = picture.shape[:2]
        seen = cv2.GaussianBlur(picture, (0, 0), self._phone.blur_px).astype(np.float32) * self._factor
        bank = self._bank[int(self._rng.integers(len(self._bank)))]
        i, j = (int(k) for k in self._rng.integers(0, 64, 2))
        noise = bank[i : i + height, j : j + width]
        grey = noise[..., :1]
        seen += (0.8 * grey + 0.35 * noise) * self._phone.noise * np.sqrt(0.35 + seen / 200.0)
        return np.asarray(np.clip(seen, 0, 255), dtype=np.uint8)


@frozen
class Scene:
    """Everything that is filmed."""

    figure: Figure
    lifter: Lifter
    loading: Loading
    room: gym.Room
    light: Light
    camera: Camera
    seed: int


def _place(forward: float, up: float, turn_deg: float) -> Array:
    m = np.eye(4)
    m[:3, :3] = about(X, turn_deg)
    m[:3, 3] = (0.0, -forward, up)
    return m


def shoot(
    scene: Scene, phone: Phone, times_s: Array, *, finer: float = 1.5
) -> Iterator[tuple[Picture, truth.FrameTruth]]:
    """Draw the frames at `times_s`, each with its truth. The same seed gives the same clip."""
    rng = np.random.default_rng(scene.seed + 7)
    camera = scene.camera
    stage = Stage(camera.width_px, camera.height_px, seed=scene.seed, finer=finer)
    stage.put("room", gym.build(scene.room, scene.seed))
    stage.put("bar", bar_mesh())
    stage.put("plates", plates_mesh(scene.loading))
    shift, rock = hand_shake(times_s, rng, rock_deg=phone.rock_deg, shift_m=phone.shift_m)
    spin = sway(times_s, 2.0, rng) + rng.uniform(0, 360)
    sensor = Sensor(camera.width_px, camera.height_px, phone, rng)
    shaken = phone.rock_deg > 0.0 or phone.shift_m > 0.0
    still: View = camera.still()
    try:
        for k, t in enumerate(times_s):
            view = camera.held(shift[k], rock[k]) if shaken else still
            posed = scene.lifter.at(float(t))
            stage.put("lifter", scene.figure.rows(posed), closed=True)
            forward, up = bar_at(scene.lifter.course, float(t))
            places = {"bar": _place(forward, up, float(spin[k])), "plates": _place(forward, up, float(spin[k]))}
            drawn = stage.picture(view, scene.light, places)
            yield sensor.expose(drawn), truth.of_frame(float(t), scene.lifter, posed, view, scene.loading)
    finally:
        stage.close()


class Writer:
    """An H.264 file whose frames carry the timestamps they are given."""

    def __init__(self, path: Path, width_px: int, height_px: int, phone: Phone, bits_per_s: int) -> None:
        import av

        self._phone, self._path = phone, path
        self._file = av.open(str(path), "w", options={"movflags": "+faststart"})
        self._stream = self._file.add_stream("libx264", rate=Fraction(phone.fps).limit_denominator(1001))
        turned = phone.stored_turned
        self._stream.width, self._stream.height = (height_px, width_px) if turned else (width_px, height_px)
        self._stream.pix_fmt = "yuv420p"
        self._stream.time_base = Fraction(1, CLOCK)
        self._stream.codec_context.time_base = Fraction(1, CLOCK)
        self._stream.bit_rate = bits_per_s
        self._stream.options = {"preset": "slow", "x264-params": "keyint=150:threads=2"}
        self._height_px = height_px

    def add(self, picture: Picture, t_s: float) -> None:
        import av

        stored = np.rot90(picture, 1) if self._phone.stored_turned else picture
        frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(stored), format="rgb24")
        frame.pts = round(t_s * CLOCK)
        frame.time_base = Fraction(1, CLOCK)
        for packet in self._stream.encode(frame):
            self._file.mux(packet)

    def close(self) -> None:
        for packet in self._stream.encode():
            self._file.mux(packet)
        self._file.close()
        if self._phone.stored_turned:
            flag_turn(self._path, self._height_px)


def flag_turn(path: Path, shown_width_px: int) -> None:
    """Set the track's display matrix to a quarter turn clockwise (ISO/IEC 14496-12, track header box).

    `shown_width_px` is the stored picture's height, by which the turned picture is moved back into view.
    """
    data = bytearray(path.read_bytes())
    at = data.find(b"tkhd")
    if at < 0:
        raise ValueError(f"{path.name}: expected a track header, found none")
    version = data[at + 4]
    matrix = at + 4 + (4 + 36 + 12 if version == 1 else 4 + 20 + 16)
    one = 0x00010000
    values = (0, one, 0, -one, 0, 0, shown_width_px << 16, 0, 0x40000000)
    data[matrix : matrix + 36] = struct.pack(">9i", *values)
    path.write_bytes(bytes(data))


def film(
    scene: Scene,
    phone: Phone,
    path: Path,
    *,
    finer: float = 1.5,
    told: Callable[[str], Any] = print,
) -> list[truth.FrameTruth]:
    """Film the whole set into `path`, of about `phone.max_bytes`; gives every frame's truth."""
    rng = np.random.default_rng(scene.seed)
    length = float(scene.lifter.course.t_s[-1])
    times = frame_times(length, phone, rng)
    camera = scene.camera
    # The encoder keeps to its mean rate within a few hundredths.
    bits_per_s = int(phone.max_bytes * 8 / length * 0.94)
    writer = Writer(path, camera.width_px, camera.height_px, phone, bits_per_s)
    kept: list[truth.FrameTruth] = []
    for k, (picture, frame) in enumerate(shoot(scene, phone, times, finer=finer)):
        writer.add(picture, float(times[k]))
        kept.append(frame)
        if k % 100 == 0:
            told(f"{path.name}: frame {k} of {len(times)}")
    writer.close()
    told(f"{path.name}: {path.stat().st_size} bytes")
    return kept
