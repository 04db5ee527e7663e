"""Laws of finding reps: what must change nothing, and what must change in step."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st
from made_reps import Made, info_of, nobody, sampled

from midfoot.records.bar import BarPath
from midfoot.records.reps import RepSet
from midfoot.reps import find_reps

LIFT = st.sampled_from(["squat", "bench", "deadlift"])


def made_of(lift: str, count: int, holds: list[float], extra: float = 0.0) -> Made:
    """A set with holds of these lengths between the reps; `extra` lengthens the one before the first."""
    made = Made(225.0 if lift == "deadlift" else 1200.0).hold(1.5 + extra)
    depth = {"squat": 560.0, "bench": 320.0, "deadlift": -540.0}[lift]
    for k in range(count):
        made.rep(depth, 1.2, 0.5, 1.1).hold(holds[k % len(holds)])
    return made.hold(0.6)


def find(path: BarPath, lift: str) -> RepSet:
    return find_reps(path, nobody(), lift=lift, info=info_of(path.t_s))


def times(reps: RepSet) -> np.ndarray:
    """All moments, (reps, 4); every rep must have all of them."""
    rows = []
    for r in reps.reps:
        moments = (r.start, r.low_start or r.top_start, r.low_end or r.top_end, r.end)
        assert r.outcome == "completed"
        assert all(m is not None for m in moments)
        rows.append([m.t_s for m in moments if m is not None])
    return np.array(rows)


@given(LIFT, st.floats(-50, 5000), st.integers(1, 4))
@settings(max_examples=15)
def test_shift_of_time(lift: str, shift_s: float, count: int) -> None:
    """A later clock gives later moments and nothing else."""
    path, _ = sampled(made_of(lift, count, [1.0]), noise_mm=0.7)

    moved = times(find(evolve(path, t_s=path.t_s + shift_s), lift))

    assert np.allclose(moved - shift_s, times(find(path, lift)), atol=1e-3)


@given(LIFT, st.booleans(), st.floats(-2000, 2000))
@settings(max_examples=15)
def test_mirror_and_origin(lift: str, mirrored: bool, height_mm: float) -> None:
    """Facing the other way and another origin of height change nothing."""
    path, _ = sampled(made_of(lift, 2, [1.0]), noise_mm=0.7)
    forward = -path.forward_mm if mirrored else path.forward_mm
    other = evolve(path, forward_mm=forward, up_mm=path.up_mm + height_mm)

    assert np.allclose(times(find(other, lift)), times(find(path, lift)), atol=1e-6)


@given(LIFT, st.floats(0.9, 1.1))
@settings(max_examples=15)
def test_small_change_of_scale(lift: str, scale: float) -> None:
    """A scale that is 10 % wrong moves the band by 1 mm: no count changes, moments by some ms."""
    path, _ = sampled(made_of(lift, 3, [1.0]), noise_mm=0.5)

    scaled = times(find(evolve(path, up_mm=path.up_mm * scale), lift))

    assert np.abs(scaled - times(find(path, lift))).max() < 0.03


@given(LIFT, st.floats(20, 120), st.floats(0, 0.9), st.integers(0, 1000))
@settings(max_examples=20)
def test_resampling(lift: str, rate_hz: float, jitter: float, seed: int) -> None:
    """Other frame rates and uneven timing keep the moments within a frame."""
    made = made_of(lift, 2, [1.0])
    path, _ = sampled(made, rate_hz=rate_hz, jitter=jitter, seed=seed)

    assert np.abs(times(find(path, lift)) - np.array(made.moments())).max() < 0.005 + 0.6 / rate_hz


@given(LIFT, st.floats(0.4, 8.0))
@settings(max_examples=15)
def test_longer_hold(lift: str, extra_s: float) -> None:
    """A longer hold before the set delays the moments by as much."""
    short, _ = sampled(made_of(lift, 2, [1.0]))
    long, _ = sampled(made_of(lift, 2, [1.0], extra=extra_s))

    assert np.abs(times(find(long, lift)) - extra_s - times(find(short, lift))).max() < 0.02


@given(LIFT, st.integers(1, 9), st.lists(st.floats(0.0, 3.0), min_size=1, max_size=4), st.integers(0, 10_000))
@settings(max_examples=40)
def test_count_under_noise(lift: str, count: int, holds: list[float], seed: int) -> None:
    """However many reps and however long the holds: noise of a followed plate never changes the count."""
    path, _ = sampled(made_of(lift, count, holds), noise_mm=2.0, px_mm=2.0, jitter=0.3, seed=seed)

    assert [r.outcome for r in find(path, lift).reps] == ["completed"] * count


@given(st.integers(0, 10_000), st.integers(2, 9), st.floats(10, 40), st.floats(0.4, 0.8))
@settings(max_examples=25)
def test_walkout_adds_no_rep(seed: int, count: int, jolt_mm: float, pace_s: float) -> None:
    """Steps before and after the set, of any size and pace, add and take away nothing."""
    made = Made(1250).hold(1).move(50, 0.6).steps(count, jolt_mm, pace_s).hold(1.2)
    made.rep().hold(1).rep().hold(1.2).steps(count, jolt_mm, pace_s, 150).move(-50, 0.6).hold(1)
    path, _ = sampled(made, noise_mm=1.0, sway_mm=3.0, seed=seed)

    reps = find(path, "squat")

    assert np.abs(times(reps) - np.array(made.moments())).max() < 0.15
    assert len(reps.reps) == 2


@given(LIFT, st.integers(0, 10_000))
@settings(max_examples=20)
def test_moments_stand_in_order(lift: str, seed: int) -> None:
    """Within a rep and from rep to rep time goes forward, and phases tile without overlap."""
    path, _ = sampled(made_of(lift, 4, [0.0, 0.3]), noise_mm=6.0, seed=seed)

    reps = find(path, lift)
    rows = [(r.start, r.low_start or r.top_start, r.low_end or r.top_end, r.end) for r in reps.reps]
    flat = [m.t_s for row in rows for m in row if m is not None]

    assert all(b >= a - 0.06 for a, b in pairwise(flat))
    assert all(b.start_s >= a.end_s - 1e-9 for a, b in pairwise(reps.phases))
