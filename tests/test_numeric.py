"""Smoothing, differentiating, resampling: outside values (source beside each), laws, gaps."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midfoot.numeric import (
    butterworth,
    derivative,
    derivative_sd,
    derivative_weights,
    local_polynomial_weights,
    low_pass,
    median_rate_hz,
    resample,
    residual_cutoff_hz,
    smoothed,
    smoothed_sd,
    two_pass_correction,
)


def gain(b, a, f_hz, rate_hz):
    z = np.exp(-2j * math.pi * f_hz / rate_hz * np.arange(3))
    return abs(b @ z) / abs(a @ z)


@pytest.mark.parametrize(
    ("passes", "c"),
    # Winter 2009 via the residual-analysis notebook of the BMC project: 0.80224 for two passes; others computed
    [(1, 1.0), (2, 0.80224), (3, 0.71402), (4, 0.65953)],
)
def test_correction_for_passes(passes, c):
    assert two_pass_correction(passes) == pytest.approx(c, abs=6e-6)


def test_ten_hertz_is_designed_at_twelve_and_a_half():
    # published: 10 Hz desired, two passes -> 12.47 Hz design
    assert 10.0 / two_pass_correction() == pytest.approx(12.47, abs=0.006)


@pytest.mark.parametrize(
    ("rate", "cutoff", "a0", "a1", "b1", "b2"),
    # Winter/Robertson coefficients, computed independently from the formula
    [
        (30, 4, 0.14716804, 0.29433607, 0.66129304, -0.24996518),
        (30, 6, 0.26449377, 0.52898755, 0.11597653, -0.17395162),
        (60, 4, 0.04858466, 0.09716932, 1.28700977, -0.48134840),
        (60, 6, 0.09444674, 0.18889349, 0.96264131, -0.34042828),
        (120, 6, 0.02956907, 0.05913815, 1.45810386, -0.57638016),
        (240, 6, 0.00838065, 0.01676130, 1.72485092, -0.75837352),
    ],
)
def test_winter_coefficients(rate, cutoff, a0, a1, b1, b2):
    b, a = butterworth(cutoff, rate)
    np.testing.assert_allclose(b, [a0, a1, a0], atol=6e-9)
    np.testing.assert_allclose(a, [1.0, -b1, -b2], atol=6e-9)
    assert gain(b, a, cutoff, rate) ** 2 == pytest.approx(math.sqrt(0.5), abs=1e-12)


def test_single_pass_is_the_textbook_filter():
    # SciPy's documented butter(2, 0.1)
    b, a = butterworth(0.05, 1.0, passes=1)
    np.testing.assert_allclose(b, [0.02008337, 0.04016673, 0.02008337], atol=6e-9)
    np.testing.assert_allclose(a, [1.0, -1.56101808, 0.64135154], atol=6e-9)


@pytest.mark.parametrize("bad", [0.0, -1.0, 15.0, 20.0])
def test_impossible_cutoff_is_refused(bad):
    with pytest.raises(ValueError, match="cutoff_hz"):
        butterworth(bad, 30.0)


@pytest.mark.parametrize("rate", [30.0, 60.0, 240.0])
def test_two_passes_measured_on_a_sine_have_the_promised_gain_and_no_lag(rate):
    t = np.arange(int(20 * rate)) / rate
    x = np.sin(2 * math.pi * 4.0 * t)
    y = low_pass(x, rate, 4.0)
    middle = slice(int(5 * rate), int(15 * rate))
    assert np.sqrt(2 * np.mean(y[middle] ** 2)) == pytest.approx(math.sqrt(0.5), rel=1e-3)
    assert np.corrcoef(x[middle], y[middle])[0, 1] > 0.999999


@pytest.mark.parametrize(
    ("window", "degree", "order", "weights"),
    # Savitzky & Golay 1964, Anal. Chem. 36:1627
    [
        (5, 2, 0, np.array([-3, 12, 17, 12, -3]) / 35),
        (7, 2, 0, np.array([-2, 3, 6, 7, 6, 3, -2]) / 21),
        (9, 3, 0, np.array([-21, 14, 39, 54, 59, 54, 39, 14, -21]) / 231),
        (5, 2, 1, np.array([-2, -1, 0, 1, 2]) / 10),
        (7, 2, 1, np.arange(-3, 4) / 28),
        (5, 3, 1, np.array([1, -8, 0, 8, -1]) / 12),
        (7, 3, 1, np.array([22, -67, -58, 0, 58, 67, -22]) / 252),
        (5, 2, 2, np.array([2, -1, -2, -1, 2]) / 7),
        (7, 2, 2, np.array([5, 0, -3, -4, -3, 0, 5]) / 42),
    ],
)
def test_savitzky_golay_coefficients(window, degree, order, weights):
    np.testing.assert_allclose(local_polynomial_weights(window, degree, order), weights, atol=1e-12)


@pytest.mark.parametrize("window", [4, 3])
def test_a_window_that_cannot_hold_the_polynomial_is_refused(window):
    with pytest.raises(ValueError, match="window"):
        local_polynomial_weights(window, 3)


@pytest.mark.parametrize(("rate", "sd_v"), [(30, 0.0424), (60, 0.0849), (120, 0.1697), (240, 0.3394)])
def test_noise_of_central_differences(rate, sd_v):
    # sigma fs / sqrt 2 with sigma = 2 mm
    t = np.arange(50) / rate
    np.testing.assert_allclose(derivative_sd(t, np.full(50, 0.002)), sd_v, atol=6e-5)


@pytest.mark.parametrize(
    ("rate", "f", "kept"),
    # sin(2 pi f / fs) / (2 pi f / fs)
    [(30, 1, 0.9927), (30, 3, 0.9355), (60, 2, 0.9927), (120, 3, 0.9959), (240, 1, 0.9999)],
)
def test_amplitude_that_a_central_difference_keeps(rate, f, kept):
    t = np.arange(4 * rate) / rate
    v = derivative(np.sin(2 * math.pi * f * t), rate)[rate : 3 * rate]
    assert np.abs(v).max() / (2 * math.pi * f) == pytest.approx(kept, abs=2e-3)


@pytest.mark.parametrize(("rate", "cutoff"), [(30.0, 4.0), (60.0, 6.0), (240.0, 5.0)])
def test_stated_noise_is_the_noise_that_comes_out(rate, cutoff):
    rng = np.random.default_rng(4)
    t = np.arange(40_000) / rate
    smooth, v = smoothed(t, rng.normal(0.0, 2.0, t.size), cutoff)
    inner = slice(500, -500)
    assert np.std(smooth[inner]) == pytest.approx(smoothed_sd(2.0, rate, cutoff), rel=0.04)
    assert np.std(v[inner]) == pytest.approx(derivative_sd(t, np.full(t.size, 2.0), cutoff)[500], rel=0.04)


def test_noise_of_a_filtered_derivative_stands_above_the_bound_for_any_band_limited_one():
    # Lanshammar 1982 (formula from memory, so only as a bound): sd^2 >= s^2 tau w^3 / (3 pi); 2 mm, 6 Hz, 120 fps
    w = 2 * math.pi * 6.0
    bound = math.sqrt(0.002**2 / 120.0 * w**3 / (3 * math.pi))
    assert bound == pytest.approx(0.0138, abs=6e-5)
    t = np.arange(500) / 120.0
    assert bound < derivative_sd(t, np.full(500, 0.002), 6.0)[250] < 1.6 * bound


def test_weights_of_the_derivative_differentiate_a_line():
    for cutoff in (None, 4.0, 8.0):
        w = derivative_weights(30.0, cutoff)
        place = (np.arange(w.size) - w.size // 2) / 30.0
        assert w.sum() == pytest.approx(0.0, abs=1e-9)
        assert w @ place == pytest.approx(1.0, rel=2e-3)


def test_sd_of_the_derivative_grows_where_the_samples_are_worse():
    t = np.arange(200) / 60.0
    sd = np.where(t > 1.6, 4.0, 1.0)
    out = derivative_sd(t, sd, 5.0)
    assert out[190] == pytest.approx(4.0 * out[20], rel=1e-6)


def test_residual_analysis_finds_the_edge_of_the_band():
    rng = np.random.default_rng(2)
    rate = 100.0
    t = np.arange(1500) / rate
    x = sum(np.sin(2 * math.pi * f * t + f) / f for f in (0.5, 1.0, 2.0, 3.0)) + rng.normal(0.0, 0.02, t.size)
    assert 3.0 < residual_cutoff_hz(x, rate) < 8.0


def test_residual_analysis_needs_a_second_of_signal():
    assert math.isnan(residual_cutoff_hz(np.arange(10.0), 30.0))


def test_uneven_timestamps_are_used_and_not_the_index():
    # a phone drops a frame: index / rate would double one velocity sample
    t = np.delete(np.arange(90) / 30.0, [40, 41, 60])
    even = resample(t, 2.0 * t, 30.0)
    np.testing.assert_allclose(even.x, 2.0 * even.t_s, atol=1e-12)
    _, v = smoothed(t, 2.0 * t, 6.0)
    # the passes start up within a thousandth
    np.testing.assert_allclose(v, 2.0, atol=2e-3)


def test_short_gaps_are_bridged_and_marked_and_long_ones_stay():
    t = np.arange(120) / 30.0
    x = np.sin(t)
    x[20:24] = np.nan
    x[60:80] = np.nan
    even = resample(t, x, 30.0, max_gap_s=0.2)
    assert np.isfinite(even.x[20:24]).all()
    assert not even.measured[20:24].any()
    assert np.isnan(even.x[60:80]).all()
    assert even.measured[:20].all()
    assert even.measured[81:].all()
    smooth, v = smoothed(t, x, 5.0, max_gap_s=0.2)
    assert np.isnan(smooth[60:80]).all()
    assert np.isnan(v[60:80]).all()
    assert np.abs(smooth[:60] - np.sin(t[:60])).max() < 0.01


def test_what_lies_beyond_a_long_gap_changes_nothing_before_it():
    t = np.arange(120) / 30.0
    x = np.sin(3 * t)
    x[50:70] = np.nan
    y = x.copy()
    y[70:] += 1000.0
    np.testing.assert_array_equal(low_pass(x, 30.0, 4.0)[:50], low_pass(y, 30.0, 4.0)[:50])


@pytest.mark.parametrize("n", [0, 1, 2, 5])
def test_tiny_signals_do_no_harm(n):
    t = np.arange(n) / 30.0
    smooth, v = smoothed(t, t.copy(), 4.0)
    assert smooth.shape == v.shape == (n,)


def test_nothing_seen_stays_nothing():
    t = np.arange(30) / 30.0
    nothing = np.full(30, np.nan)
    smooth, v = smoothed(t, nothing, 4.0)
    assert np.isnan(smooth).all()
    assert np.isnan(v).all()
    assert np.isnan(derivative_sd(t, nothing, 4.0)).all()
    assert math.isnan(median_rate_hz(np.array([1.0])))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**31), st.floats(-1e4, 1e4), st.floats(0.1, 10.0), st.floats(-5.0, 5.0))
def test_laws_shift_scale_reverse(seed, start_s, factor, offset):
    rng = np.random.default_rng(seed)
    n = 80
    t = np.cumsum(rng.uniform(0.02, 0.045, n))
    x = np.cumsum(rng.normal(0.0, 1.0, n))
    smooth, v = smoothed(t, x, 4.0)
    moved, v_moved = smoothed(t + start_s, factor * x + offset, 4.0)
    np.testing.assert_allclose(moved, factor * smooth + offset, atol=1e-5 * (1 + factor))
    np.testing.assert_allclose(v_moved, factor * v, atol=1e-4 * (1 + factor) * (1 + np.abs(v).max()))
    even = low_pass(x, 30.0, 4.0)
    # forward and backward: time's direction is all but forgotten (start-up of the passes differs at the ends)
    back = low_pass(x[::-1], 30.0, 4.0)[::-1]
    assert np.abs(even - back)[20:60].max() < 0.02 * np.ptp(x) + 1e-9
