"""Measured sets without pixels: a recipe's bar and body as records with noise, through the measures' own code.

The camera projects the true disc and joints; noise of known size is laid over; then everything that follows the
tracking runs as it does on a clip: camera, scale, path, reps, measures. What finding and following the plate and
the body do wrong on pictures is *not* in here, so figures from these sets say what the measures and findings make
of a good track, never how good the tracks are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from lab.render import film, truth
from lab.render.barbell import end_centres
from lab.render.build import MadeSet, camera_of, lifter_of
from lab.render.camera import Camera
from lab.render.faults import Fault
from lab.render.recipe import SetRecipe, recipe
from midfoot import bar, measures, reps
from midfoot.bar.tilt import Tilt
from midfoot.records.bar import BarTrack
from midfoot.records.base import Value
from midfoot.records.body import HIDDEN, INDEX, LANDMARKS, SEEN, BodyTrack
from midfoot.records.clip import Asked, ClipInfo
from midfoot.records.measures import Measure, Measured, SetData

Array = NDArray[np.float64]
BODY_HZ = 12.0
FOOT_M = (("heel", 0.05, -0.02), ("foot_index", -0.17, -0.05))
"""Heel and toe from the ankle joint, (backward, up) m, for a foot that points ahead (common practice)."""


@frozen
class Noise:
    """Errors laid over the records, one standard deviation.

    Parameters
    ----------
    white_px, slow_px : of the near disc in each frame, and wandering over 0.3 s. On rendered clips the track is
        off by 0.1 to 0.8 px (docs/accuracy.md).
    far_px, size_share, aspect : of the far disc's place, of the near disc's diameter, of its aspect.
    joint_mm, joint_slow_mm : of a joint, the same in the whole clip, and wandering over 0.3 s. On rendered bodies
        landmarks stood 15 to 40 mm off and shook by 2 to 8 mm (`measures/joints.py`).
    roll_deg, pitch_deg : of the camera's tilt as the room tells it.
    """

    white_px: float = 0.12
    slow_px: float = 0.25
    far_px: float = 0.7
    size_share: float = 0.004
    aspect: float = 0.01
    joint_mm: float = 16.0
    joint_slow_mm: float = 6.0
    roll_deg: float = 0.4
    pitch_deg: float = 1.0


@frozen
class MadeMeasured:
    """A set made from a recipe, measured from records; `true` are the measures of every rep by the truth."""

    made: MadeSet
    data: SetData
    measured: Measured
    events: list[dict[str, float]]
    true: list[dict[str, float]]


def measured_set(asked: SetRecipe, noise: Noise = Noise(), *, told_plate: bool = True) -> MadeMeasured:
    """Make a recipe's set and measure it without a picture.

    Raises
    ------
    NotPossible
        When no body can do the recipe.
    """
    noise = noise or Noise()
    made = lifter_of(asked)
    camera = camera_of(made)
    rng = np.random.default_rng([asked.seed, 200])
    phone = film.Phone(fps=asked.take.fps, variable=asked.take.variable)
    t = film.frame_times(float(made.lifter.course.t_s[-1]), phone, rng)
    info = _info(t, camera)
    track = _track(made, camera, t, noise, rng)
    body = _body(made, camera, track, t, noise, rng)
    said = Asked(asked.lift, plate_mm=1000.0 * made.loading.outer_diameter_m if told_plate else None)
    tilt = Tilt(
        Value(float(camera.roll_deg + rng.normal(0, noise.roll_deg)), noise.roll_deg),
        Value(float(camera.pitch_deg + rng.normal(0, noise.pitch_deg)), noise.pitch_deg),
    )
    view, scale, _ = bar.view_and_scale(track, body, said, info, tilt)
    path = bar.bar_path(track, view, scale, body, said, info)
    found = reps.find_reps(path, body, lift=said.lift, info=info, track=track)
    if path is not None and found.reps:
        first = found.reps[0]
        at = (first.start or first.low_start or first.top_start).t_s
        near = int(np.argmin(np.abs(path.t_s - at)))
        path = path.moved(float(path.forward_mm[near]), float(path.up_mm[near]))
    data = SetData(said, info, view, scale, track, path, body, found)
    events, true = truth.of_reps(asked.lift, made.lifter)
    return MadeMeasured(made, data, measures.measure(data), events, true)


def asked_set(
    seed: int, lift: str, *, reps_done: int = 4, yaw_deg: float | None = None, faults: Sequence[Fault] = ()
) -> SetRecipe:
    """A set to try findings on: every rep completed, the camera still, 720p, 30 frames a second or more."""
    drawn = recipe(seed, "phone", lift=lift, reps=reps_done, faults=faults)
    eye = evolve(drawn.eye, width_px=1280, height_px=720, bend=0.0, rock_deg=0.0, shift_m=0.0)
    if yaw_deg is not None:
        eye = evolve(eye, yaw_deg=yaw_deg)
    take = evolve(drawn.take, fps=max(drawn.take.fps, 30.0))
    return evolve(drawn, eye=eye, take=take)


def _info(t: Array, camera: Camera) -> ClipInfo:
    gaps = np.diff(t)
    return ClipInfo(
        name="made.mp4", sha256="0" * 64, duration_s=float(t[-1] + gaps[-1]), frames=len(t),
        width_px=camera.width_px, height_px=camera.height_px, rotation_deg=0, mirrored=False,
        variable_rate=bool(np.ptp(gaps) > 0.002), frame_interval_median_s=float(np.median(gaps)),
        frame_interval_max_s=float(gaps.max()), codec="h264", bit_depth=8, hdr=False,
    )  # fmt: skip


def slow(t: Array, sd: float, rng: np.random.Generator, width: int, over_s: float = 0.3) -> Array:
    """Wandering errors (n, width) with a memory of `over_s` and standard deviation `sd`."""
    out = np.empty((len(t), width))
    out[0] = rng.normal(0, 1, width)
    for i in range(1, len(t)):
        keep = float(np.exp(-(t[i] - t[i - 1]) / over_s))
        out[i] = keep * out[i - 1] + np.sqrt(1 - keep**2) * rng.normal(0, 1, width)
    return out * sd


def _ends(made: MadeSet, t: Array) -> tuple[Array, Array]:
    """Centres of the left and right discs' faces (n, 3), m."""
    course, face = made.lifter.course, made.loading.largest_face_m
    rows = [
        end_centres(np.array([0.0, -f, u]), face, flex, tilt)
        for f, u, flex, tilt in zip(
            *(np.atleast_1d(course.at(n, t)) for n in ("forward_m", "up_m", "flex_m", "tilt_deg")), strict=True
        )
    ]
    return np.array([r[0] for r in rows]), np.array([r[1] for r in rows])


def _track(made: MadeSet, camera: Camera, t: Array, noise: Noise, rng: np.random.Generator) -> BarTrack:
    view = camera.still()
    left, right = _ends(made, t)
    near, far = (left, right) if camera.side == "left" else (right, left)
    count = len(t)
    near_px = view.project(near) + rng.normal(0, noise.white_px, (count, 2)) + slow(t, noise.slow_px, rng, 2)
    far_px = view.project(far) + rng.normal(0, noise.far_px, (count, 2))
    radius = made.loading.outer_diameter_m / 2
    sizes = [_rim(view.project(_circle(end, radius))) for end in (near[::10], far[::10])]
    size, aspect = (float(np.median(sizes[0][:, k])) for k in (0, 1))
    far_size = float(np.median(sizes[1][:, 0]))
    apart = float(np.median(np.abs(far_px - near_px)))
    hidden = apart < 0.12 * size
    sd = float(np.hypot(noise.white_px, noise.slow_px))
    inside = ((near_px >= 0) & (near_px <= [camera.width_px, camera.height_px])).all(axis=1)
    return BarTrack(
        status="found", source="plate", t_s=t, xy_px=near_px, steady_px=near_px, sd_px=np.full((count, 2), sd),
        seen=inside, far_xy_px=np.full((count, 2), np.nan) if hidden else far_px,
        diameter_px=Value(size * (1 + rng.normal(0, noise.size_share)), size * noise.size_share),
        aspect=Value(float(np.clip(aspect + rng.normal(0, noise.aspect), 0.02, 1.0)), noise.aspect), axis_deg=90.0,
        far_diameter_px=None if hidden else Value(far_size * (1 + rng.normal(0, 0.01)), far_size * 0.01),
    )  # fmt: skip


def _circle(centres: Array, radius: float) -> Array:
    a = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    ring = radius * np.stack([np.zeros_like(a), np.cos(a), np.sin(a)], 1)
    return np.asarray((centres[:, None] + ring[None]).reshape(-1, 3))


def _rim(points_px: Array) -> Array:
    """Major axis (px) and aspect of projected rims of 48 points each, (n, 2)."""
    rims = points_px.reshape(-1, 48, 2)
    off = rims - rims.mean(axis=1, keepdims=True)
    spread = np.linalg.eigvalsh(np.einsum("nki,nkj->nij", off, off) / 48)
    return np.stack([2 * np.sqrt(2 * spread[:, 1]), np.sqrt(spread[:, 0] / spread[:, 1])], axis=1)


def _body(
    made: MadeSet, camera: Camera, track: BarTrack, t: Array, noise: Noise, rng: np.random.Generator
) -> BodyTrack:
    view, count = camera.still(), len(t)
    coarse = np.arange(0.0, t[-1] + 1 / BODY_HZ, 1 / BODY_HZ)
    posed = [truth.joints_m(made.lifter.at(float(s))) for s in np.minimum(coarse, made.lifter.course.t_s[-1])]
    joints = np.array(posed)
    names = truth.joint_names()
    at = np.stack([[np.interp(t, coarse, joints[:, j, k]) for k in range(3)] for j in range(len(names))], 1)
    places = {name: at[:, j].T for j, name in enumerate(names)}
    for side in ("left", "right"):
        for part, back, up in FOOT_M:
            places[f"{side}_{part}"] = places[f"{side}_ankle"] + np.array([0.0, back, up])
    middle = (places["left_shoulder"] + places["right_shoulder"]) / 2
    hips = (places["left_hip"] + places["right_hip"]) / 2
    places["nose"] = middle + 0.42 * (middle - hips)
    xy = np.full((count, len(LANDMARKS), 2), np.nan)
    state = np.full((count, len(LANDMARKS)), HIDDEN, np.int8)
    depth = view.seen(hips)[:, 2]
    px_mm = camera.focal_px / float(np.median(depth)) / 1000.0
    radius_px = float(track.diameter_px.value) / 2 if track.diameter_px is not None else 0.0
    sideways = abs(camera.yaw_deg) < 25.0
    for name, place in places.items():
        i = INDEX[name]
        off = rng.normal(0, noise.joint_mm * px_mm, 2) + slow(t, noise.joint_slow_mm * px_mm, rng, 2)
        xy[:, i] = view.project(place) + off
        covered = np.hypot(*(xy[:, i] - track.xy_px).T) < 1.05 * radius_px
        away = sideways and name.startswith("right" if camera.side == "left" else "left")
        state[:, i] = np.where(covered | away, HIDDEN, SEEN)
    xy[state == HIDDEN] = np.nan
    sd = float(np.hypot(noise.joint_mm, noise.joint_slow_mm)) * px_mm
    return BodyTrack(
        status="seen", model="full", t_s=t, xy_px=xy, sd_px=np.full((count, len(LANDMARKS)), sd), state=state,
        peak=np.where(state == SEEN, 0.85, 0.1), depth_m=np.zeros((count, len(LANDMARKS))),
        world_m=np.zeros((count, len(LANDMARKS), 3)), near_side=camera.side, near_side_margin=0.9,
    )  # fmt: skip


NOT_ALIKE = ("grip_width_mm", "pause_time_s", "top_time_s")
"""Measures whose truth counts something a little different: wrists for forefingers, every stop for the longest, a
band that a swinging disc leaves and enters again."""
SQUAT_LINE = {"trunk_angle_start_deg": "hip_bar_start_deg", "trunk_angle_low_deg": "hip_bar_low_deg"}
"""A squat's trunk is read by the line from hip to bar."""


def compared(
    lift: str, measured: Sequence[Sequence[Measure]], true: Sequence[Mapping[str, float]]
) -> list[dict[str, Any]]:
    """Every measure of every rep that the truth holds as well: measured, its errors, true."""
    rows: list[dict[str, Any]] = []
    if len(measured) != len(true):
        return rows
    for n, (found, of_rep) in enumerate(zip(measured, true, strict=True), start=1):
        for m in found:
            key = SQUAT_LINE.get(m.id, m.id) if lift == "squat" else m.id
            if key in of_rep and m.id not in NOT_ALIKE and m.value is not None:
                rows.append(
                    {"rep": n, "id": m.id, "value": m.value, "sd": m.sd, "sd_common": m.sd_common,
                     "true": of_rep[key]}
                )  # fmt: skip
    return rows
