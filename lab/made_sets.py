"""Measured sets made from numbers: what a set of records holds when a lifter is steady, varies, or has one fault.

No picture, no path: only the measures that findings look at, with the errors that a 720p clip from the side gives
(read off the shared rendered clips: 0.6 mm of path and height, 10 ms of time, 2.5 degrees of an angle, 0.05 of the
hip's lead, 5 mm of a touch point).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from midfoot.measures.drift import best_rep
from midfoot.measures.registry import rep_measures, set_measures
from midfoot.records.bar import BarTrack, View
from midfoot.records.base import Value
from midfoot.records.body import BodyTrack
from midfoot.records.clip import Asked, ClipInfo
from midfoot.records.measures import Measure, Measured, SetData
from midfoot.records.reps import Moment, Rep, RepSet

Numbers = tuple[float, float, float, float]
"""Value of a clean rep; random error; error common to the clip; scatter of a lifter without a fault, one sd."""

PATH, TEMPO, DEPTH, TRUNK = 10.0, 0.06, 12.0, 2.0
"""Scatter from rep to rep without a fault: path 8-12 mm (drawn for each set), tempo 6 %, depth 12 mm, trunk 2°."""

CLEAN: Mapping[str, Mapping[str, Numbers]] = {
    "squat": {
        "range_of_motion_mm": (600.0, 0.6, 14.0, DEPTH), "ascent_time_s": (1.2, 0.01, 0.0, 1.2 * TEMPO),
        "descent_time_s": (1.1, 0.01, 0.0, 1.1 * TEMPO), "low_time_s": (0.42, 0.01, 0.0, 0.02),
        "descent_peak_velocity_m_s": (0.86, 0.003, 0.02, 0.86 * TEMPO), "path_departure_mm": (5.0, 0.6, 3.0, PATH),
        "path_forward_mm": (15.0, 0.6, 3.0, PATH),
        "path_at_low_mm": (5.0, 0.6, 4.5, PATH), "path_at_top_mm": (-5.0, 0.6, 4.5, PATH),
        "low_height_change_mm": (0.0, 0.5, 0.5, DEPTH), "depth_change_mm": (0.0, 8.0, 8.0, DEPTH),
        "squat_depth_mm": (60.0, 9.0, 30.0, DEPTH), "lockout_shortfall_mm": (0.0, 0.4, 0.4, 3.0),
        "knee_lockout_gap_deg": (0.5, 2.6, 2.6, 0.0), "hold_sway_mm": (4.0, 0.5, 0.1, 2.0),
        "trunk_angle_start_deg": (2.0, 2.0, 7.0, 0.7), "trunk_angle_low_deg": (38.0, 1.8, 6.0, TRUNK),
        "trunk_angle_slowest_deg": (30.0, 1.8, 6.5, TRUNK), "trunk_tip_deg": (2.0, 2.0, 4.0, TRUNK),
        "hip_lead_ratio": (1.15, 0.03, 0.08, 0.04), "knee_back_travel_mm": (30.0, 8.0, 22.0, 5.0),
        "heel_lift_mm": (5.0, 6.0, 10.0, 3.0), "shank_angle_low_deg": (32.0, 2.0, 6.5, 1.5),
        "feet_shift_mm": (0.0, 4.0, 4.0, 5.0), "foot_move_mm": (0.0, 7.0, 4.0, 3.0),
        "downward_movement_mm": (0.0, 0.6, 0.0, 0.0), "start_shift_mm": (0.0, 0.4, 0.4, 8.0),
    },
    "bench": {
        "range_of_motion_mm": (470.0, 0.7, 11.0, 4.0), "ascent_time_s": (1.2, 0.014, 0.0, 1.2 * TEMPO),
        "descent_time_s": (1.15, 0.014, 0.0, 1.15 * TEMPO), "low_time_s": (0.9, 0.014, 0.0, 0.05),
        "descent_peak_velocity_m_s": (0.55, 0.002, 0.013, 0.55 * TEMPO), "path_departure_mm": (-80.0, 0.6, 4.5,
        PATH),
        "path_at_low_mm": (80.0, 0.6, 4.6, PATH), "path_at_top_mm": (-80.0, 0.6, 4.6, PATH),
        "late_descent_travel_mm": (22.0, 0.6, 1.2, 0.7 * PATH), "off_chest_travel_mm": (-25.0, 0.6, 1.5,
        0.7 * PATH),
        "low_height_change_mm": (0.0, 0.6, 0.6, 4.0), "lockout_shortfall_mm": (0.0, 0.4, 0.4, 3.0),
        "elbow_lockout_gap_deg": (8.0, 4.0, 4.0, 1.0), "pause_time_s": (0.8, 0.02, 0.0, 0.8 * TEMPO),
        "sink_mm": (0.5, 0.8, 0.1, 0.5), "hip_lift_mm": (5.0, 5.0, 8.0, 3.0), "shoulder_shift_mm": (0.0, 3.0,
        3.0, 2.0),
        "hip_shift_mm": (0.0, 3.0, 3.0, 2.0), "unrack_shoulder_shift_mm": (0.0, 6.0, 4.0, 5.0),
        "unrack_hip_shift_mm": (0.0, 6.0, 2.0, 3.0), "forearm_angle_deg": (2.0, 2.0, 2.0, 1.5),
        "touch_point_mm": (110.0, 5.0, 45.0, PATH), "feet_shift_mm": (0.0, 4.0, 4.0, 5.0),
        "foot_move_mm": (0.0, 7.0, 1.0, 3.0), "downward_movement_mm": (0.0, 0.8, 0.0, 0.0),
    },
    "deadlift": {
        "range_of_motion_mm": (560.0, 0.7, 13.0, 4.0), "ascent_time_s": (1.4, 0.01, 0.0, 1.4 * TEMPO),
        "descent_time_s": (1.0, 0.01, 0.0, 1.0 * TEMPO), "top_time_s": (0.8, 0.01, 0.0, 0.05),
        "wait_before_time_s": (2.5, 0.01, 0.0, 2.5 * TEMPO), "path_departure_mm": (0.0, 0.6, 3.0, PATH),
        "path_forward_mm": (15.0, 0.6, 3.0, PATH),
        "path_at_top_mm": (0.0, 0.6, 4.0, PATH), "lockout_shortfall_mm": (0.0, 0.5, 0.5, 3.0),
        "hip_lead_ratio": (0.85, 0.03, 0.08, 0.04), "trunk_tip_deg": (3.0, 2.0, 4.0, TRUNK),
        "trunk_angle_start_deg": (55.0, 1.8, 5.0, TRUNK), "hip_height_liftoff_mm": (380.0, 6.0, 20.0, DEPTH),
        "knee_lockout_gap_deg": (0.5, 2.0, 2.0, 0.0), "hip_lockout_gap_deg": (0.5, 2.0, 2.0, 0.0),
        "downward_movement_mm": (0.0, 0.6, 0.0, 0.0), "knee_rebend_deg": (1.0, 2.0, 0.0, 0.5),
        "slack_time_s": (0.6, 0.03, 0.0, 0.05), "slack_hip_rise_mm": (10.0, 6.0, 4.0, 5.0),
        "knees_before_hips_s": (0.2, 0.085, 0.0, 0.05), "shrug_rise_mm": (8.0, 4.0, 2.0, 2.0),
        "body_lean_top_deg": (0.0, 1.5, 2.0, 1.0), "start_shift_mm": (0.0, 0.4, 0.4, 8.0),
        "knee_angle_start_deg": (65.0, 2.0, 5.0, 2.0),
    },
}  # fmt: skip
FRONT: Mapping[str, Mapping[str, Numbers]] = {
    "squat": {
        "ascent_time_s": (1.2, 0.01, 0.0, 1.2 * TEMPO), "descent_time_s": (1.1, 0.01, 0.0, 1.1 * TEMPO),
        "knee_caving_ratio": (0.04, 0.03, 0.0, 0.02), "hip_sideways_mm": (3.0, 5.0, 1.0, 5.0),
        "bar_tilt_change_deg": (0.2, 0.1, 0.05, 0.15), "forearm_sideways_deg": (10.0, 2.0, 1.0, 1.5),
        "grip_width_mm": (600.0, 5.0, 50.0, 4.0), "shrug_change_mm": (0.0, 4.0, 1.0, 3.0),
    },
    "bench": {
        "ascent_time_s": (1.2, 0.01, 0.0, 1.2 * TEMPO), "descent_time_s": (1.1, 0.01, 0.0, 1.1 * TEMPO),
        "bar_tilt_change_deg": (0.2, 0.1, 0.05, 0.15), "grip_width_mm": (600.0, 5.0, 50.0, 4.0),
        "forearm_sideways_deg": (3.0, 2.0, 1.0, 1.5),
    },
    "deadlift": {
        "ascent_time_s": (1.4, 0.01, 0.0, 1.4 * TEMPO), "bar_tilt_change_deg": (0.2, 0.1, 0.05, 0.15),
        "grip_width_mm": (600.0, 5.0, 50.0, 4.0),
    },
}  # fmt: skip
"""What a front (tilt: an oblique) view holds."""
SAME_PATH = {"path_forward_mm": "path_departure_mm"}
"""Two readings of one path scatter together."""
FIRST_ONLY = ("unrack_shoulder_shift_mm", "unrack_hip_shift_mm", "unrack_feet_shift_mm")
NOT_FIRST = ("feet_shift_mm", "start_shift_mm", "wait_before_time_s", "shrug_change_mm")
FROM_LEAST = ("low_height_change_mm", "depth_change_mm", "lockout_shortfall_mm")
NEVER_BELOW_ZERO = ("path_forward_mm", "downward_movement_mm", "hold_sway_mm", "sink_mm")
SLOW_PATHS = ("path_forward_mm", "path_departure_mm", "path_at_low_mm", "path_at_top_mm", "late_descent_travel_mm",
"off_chest_travel_mm",
              "touch_point_mm")  # fmt: skip


def made_set(
    lift: str,
    count: int,
    rng: np.random.Generator,
    *,
    vary: float = 1.0,
    path_mm: float = PATH,
    planted: Mapping[str, np.ndarray] | None = None,
    front: bool = False,
    view: str = "side",
    of_set: Mapping[str, float] | None = None,
    without: Sequence[str] = (),
) -> tuple[SetData, Measured]:
    """Make a measured set.

    Parameters
    ----------
    lift, count : which lift, how many reps.
    rng : where scatter and errors come from.
    vary : how many times the scatter of a lifter who does nothing wrong; 0 repeats every rep.
    path_mm : scatter of the path, one sd.
    planted : what is added to a measure, by rep.
    front : measures of a front view instead of a side view.
    view : class of the view.
    of_set : measures of the whole set.
    without : measures that this set does not show.
    """
    numbers = {m: n for m, n in (FRONT if front else CLEAN)[lift].items() if m not in without}
    units = {m.id: m.unit for m in (*rep_measures(lift), *set_measures(lift))}
    rows: dict[str, np.ndarray] = {}
    drawn: dict[str, np.ndarray] = {}
    for measure, (clean, sd, _, scatter) in numbers.items():
        wide = scatter * path_mm / PATH if measure in SLOW_PATHS else scatter
        drawn[measure] = rng.normal(size=count)
        values = clean + vary * wide * drawn.get(SAME_PATH.get(measure, measure), drawn[measure])
        if planted and measure in planted:
            values = values + planted[measure]
        if measure in NEVER_BELOW_ZERO:
            values = np.abs(values)
        if measure in FROM_LEAST:
            values = values - values.min()
        rows[measure] = values + sd * rng.normal(size=count)
    measures = tuple(
        tuple(_measure(m, units[m], rows[m][i], numbers[m]) for m in numbers if _told(m, i)) for i in range(count)
    )
    reps = tuple(_rep(lift, i) for i in range(count))
    best = best_rep(measures, tuple(r.n for r in reps), (True,) * count, rep_measures(lift))
    whole = tuple(Measure(m, v, units[m], 0.5, 0.0, "measured", "made") for m, v in (of_set or {}).items())
    return _data(lift, reps, view), Measured(measures, whole, best)


def _told(measure: str, i: int) -> bool:
    return not ((measure in FIRST_ONLY and i > 0) or (measure in NOT_FIRST and i == 0))


def _measure(measure: str, unit: str, value: float, numbers: Numbers) -> Measure:
    return Measure(measure, float(value), unit, numbers[1], numbers[2], "measured", "made")


def _rep(lift: str, i: int) -> Rep:
    names = (
        ("start", "top_start", "top_end", "end")
        if lift == "deadlift"
        else ("start", "low_start", "low_end", "end")
    )
    times = 1.0 + 4.0 * i + np.array([0.0, 1.1, 1.5, 2.6])
    moments = {name: Moment(float(t), 0.01, "made") for name, t in zip(names, times, strict=True)}
    return Rep(n=i + 1, outcome="completed", start_seen=True, end_seen=True, **moments)


def _data(lift: str, reps: tuple[Rep, ...], view: str) -> SetData:
    t = np.zeros(1)
    none = np.full((1, 2), np.nan)
    rows = np.zeros((0, 33))
    track = BarTrack(
        status="found", source="plate", t_s=t, xy_px=none, steady_px=none, sd_px=none, seen=np.zeros(1, bool),
        far_xy_px=none,
    )  # fmt: skip
    body = BodyTrack(
        status="not_seen", model="none", t_s=[], xy_px=np.zeros((0, 33, 2)), sd_px=rows, state=rows, peak=rows,
        depth_m=rows, world_m=np.zeros((0, 33, 3)), reason="made without a body",
    )  # fmt: skip
    info = ClipInfo(
        name="made.mp4", sha256="0" * 64, duration_s=60.0, frames=1800, width_px=1280, height_px=720,
        rotation_deg=0,
        mirrored=False, variable_rate=False, frame_interval_median_s=1 / 30, frame_interval_max_s=1 / 30,
        codec="h264",
        bit_depth=8, hdr=False,
    )  # fmt: skip
    seen = View(
        "left", "image_left", view, Value(1, 2), Value(0, 1.5), Value(1, 1), Value(3, 0.3), Value(0.8, 0.1)
    )
    return SetData(Asked(lift), info, seen, None, track, _path(), body, RepSet(reps, ()))


def _path() -> object:
    from midfoot.records.bar import BarPath

    zero = np.zeros(1)
    return BarPath(
        t_s=zero, forward_mm=zero, up_mm=zero, sd_forward_mm=zero, sd_up_mm=zero, seen=np.zeros(1, bool),
        scale_pct=2.4,
        yaw_deg=2.0, roll_deg=1.5, source="plate",
    )  # fmt: skip
