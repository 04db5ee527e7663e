"""The rule for moments on paths whose moments can be written down."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lab.render import moments


def _rep(depth, down, still, up, hold=1.0, sense=-1.0, base=1.4):
    """Half cosines down and up with rests between, and the times the rule must give."""
    t = np.arange(0, hold + down + still + up + hold, 0.002)
    s1 = np.clip((t - hold) / down, 0, 1)
    s2 = np.clip((t - hold - down - still) / up, 0, 1)
    z = base + sense * depth * ((1 - np.cos(np.pi * s1)) / 2 - (1 - np.cos(np.pi * s2)) / 2)
    share = np.arccos(1 - 2 * 0.010 / depth) / np.pi
    exact = {
        "start": hold + down * share,
        "first": hold + down * (1 - share),
        "last": hold + down + still + up * share,
        "end": hold + down + still + up * (1 - share),
    }
    return t, z, {"start": hold, "turn": hold + down + still / 2, "end": hold + down + still + up}, exact


@given(st.floats(0.2, 0.7), st.floats(0.6, 2), st.floats(0.05, 1), st.floats(0.6, 3))
def test_squat_moments_by_arithmetic(depth, down, still, up):
    t, z, marks, exact = _rep(depth, down, still, up)
    (event,) = moments.of_set(t, z, [marks], deadlift=False)
    assert event["start_s"] == pytest.approx(exact["start"], abs=1e-4)
    assert event["low_start_s"] == pytest.approx(exact["first"], abs=1e-4)
    assert event["low_end_s"] == pytest.approx(exact["last"], abs=1e-4)
    assert event["end_s"] == pytest.approx(exact["end"], abs=1e-4)


def test_deadlift_is_the_same_upside_down():
    t, z, marks, exact = _rep(0.55, 1.2, 0.6, 1.0, sense=1.0, base=0.225)
    (event,) = moments.of_set(t, z, [marks], deadlift=True)
    assert event["start_s"] == pytest.approx(exact["start"], abs=1e-4)
    assert event["top_start_s"] == pytest.approx(exact["first"], abs=1e-4)
    assert event["top_end_s"] == pytest.approx(exact["last"], abs=1e-4)
    assert event["end_s"] == pytest.approx(exact["end"], abs=1e-4)


def test_figures_by_arithmetic():
    depth, up = 0.5, 1.4
    t, z, marks, exact = _rep(depth, 1.2, 0.4, up)
    forward = 0.05 * (1.4 - z) / depth
    (event,) = moments.of_set(t, z, [marks], deadlift=False)
    (row,) = moments.figures(t, forward, z, [event], lift="squat")
    assert row["range_of_motion_mm"] == pytest.approx(500, abs=0.01)
    assert row["ascent_time_s"] == pytest.approx(exact["end"] - exact["last"], abs=2e-4)
    assert row["ascent_mean_velocity_m_s"] == pytest.approx(0.480 / (exact["end"] - exact["last"]), abs=1e-3)
    assert row["ascent_peak_velocity_m_s"] == pytest.approx(np.pi * depth / (2 * up), abs=1e-3)
    assert row["path_at_low_mm"] == pytest.approx(49.0, abs=0.1)
    assert row["path_departure_mm"] == pytest.approx(-49.0, abs=0.1)
    assert row["downward_movement_mm"] == 0.0
    assert "sticking_velocity_m_s" not in row


def test_a_dip_on_the_way_up_is_sunk_height():
    t, z, marks, _ = _rep(0.55, 1.5, 0.6, 1.0, sense=1.0, base=0.225)
    dip = 0.02 * np.exp(-(((t - 1.8) / 0.02) ** 2))
    (event,) = moments.of_set(t, z - dip, [marks], deadlift=True)
    (row,) = moments.figures(t, np.zeros_like(t), z - dip, [event], lift="deadlift")
    rising = (t > 1.7) & (t < 1.9)
    by_hand = np.max(np.maximum.accumulate((z - dip)[rising]) - (z - dip)[rising]) * 1000
    assert row["downward_movement_mm"] == pytest.approx(by_hand, abs=1e-6)
    assert 2.0 < row["downward_movement_mm"] < 20.0


@given(st.floats(-3, 3), st.floats(0.2, 2.0))
def test_moments_move_with_the_clock(shift, base):
    t, z, marks, _ = _rep(0.5, 1.0, 0.3, 1.2, base=base)
    (before,) = moments.of_set(t, z, [marks], deadlift=False)
    (after,) = moments.of_set(t + shift, z, [{k: v + shift for k, v in marks.items()}], deadlift=False)
    for key in ("start_s", "low_start_s", "low_end_s", "end_s"):
        assert after[key] - before[key] == pytest.approx(shift, abs=1e-6)


def test_a_missed_rise_ends_where_it_comes_near_its_highest_point_and_not_where_its_sway_is_highest():
    t = np.arange(0, 8, 0.002)
    ease = lambda a, b: (1 - np.cos(np.pi * np.clip((t - a) / (b - a), 0, 1))) / 2  # noqa: E731
    up = 1.4 - 0.6 * ease(1, 2.5) + 0.3 * ease(2.8, 3.8) - 0.3 * ease(4.8, 5.8)
    marks = {"start": 1.0, "turn": 2.65, "end": 5.8, "peak": 4.3}
    late = 0.001 * np.exp(-(((t - 4.7) / 0.05) ** 2))
    for sway in (0.0 * t, late):
        (event,) = moments.of_set(t, up + sway, [marks], deadlift=False, outcomes=["missed"])
        # a millimetre of sway raises the level by as much, at 0.17 m/s there
        share = np.arccos(1 - 2 * (0.010 - sway.max()) / 0.3) / np.pi
        assert event["end_s"] == pytest.approx(2.8 + (1 - share), abs=2e-3)
        assert event["low_end_s"] == pytest.approx(2.8 + np.arccos(1 - 2 * 0.010 / 0.3) / np.pi, abs=2e-3)


def test_a_sprung_bar_leaves_its_top_when_it_is_lowered_and_not_when_it_swings():
    t, z, marks, exact = _rep(0.55, 1.2, 1.0, 1.0, sense=1.0, base=0.225)
    from_s = 2.2
    swing = 0.009 * np.exp(-(t - from_s) / 0.25) * np.cos(2 * np.pi * 4 * (t - from_s)) * (t >= from_s)
    swing *= np.clip((t - from_s) / 0.02, 0, 1)
    (event,) = moments.of_set(t, z + swing, [marks], deadlift=True)
    assert np.ptp((z + swing)[(t > 2.2) & (t < 3.2)]) > 0.011
    assert event["top_end_s"] > exact["last"] - 0.10
    assert event["top_start_s"] < from_s
