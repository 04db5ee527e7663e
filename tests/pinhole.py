"""Sets filmed by a pinhole of the tests' own: an independent projection, for judging the camera model.

World: x to the lifter's left, y backward, z up, metres; the floor is z = 0. Nothing of `midfoot.bar` is used here:
discs are projected point by point and their ellipses fitted, cameras are placed by where they stand and look.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from midfoot.records.bar import BarTrack
from midfoot.records.base import Value
from midfoot.records.body import INDEX, LANDMARKS, SEEN, BodyTrack
from midfoot.records.clip import Asked, ClipInfo


@dataclass(frozen=True)
class Shot:
    """Where the camera stands and what it films. `yaw_deg` as in the design: + toward the lifter's front."""

    near_side: str = "right"
    yaw_deg: float = 0.0
    distance_m: float = 3.5
    height_m: float = 1.0
    look_up_m: float = 0.9
    look_ahead_m: float = 0.0
    roll_deg: float = 0.0
    view_angle_deg: float = 62.0
    size_px: tuple[int, int] = (1280, 720)
    plate_mm: float = 450.0
    half_m: float = 0.73
    lift: str = "squat"
    stature_m: float = 1.75
    tilt_deg: float = 0.0
    rate_hz: float = 30.0
    reps: int = 3
    drift_mm: float = 40.0

    @property
    def focal_px(self) -> float:
        return 0.5 * max(self.size_px) / math.tan(math.radians(self.view_angle_deg) / 2)

    @property
    def side(self) -> float:
        return 1.0 if self.near_side == "left" else -1.0


@dataclass(frozen=True)
class Noise:
    """Errors of what is handed over; the sds handed over are these."""

    centre_px: float = 0.0
    far_px: float = 0.0
    far_bias_px: float = 0.0
    wobble_deg: float = 0.0
    diameter: float = 0.0
    aspect: float = 0.0
    rim: float = 0.0
    landmark_px: float = 0.0
    body_turn_deg: float = 0.0


def place(shot):
    """Camera position, and its right, down and viewing axes."""
    yaw = math.radians(shot.yaw_deg)
    # side-on from the left is +x; toward the front is -y
    out = np.array([shot.side * math.cos(yaw), -math.sin(yaw), 0.0])
    target = np.array([0.0, -shot.look_ahead_m, shot.look_up_m])
    position = target + shot.distance_m * out
    position[2] = shot.height_m
    view = (target - position) / np.linalg.norm(target - position)
    right = np.cross(view, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(view, right)
    r = math.radians(shot.roll_deg)
    # + roll: the picture must be turned clockwise, so its content appears turned counter-clockwise
    return position, math.cos(r) * right + math.sin(r) * down, -math.sin(r) * right + math.cos(r) * down, view


def project(shot, points):
    position, right, down, view = place(shot)
    v = np.asarray(points, dtype=float) - position
    z = v @ view
    w, h = shot.size_px
    return np.stack(
        [(w - 1) / 2 + shot.focal_px * (v @ right) / z, (h - 1) / 2 + shot.focal_px * (v @ down) / z], axis=-1
    )


def disc(shot, centre, radius_m):
    """Centre, major axis (whole), aspect and axis of a disc's picture, from a fit through projected rim points."""
    a = np.linspace(0.0, 2 * math.pi, 24, endpoint=False)
    rim = np.asarray(centre) + radius_m * np.stack([0 * a, np.cos(a), np.sin(a)], axis=1)
    p = project(shot, rim)
    mid, size = p.mean(axis=0), np.ptp(p)
    x, y = ((p - mid) / size).T
    k = np.linalg.lstsq(np.stack([x * x, x * y, y * y, x, y], axis=1), np.ones_like(x), rcond=None)[0]
    m = np.array([[k[0], k[1] / 2], [k[1] / 2, k[2]]])
    c = np.linalg.solve(-2 * m, k[3:])
    values, vectors = np.linalg.eigh(m / (1 + c @ m @ c))
    major, minor = 1 / math.sqrt(values[0]), 1 / math.sqrt(values[1])
    axis = math.degrees(math.atan2(vectors[1, 0], vectors[0, 0])) % 180
    return mid + c * size, 2 * major * size, minor / major, axis


def motion(shot):
    """Bar's middle over time: t (n,), forward (n,) m, up (n,) m."""
    low, high, period = {"squat": (0.80, 1.42, 3.0), "bench": (0.72, 1.04, 3.0), "deadlift": (0.225, 0.80, 3.0)}[
        shot.lift
    ]
    if shot.lift == "deadlift":
        low = shot.plate_mm / 2000
    n = int(shot.reps * period * shot.rate_hz) + 1
    t = np.arange(n) / shot.rate_hz
    depth = 0.5 - 0.5 * np.cos(2 * math.pi * np.minimum(1.15 * (t % period), period) / period)
    up = high - (high - low) * depth if shot.lift != "deadlift" else low + (high - low) * depth
    sway = np.sin(2 * math.pi * t / period) + 0.4 * np.sin(4 * math.pi * t / period + 1.0)
    forward = {"squat": 0.02, "bench": -0.1, "deadlift": 0.05}[shot.lift] + shot.drift_mm / 1000 * sway
    if shot.lift == "bench":
        forward = forward + 0.08 * depth
    return t, forward, up


def body_points(shot, forward, up):
    """A stick lifter: names and places (n, k, 3) of landmarks."""
    h, n = shot.stature_m, forward.size
    zero = np.zeros(n)

    def both(name, half, ahead, height):
        ahead, height = np.broadcast_to(ahead, n), np.broadcast_to(height, n)
        return {
            f"{side}_{name}": np.stack([zero + s * half * h, -ahead, height], axis=1)
            for side, s in (("left", 1.0), ("right", -1.0))
        }

    out = {}
    if shot.lift == "bench":
        out |= both("shoulder", 0.1, -0.25, 0.47)
        out |= both("hip", 0.06, -0.25 + 0.28 * h, 0.52)
        out |= both("knee", 0.07, -0.25 + 0.5 * h, 0.47)
        out |= both("ankle", 0.11, -0.25 + 0.45 * h, 0.08)
        out |= both("ear", 0.04, -0.45, 0.55)
        out |= {"nose": np.stack([zero, zero + 0.42, zero + 0.66], axis=1)}
        out |= both("heel", 0.11, -0.28 + 0.45 * h, 0.03) | both("foot_index", 0.13, -0.14 + 0.45 * h, 0.03)
        return out
    bend = (up.max() - up) / np.ptp(up) if shot.lift == "squat" else (up.max() - up) / np.ptp(up) * 0.7
    hip = 0.53 * h * (1 - 0.45 * bend)
    out |= both("hip", 0.06, -0.16 * h * bend, hip)
    lean = 0.2 + 0.6 * bend
    out |= both("shoulder", 0.1, -0.16 * h * bend + 0.288 * h * np.sin(lean), hip + 0.288 * h * np.cos(lean))
    out |= both("knee", 0.07, 0.03 * h + 0.09 * h * bend, 0.285 * h - 0.02 * h * bend)
    out |= both("ankle", 0.08, 0.0, 0.045 * h)
    out |= both("heel", 0.08, -0.04 * h, 0.02) | both("foot_index", 0.1, 0.08 * h, 0.02)
    head = -0.16 * h * bend + 0.36 * h * np.sin(lean)
    top = hip + 0.36 * h * np.cos(lean)
    out |= both("ear", 0.04, head, top)
    out |= {"nose": np.stack([zero, -(head + 0.06 * h), top], axis=1)}
    return out


def not_seen_body():
    k = len(LANDMARKS)
    return BodyTrack(
        status="not_seen", model="none", t_s=[], xy_px=np.zeros((0, k, 2)), sd_px=np.zeros((0, k)),
        state=np.zeros((0, k)), peak=np.zeros((0, k)), depth_m=np.zeros((0, k)), world_m=np.zeros((0, k, 3)),
    )  # fmt: skip


def film_body(shot, points_of, t, rng, noise, hide_far=True):
    k = len(LANDMARKS)
    xy, state = np.full((t.size, k, 2), np.nan), np.zeros((t.size, k))
    a = math.radians(rng.normal(0, noise.body_turn_deg) if noise.body_turn_deg else 0.0)
    turn = np.array([[math.cos(a), -math.sin(a), 0], [math.sin(a), math.cos(a), 0], [0, 0, 1]])
    for name, points in points_of.items():
        slow = rng.normal(0, noise.landmark_px, 2) if noise.landmark_px else 0.0
        far = not name.startswith(shot.near_side) and name != "nose"
        hidden = hide_far and far and rng.random() < 0.6 * math.cos(math.radians(shot.yaw_deg)) ** 2
        xy[:, INDEX[name]] = project(shot, points @ turn.T) + slow
        state[:, INDEX[name]] = 0 if hidden else SEEN
    sd = np.full((t.size, k), max(noise.landmark_px, 1.0))
    return BodyTrack(
        status="seen", model="stick", t_s=t, xy_px=xy, sd_px=sd, state=state, peak=0.8 * (state > 0),
        depth_m=np.full((t.size, k), np.nan), world_m=np.zeros((t.size, k, 3)),
    )  # fmt: skip


@dataclass(frozen=True)
class Take:
    """What a shot hands to the program, and the truth beside it."""

    track: BarTrack
    body: BodyTrack
    asked: Asked
    info: ClipInfo
    truth: dict
    forward_mm: np.ndarray
    up_mm: np.ndarray


def take(shot, noise=None, seed=0, *, far=True, body=True, aspect=True, told=True, path=None, landmarks=None):
    """Film a shot; `path` (t, forward m, up m) and `landmarks` {name: (n, 3) m} replace the made ones."""
    noise, rng = noise or Noise(), np.random.default_rng(seed)
    t, forward, up = motion(shot) if path is None else path
    points_of = body_points(shot, forward, up) if landmarks is None else landmarks
    n, radius = t.size, shot.plate_mm / 2000
    tilt = np.radians(shot.tilt_deg + noise.wobble_deg * np.sin(2 * math.pi * t / 3.7 + rng.uniform(0, 6)))
    near = np.stack([np.full(n, shot.side * shot.half_m), -forward, up], axis=1)
    away = near + np.stack(
        [-2 * shot.side * shot.half_m * np.cos(tilt), 0 * t, 2 * shot.half_m * np.sin(tilt)], axis=1
    )
    middle = np.median(near, axis=0)
    some = np.linspace(0, n - 1, 40).astype(int)

    # where the ellipse's centre stands beside the centre's picture varies slowly: interpolate over time
    def centres(points):
        shift = np.array([disc(shot, points[i], radius)[0] for i in some]) - project(shot, points[some])
        return project(shot, points) + np.stack([np.interp(t, t[some], shift[:, k]) for k in (0, 1)], axis=1)

    _, size, ratio, axis = disc(shot, middle, radius)
    _, far_size, _, _ = disc(shot, np.median(away, axis=0), radius)
    position, _, _, view = place(shot)
    depth = float((middle - position) @ view)
    mid_depth = float((middle * np.array([0, 1, 1]) - position) @ view)
    xy = centres(near) + rng.normal(0, 1, (n, 2)) * noise.centre_px
    far_xy = centres(away) + rng.normal(0, 1, (n, 2)) * noise.far_px + rng.normal(0, 1, 2) * noise.far_bias_px
    seen_ratio = (
        ratio + noise.rim * rng.uniform(0, 1) * math.sqrt(1 - min(ratio, 1) ** 2) + rng.normal(0, 1) * noise.aspect
    )
    track = BarTrack(
        status="found",
        source="plate",
        t_s=t,
        xy_px=xy,
        steady_px=xy,
        sd_px=np.full((n, 2), max(noise.centre_px, 0.05)),
        seen=np.ones(n, dtype=bool),
        far_xy_px=far_xy if far else np.full((n, 2), np.nan),
        diameter_px=Value(size * (1 + rng.normal(0, 1) * noise.diameter), size * max(noise.diameter, 0.001)),
        aspect=Value(min(seen_ratio, 1.0), max(noise.aspect, 0.003)) if aspect else None,
        axis_deg=axis,
        far_diameter_px=Value(
            far_size * (1 + rng.normal(0, 4) * noise.diameter), far_size * max(4 * noise.diameter, 0.004)
        )
        if far
        else None,
    )
    pitch = math.degrees(math.asin(-view[2]))
    truth = {
        "yaw": shot.yaw_deg, "roll": shot.roll_deg, "pitch": pitch,
        "distance": float(np.linalg.norm(middle - position)), "height": shot.height_m,
        "mm_per_px": 1000 * depth / shot.focal_px, "body_mm_per_px": 1000 * mid_depth / shot.focal_px,
    }  # fmt: skip
    info = ClipInfo(
        name="shot", sha256="0" * 64, duration_s=float(t[-1]), frames=n, width_px=shot.size_px[0],
        height_px=shot.size_px[1], rotation_deg=0, mirrored=False, variable_rate=False,
        frame_interval_median_s=1 / shot.rate_hz, frame_interval_max_s=1 / shot.rate_hz, codec="none",
        bit_depth=8, hdr=False,
    )  # fmt: skip
    asked = Asked(lift=shot.lift, plate_mm=shot.plate_mm if told else None, load_kg=100.0)
    return Take(
        track,
        film_body(shot, points_of, t, rng, noise) if body else not_seen_body(),
        asked,
        info,
        truth,
        1000 * forward,
        1000 * up,
    )


REAL_NOISE = Noise(
    centre_px=0.3, far_px=1.0, far_bias_px=1.0, wobble_deg=0.25, diameter=0.005, aspect=0.012, rim=0.05,
    landmark_px=8.0, body_turn_deg=4.0,
)  # fmt: skip


def random_shot(rng, *, steepest_deg=60.0):
    """A shot drawn from how people film: phones of many lenses, anywhere beside the lifter."""
    lift = ("squat", "bench", "deadlift")[rng.integers(3)]
    portrait = rng.random() < 0.4
    shot = Shot(
        near_side=("left", "right")[rng.integers(2)],
        yaw_deg=rng.uniform(-steepest_deg, steepest_deg),
        distance_m=rng.uniform(2.6, 5.5),
        height_m=float(np.clip(rng.normal(1.0, 0.35), 0.2, 1.9)),
        look_up_m=rng.uniform(0.7, 1.1),
        look_ahead_m=rng.normal(0, 0.15),
        roll_deg=rng.normal(0, 1.5),
        view_angle_deg=rng.uniform(50, 72),
        size_px=(720, 1280) if portrait else (1280, 720),
        half_m=float(np.clip(rng.normal(0.726, 0.03), 0.66, 0.82)),
        lift=lift,
        stature_m=float(np.clip(rng.normal(1.72, 0.09), 1.5, 2.0)),
        tilt_deg=rng.normal(0, 0.6),
        plate_mm=450.0,
    )
    return shot


def shot_of_render(truth):
    """The shot that a rendered clip's truth file describes, with its path and landmarks."""
    camera, (w, h) = truth["camera"], truth["size"]
    left = -90 <= camera["azimuth"] <= 90
    focal = h / 2 / math.tan(math.radians(camera["vfov"]) / 2)
    shot = Shot(
        near_side="left" if left else "right",
        yaw_deg=camera["azimuth"] if left else 180 - camera["azimuth"],
        distance_m=camera["distance"],
        height_m=camera["height"],
        look_up_m=camera["target"][2],
        look_ahead_m=-camera["target"][1],
        # the renderer turns the camera, the design turns the picture
        roll_deg=-camera["roll"],
        view_angle_deg=math.degrees(2 * math.atan(max(w, h) / 2 / focal)),
        size_px=(w, h),
        plate_mm=1000 * truth["plate_diameter_m"],
        half_m=truth["plate_face_x_m"],
        lift=truth["lift"],
        stature_m=truth["stature"],
    )
    bar, points = np.array(truth["bar"]), np.array(truth["kp"])
    names = {"left_big_toe": "left_foot_index", "right_big_toe": "right_foot_index"}
    landmarks = {
        names.get(k, k): points[:, i] for i, k in enumerate(truth["keypoints"]) if names.get(k, k) in INDEX
    }
    return shot, (np.array(truth["t"]), bar[:, 0], bar[:, 1]), landmarks


def mirrored(t):
    """The same take in a mirror: left and right of picture and lifter change places."""
    w = t.info.width_px
    swap = [INDEX[n.replace("left", "?").replace("right", "left").replace("?", "right")] for n in LANDMARKS]

    def flip(xy):
        return xy * np.array([-1.0, 1.0]) + np.array([w - 1.0, 0.0])

    from attrs import evolve

    track = evolve(
        t.track, xy_px=flip(t.track.xy_px), steady_px=flip(t.track.steady_px), far_xy_px=flip(t.track.far_xy_px),
        axis_deg=None if t.track.axis_deg is None else (180.0 - t.track.axis_deg) % 180.0,
    )  # fmt: skip
    if t.body.status != "seen":
        return replace(t, track=track)
    body = evolve(
        t.body, xy_px=flip(t.body.xy_px)[:, swap], sd_px=t.body.sd_px[:, swap], state=t.body.state[:, swap],
        peak=t.body.peak[:, swap], depth_m=t.body.depth_m[:, swap], world_m=t.body.world_m[:, swap],
        near_side={"left": "right", "right": "left", None: None}[t.body.near_side],
    )  # fmt: skip
    return replace(t, track=track, body=body)
