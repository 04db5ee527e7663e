"""Sets for the measures: from formulas (exact truth everywhere) and from the rendered clips' truth files.

The camera here is written as a look-at camera from positions, on its own, so that the program's pinhole is checked
against a second one.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
from attrs import frozen

from midfoot.records.bar import BarPath, BarTrack, Scale, View
from midfoot.records.base import Value
from midfoot.records.body import HIDDEN, INDEX, LANDMARKS, SEEN, BodyTrack
from midfoot.records.clip import Asked, ClipInfo
from midfoot.records.measures import SetData
from midfoot.records.reps import Moment, Phase, Rep, RepSet

PLATE_X_M = 0.75
"""Half the bar: from the lifter's middle to the near plate's outer face."""
RENDERED = {
    "left_big_toe": "left_foot_index", "right_big_toe": "right_foot_index",
}  # fmt: skip


@frozen
class Stand:
    """A look-at camera: x to the lifter's left, y backward, z up, metres; `view`, `right`, `down` unit rows."""

    place: np.ndarray
    view: np.ndarray
    right: np.ndarray
    down: np.ndarray
    focal_px: float
    centre_px: tuple[float, float]

    def pixels(self, points: np.ndarray) -> np.ndarray:
        """Project (..., 3) m to (..., 2) px."""
        at = points - self.place
        depth = at @ self.view
        return np.stack(
            [
                self.centre_px[0] + self.focal_px * (at @ self.right) / depth,
                self.centre_px[1] + self.focal_px * (at @ self.down) / depth,
            ],
            axis=-1,
        )


def stand(
    azimuth_deg: float,
    distance_m: float,
    height_m: float,
    target: tuple[float, float, float],
    *,
    focal_px: float,
    size_px: tuple[int, int],
    roll_deg: float = 0.0,
    pitch_deg: float | None = None,
) -> Stand:
    """Stand `distance_m` from the target, `azimuth_deg` from the lifter's left toward his front."""
    a = math.radians(azimuth_deg)
    place = np.array([target[0] + distance_m * math.cos(a), target[1] - distance_m * math.sin(a), height_m])
    view = np.array(target) - place
    if pitch_deg is not None:
        flat = math.hypot(view[0], view[1])
        view[2] = -flat * math.tan(math.radians(pitch_deg))
    view = view / np.linalg.norm(view)
    right = np.cross(view, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(view, right)
    r = math.radians(roll_deg)
    # Turning the picture clockwise by r sets it upright: the camera itself was turned clockwise by r.
    right, down = math.cos(r) * right + math.sin(r) * down, -math.sin(r) * right + math.cos(r) * down
    return Stand(place, view, right, down, focal_px, ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2))


def view_of(camera: Stand, plate: np.ndarray, roll_deg: float, *, sd_deg: float = 0.5) -> View:
    """Describe a camera as the records do; `plate` is the near plate's centre, m."""
    yaw_axis = math.degrees(math.atan2(camera.view[1], -camera.view[0]))
    left = camera.place[0] > 0
    yaw = yaw_axis if left else math.degrees(math.atan2(camera.view[1], camera.view[0]))
    size = abs(yaw)
    side = "side" if size <= 10 else ("front_oblique" if yaw > 0 else "rear_oblique")
    if size > 60:
        side = "front" if yaw > 0 else "rear"
    return View(
        near_side="left" if left else "right",
        facing="image_left" if left else "image_right",
        view_class=side,
        yaw_deg=Value(yaw, sd_deg),
        roll_deg=Value(roll_deg, sd_deg),
        pitch_deg=Value(math.degrees(math.asin(-camera.view[2])), sd_deg),
        distance_m=Value(float(np.linalg.norm(plate - camera.place)), 0.05),
        height_m=Value(float(camera.place[2]), 0.05),
    )


def scale_of(camera: Stand, plate: np.ndarray, sd_pct: float = 0.5) -> Scale:
    """Give the two scales of a camera exactly."""
    near = float((plate - camera.place) @ camera.view) / camera.focal_px * 1000.0
    middle = np.array([0.0, plate[1], plate[2]])
    body = float((middle - camera.place) @ camera.view) / camera.focal_px * 1000.0
    return Scale(Value(near, near * sd_pct / 100), Value(body, body * (sd_pct + 0.5) / 100), 450.0, "told")


def track_of(
    t_s: np.ndarray, px: np.ndarray, steady: np.ndarray, far: np.ndarray | None, diameter_px: float, sd_px: float
) -> BarTrack:
    """Give a bar followed in every frame."""
    return BarTrack(
        status="found", source="plate", t_s=t_s, xy_px=px, steady_px=steady, sd_px=np.full((len(t_s), 2), sd_px),
        seen=np.ones(len(t_s), bool), diameter_px=Value(diameter_px, 1.0), aspect=Value(1.0, 0.01), axis_deg=0.0,
        far_xy_px=far if far is not None else np.full((len(t_s), 2), np.nan),
    )  # fmt: skip


def path_of(t_s: np.ndarray, forward: np.ndarray, up: np.ndarray, sd_mm: float) -> BarPath:
    """Give a path in mm with a stated random sd."""
    sd = np.full(len(t_s), sd_mm)
    return BarPath(
        t_s=t_s, forward_mm=forward, up_mm=up, sd_forward_mm=sd, sd_up_mm=sd, seen=np.ones(len(t_s), bool),
        scale_pct=0.5, yaw_deg=0.5, roll_deg=0.5, source="plate",
    )  # fmt: skip


def body_of(
    t_s: np.ndarray, xy: np.ndarray, sd_px: float, side: str | None, hidden: tuple[str, ...] = ()
) -> BodyTrack:
    """Give a body with every joint seen but those named in `hidden`; NaN rows are hidden too."""
    n = len(t_s)
    state = np.where(np.isfinite(xy).all(axis=2), SEEN, HIDDEN).astype(np.int8)
    for name in hidden:
        for which in ("left", "right"):
            state[:, INDEX[f"{which}_{name}"]] = HIDDEN
    xy = np.where(state[:, :, None] > HIDDEN, xy, np.nan)
    return BodyTrack(
        status="seen", model="truth", t_s=t_s, xy_px=xy, sd_px=np.full((n, len(LANDMARKS)), sd_px), state=state,
        peak=np.full((n, len(LANDMARKS)), 0.9), depth_m=np.zeros((n, len(LANDMARKS))),
        world_m=np.zeros((n, len(LANDMARKS), 3)), near_side=side, near_side_margin=1.0,
    )  # fmt: skip


def no_body() -> BodyTrack:
    """Give a body that was not followed."""
    none = np.zeros((0, len(LANDMARKS)))
    return BodyTrack(
        status="not_seen", model="", t_s=np.zeros(0), xy_px=np.zeros((0, len(LANDMARKS), 2)), sd_px=none,
        state=none.astype(np.int8), peak=none, depth_m=none, world_m=np.zeros((0, len(LANDMARKS), 3)),
        reason="nobody whose hands hold the bar",
    )  # fmt: skip


def clip_of(t_s: np.ndarray, size_px: tuple[int, int]) -> ClipInfo:
    """Give the clip's facts."""
    steps = np.diff(t_s)
    return ClipInfo(
        name="made.mp4", sha256="0" * 64, duration_s=float(t_s[-1]), frames=len(t_s), width_px=size_px[0],
        height_px=size_px[1], rotation_deg=0, mirrored=False, variable_rate=bool(np.ptp(steps) > 1e-3),
        frame_interval_median_s=float(np.median(steps)), frame_interval_max_s=float(steps.max()), codec="made",
        bit_depth=8, hdr=False,
    )  # fmt: skip


def rep_of(n: int, lift: str, marks: dict[str, float], sd_s: float = 0.008, outcome: str = "completed") -> Rep:
    """Give a rep from its moments in seconds."""
    moments = {name: Moment(t, sd_s) for name, t in marks.items()}
    return Rep(
        n=n, outcome=outcome, start_seen="start" in moments, end_seen="end" in moments, start=moments.get("start"),
        end=moments.get("end"), low_start=moments.get("low_start"), low_end=moments.get("low_end"),
        top_start=moments.get("top_start"), top_end=moments.get("top_end"),
    )  # fmt: skip


def marks_of(
    t_s: np.ndarray, up_mm: np.ndarray, lift: str, spans: list[tuple[float, float]]
) -> list[dict[str, float]]:
    """Find the moments of reps by the rule of 10 mm bands on noiseless heights, one dict a span."""
    found = []
    for begin, end in spans:
        rows = np.flatnonzero((t_s >= begin - 1e-9) & (t_s <= end + 1e-9))
        t, u = t_s[rows], up_mm[rows] * (-1.0 if lift == "deadlift" else 1.0)
        low = int(np.argmin(u))
        names = ("start", "top_start", "top_end", "end") if lift == "deadlift" else (
            "start", "low_start", "low_end", "end")  # fmt: skip
        level_in, level_out = u[low] + 10.0, (u[0] - 10.0, u[-1] - 10.0)
        down, up = u[: low + 1], u[low:]
        found.append(
            {
                names[0]: _crossing(t[: low + 1], down, level_out[0], first=True),
                names[1]: _crossing(t[: low + 1], down, level_in, first=False),
                names[2]: _crossing(t[low:], up, level_in, first=True),
                names[3]: _crossing(t[low:], up, level_out[1], first=False),
            }
        )
    return found


def _crossing(t: np.ndarray, u: np.ndarray, level: float, *, first: bool) -> float:
    over = u > level
    change = np.flatnonzero(over[1:] != over[:-1])
    i = int(change[0] if first else change[-1])
    return float(t[i] + (level - u[i]) / (u[i + 1] - u[i]) * (t[i + 1] - t[i]))


def made_set(
    lift: str,
    t_s: np.ndarray,
    forward_mm: np.ndarray,
    up_mm: np.ndarray,
    spans: list[tuple[float, float]],
    *,
    joints_m: Callable[[np.ndarray], dict[str, np.ndarray]] | None = None,
    camera: Stand | None = None,
    roll_deg: float = 0.0,
    noise_mm: float = 0.0,
    noise_px: float = 0.0,
    stated_mm: float = 0.5,
    sd_px: float = 3.0,
    hidden: tuple[str, ...] = (),
    phases: tuple[Phase, ...] = (),
    outcomes: tuple[str, ...] | None = None,
    rng: np.random.Generator | None = None,
    size_px: tuple[int, int] = (1280, 720),
) -> SetData:
    """Make a set from formulas: the bar's forward and up in mm (up from the floor), joints in metres.

    `joints_m(t)` gives (n, 3) by landmark name for the *left* side. The bar's middle runs at y = -forward, z = up.
    """
    rng = rng or np.random.default_rng(5)
    camera = camera or stand(0.0, 3.6, 0.9, (0.0, 0.0, 0.9), focal_px=989.0, size_px=size_px)
    sign = 1.0 if camera.place[0] > 0 else -1.0
    near = np.stack([np.full(len(t_s), sign * PLATE_X_M), -forward_mm / 1000, up_mm / 1000], axis=1)
    far = near * np.array([-1.0, 1.0, 1.0])
    marks = marks_of(t_s, up_mm, lift, spans)
    at = int(np.argmin(np.abs(t_s - marks[0]["start"])))
    px = camera.pixels(near)
    scale = scale_of(camera, near[at])
    path = path_of(
        t_s,
        forward_mm - np.interp(marks[0]["start"], t_s, forward_mm) + rng.normal(0, noise_mm, len(t_s)),
        up_mm - np.interp(marks[0]["start"], t_s, up_mm) + rng.normal(0, noise_mm, len(t_s)),
        max(stated_mm, noise_mm),
    )
    if joints_m is None:
        body = no_body()
    else:
        xy = np.full((len(t_s), len(LANDMARKS), 2), np.nan)
        for name, points in joints_m(t_s).items():
            for which, mirror in (("left", 1.0), ("right", -1.0)):
                xy[:, INDEX[f"{which}_{name}"]] = camera.pixels(points * np.array([mirror, 1.0, 1.0]))
        body = body_of(t_s, xy + rng.normal(0, noise_px, xy.shape), sd_px, "left" if sign > 0 else "right", hidden)
    reps = RepSet(
        tuple(
            rep_of(i + 1, lift, m, outcome=outcomes[i] if outcomes else "completed") for i, m in enumerate(marks)
        ),
        phases,
    )
    return SetData(
        asked=Asked(lift), clip=clip_of(t_s, size_px), view=view_of(camera, near[at], roll_deg), scale=scale,
        track=track_of(t_s, px, px, camera.pixels(far), 450.0 / scale.mm_per_px.value, 0.2), path=path, body=body,
        reps=reps,
    )  # fmt: skip


def rendered_set(
    folder: Path, name: str, *, noise_mm: float = 0.4, noise_px: float = 1.0, seed: int = 3
) -> tuple[SetData, dict]:
    """Give a rendered clip's truth as a set with modest noise, and the truth file."""
    truth = json.loads((folder / "rendered" / f"{name}.json").read_text())
    rng = np.random.default_rng(seed)
    t_s, bar = np.array(truth["t"]), np.array(truth["bar"])
    size = (int(truth["size"][0]), int(truth["size"][1]))
    told = truth["camera"]
    focal = size[1] / 2 / math.tan(math.radians(told["vfov"]) / 2)
    # The renderer's roll turns the other way round; the camera's place follows from azimuth, distance, height.
    azimuth = told["azimuth"]
    rise = told["height"] - told["target"][2]
    flat = math.sqrt(told["distance"] ** 2 - rise**2) if abs(told["distance"]) > abs(rise) else told["distance"]
    a = math.radians(azimuth)
    for out in (told["distance"], flat):
        camera = stand(
            math.degrees(math.atan2(math.sin(a), math.cos(a))), out, told["height"], tuple(told["target"]),
            focal_px=focal, size_px=size, roll_deg=-told["roll"],
        )  # fmt: skip
        near_x = math.copysign(truth["plate_face_x_m"], camera.place[0])
        near = np.stack([np.full(len(t_s), near_x), -bar[:, 0], bar[:, 1]], axis=1)
        which = 0 if near_x > 0 else 1
        end_px = np.array(truth["end_px"])
        if np.median(np.abs(camera.pixels(near)[:, :] - end_px[:, which])) < 8.0:
            break
    first = truth["events"][0]["start_s"]
    at = int(np.argmin(np.abs(t_s - first)))
    scale = scale_of(camera, near[at])
    steady = camera.pixels(near)
    xy = np.full((len(t_s), len(LANDMARKS), 2), np.nan)
    kp = np.array(truth["kp_px"])
    for i, key in enumerate(truth["keypoints"]):
        key = RENDERED.get(key, key)
        if key in INDEX:
            xy[:, INDEX[key]] = kp[:, i]
    lift = truth["lift"]
    forward, up = bar[:, 0] * 1000, bar[:, 1] * 1000
    keys = (
        ("start", "top_start", "top_end", "end")
        if lift == "deadlift"
        else ("start", "low_start", "low_end", "end")
    )
    reps = tuple(rep_of(i + 1, lift, {k: e[f"{k}_s"] for k in keys}) for i, e in enumerate(truth["events"]))
    data = SetData(
        asked=Asked(lift), clip=clip_of(t_s, size), view=view_of(camera, near[at], -told["roll"]), scale=scale,
        track=track_of(t_s, end_px[:, which], steady, end_px[:, 1 - which],
                       truth["plate_diameter_m"] * 1000 / scale.mm_per_px.value, 0.2),
        path=path_of(t_s, forward - np.interp(first, t_s, forward) + rng.normal(0, noise_mm, len(t_s)),
                     up - np.interp(first, t_s, up) + rng.normal(0, noise_mm, len(t_s)), max(noise_mm, 0.3)),
        body=body_of(t_s, xy + rng.normal(0, noise_px, xy.shape), 4.0, "left" if near_x > 0 else "right"),
        reps=RepSet(reps, ()),
    )  # fmt: skip
    return data, truth
