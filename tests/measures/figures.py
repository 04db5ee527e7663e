"""Sets by formula: a bar that falls and rises as written, joints that follow it by stated ratios."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from attrs import evolve, frozen
from measures.built import Stand, made_set, stand

from midfoot.records.bar import BarTrack, View
from midfoot.records.base import Value
from midfoot.records.body import INDEX, LANDMARKS
from midfoot.records.measures import SetData

TOP_MM, RANGE_MM = 1300.0, 500.0


@frozen
class Plan:
    """One rep: seconds of descent, low and ascent, depth of the dip in velocity, forward bulge, depth lost.

    `wave_mm` is how far the bar goes forward and then as far back on the way up.
    """

    down_s: float = 1.2
    low_s: float = 0.5
    up_s: float = 1.4
    dip: float = 0.0
    bulge_mm: float = 20.0
    shallow_mm: float = 0.0
    short_mm: float = 0.0
    wave_mm: float = 0.0


def smooth(x: np.ndarray) -> np.ndarray:
    """From 0 to 1 with velocity and acceleration zero at both ends (minimum jerk)."""
    x = np.clip(x, 0.0, 1.0)
    return 10 * x**3 - 15 * x**4 + 6 * x**5


def rise(x: np.ndarray, dip: float) -> np.ndarray:
    """From 0 to 1; with `dip` the velocity sinks in the middle by about that share."""
    grid = np.linspace(0, 1, 2001)
    v = np.gradient(smooth(grid), grid) * (1 - dip * np.exp(-(((grid - 0.45) / 0.12) ** 2)))
    height = np.concatenate([[0.0], np.cumsum((v[1:] + v[:-1]) / 2)])
    return np.interp(np.clip(x, 0, 1), grid, height / height[-1])


@frozen
class Heights:
    """Bar over time by formula: call it for forward and up (mm)."""

    plans: tuple[Plan, ...]
    lift: str
    gap_s: float = 1.2

    @property
    def spans(self) -> list[tuple[float, float]]:
        """Begin and end of every rep with half a gap to each side."""
        out, t = [], self.gap_s
        for p in self.plans:
            length = p.down_s + p.low_s + p.up_s
            out.append((t - self.gap_s / 2, t + length + self.gap_s / 2))
            t += length + self.gap_s
        return out

    @property
    def length_s(self) -> float:
        """Length of the clip."""
        return self.spans[-1][1] + self.gap_s / 2

    def at(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give forward and up in mm."""
        forward, up = np.zeros(len(t)), np.full(len(t), TOP_MM)
        if self.lift == "deadlift":
            up[:] = 225.0
        begin, level = self.gap_s, 0.0
        for p in self.plans:
            x = t - begin
            depth = RANGE_MM - p.shallow_mm
            # A rep may end lower than it began; what is lost stays lost until the bar comes down again.
            gone = level + (p.short_mm - level) * smooth((x - p.down_s - p.low_s) / p.up_s)
            if self.lift == "deadlift":
                path = (RANGE_MM - p.short_mm) * (
                    rise(x / p.up_s, p.dip) - smooth((x - p.up_s - p.low_s) / p.down_s)
                )
                up = np.where(x >= 0, 225.0 + path, up)
                wave = np.clip(x / p.up_s, 0, 1)
            else:
                path = -depth * (smooth(x / p.down_s) - rise((x - p.down_s - p.low_s) / p.up_s, p.dip))
                path = path - gone * (x > 0)
                up = np.where(x >= 0, TOP_MM + path, up)
                wave = np.clip((x - p.down_s - p.low_s) / p.up_s, 0, 1)
                level = p.short_mm
            forward = forward + p.bulge_mm * np.sin(np.pi * wave) ** 2 + p.wave_mm * np.sin(2 * np.pi * wave)
            begin += p.down_s + p.low_s + p.up_s + self.gap_s
        return forward, up


def figure(
    plans: tuple[Plan, ...],
    lift: str = "squat",
    *,
    fps: float = 60.0,
    gap_s: float = 1.2,
    joints: Callable[[np.ndarray, np.ndarray, np.ndarray], dict[str, np.ndarray]] | None = None,
    camera: Stand | None = None,
    shift_s: float = 0.0,
    uneven: float = 0.0,
    **made: object,
) -> tuple[SetData, Heights]:
    """Make a set of planned reps; `joints(t, forward, up)` gives metres by landmark name."""
    heights = Heights(plans, lift, gap_s)
    t = np.arange(0, heights.length_s, 1.0 / fps)
    if uneven:
        t = t + np.random.default_rng(1).uniform(-uneven, uneven, len(t)) / fps
    forward, up = heights.at(t)

    def placed(times: np.ndarray) -> dict[str, np.ndarray]:
        f, u = heights.at(times - shift_s)
        assert joints is not None
        return joints(times - shift_s, f, u)

    data = made_set(
        lift, t + shift_s, forward, up, [(a + shift_s, b + shift_s) for a, b in heights.spans],
        joints_m=placed if joints else None, camera=camera, **made,  # type: ignore[arg-type]
    )  # fmt: skip
    return data, heights


def place(x_m: float, forward_mm: np.ndarray | float, up_mm: np.ndarray | float, n: int) -> np.ndarray:
    """Stack (n, 3) metres: to the lifter's left, backward, up."""
    return np.stack(
        [np.full(n, x_m), -np.broadcast_to(forward_mm, n) / 1000, np.broadcast_to(up_mm, n) / 1000], axis=1
    )


def squatter(hip_share: float = 1.1) -> Callable[[np.ndarray, np.ndarray, np.ndarray], dict[str, np.ndarray]]:
    """Joints of a squat: the hip rises `hip_share` times as much as the bar, the rest stands or follows."""

    def joints(t: np.ndarray, forward: np.ndarray, up: np.ndarray) -> dict[str, np.ndarray]:
        n, down = len(t), TOP_MM - up
        return {
            "shoulder": place(0.18, forward + 20, up + 20, n),
            "hip": place(0.09, -60 - 0.4 * down, 950 - hip_share * down, n),
            "knee": place(0.18, 60 + 0.2 * down, 500 - 0.05 * down, n),
            "ankle": place(0.18, 0, 90, n),
            "heel": place(0.17, -60, 30, n),
            "foot_index": place(0.21, 150, 30, n),
            "wrist": place(0.35, forward, up, n),
            "elbow": place(0.25, forward - 80, up - 200, n),
        }

    return joints


def bencher(creep_mm: float = 0.0, lift_mm: float = 0.0) -> Callable[..., dict[str, np.ndarray]]:
    """Joints on the bench: the shoulder creeps toward the head with time, the hip lifts with the descent."""

    def joints(t: np.ndarray, forward: np.ndarray, up: np.ndarray) -> dict[str, np.ndarray]:
        n, down = len(t), TOP_MM - up
        return {
            "shoulder": place(0.18, -creep_mm * t - 100, 800, n),
            "elbow": place(0.32, -80 + 0.1 * down, 1020 - 0.95 * down, n),
            "wrist": place(0.34, forward - 20, up - 30, n),
            "hip": place(0.09, 420, 560 + lift_mm * down / RANGE_MM, n),
            "knee": place(0.23, 850, 520, n),
            "ankle": place(0.23, 800, 90, n),
            "heel": place(0.22, 760, 30, n),
            "foot_index": place(0.24, 950, 20, n),
        }

    return joints


def puller(hip_share: float = 0.9) -> Callable[..., dict[str, np.ndarray]]:
    """Joints of a deadlift: the hip rises `hip_share` times as much as the bar."""

    def joints(t: np.ndarray, forward: np.ndarray, up: np.ndarray) -> dict[str, np.ndarray]:
        n, risen = len(t), up - 225.0
        share = risen / RANGE_MM
        return {
            "shoulder": place(0.18, 40 - 40 * share, 900 + 600 * share, n),
            "hip": place(0.09, -330 + 330 * share, 580 + hip_share * risen, n),
            "knee": place(0.16, 60 - 60 * share, 520 + 10 * share, n),
            "ankle": place(0.15, 0, 90, n),
            "wrist": place(0.26, forward, up + 20, n),
            "elbow": place(0.23, 20, 600 + 550 * share, n),
            "heel": place(0.14, -60, 30, n),
            "foot_index": place(0.17, 150, 30, n),
        }

    return joints


def oblique(azimuth_deg: float, *, height_m: float = 0.9, roll_deg: float = 0.0) -> Stand:
    """Stand 3.4 m away at an azimuth from the lifter's left, toward his front positive."""
    return stand(
        azimuth_deg, 3.4, height_m, (0.0, 0.0, 0.9), focal_px=989.0, size_px=(1280, 720), roll_deg=roll_deg
    )


def flipped(data: SetData) -> SetData:
    """Mirror the picture left to right, and with it everything that names a side."""
    width = data.clip.width_px

    def turn(xy: np.ndarray) -> np.ndarray:
        return np.concatenate([width - 1 - xy[..., :1], xy[..., 1:]], axis=-1)

    track = data.track
    swap = np.arange(len(LANDMARKS))
    for name in LANDMARKS:
        if name.startswith("left_"):
            swap[INDEX[name]], swap[INDEX["right_" + name[5:]]] = INDEX["right_" + name[5:]], INDEX[name]
    other = {"left": "right", "right": "left", None: None}
    body = evolve(
        data.body, xy_px=turn(data.body.xy_px)[:, swap], sd_px=data.body.sd_px[:, swap],
        state=data.body.state[:, swap], near_side=other[data.body.near_side],
    )  # fmt: skip
    mirrored: BarTrack = evolve(
        track, xy_px=turn(track.xy_px), steady_px=turn(track.steady_px), far_xy_px=turn(track.far_xy_px)
    )
    view: View = evolve(
        data.view,
        near_side=other[data.view.near_side],
        facing={"image_left": "image_right", "image_right": "image_left"}[data.view.facing],
        roll_deg=Value(-data.view.roll_deg.value, data.view.roll_deg.sd),
    )
    return evolve(data, track=mirrored, view=view, body=body)


def enlarged(data: SetData, factor: float) -> SetData:
    """The same scene in a picture `factor` times as large."""

    def grown(xy: np.ndarray) -> np.ndarray:
        return (xy + 0.5) * factor - 0.5

    track, scale = data.track, data.scale
    assert scale is not None
    assert track.diameter_px is not None
    smaller = {
        name: Value(getattr(scale, name).value / factor, getattr(scale, name).sd / factor)
        for name in ("mm_per_px", "body_mm_per_px")
    }
    return evolve(
        data,
        clip=evolve(
            data.clip, width_px=round(data.clip.width_px * factor), height_px=round(data.clip.height_px * factor)
        ),
        scale=evolve(scale, **smaller),
        track=evolve(
            track, xy_px=grown(track.xy_px), steady_px=grown(track.steady_px), far_xy_px=grown(track.far_xy_px),
            sd_px=track.sd_px * factor,
            diameter_px=Value(track.diameter_px.value * factor, track.diameter_px.sd * factor),
        ),
        body=evolve(data.body, xy_px=grown(data.body.xy_px), sd_px=data.body.sd_px * factor),
    )  # fmt: skip
