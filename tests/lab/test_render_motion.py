"""What the path generator promises."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lab.render import course_bench, course_deadlift, course_squat, moments, phone
from lab.render.ascent import rise
from lab.render.motion import RepPlan, Variation

ALIKE = Variation(path_m=0.0, tempo=0.0, depth_m=0.0, sway_m=0.0)


def _squat(plans, variation=ALIKE, seed=1, rack=None):
    return course_squat.course(
        plans,
        over_m=0.065,
        top_m=1.42,
        low_m=0.85,
        variation=variation,
        rng=np.random.default_rng(seed),
        rack_m=rack,
    )


@given(st.floats(0, 1), st.floats(0.3, 0.6))
def test_a_rise_goes_from_the_low_to_the_top_and_never_sinks(stick, at):
    share = rise(np.linspace(0, 1, 400), stick, at)
    assert share[0] == pytest.approx(0)
    assert share[-1] == pytest.approx(1)
    assert (np.diff(share) >= 0).all()


def test_sticking_shows_as_two_peaks_with_a_dip_between():
    (row,) = _figures(_squat([RepPlan(up_s=1.8, stick=0.6)]), "squat")
    assert row["sticking_velocity_m_s"] < 0.7 * row["ascent_peak_velocity_m_s"]
    (plain,) = _figures(_squat([RepPlan(up_s=1.2, stick=0.0)]), "squat")
    assert "sticking_velocity_m_s" not in plain


def _figures(course, lift):
    events = moments.of_set(course.t_s, course.up_m, course.marks, deadlift=lift == "deadlift")
    return moments.figures(course.t_s, course.forward_m, course.up_m, events, lift=lift)


def test_without_variation_reps_are_alike_but_for_breathing():
    rows = _figures(_squat([RepPlan()] * 3), "squat")
    # Breathing moves the bar by 0.9 mm each way at both ends of the range, and not forward.
    assert np.ptp([row["range_of_motion_mm"] for row in rows]) < 4 * 0.9
    assert np.ptp([row["path_range_mm"] for row in rows]) < 0.2


def test_variation_is_of_the_size_asked():
    plans = [RepPlan()] * 30
    rows = _figures(_squat(plans, Variation(), seed=5), "squat")
    depth = np.array([row["range_of_motion_mm"] for row in rows])
    pace = np.array([row["ascent_time_s"] for row in rows])
    assert 5 < depth.std() < 14
    assert 0.03 < pace.std() / pace.mean() < 0.10


def test_a_planted_drift_comes_out_as_departure():
    rows = _figures(_squat([RepPlan(), RepPlan(drift_m=0.04)]), "squat")
    assert rows[1]["path_departure_mm"] - rows[0]["path_departure_mm"] > 25


def test_a_walkout_ends_where_the_reps_are_done():
    course = _squat([RepPlan()], rack=0.4)
    first = course.marks[0]["start"]
    assert course.at("walk_m", 0.1) == pytest.approx(0.4)
    assert course.at("walk_m", first) == pytest.approx(0.0, abs=1e-6)
    # Feet stand still on the floor except while they are lifted.
    for foot in range(2):
        spot = course.walk_m + course.step_m[:, foot]
        moving = np.abs(np.gradient(spot, course.t_s)) > 0.05
        assert (course.lift_m[moving, foot] > 0.0005).all()
    np.testing.assert_allclose(course.step_m[[0, -1]], 0.0, atol=1e-6)


def test_a_deadlifts_dip_and_short_lockout():
    plans = [RepPlan(up_s=1.4, pause_s=0.7), RepPlan(up_s=2.2, pause_s=0.7, dip_m=0.016, short_m=0.026)]
    course = course_deadlift.course(
        plans, over_m=0.1, floor_m=0.225, top=(0.08, 0.82), variation=ALIKE, rng=np.random.default_rng(2)
    )
    clean, dipped = _figures(course, "deadlift")
    assert clean["downward_movement_mm"] < 0.5
    assert 12 < dipped["downward_movement_mm"] < 17
    assert dipped["lockout_shortfall_mm"] == pytest.approx(26, abs=2)
    assert course.up_m.min() == pytest.approx(0.225, abs=1e-6)
    assert _figures(course, "deadlift")[0]["range_of_motion_mm"] == pytest.approx(595, abs=2)


def test_a_bench_set_touches_where_it_is_told():
    chest = np.stack([np.linspace(-0.6, -0.2, 20), np.full(20, 0.72)], axis=1)
    plans = [RepPlan(pause_s=0.6), RepPlan(pause_s=0.3, touch_m=0.03)]
    course = course_bench.course(
        plans, top=(-0.46, 1.12), touch_m=-0.38, chest_at=chest, variation=ALIKE, rng=np.random.default_rng(4),
        hooks=(-0.6, 1.03),
    )  # fmt: skip
    one, two = _figures(course, "bench")
    assert two["path_at_low_mm"] - one["path_at_low_mm"] == pytest.approx(30, abs=2)
    assert one["pause_time_s"] - two["pause_time_s"] == pytest.approx(0.3, abs=0.05)
    assert one["path_departure_mm"] < -60


def test_the_same_seed_gives_the_same_course():
    one, two = (_squat([RepPlan()] * 2, Variation(), seed=9) for _ in range(2))
    np.testing.assert_array_equal(one.up_m, two.up_m)
    assert not np.array_equal(one.up_m, _squat([RepPlan()] * 2, Variation(), seed=10).up_m)


@settings(max_examples=25)
@given(st.booleans(), st.sampled_from([30.0, 59.94]), st.integers(0, 1000))
def test_frame_times_rise_in_whole_ticks(variable, fps, seed):
    how = phone.Phone(fps=fps, variable=variable)
    times = phone.frame_times(12.0, how, np.random.default_rng(seed))
    assert times[0] == 0.0
    gaps = np.diff(times)
    assert (gaps > 0.4 / fps).all()
    assert gaps.max() < 2.1 / fps
    np.testing.assert_allclose(times * phone.CLOCK, np.round(times * phone.CLOCK), atol=1e-6)
    assert (np.ptp(gaps[1:]) > 2e-4) == variable
