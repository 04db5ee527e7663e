"""What measures are called to a lifter, in half a sentence."""

from __future__ import annotations

NAMES = {
    "low_height_change_mm": "the height of the low", "range_of_motion_mm": "how far the bar travels",
    "path_departure_mm": "the path of the bar", "path_at_low_mm": "where the bar is at the low",
    "path_range_mm": "the path of the bar", "ascent_time_s": "the time of the way up",
    "descent_time_s": "the pace of the way down", "ascent_mean_velocity_m_s": "the speed of the way up",
    "lockout_shortfall_mm": "the lockout", "trunk_angle_low_deg": "the lean at the low",
    "trunk_angle_start_deg": "the lean at the start", "hip_lead_ratio": "hips and bar rising together",
    "pause_time_s": "the pause", "touch_point_mm": "the touch point", "hip_lift_mm": "hips on the bench",
    "depth_change_mm": "the depth", "squat_depth_mm": "the depth", "start_shift_mm": "where you stand",
    "path_at_top_mm": "where the bar finishes", "downward_movement_mm": "a bar that never sinks on the way up",
    "late_descent_travel_mm": "the last part of the way down", "off_chest_travel_mm": "the way off the chest",
    "forearm_angle_deg": "forearms under the bar", "shoulder_shift_mm": "the shoulders on the bench",
    "low_time_s": "the time at the bottom", "top_time_s": "the time at the top",
    "hip_height_liftoff_mm": "the height of the hips at lift-off",
    "knee_lockout_gap_deg": "the knees at the lockout",
    "hip_lockout_gap_deg": "the hips at the lockout", "bar_tilt_deg": "a level bar",
    "hold_sway_mm": "standing still before the rep", "feet_shift_mm": "the feet",
    "knee_angle_start_deg": "the knees at the start", "sink_mm": "a bar that does not sink in",
}  # fmt: skip
"""What measures are called to a lifter."""


def name_of(measure_id: str, title: str = "") -> str:
    """Give a measure's name to a lifter; the title, or the id in words, where there is none."""
    words = title[:1].lower() + title[1:] if title else measure_id.rsplit("_", 1)[0].replace("_", " ")
    return NAMES.get(measure_id, words)
