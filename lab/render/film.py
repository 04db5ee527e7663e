"""From a set and a camera to a file: frame times, the sensor, the encoder, the rotation flag."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from lab.render import gym, truth
from lab.render.barbell import Loading, bar_mesh, bent, end_mesh
from lab.render.body import Posed
from lab.render.camera import Camera, View, hand_shake
from lab.render.draw import Light, Stage
from lab.render.figure import Figure
from lab.render.lens import Lens
from lab.render.lifters import Lifter, bar_at
from lab.render.motion import sway
from lab.render.others import Other
from lab.render.rotation import X, Y, about

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]
CLOCK = 90_000
MOST_PARTS, PART_S = 3, 0.006
"""A frame with blur or a rolling shutter is drawn at several moments, about so far apart."""


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
    others: tuple[tuple[Figure, Other], ...] = ()


def _place(forward: float, up: float, turn_deg: float, flex_m: float = 0.0, tilt_deg: float = 0.0) -> Array:
    m = np.eye(4)
    tilt = about(Y, -tilt_deg)
    m[:3, :3] = tilt @ about(X, turn_deg)
    m[:3, 3] = np.array([0.0, -forward, up]) + tilt @ np.array([0.0, 0.0, flex_m])
    return m


class _Set:
    """The stage with everything on it, drawn at a moment."""

    def __init__(self, scene: Scene, lens: Lens | None, finer: float) -> None:
        canvas = lens.canvas if lens is not None else scene.camera
        self._scene, self._lens, self._canvas = scene, lens, canvas
        self.stage = Stage(canvas.width_px, canvas.height_px, seed=scene.seed, finer=finer)
        self.stage.put("room", gym.build(scene.room, scene.seed))
        self._bar = bar_mesh()
        self.stage.put("bar", self._bar)
        self.stage.put("left", end_mesh(scene.loading, 1.0))
        self.stage.put("right", end_mesh(scene.loading, -1.0))

    def draw(self, t_s: float, view: View, posed: Posed, spin_deg: float) -> Picture:
        """Draw the moment `t_s`; `view` is the picture's own, of a canvas where the lens bends."""
        scene, course = self._scene, self._scene.lifter.course
        self.stage.put("lifter", scene.figure.rows(posed), closed=True)
        for k, (figure, other) in enumerate(scene.others):
            self.stage.put(f"other {k}", figure.rows(other.at(t_s)), closed=True)
        forward, up = bar_at(course, t_s)
        flex, tilt = float(course.at("flex_m", t_s)), float(course.at("tilt_deg", t_s))
        if len(course.flex_m):
            self.stage.put("bar", bent(self._bar, flex, scene.loading.largest_face_m))
        ends = _place(forward, up, spin_deg, flex, tilt)
        places = {"bar": _place(forward, up, 0.0, 0.0, tilt), "left": ends, "right": ends}
        if self._lens is None:
            return self.stage.picture(view, scene.light, places)
        f = view.camera.focal_px / self._scene.camera.focal_px
        wide = evolve(self._canvas, fov_deg=_fov(self._canvas, self._canvas.focal_px * f))
        drawn = self.stage.picture(evolve(view, camera=wide), scene.light, places)
        return self._lens.picture(drawn)


def _fov(camera: Camera, focal_px: float) -> float:
    return float(2 * np.degrees(np.arctan(max(camera.width_px, camera.height_px) / 2 / focal_px)))


class _Eye:
    """Where the camera looks at each moment: its hand, its pan and zoom."""

    def __init__(self, camera: Camera, phone: Phone, length_s: float, times_s: Array, seed: int) -> None:
        self._camera, self._phone, self._length_s = camera, phone, length_s
        rng = np.random.default_rng(seed + 7)
        self._shift, self._rock = hand_shake(times_s, rng, rock_deg=phone.rock_deg, shift_m=phone.shift_m)
        self.rng = rng

    def at(self, k: int, t_s: float) -> View:
        """The view at the k-th of the times given."""
        phone, camera = self._phone, self._camera
        share = np.clip(t_s / self._length_s, 0, 1)
        if phone.zoom != 1.0:
            focal = camera.focal_px * phone.zoom ** float(share)
            camera = evolve(camera, fov_deg=_fov(camera, focal))
        if phone.rock_deg <= 0.0 and phone.shift_m <= 0.0 and phone.pan_deg == 0.0:
            return camera.still()
        rock = self._rock[k] + np.array([0.0, phone.pan_deg * float(share - 0.5), 0.0])
        return camera.held(self._shift[k], rock)


def _parts(phone: Phone) -> Array:
    """Moments (n,) about a frame's timestamp at which it is drawn, s."""
    span = phone.exposure_s + phone.readout_s
    if span <= 0.0:
        return np.zeros(1)
    count = int(np.clip(np.ceil(span / PART_S), 2, MOST_PARTS))
    return (np.arange(count) - (count - 1) / 2) * span / count


def _shares(phone: Phone, parts: Array, height_px: int) -> NDArray[np.float32]:
    """How much each moment gives to each row, (rows, moments); a row's shares sum to 1."""
    read = ((np.arange(height_px) + 0.5) / height_px - 0.5) * phone.readout_s
    gap = float(parts[1] - parts[0])
    half = phone.exposure_s / 2
    low = np.maximum(parts[None] - gap / 2, read[:, None] - half)
    high = np.minimum(parts[None] + gap / 2, read[:, None] + half)
    overlap = np.maximum(high - low, 0.0) + 1e-3 * gap * (1 - np.clip(np.abs(parts - read[:, None]) / gap, 0, 1))
    return np.asarray(overlap / overlap.sum(axis=1, keepdims=True), dtype=np.float32)


def shoot(
    scene: Scene, phone: Phone, times_s: Array, *, finer: float = 1.5, marks_too: bool = True
) -> Iterator[tuple[Picture, truth.FrameTruth]]:
    """Draw the frames at `times_s`, each with its truth. The same seed gives the same clip.

    Truth in m and px is that of the timestamp, the middle of the exposure of the middle row. A rolling shutter
    reads a disc off the middle row a few ms earlier or later: that error is the camera's own.
    """
    camera, length = scene.camera, float(scene.lifter.course.t_s[-1])
    lens = Lens(camera, phone.bend) if phone.bend != 0.0 else None
    parts = _parts(phone)
    count = len(parts)
    moments = np.clip(np.asarray(times_s)[:, None] + parts[None], 0.0, length)
    eye = _Eye(camera, phone, length, moments.ravel(), scene.seed)
    spin = sway(moments.ravel(), 2.0, eye.rng) + eye.rng.uniform(0, 360)
    sensor = Sensor(camera.width_px, camera.height_px, phone, eye.rng)
    rows = _shares(phone, parts, camera.height_px) if count > 1 else None
    made = _Set(scene, lens, finer)
    try:
        for k, t in enumerate(times_s):
            posed = scene.lifter.at(float(t))
            views = [eye.at(k * count + j, float(moments[k, j])) for j in range(count)]
            if rows is None:
                picture = made.draw(float(t), views[0], posed, float(spin[k]))
            else:
                mixed = np.zeros((camera.height_px, camera.width_px, 3), np.float32)
                for j, moment in enumerate(moments[k]):
                    drawn = made.draw(
                        float(moment), views[j], scene.lifter.at(float(moment)), float(spin[k * count + j])
                    )
                    mixed += drawn * rows[:, j, None, None]
                picture = np.asarray(np.clip(np.round(mixed), 0, 255), dtype=np.uint8)
            view = views[count // 2] if count % 2 else eye.at(k * count + count // 2, float(t))
            lay = view.project if lens is None else lambda p, view=view, lens=lens: lens.bent(view.project(p))
            told = truth.of_frame(float(t), scene.lifter, posed, view, scene.loading, lay, marks_too=marks_too)
            yield sensor.expose(picture), told
    finally:
        made.stage.close()


def _write_over(picture: Picture, words: str) -> None:
    """A caption burnt into the lower third, light on a dark edge."""
    high, wide = picture.shape[:2]
    size = wide / 640.0
    at = (round(0.06 * wide), round(0.78 * high))
    for colour, thick in (((20, 20, 20), 6), ((245, 240, 235), 2)):
        cv2.putText(picture, words, at, cv2.FONT_HERSHEY_DUPLEX, size, colour, round(thick * size), cv2.LINE_AA)


class Writer:
    """An H.264 file whose frames carry the timestamps they are given."""

    def __init__(self, path: Path, width_px: int, height_px: int, phone: Phone, bits_per_s: int) -> None:
        import av

        self._phone, self._path = phone, path
        self._file = av.open(str(path), "w", options={"movflags": "+faststart"})
        library = {"h264": "libx264", "hevc": "libx265"}[phone.codec]
        self._stream = self._file.add_stream(library, rate=Fraction(phone.fps).limit_denominator(1001))
        turned = phone.stored_turned
        self._stream.width, self._stream.height = (height_px, width_px) if turned else (width_px, height_px)
        self._stream.pix_fmt = "yuv420p"
        self._stream.time_base = Fraction(1, CLOCK)
        self._stream.codec_context.time_base = Fraction(1, CLOCK)
        self._stream.bit_rate = bits_per_s
        if phone.codec == "h264":
            self._stream.options = {"preset": phone.preset, "x264-params": "keyint=150:threads=2"}
        else:
            self._stream.codec_context.codec_tag = "hvc1"
            self._stream.options = {"preset": phone.preset, "x265-params": "keyint=150:pools=2:log-level=none"}
        self._height_px = height_px

    def add(self, picture: Picture, t_s: float) -> None:
        import av

        picture = picture[:, ::-1].copy() if self._phone.mirrored else picture
        if self._phone.caption:
            _write_over(picture, self._phone.caption)
        stored = np.rot90(picture, 1) if self._phone.stored_turned else picture
        frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(stored), format="rgb24")
        frame.pts = round(t_s * self._phone.real_speed * CLOCK)
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
    marks_too: bool = True,
    told: Callable[[str], Any] = print,
) -> list[truth.FrameTruth]:
    """Film the whole set into `path`, of about `phone.max_bytes`; gives every frame's truth."""
    rng = np.random.default_rng(scene.seed)
    length = float(scene.lifter.course.t_s[-1])
    times = frame_times(length, phone, rng)
    camera = scene.camera
    # The encoder keeps to its mean rate within a few hundredths.
    bits_per_s = int(phone.max_bytes * 8 / length * 0.94) if phone.mbit_s <= 0 else int(phone.mbit_s * 1e6)
    writer = Writer(path, camera.width_px, camera.height_px, phone, bits_per_s)
    kept: list[truth.FrameTruth] = []
    for k, (picture, frame) in enumerate(shoot(scene, phone, times, finer=finer, marks_too=marks_too)):
        writer.add(picture, float(times[k]))
        kept.append(frame)
        if k % 100 == 0:
            told(f"{path.name}: frame {k} of {len(times)}")
    writer.close()
    told(f"{path.name}: {path.stat().st_size} bytes")
    return kept
