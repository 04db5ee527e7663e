"""Ends of sets as they are filmed: a walk to the rack is no lockout, a bar laid on its hooks no further rep."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from midfoot.records.bar import BarPath
from midfoot.records.body import BodyTrack
from midfoot.records.clip import ClipInfo
from midfoot.reps import find_reps

NOBODY = BodyTrack(
    status="not_seen", model="full", t_s=[], xy_px=np.zeros((0, 33, 2)), sd_px=np.zeros((0, 33)),
    state=np.zeros((0, 33)), peak=np.zeros((0, 33)), depth_m=np.zeros((0, 33)), world_m=np.zeros((0, 33, 3)),
)  # fmt: skip


def path_through(knots: list[tuple[float, float]]) -> BarPath:
    """Heights eased through (seconds, mm), 30 a second, noise of 0.7 mm."""
    t = np.arange(0, knots[-1][0], 1 / 30)
    up = np.zeros_like(t)
    for (t0, a), (t1, b) in itertools.pairwise(knots):
        inside = (t >= t0) & (t <= t1)
        up[inside] = a + (b - a) * 0.5 * (1 - np.cos(np.pi * (t[inside] - t0) / (t1 - t0)))
    up += np.random.default_rng(3).normal(0, 0.7, len(t))
    n = len(t)
    return BarPath(
        t_s=t, forward_mm=np.zeros(n), up_mm=up, sd_forward_mm=np.full(n, 0.7), sd_up_mm=np.full(n, 0.7),
        seen=np.ones(n, bool), scale_pct=1.0, yaw_deg=2.0, roll_deg=1.5, source="plate",
    )  # fmt: skip


def info_of(path: BarPath) -> ClipInfo:
    """Facts of a clip that holds the path."""
    return ClipInfo(
        name="made", sha256="0" * 64, duration_s=float(path.t_s[-1]), frames=len(path.t_s), width_px=640,
        height_px=480, rotation_deg=0, mirrored=False, variable_rate=False, frame_interval_median_s=1 / 30,
        frame_interval_max_s=1 / 30, codec="h264", bit_depth=8, hdr=False,
    )  # fmt: skip


def test_the_walk_to_the_rack_is_not_the_lockout() -> None:
    """Back where it came from at 5.0 s, swaying by 15 mm, the bar then goes 100 mm up onto its hooks by 7.2 s."""
    path = path_through(
        [
            (0, 0),
            (2, 0),
            (3.5, -560),
            (3.8, -560),
            (5.0, 15),
            (5.4, 0),
            (5.8, 14),
            (6.2, 2),
            (7.2, 110),
            (8.4, 110),
        ]
    )

    found = find_reps(path, NOBODY, lift="squat", info=info_of(path))

    assert [r.outcome for r in found.reps] == ["completed"]
    assert found.reps[0].end is not None
    assert found.reps[0].end.t_s == pytest.approx(4.9, abs=0.2)


def test_a_bar_laid_on_its_hooks_is_no_further_rep() -> None:
    """After the press the bar goes 140 mm down and lies there for a second; then the picture moves to its end."""
    path = path_through(
        [
            (0, 0),
            (2, 0),
            (3.2, -370),
            (3.6, -370),
            (6.0, 15),
            (6.6, 15),
            (7.3, -130),
            (8.3, -130),
            (8.8, -200),
            (9, -240),
        ]
    )

    found = find_reps(path, NOBODY, lift="bench", info=info_of(path))

    assert [r.outcome for r in found.reps] == ["completed"]


def test_a_bar_on_its_hooks_is_no_rep_though_the_camera_sinks() -> None:
    """115 mm down the bar lies on its hooks; the hand that films sinks on: it is never still, then turns away."""
    path = path_through(
        [(0, 0), (2, 0), (3.2, -310), (3.6, -310), (6.0, 15), (6.6, 15), (7.2, -100), (8.2, -118), (8.5, -190)]
    )

    found = find_reps(path, NOBODY, lift="bench", info=info_of(path))

    assert [r.outcome for r in found.reps] == ["completed"]


def test_a_slow_descent_that_the_clip_ends_is_a_rep_cut_off() -> None:
    """At 60 mm a second it goes on without a halt: not racking."""
    times = [(6.6 + k / 10, 15.0 - 6.0 * k) for k in range(1, 31)]
    path = path_through([(0, 0), (2, 0), (3.2, -310), (3.6, -310), (6.0, 15), (6.6, 15), *times])

    found = find_reps(path, NOBODY, lift="bench", info=info_of(path))

    assert [r.outcome for r in found.reps] == ["completed", "cut_off"]
