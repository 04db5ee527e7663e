"""Against sets made by formula: what a rep was planned to do is what is measured."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from measures.figures import RANGE_MM, Plan, bencher, figure, oblique, puller, squatter

from midfoot.measures import measure, velocity_curve
from midfoot.records.base import NotMeasured
from midfoot.records.body import HIDDEN, INDEX
from midfoot.records.measures import Curve, Measure, Measured, SetData

THREE = (Plan(), Plan(up_s=1.8, bulge_mm=45), Plan(up_s=2.4, bulge_mm=70))


def value(found: Measured, rep: int, name: str) -> float:
    m = found.of(rep, name)
    assert m is not None
    assert m.value is not None, f"{name}: {m.reason}"
    return m.value


def got(found: Measured, rep: int, name: str) -> Measure:
    m = found.of(rep, name)
    assert m is not None
    return m


def fine_speed(data: SetData, heights: object, rep: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Truth of an ascent on a fine grid: time, up (mm), velocity (m/s)."""
    first, last = data.reps.reps[rep].ascent_s
    t = np.linspace(first, last, 4000)
    up = heights.at(t)[1]
    return t, up, np.gradient(up, t) / 1000


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
@pytest.mark.parametrize("fps", [24.0, 30.0, 60.0, 120.0])
def test_range_departure_and_velocities(lift: str, fps: float) -> None:
    data, heights = figure(THREE, lift, fps=fps)
    found = measure(data)
    for rep, plan in enumerate(THREE):
        _, up, speed = fine_speed(data, heights, rep)
        first, last = data.reps.reps[rep].ascent_s
        assert value(found, rep, "range_of_motion_mm") == pytest.approx(RANGE_MM, abs=0.6)
        r = data.reps.reps[rep]
        begin = (first, first) if lift == "deadlift" else (r.low_start.t_s, r.low_end.t_s)
        reference = heights.at(np.linspace(*begin, 500))[0].mean()
        assert value(found, rep, "path_departure_mm") == pytest.approx(plan.bulge_mm - reference, abs=0.3)
        assert value(found, rep, "path_forward_mm") == pytest.approx(max(plan.bulge_mm - reference, 0.0), abs=0.3)
        assert value(found, rep, "path_range_mm") == pytest.approx(plan.bulge_mm, abs=1.0)
        mean = (up[-1] - up[0]) / 1000 / (last - first)
        assert value(found, rep, "ascent_mean_velocity_m_s") == pytest.approx(mean, abs=0.003)
        assert value(found, rep, "ascent_peak_velocity_m_s") == pytest.approx(speed.max(), abs=0.012)
        assert got(found, rep, "sticking_velocity_m_s").status == "not_applicable"


@pytest.mark.parametrize("fps", [30.0, 60.0])
def test_sticking_region_is_where_it_was_put(fps: float) -> None:
    data, heights = figure((Plan(dip=0.75, up_s=2.2),), fps=fps, noise_mm=0.5)
    found = measure(data)
    _, up, v = fine_speed(data, heights, 0)
    peak = int(np.argmax(v[: len(v) // 3]))
    low = peak + int(np.argmin(v[peak : len(v) * 2 // 3]))
    again = low + int(np.argmax(v[low:]))
    for name, row in (("first_peak_velocity_m_s", peak), ("sticking_velocity_m_s", low),
                      ("second_peak_velocity_m_s", again)):  # fmt: skip
        m = got(found, 0, name)
        assert abs(m.value - v[row]) < 3 * m.sd
        assert m.sd < 0.015
    height = got(found, 0, "sticking_height_mm")
    assert abs(height.value - (up[low] - up.min() + 10)) < 3 * np.hypot(height.sd, 3)


@pytest.mark.parametrize("noise_mm", [2.0, 6.0])
def test_noise_makes_no_sticking_region(noise_mm: float) -> None:
    for seed in range(12):
        rng = np.random.default_rng(seed)
        data, _ = figure((Plan(up_s=2.2),), fps=30, noise_mm=noise_mm, rng=rng)
        assert got(measure(data), 0, "sticking_velocity_m_s").status == "not_applicable"


def test_lockout_and_low_are_held_against_this_set() -> None:
    plans = (Plan(), Plan(short_mm=25), Plan(short_mm=25, shallow_mm=40))
    data, _ = figure(plans, "squat")
    found = measure(data)
    assert [round(value(found, rep, "lockout_shortfall_mm")) for rep in range(3)] == [0, 25, 25]
    # The third squat starts 25 mm lower, comes down 40 mm less, so its low lies 15 mm above the first one's.
    lows = [value(found, rep, "low_height_change_mm") for rep in range(3)]
    assert np.allclose(np.array(lows) - min(lows), lows, atol=1e-6)
    up = [data.path.up_mm[np.argmin(np.abs(data.path.t_s - data.reps.reps[r].low_start.t_s))] for r in range(3)]
    assert np.allclose(np.diff(lows), np.diff(up), atol=1.0)


@pytest.mark.parametrize("azimuth", [0.0, 8.0, -20.0, 28.0, 152.0, 180.0])
@pytest.mark.parametrize("share", [0.9, 1.3])
def test_hip_lead_from_any_side(azimuth: float, share: float) -> None:
    data, _ = figure((Plan(),), joints=squatter(share), camera=oblique(azimuth))
    assert value(measure(data), 0, "hip_lead_ratio") == pytest.approx(share, abs=0.02)


@pytest.mark.parametrize("azimuth", [0.0, 20.0, 165.0])
def test_squat_joints_by_formula(azimuth: float) -> None:
    data, _ = figure((Plan(),), joints=squatter(1.1), camera=oblique(azimuth, height_m=0.6))
    found = measure(data)
    low = RANGE_MM
    hip, knee = 950 - 1.1 * low, 500 - 0.05 * low
    assert value(found, 0, "squat_depth_mm") == pytest.approx(knee - hip, abs=3)
    lean = np.degrees(np.arctan2(60 + 0.4 * low, 1300 - low - hip))
    assert value(found, 0, "trunk_angle_low_deg") == pytest.approx(lean, abs=0.6)
    shank = np.degrees(np.arctan2(60 + 0.2 * low, knee - 90))
    assert value(found, 0, "shank_angle_low_deg") == pytest.approx(shank, abs=0.6)
    thigh, calf = np.array([-60 - 0.4 * low, hip]), np.array([0, 90.0])
    middle = np.array([60 + 0.2 * low, knee])
    u, v = thigh - middle, calf - middle
    flexion = 180 - np.degrees(np.arccos(u @ v / np.linalg.norm(u) / np.linalg.norm(v)))
    assert value(found, 0, "knee_flexion_low_deg") == pytest.approx(flexion, abs=1.0)
    assert value(found, 0, "heel_lift_mm") == pytest.approx(0, abs=1.5)


def test_bar_over_the_foot_needs_a_known_yaw() -> None:
    data, _ = figure((Plan(),), joints=squatter(), camera=oblique(3.0))
    found = got(measure(data), 0, "bar_over_midfoot_mm")
    assert found.value == pytest.approx(-45, abs=4)
    loose = evolve(data, path=evolve(data.path, yaw_deg=2.5))
    assert got(measure(loose), 0, "bar_over_midfoot_mm").status == "not_seen"


def test_bench_by_formula() -> None:
    plans = (Plan(), Plan(), Plan(low_s=1.0))
    data, heights = figure(plans, "bench", joints=bencher(creep_mm=3.0, lift_mm=30))
    found = measure(data)
    for rep in range(3):
        r = data.reps.reps[rep]
        middle = (r.start.t_s + r.end.t_s) / 2
        assert value(found, rep, "touch_point_mm") == pytest.approx(100 + 3.0 * middle, abs=3)
        creep = -3.0 * (r.end.t_s - data.reps.reps[0].start.t_s)
        assert value(found, rep, "shoulder_shift_mm") == pytest.approx(creep, abs=2)
        assert value(found, rep, "hip_lift_mm") == pytest.approx(30, abs=2)
        t = np.linspace(r.low_start.t_s, r.low_end.t_s, 5000)
        slow = np.abs(np.gradient(heights.at(t)[1], t)) < 30
        pause = got(found, rep, "pause_time_s")
        assert abs(pause.value - slow.mean() * (t[-1] - t[0])) < 2 * pause.sd
    # from the elbow to the bar in the hand, which lies 20 mm before and 30 mm above the made wrist
    elbow = np.degrees(np.arctan2(80 - 50, 1300 - 500 - (1020 - 475)))
    assert value(found, 0, "forearm_angle_deg") == pytest.approx(elbow, abs=3)


def test_a_touch_and_go_press_has_no_pause() -> None:
    data, _ = figure((Plan(down_s=0.5, low_s=0.0, up_s=0.6),), "bench", fps=30)
    m = got(measure(data), 0, "pause_time_s")
    assert m.status == "not_seen"
    assert "0.15 s" in m.reason
    assert m.at_most == pytest.approx(4.5 / 30)


def test_deadlift_by_formula() -> None:
    data, _ = figure((Plan(), Plan(short_mm=30)), "deadlift", joints=puller(0.9))
    found = measure(data)
    assert value(found, 0, "hip_lead_ratio") == pytest.approx(0.9, abs=0.02)
    start = np.degrees(np.arctan2(40 + 330, 900 - 580))
    assert value(found, 0, "trunk_angle_start_deg") == pytest.approx(start, abs=2.0)
    assert value(found, 0, "hip_height_liftoff_mm") == pytest.approx(580 - 225, abs=6)
    assert value(found, 1, "lockout_shortfall_mm") == pytest.approx(30, abs=1)
    assert value(found, 1, "hip_lockout_gap_deg") > value(found, 0, "hip_lockout_gap_deg") + 1
    assert found.of(0, "path_at_low_mm") is None


def test_touch_and_go_deadlifts_are_read_from_the_floor() -> None:
    data, _ = figure((Plan(), Plan(short_mm=20), Plan()), "deadlift", fps=30, gap_s=0.1, noise_mm=0.3)
    found = measure(data)
    for rep, truth in enumerate((500, 480, 500)):
        m = got(found, rep, "range_of_motion_mm")
        assert m.value == pytest.approx(truth, abs=2.5)
    # A plate that springs back 15 mm after the touch: the floor is where it touched.
    after = data.reps.reps[0].end.t_s
    spring = 15 * np.clip(1 - np.abs(data.path.t_s - after - 0.13) / 0.06, 0, None)
    sprung = measure(evolve(data, path=evolve(data.path, up_mm=data.path.up_mm + spring)))
    assert value(sprung, 1, "range_of_motion_mm") == pytest.approx(480, abs=3)


def test_velocity_curve_has_the_ascent_and_its_errors() -> None:
    data, heights = figure((Plan(),), noise_mm=0.5)
    curve = velocity_curve(data, 0)
    assert isinstance(curve, Curve)
    _, up, v = fine_speed(data, heights, 0)
    assert curve.t_s[0] == pytest.approx(0, abs=0.02)
    assert curve.up_mm[-1] - curve.up_mm[0] == pytest.approx(up[-1] - up[0], abs=8)
    assert np.nanmax(curve.velocity_m_s) == pytest.approx(v.max(), abs=0.03)
    assert np.all(curve.sd_m_s > 0)
    bare = evolve(data, path=None)
    assert isinstance(velocity_curve(bare, 0), NotMeasured)


def test_a_departure_that_noise_may_turn_round_says_so() -> None:
    """A bar that goes 10 mm forward and then 10 mm behind: either may be told, 20 mm apart."""
    t_s, away = np.linspace(0, 1, 60), 10.0 * np.sin(2 * np.pi * np.linspace(0, 1, 60))
    data, _ = figure((Plan(),), fps=60, stated_mm=0.5)
    first, last = data.reps.reps[0].ascent_s
    bare = data.path.t_s
    path = evolve(data.path, forward_mm=np.interp(bare, first + t_s * (last - first), away, left=0.0, right=0.0))
    swung = got(measure(evolve(data, path=path)), 0, "path_departure_mm")
    lean = evolve(path, forward_mm=path.forward_mm + 4.0 * (path.forward_mm > 0))
    clear = got(measure(evolve(data, path=lean)), 0, "path_departure_mm")

    assert abs(swung.value) == pytest.approx(10, abs=0.5)
    assert swung.sd == pytest.approx(20 / np.sqrt(2), rel=0.2)
    assert clear.value == pytest.approx(14, abs=0.5)
    assert clear.sd < 1.0


def test_stated_errors_hold() -> None:
    """Over many noise seeds the departures from the truth are as large as the stated random sds say."""
    off: dict[str, list[float]] = {}
    plan = Plan(dip=0.7, up_s=2.0)
    for seed in range(40):
        data, heights = figure((plan,), fps=30, noise_mm=1.0, rng=np.random.default_rng(seed))
        found = measure(data)
        _, up, v = fine_speed(data, heights, 0)
        first, last = data.reps.reps[0].ascent_s
        truths = {
            "range_of_motion_mm": RANGE_MM, "path_departure_mm": plan.bulge_mm, "path_at_low_mm": 0.0,
            "ascent_mean_velocity_m_s": (up[-1] - up[0]) / 1000 / (last - first),
            "ascent_peak_velocity_m_s": v.max(),
        }  # fmt: skip
        for name, truth in truths.items():
            m = got(found, 0, name)
            off.setdefault(name, []).append((m.value - truth) / m.sd)
    spread = {name: float(np.sqrt(np.mean(np.square(z)))) for name, z in off.items()}
    assert all(0.2 < s < 1.5 for s in spread.values()), spread


def test_a_forearm_is_read_to_the_bar_where_the_plate_hides_the_wrist() -> None:
    """By the made joints; the wrist stands before the plate's middle in every side view."""
    data, _ = figure((Plan(),), "bench", joints=bencher())
    whole = got(measure(data), 0, "forearm_angle_deg")
    state = data.body.state.copy()
    state[:, [INDEX["left_wrist"], INDEX["right_wrist"]]] = HIDDEN
    hidden = got(measure(evolve(data, body=evolve(data.body, state=state))), 0, "forearm_angle_deg")

    assert hidden.status == "measured"
    assert "in the hand" in hidden.basis
    assert hidden.value == pytest.approx(whole.value)
    # 25 mm of a bar beside the line of a forearm of 256 mm
    assert hidden.sd_common > np.degrees(np.arctan2(25, 256)) * 0.9
