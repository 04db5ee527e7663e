"""From a set and a camera to a file: what is drawn when, through the lens, with every frame's truth."""

from __future__ import annotations

from collections.abc import Callable, Iterator
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
from lab.render.phone import Phone, Picture, Sensor, frame_times
from lab.render.rotation import X, Y, about
from lab.render.written import Writer

Array = NDArray[np.float64]
MOST_PARTS, PART_S = 3, 0.006
"""A frame with blur or a rolling shutter is drawn at several moments, about so far apart."""


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
        for name, figure, pose in (
            ("lifter", scene.figure, posed),
            *((f"other {k}", figure, other.at(t_s)) for k, (figure, other) in enumerate(scene.others)),
        ):
            triangles = None if self.stage.has(name) else figure.triangles()
            self.stage.put(name, figure.corners(pose), closed=True, triangles=triangles)
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


def _weights(shares: NDArray[np.float32], width_px: int) -> list[Picture]:
    """Give every moment's shares as a picture (h, w, 3) of whole numbers that sum to 255 over the moments."""
    upto = np.round(255 * np.cumsum(shares, axis=1))
    rows = np.diff(upto, axis=1, prepend=0.0).astype(np.uint8)
    return [np.ascontiguousarray(np.broadcast_to(r[:, None, None], (len(r), width_px, 3))) for r in rows.T]


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
    rows = _weights(_shares(phone, parts, camera.height_px), camera.width_px) if count > 1 else None
    made = _Set(scene, lens, finer)
    try:
        for k, t in enumerate(times_s):
            posed = scene.lifter.at(float(t))
            views = [eye.at(k * count + j, float(moments[k, j])) for j in range(count)]
            if rows is None:
                picture = made.draw(float(t), views[0], posed, float(spin[k]))
            else:
                mixed = np.zeros((camera.height_px, camera.width_px, 3), np.uint16)
                for j, moment in enumerate(moments[k]):
                    drawn = made.draw(
                        float(moment), views[j], scene.lifter.at(float(moment)), float(spin[k * count + j])
                    )
                    cv2.add(mixed, cv2.multiply(drawn, rows[j], dtype=cv2.CV_16U), dst=mixed)
                picture = np.asarray(cv2.multiply(mixed, 1 / 255, dtype=cv2.CV_8U), dtype=np.uint8)
            view = views[count // 2] if count % 2 else eye.at(k * count + count // 2, float(t))
            lay = view.project if lens is None else lambda p, view=view, lens=lens: lens.bent(view.project(p))
            told = truth.of_frame(float(t), scene.lifter, posed, view, scene.loading, lay, marks_too=marks_too)
            yield sensor.expose(picture), told
    finally:
        made.stage.close()


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
