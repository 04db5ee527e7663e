"""What is stated of a moment's error: laws of it, and whether it covers moments that were made."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from made_reps import Made, info_of, nobody, sampled

from midfoot.records.reps import Moment, Rep
from midfoot.reps import find_reps

G_MM_S2 = 9806.65
"""Standard gravity."""


def reps_of(made: Made, lift: str, **errors: object) -> tuple[Rep, ...]:
    path, info = sampled(made, **errors)  # type: ignore[arg-type]
    return find_reps(path, nobody(), lift=lift, info=info).reps


def four(rep: Rep) -> list[Moment]:
    moments = (rep.start, rep.low_start or rep.top_start, rep.low_end or rep.top_end, rep.end)
    return [m for m in moments if m is not None]


def risen_in(up_s: float) -> Made:
    """A squat of 600 mm that comes up in this time; by minimum jerk it enters the last 10 mm at 253/up_s mm/s."""
    return Made(1300).hold(2).move(-600, 1.5).hold(0.3).move(600, up_s).hold(2.5)


@given(st.floats(0.8, 3.0), st.floats(1.5, 2.5), st.floats(0.4, 3.0))
@settings(max_examples=25, deadline=None, phases=[Phase.generate])
def test_the_slower_the_crossing_the_wider_its_sd(up_s: float, slower: float, said_sd_mm: float) -> None:
    """An error of a height is that error over the speed in time: half the speed, twice the time."""
    quick, slow = (reps_of(risen_in(s), "squat", said_sd_mm=said_sd_mm)[0].end for s in (up_s, slower * up_s))

    assert quick is not None
    assert slow is not None
    assert slow.sd_s > quick.sd_s


@pytest.mark.parametrize("up_s", [2.0, 5.0, 8.0])
@pytest.mark.parametrize("said_sd_mm", [0.5, 1.0, 2.0])
def test_a_moment_is_no_surer_than_its_speed_and_the_frames_allow(up_s: float, said_sd_mm: float) -> None:
    """At the speed at the band's edge, half of what is stated of a row is left at least."""
    speed = 253 / up_s

    end = reps_of(risen_in(up_s), "squat", said_sd_mm=said_sd_mm)[0].end

    assert end is not None
    assert end.sd_s >= np.hypot(0.5 * said_sd_mm / speed, 1 / 30 / np.sqrt(12))


@given(st.floats(-50, 900), st.integers(0, 40))
@settings(max_examples=15, deadline=None)
def test_moments_and_their_sds_move_with_the_clock(shift_s: float, seed: int) -> None:
    path, info = sampled(Made(1300).hold(2).rep().hold(2).rep(stick=0.5).hold(2), noise_mm=1.0, seed=seed)
    later = evolve(path, t_s=path.t_s + shift_s)

    for a, b in zip(
        find_reps(path, nobody(), lift="squat", info=info).reps,
        find_reps(later, nobody(), lift="squat", info=info_of(later.t_s)).reps,
        strict=True,
    ):
        for one, other in zip(four(a), four(b), strict=True):
            assert other.t_s - one.t_s == pytest.approx(shift_s, abs=1e-6)
            assert other.sd_s == pytest.approx(one.sd_s, rel=1e-6)


@given(st.floats(1.0, 2.5), st.floats(0.9, 2.5), st.floats(0.1, 0.8))
@settings(max_examples=15, deadline=None)
def test_a_set_run_backward_has_its_moments_backward(down_s: float, up_s: float, pause_s: float) -> None:
    """What is left is entered when time runs backward, as surely."""
    path, info = sampled(Made(1300).hold(2).rep(600, down_s, pause_s, up_s).hold(2), said_sd_mm=1.0)
    span = float(path.t_s[-1])
    back = evolve(
        path, t_s=span - path.t_s[::-1], up_mm=path.up_mm[::-1], forward_mm=path.forward_mm[::-1],
        seen=path.seen[::-1],
    )  # fmt: skip

    (rep,) = find_reps(path, nobody(), lift="squat", info=info).reps
    (mirrored,) = find_reps(back, nobody(), lift="squat", info=info_of(back.t_s)).reps

    for one, other in zip(four(rep), reversed(four(mirrored)), strict=True):
        assert span - other.t_s == pytest.approx(one.t_s, abs=0.012)
        assert other.sd_s == pytest.approx(one.sd_s, rel=0.15)


def missed(rng: np.random.Generator) -> tuple[Made, float]:
    """A set whose last rep stands or turns on its way up and goes down again; when it came near its highest."""
    depth, stuck = rng.uniform(350, 650), rng.uniform(0.3, 0.7)
    made = Made(1300).hold(1.5)
    for _ in range(int(rng.integers(0, 3))):
        made.rep(depth, rng.uniform(1, 1.8), rng.uniform(0.05, 0.6), rng.uniform(0.9, 1.6)).hold(1.2)
    made.move(-depth, rng.uniform(1, 1.8)).hold(rng.uniform(0.05, 0.5))
    from_row = made.n
    made.move(stuck * depth, rng.uniform(1.0, 2.0), stick=rng.uniform(0, 0.5)).hold(rng.uniform(0.0, 1.5))
    past_row = made.n
    made.move(-stuck * depth, rng.uniform(0.6, 1.4)).hold(2.5)
    t, up, _ = made.dense
    near = up[from_row:past_row] >= up[from_row:past_row].max() - 10
    return made, float(t[from_row + np.flatnonzero(near)[0]])


@pytest.mark.parametrize("noise_mm", [0.4, 1.5, 3.0])
def test_ends_of_missed_reps_lie_within_what_is_stated(noise_mm: float) -> None:
    """However long the bar stands there: 19 of 20 within two sds, and no sd is wider than twice its errors."""
    scores, sds = [], []
    for seed in range(80):
        rng = np.random.default_rng([seed, 77])
        made, true_s = missed(rng)
        rate = float(rng.choice([24.0, 30.0, 60.0]))
        reps = reps_of(made, "squat", rate_hz=rate, noise_mm=noise_mm, tau_s=0.1, seed=seed)
        if reps[-1].outcome != "missed" or reps[-1].end is None:
            continue
        scores.append((reps[-1].end.t_s - true_s) / reps[-1].end.sd_s)
        sds.append(reps[-1].end.sd_s)

    assert len(scores) >= 76
    assert np.mean(np.abs(scores) < 2) >= 0.95
    assert np.sqrt(np.mean(np.square(scores))) > 0.35
    assert np.median(sds) < 0.02 + 0.015 * noise_mm


def let_go(height_mm: float, bounce: float) -> tuple[Made, float]:
    """A pull whose bar falls and bounces twice, and when it first comes within 10 mm of the floor."""
    made = Made(225).hold(2).move(height_mm, 1.2).hold(0.5)
    begun_s = made.n / 1000
    up = height_mm
    half_s = np.sqrt(2 * up / G_MM_S2)
    made._add(225 + up - 0.5 * G_MM_S2 * np.arange(0, half_s, 0.001) ** 2)
    for share in (bounce, bounce**2):
        half = np.sqrt(2 * share * up / G_MM_S2)
        s = np.arange(0, 2 * half, 0.001) - half
        made._add(225 + share * up - 0.5 * G_MM_S2 * s**2)
    made._add(np.full(1, 225.0))
    return made.hold(2), float(begun_s + np.sqrt(2 * (up - 10) / G_MM_S2))


@pytest.mark.parametrize("noise_mm", [0.8, 3.0])
@pytest.mark.parametrize("bounce", [0.0, 0.05, 0.12])
@pytest.mark.parametrize("rate_hz", [24.0, 30.0, 60.0])
def test_a_dropped_bar_is_down_when_it_first_lands(rate_hz: float, bounce: float, noise_mm: float) -> None:
    """Free fall says when (half g t squared); a bounce of 25 mm and more hid it from the smoothed heights."""
    for seed in range(6):
        rng = np.random.default_rng(seed)
        made, true_s = let_go(rng.uniform(420, 620), bounce)
        reps = reps_of(made, "deadlift", rate_hz=rate_hz, noise_mm=noise_mm, seed=seed, cut=(seed / 150, 7.0))

        assert [r.outcome for r in reps] == ["dropped"]
        assert reps[0].end is not None
        assert abs(reps[0].end.t_s - true_s) < min(0.025, 3 * reps[0].end.sd_s)


@pytest.mark.parametrize("down_s", [0.6, 0.75, 1.0])
def test_a_bar_lowered_fast_is_not_dropped(down_s: float) -> None:
    """It brakes before the floor, as a falling one does not."""
    for rate_hz in (24.0, 30.0, 60.0):
        for seed in range(4):
            made = Made(225).hold(2).rep(-560, 1.2, 0.5, down_s).hold(1.5)
            reps = reps_of(made, "deadlift", rate_hz=rate_hz, noise_mm=0.8, seed=seed, cut=(0.007 * seed, 7.0))
            assert [r.outcome for r in reps] == ["completed"]


@pytest.mark.parametrize("noise_mm", [3.0, 8.0])
def test_moments_of_a_bar_followed_at_the_hands_lie_within_what_is_stated(noise_mm: float) -> None:
    """Errors with a memory of 0.15 s are left in smoothed heights; a still bar shows only part of them.

    95 of 100 within two sds, less three standard errors of that share among so many.
    """
    scores = []
    for seed in range(100):
        rng = np.random.default_rng([seed, 5])
        made = Made(1300).hold(1.5)
        for _ in range(3):
            made.rep(rng.uniform(400, 650), rng.uniform(1, 2), rng.uniform(0.1, 0.8), rng.uniform(0.9, 2.0))
            made.hold(1.2)
        reps = reps_of(made, "squat", noise_mm=noise_mm, seed=seed, source="hands")
        for rep, true in zip(reps, made.moments(), strict=True):
            scores += [(m.t_s - t) / m.sd_s for m, t in zip(four(rep), true, strict=True)]

    assert len(scores) == 1200
    assert np.mean(np.abs(scores) < 2) >= 0.95 - 3 * np.sqrt(0.05 * 0.95 / 1200)
    assert 0.6 < np.sqrt(np.mean(np.square(scores))) < 1.15


@given(st.sampled_from([24.0, 30.0, 60.0, 120.0]), st.floats(0.3, 4.0), st.integers(0, 50))
@settings(max_examples=20, deadline=None)
def test_no_moment_is_surer_than_a_frame(rate_hz: float, noise_mm: float, seed: int) -> None:
    """What lies between two frames is spread evenly: an interval over the square root of 12."""
    made = Made(1300).hold(1.5).rep().hold(1).rep(pause_s=0.8, stick=0.6).hold(1.5)
    for rep in reps_of(made, "squat", rate_hz=rate_hz, noise_mm=noise_mm, seed=seed):
        assert all(m.sd_s >= 1 / rate_hz / np.sqrt(12) - 1e-6 for m in four(rep))


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_sds_are_numbers_however_the_clip_is_cut_and_shaken(lift: str) -> None:
    """Crossings at the clip's edges, in rounded heights and under noise of any size: positive, within the clip."""
    count = 0
    for seed in range(40):
        rng = np.random.default_rng([seed, 9])
        sign = -1 if lift == "deadlift" else 1
        made = Made(225 if sign < 0 else 1300).hold(rng.uniform(0.05, 1.5))
        for _ in range(int(rng.integers(1, 4))):
            made.rep(
                sign * rng.uniform(150, 600), rng.uniform(0.5, 2), rng.uniform(0, 0.8), rng.uniform(0.5, 2.5),
                stick=rng.uniform(0, 0.9),
            ).hold(rng.uniform(0.05, 1))  # fmt: skip
        span = made.n / 1000
        cut = (rng.uniform(0, 0.4) * span, span - rng.uniform(0, 0.3) * span)
        noise, rounded = float(rng.choice([0, 0.5, 3, 10, 25])), float(rng.choice([0, 2]))
        rate = float(rng.choice([15, 24, 30, 60]))
        for rep in reps_of(made, lift, noise_mm=noise, px_mm=rounded, rate_hz=rate, lost=0.1, seed=seed, cut=cut):
            for m in four(rep) if rep.start is not None or rep.end is not None else []:
                count += 1
                assert 0 < m.sd_s < cut[1] - cut[0]
                assert cut[0] - 0.35 <= m.t_s <= cut[1] + 0.35
    assert count > 100
