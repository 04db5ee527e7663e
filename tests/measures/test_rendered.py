"""Against the exact truth of the rendered clips: events by the same rules, and the table of what was planted."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from measures.built import rendered_set

from midfoot.measures import measure
from midfoot.records.measures import Measured

CLIPS = (
    "squat_side", "bench_side", "deadlift_side", "squat_oblique_portrait", "bench_oblique",
    "deadlift_oblique_portrait",
)  # fmt: skip


@cache
def measured(folder: Path, name: str) -> tuple[Measured, dict]:
    data, truth = rendered_set(folder, name)
    return measure(data), truth


def near(found: Measured, rep: int, name: str, truth: float, floor: float = 0.0) -> None:
    """The measure agrees with the truth within two of its own sds (random and common), at least `floor`."""
    m = found.of(rep, name)
    assert m is not None
    assert m.value is not None, f"{name}: {m.reason}"
    allowed = max(2.0 * float(np.hypot(m.sd, m.sd_common)), floor)
    assert abs(m.value - truth) <= allowed, (
        f"{name} rep {rep + 1}: {m.value:.3f}, truth {truth:.3f}, {allowed:.3f}"
    )


@pytest.mark.parametrize("name", CLIPS)
def test_range_and_velocities_agree_with_the_events(shared_clips: Path, name: str) -> None:
    # Peaks: the truth has no filter; 0.02 m/s is less than half of what the whole program is allowed.
    found, truth = measured(shared_clips, name)
    for rep, event in enumerate(truth["events"]):
        near(found, rep, "range_of_motion_mm", event["range_m"] * 1000, 1.5)
        near(found, rep, "ascent_mean_velocity_m_s", event["ascent_mean_velocity_m_s"], 0.005)
        near(found, rep, "ascent_peak_velocity_m_s", event["ascent_peak_velocity_m_s"], 0.02)
        near(found, rep, "downward_movement_mm", event["downward_m"] * 1000, 1.5)


@pytest.mark.parametrize("name", CLIPS)
def test_times_are_the_moments_apart(shared_clips: Path, name: str) -> None:
    found, truth = measured(shared_clips, name)
    for rep, event in enumerate(truth["events"]):
        if truth["lift"] == "deadlift":
            spans = {"ascent_time_s": ("start_s", "top_start_s"), "descent_time_s": ("top_end_s", "end_s"),
                     "top_time_s": ("top_start_s", "top_end_s")}  # fmt: skip
        else:
            spans = {"ascent_time_s": ("low_end_s", "end_s"), "descent_time_s": ("start_s", "low_start_s"),
                     "low_time_s": ("low_start_s", "low_end_s")}  # fmt: skip
        for measure_id, (a, b) in spans.items():
            near(found, rep, measure_id, event[b] - event[a])


# Of ../shared/clips/README.md. Its shortfalls of 4-5 mm on the bench are of the frame nearest to the end of the
# ascent, where the bar still rises; the held height is the same in all reps of both bench clips (checked below).
DEPARTURE_MM = {
    "bench_oblique": (-109, -111, -111, -112), "bench_side": (-76, -99, -128),
    "deadlift_oblique_portrait": (-3, 2), "deadlift_side": (-7, 35, 42),
    "squat_oblique_portrait": (-1, -7, -3), "squat_side": (-5, 17, 42),
}  # fmt: skip


@pytest.mark.parametrize("name", CLIPS)
def test_departure_of_the_path_is_what_was_planted(shared_clips: Path, name: str) -> None:
    # 2 mm: the bar trembles by about one, and where it leaves 3 mm to both sides the larger side is a toss-up.
    found, _ = measured(shared_clips, name)
    for rep, planted in enumerate(DEPARTURE_MM[name]):
        if abs(planted) <= 3:
            value = found.of(rep, "path_departure_mm").value
            assert abs(value) < 6.0
        else:
            near(found, rep, "path_departure_mm", planted, 2.0)


@pytest.mark.parametrize("name", CLIPS)
def test_shortfall_is_against_the_highest_held_bar(shared_clips: Path, name: str) -> None:
    found, truth = measured(shared_clips, name)
    t, up = np.array(truth["t"]), np.array(truth["bar"])[:, 1] * 1000
    held = []
    for event in truth["events"]:
        begin = event["top_start_s"] if truth["lift"] == "deadlift" else event["end_s"]
        held.append(float(np.median(up[(t >= begin + 0.1) & (t <= begin + 0.5)])))
    for rep, height in enumerate(held):
        near(found, rep, "lockout_shortfall_mm", max(held) - height, 0.8)


def test_drift_is_named_on_the_rep_that_shows_it(shared_clips: Path) -> None:
    found, _ = measured(shared_clips, "squat_side")
    by_id = {d.measure: d for d in found.drift}
    assert by_id["path_departure_mm"].change_first_last == pytest.approx(46.5, abs=3)
    assert by_id["ascent_mean_velocity_m_s"].trend == "worse"
    assert by_id["ascent_mean_velocity_m_s"].clear_from_rep == 3
    assert by_id["lockout_shortfall_mm"].trend == "none"


# What the joints truly did, straight from the 3-D points: forward is -y, the near side's joint.
class Joints:
    def __init__(self, truth: dict, side: str) -> None:
        self.t = np.array(truth["t"])
        self.points = np.array(truth["kp"]) * 1000
        self.names = {name: i for i, name in enumerate(truth["keypoints"])}
        self.side = side
        self.bar = np.array(truth["bar"]) * 1000

    def at(self, joint: str, t_s: float) -> np.ndarray:
        points = self.points[:, self.names[f"{self.side}_{joint}"]]
        return np.array([-np.interp(t_s, self.t, points[:, 1]), np.interp(t_s, self.t, points[:, 2])])

    def bar_at(self, t_s: float) -> np.ndarray:
        return np.array([np.interp(t_s, self.t, self.bar[:, i]) for i in (0, 1)])

    def low_s(self, event: dict) -> float:
        rows = (self.t >= event["low_start_s"]) & (self.t <= event["low_end_s"])
        return float(self.t[rows][np.argmin(self.bar[rows, 1])])


def lean(line: np.ndarray) -> float:
    return float(np.degrees(np.arctan2(line[0], line[1])))


def bend(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> float:
    u, v = a - b, c - b
    return 180 - float(np.degrees(np.arccos(u @ v / np.linalg.norm(u) / np.linalg.norm(v))))


def joints_of(folder: Path, name: str) -> tuple[Measured, dict, Joints]:
    found, truth = measured(folder, name)
    azimuth = truth["camera"]["azimuth"]
    return found, truth, Joints(truth, "left" if -90 < azimuth < 90 else "right")


HIP_LEAD = {
    "squat_side": (1.06, 1.11, 1.18), "squat_oblique_portrait": (1.08, 1.04, 0.95),
    "deadlift_side": (0.83, 0.93, 0.94), "deadlift_oblique_portrait": (0.81, 0.81),
}  # fmt: skip
HIP_OVER_KNEE_MM = {"squat_side": (-20, -20, -20), "squat_oblique_portrait": (-25, 0, 73)}


@pytest.mark.parametrize("name", HIP_LEAD)
def test_hip_lead_is_what_was_planted(shared_clips: Path, name: str) -> None:
    found, _ = measured(shared_clips, name)
    for rep, planted in enumerate(HIP_LEAD[name]):
        near(found, rep, "hip_lead_ratio", planted)
        assert found.of(rep, "hip_lead_ratio").sd < 0.08


@pytest.mark.parametrize("name", HIP_OVER_KNEE_MM)
def test_squat_depth_and_its_change(shared_clips: Path, name: str) -> None:
    # With joints known to a pixel the depth is right to 15 mm although its stated error (the surfaces) is larger;
    # its change, which needs no proxy, to 8 mm.
    found, _ = measured(shared_clips, name)
    depths = [found.of(rep, "squat_depth_mm").value for rep in range(3)]
    for rep, planted in enumerate(HIP_OVER_KNEE_MM[name]):
        near(found, rep, "squat_depth_mm", -planted)
        assert abs(depths[rep] + planted) < 15
    steps = np.diff(HIP_OVER_KNEE_MM[name])
    assert np.allclose(-np.diff(depths), steps, atol=8)


@pytest.mark.parametrize("name", ["squat_side", "squat_oblique_portrait"])
def test_trunk_line_knee_and_shank_of_the_squat(shared_clips: Path, name: str) -> None:
    found, truth, joints = joints_of(shared_clips, name)
    lows = []
    for rep, event in enumerate(truth["events"]):
        at, start = joints.low_s(event), event["start_s"]
        lows.append(lean(joints.bar_at(at) - joints.at("hip", at)))
        near(found, rep, "trunk_angle_start_deg", lean(joints.bar_at(start) - joints.at("hip", start)))
        near(found, rep, "trunk_angle_low_deg", lows[-1])
        near(found, rep, "knee_flexion_low_deg", bend(*(joints.at(j, at) for j in ("hip", "knee", "ankle"))))
        near(found, rep, "shank_angle_low_deg", lean(joints.at("knee", at) - joints.at("ankle", at)))
    measured_lows = [found.of(rep, "trunk_angle_low_deg").value for rep in range(len(lows))]
    assert np.allclose(np.diff(measured_lows), np.diff(lows), atol=2.0)


@pytest.mark.parametrize("name", ["deadlift_side", "deadlift_oblique_portrait"])
def test_deadlift_position_at_lift_off(shared_clips: Path, name: str) -> None:
    found, truth, joints = joints_of(shared_clips, name)
    for rep, event in enumerate(truth["events"]):
        at = event["start_s"]
        hip = joints.at("hip", at)
        near(found, rep, "trunk_angle_start_deg", lean(joints.at("shoulder", at) - hip))
        near(found, rep, "hip_height_liftoff_mm", hip[1] - joints.bar_at(at)[1])


def test_a_soft_lockout_shows_in_knees_and_hips(shared_clips: Path) -> None:
    found, truth, joints = joints_of(shared_clips, "deadlift_side")
    for name, chain in (("knee_lockout_gap_deg", ("hip", "knee", "ankle")),
                        ("hip_lockout_gap_deg", ("shoulder", "hip", "knee"))):  # fmt: skip
        bends = []
        for event in truth["events"]:
            at = (event["top_start_s"] + event["top_end_s"]) / 2
            bends.append(bend(*(joints.at(j, at) for j in chain)))
        for rep in range(3):
            near(found, rep, name, bends[rep] - min(bends))
        assert found.of(1, name).value > 5


BENCH = {
    "bench_side": {
        "touch_point_mm": (113, 148, 188), "late_descent_travel_mm": (20, 35, 57),
        "pause_time_s": (0.83, 0.53, 0.40), "hip_lift_mm": (0, 0, 50), "shoulder_shift_mm": (0, -12, -24),
    },
    "bench_oblique": {
        "touch_point_mm": (147, 150, 150, 150), "late_descent_travel_mm": (24, 24, 24, 23),
        "pause_time_s": (0.73, 0.63, 0.63, 0.63), "hip_lift_mm": (0, 0, 0, 0), "shoulder_shift_mm": (0, 0, 0, 0),
    },
}  # fmt: skip


@pytest.mark.parametrize("name", BENCH)
def test_bench_faults_are_what_was_planted(shared_clips: Path, name: str) -> None:
    # 3 mm: the planted travel is without the tremor of a millimetre or two that the path has.
    found, _ = measured(shared_clips, name)
    for measure_id, planted in BENCH[name].items():
        for rep, truth in enumerate(planted):
            near(found, rep, measure_id, truth, 3.0 if measure_id == "late_descent_travel_mm" else 0.0)


def test_changes_of_the_touch_between_reps_need_no_camera(shared_clips: Path) -> None:
    found, _ = measured(shared_clips, "bench_side")
    touches = [found.of(rep, "touch_point_mm").value for rep in range(3)]
    assert np.allclose(np.diff(touches), (35, 40), atol=8)
    drift = next(d for d in found.drift if d.measure == "touch_point_mm")
    assert drift.sd < 8
