"""Errors by name, the pinhole against a second one, filters and frame noise against their formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st
from measures.built import PLATE_X_M, scale_of, stand, view_of
from measures.figures import Plan, figure

from midfoot.measures import measure
from midfoot.measures.bar import frame_noise
from midfoot.measures.plane import Lens, optics
from midfoot.measures.uncertain import Number, combine, corner_deg, lean_deg, own
from midfoot.measures.velocity import LOWEST_HZ, cutoff_hz, slope, slope_gain
from midfoot.numeric import low_pass

SMALL = st.floats(-50, 50)


def test_common_errors_drop_out_of_differences_and_own_ones_do_not() -> None:
    a = own(10.0, 3.0, "a").plus("roll", 5.0)
    b = own(4.0, 4.0, "b").plus("roll", 5.0)
    assert (a - b).value == 6.0
    assert (a - b).sd == pytest.approx(5.0)
    assert (a - b).sd_common == pytest.approx(0.0, abs=1e-9)
    assert (a + b).sd_common == pytest.approx(10.0)
    assert (a - a).sd == pytest.approx(0.0, abs=1e-9)


def test_own_errors_of_a_shared_yardstick_become_common() -> None:
    best = own(100.0, 2.0, "best").as_common("the set's highest")
    here = own(90.0, 3.0, "here")
    assert (best - here).sd == pytest.approx(3.0)
    assert (best - here).sd_common == pytest.approx(2.0)


@given(SMALL, SMALL, st.floats(0.01, 1), st.floats(0.01, 1))
def test_a_product_carries_errors_to_first_order(a: float, b: float, sa: float, sb: float) -> None:
    product = own(a, sa, "a") * own(b, sb, "b")
    assert product.sd == pytest.approx(math.hypot(a * sb, b * sa), rel=1e-5, abs=1e-6)


def test_lean_and_corner() -> None:
    assert lean_deg(Number(1.0), Number(1.0)).value == pytest.approx(45)
    assert lean_deg(own(0.0, 1.0, "f"), Number(100.0)).sd == pytest.approx(math.degrees(0.01), rel=1e-4)
    straight = corner_deg((Number(0), Number(0)), (Number(0), Number(1)), (Number(0), Number(2)))
    assert straight.value == pytest.approx(180)
    square = corner_deg((Number(0), Number(0)), (Number(0), Number(1)), (Number(1), Number(1)))
    assert square.value == pytest.approx(90)
    assert combine(max, Number(1, inferred=True), Number(2)).inferred


@given(
    st.floats(-45, 45), st.booleans(), st.floats(0.3, 1.6), st.floats(-4, 4), st.floats(2.5, 6),
    st.floats(-0.4, 0.4), st.floats(-0.4, 1.0), st.floats(0, 0.8),
)  # fmt: skip
def test_pixels_come_back_to_where_they_were(
    yaw: float, right: bool, height: float, roll: float, distance: float, forward: float, up: float, away: float
) -> None:
    # A second camera, written on its own from positions (built.stand), draws the point.
    azimuth = 180 - yaw if right else yaw
    camera = stand(azimuth, distance, height, (0.0, 0.0, 0.9), focal_px=1100, size_px=(1280, 720), roll_deg=roll)
    side = -1.0 if right else 1.0
    plate = np.array([side * PLATE_X_M, 0.03, 1.0])
    found = optics(
        view_of(camera, plate, roll), scale_of(camera, plate), size_px=(1280, 720),
        plate_px=tuple(camera.pixels(plate)),
    )  # fmt: skip
    assert found is not None
    assert found.middle_mm == pytest.approx(PLATE_X_M * 1000, rel=0.02)
    point = plate + np.array([-side * away, -forward, up])
    x, y = camera.pixels(point)
    back = found.lens.on_plane((float(x), float(y)), away * 1000)
    assert back == pytest.approx((forward * 1000, up * 1000), abs=0.05)
    assert found.lens.project(forward * 1000, up * 1000, away * 1000) == pytest.approx((x, y), abs=0.02)
    on_bar = camera.pixels(plate + np.array([-side * away, 0.0, 0.0]))
    if abs(yaw) > 10:
        assert found.lens.along_bar(tuple(on_bar)) == pytest.approx(away * 1000, abs=0.5)


def lens(**changed: float) -> Lens:
    told = dict(sign=1.0, yaw_rad=0.0, roll_rad=0.0, pitch_rad=0.0, distance_mm=2340.0, mm_per_px=2.0)
    return Lens(**{**told, **changed}, centre_px=(639.5, 359.5), plate_px=(639.5, 359.5))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("distance_m", "low", "high"), [(3.0, -25.0, -22.0), (4.0, -18.8, -16.5), (5.0, -15.0, -13.2)]
)
def test_the_plates_scale_shortens_the_body_as_perspective_says(
    distance_m: float, low: float, high: float
) -> None:
    # (D - d) / D with the near plate 0.66-0.75 m from the mid-plane: pinhole geometry, check values 7.1.
    for beside, percent in ((660.0, high), (750.0, low)):
        near = lens(distance_mm=distance_m * 1000 - beside)
        share = near.mm_per_px / near.mm_per_px_at(beside) - 1
        assert 100 * share == pytest.approx(percent, abs=0.06)


@pytest.mark.parametrize(("yaw", "loss"), [(5, 0.38), (10, 1.52), (20, 6.03), (30, 13.4)])
def test_yaw_shortens_forward_by_its_cosine(yaw: float, loss: float) -> None:
    # cos(yaw); check values 7.1. The lens knows its yaw, so what it gives back is longer by that much.
    seen = Lens(1.0, math.radians(yaw), 0, 0, 1e6, 2.0, (0, 0), (0, 0), distant=True)
    assert 100 * (1 - 200.0 / seen.on_plane((100.0, 0.0))[0]) == pytest.approx(loss, abs=0.05)


@pytest.mark.parametrize(("roll", "leak"), [(1, 10.5), (2, 20.9), (3, 31.4)])
def test_roll_leaks_height_into_forward(roll: float, leak: float) -> None:
    # s sin(roll) for 0.6 m; check values 7.1.
    upright = lens()
    x, y = upright.project(0.0, 600.0)
    turned = Lens(1.0, 0, math.radians(roll), 0, 1e6, 2.0, (639.5, 359.5), (639.5, 359.5), distant=True)
    assert abs(turned.on_plane((x, y))[0]) == pytest.approx(leak, abs=0.1)


def test_frame_noise_is_found_under_a_moving_bar() -> None:
    rng = np.random.default_rng(0)
    t = np.arange(0, 8, 1 / 30)
    up = 250 * np.sin(2 * np.pi * 0.4 * t)
    for sd in (0.5, 2.0):
        assert frame_noise(t, up + rng.normal(0, sd, len(t))) == pytest.approx(sd, rel=0.25)
    assert frame_noise(t, up) < 0.3


@pytest.mark.parametrize("fps", [30.0, 60.0, 120.0])
def test_the_slopes_noise_is_what_its_gain_says_and_above_the_bound(fps: float) -> None:
    # Lanshammar 1982 (from memory): no differentiator of a signal band-limited to fb does better than
    # sd^2 tau wb^3 / (3 pi); without a filter, central differences give sd fps / sqrt(2).
    rng = np.random.default_rng(1)
    x = rng.normal(0, 1.0, 40000)
    seen = float(np.std(slope(low_pass(x, fps, 6.0), fps)[200:-200]))
    gain = slope_gain(6.0, fps)
    assert seen == pytest.approx(gain, rel=0.06)
    bound = math.sqrt((2 * math.pi * 6.0) ** 3 / (3 * math.pi * fps))
    assert 0.7 * bound < gain < fps / math.sqrt(2)


def test_the_slope_keeps_what_central_differences_lose() -> None:
    # sin(w)/w: at 30 frames a second a 3 Hz movement loses 6.5 % (check values 5.4).
    t = np.arange(0, 3, 1 / 30)
    x = np.sin(2 * np.pi * 3 * t)
    assert np.max(np.gradient(x, t)[5:-5]) == pytest.approx(0.9355 * 2 * np.pi * 3, rel=0.01)
    assert np.max(slope(x, 30.0)[5:-5]) == pytest.approx(2 * np.pi * 3, rel=0.005)


def test_a_noisier_track_gets_a_lower_cut_off() -> None:
    cutoffs = [cutoff_hz(white, 60.0) for white in (0.1, 0.5, 1.0, 2.0, 5.0)]
    assert cutoffs == sorted(cutoffs, reverse=True)
    assert cutoffs[0] == 10.0
    assert cutoffs[-1] == LOWEST_HZ
    assert cutoff_hz(0.1, 24.0) == 6.0


@pytest.mark.parametrize(("fps", "ms"), [(30.0, 13.6), (60.0, 6.8), (120.0, 3.4)])
def test_a_time_is_never_surer_than_the_frames_allow(fps: float, ms: float) -> None:
    # Between two moments each known to half a frame: sd 1/(f sqrt 6), check values 7.1.
    data, _ = figure((Plan(),), fps=fps)
    sure = [m.__class__(m.t_s, 0.0) for m in (data.reps.reps[0].low_end, data.reps.reps[0].end)]
    rep = evolve(data.reps.reps[0], low_end=sure[0], end=sure[1])
    found = measure(evolve(data, reps=evolve(data.reps, reps=(rep,))))
    assert 1000 * found.of(0, "ascent_time_s").sd == pytest.approx(ms, abs=0.06)
