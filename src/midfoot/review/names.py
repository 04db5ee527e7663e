"""What measures are called to a lifter, in half a sentence."""

from __future__ import annotations

from collections.abc import Collection

NAMES = {
    "low_height_change_mm": "the height of the low", "range_of_motion_mm": "how far the bar travels",
    "path_departure_mm": "the path of the bar", "path_forward_mm": "the path of the bar",
    "path_at_low_mm": "the place of the bar at the low",
    "path_range_mm": "the path of the bar", "ascent_time_s": "the time of the way up",
    "descent_time_s": "the pace of the way down", "ascent_mean_velocity_m_s": "the speed of the way up",
    "lockout_shortfall_mm": "the lockout", "trunk_angle_low_deg": "the lean at the low",
    "trunk_angle_start_deg": "the lean at the start", "hip_lead_ratio": "hips and bar rising together",
    "pause_time_s": "the pause", "touch_point_mm": "the touch point", "hip_lift_mm": "hips on the bench",
    "depth_change_mm": "the depth", "squat_depth_mm": "the depth",
    "start_shift_mm": "the bar's place at the start",
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


GOALS = {
    "bar_tilt_change_deg": "the bar stays level all the way",
    "descent_peak_velocity_m_s": "the way down keeps its pace to the bottom",
    "descent_time_s": "the bar takes as long to come down in the last rep as in the first",
    "downward_movement_mm": "the bar never sinks once it is on its way up",
    "feet_shift_mm": "the feet stay where they were set",
    "forearm_angle_deg": "the forearms stand upright at the touch",
    "forearm_sideways_deg": "the forearms stand alike in every rep",
    "grip_width_mm": "the hands are in the same place in every rep",
    "heel_lift_mm": "the heels stay down",
    "hip_height_liftoff_mm": "the hips start at the same height in every rep",
    "hip_lead_ratio": "hips and bar leave together",
    "hip_lift_mm": "the hips stay on the bench",
    "hip_sideways_mm": "the hips stay in the middle",
    "hold_sway_mm": "you stand still before you bend",
    "knee_caving_ratio": "the knees stay over the feet",
    "knees_before_hips_s": "knees and hips finish together, in every rep",
    "late_descent_travel_mm": "the bar comes down to the spot of your first rep, without a detour",
    "lockout_shortfall_mm": "the last rep is finished as tall as the first",
    "low_height_change_mm": "the last rep is as deep as the first",
    "off_chest_travel_mm": "the bar leaves the chest toward your eyes",
    "path_at_low_mm": "the bar touches where it touched in your first rep",
    "path_forward_mm": "the bar keeps to its line on the way up",
    "path_departure_mm": "the bar keeps to its line on the way up",
    "pause_time_s": "the wait on the chest is as long in the last rep as in the first",
    "shoulder_shift_mm": "the shoulders are still where you put them",
    "shrug_rise_mm": "the rep ends when the hips are through, and not with a shrug",
    "sink_mm": "the bar lies still where it touched",
    "slack_time_s": "the bar is tight before it leaves the floor",
    "squat_depth_mm": "every rep goes clearly past the line",
    "unrack_shoulder_shift_mm": "the shoulders do not move in the unrack",
    "wait_before_time_s": "there is a full breath on the floor before every pull",
    "walkout_steps_count": "the walkout takes two steps and one to correct",
}
"""What the next set shows if a change worked, by the measure of its prediction."""

MAIN = {
    "squat": (
        ("the path of the bar", ("path_forward_mm", "path_departure_mm")),
        ("the depth", ("low_height_change_mm",)),
        ("hips and trunk", ("hip_lead_ratio", "trunk_tip_deg", "trunk_angle_slowest_deg", "trunk_angle_low_deg")),
    ),
    "bench": (
        ("the path of the bar", ("path_departure_mm", "late_descent_travel_mm")),
        ("the hips", ("hip_lift_mm",)),
        ("shoulders and forearms", ("shoulder_shift_mm", "forearm_angle_deg", "forearm_sideways_deg")),
    ),
    "deadlift": (
        ("the path of the bar", ("path_forward_mm", "path_departure_mm")),
        ("the lockout", ("lockout_shortfall_mm",)),
        ("hips and trunk", ("hip_lead_ratio", "trunk_tip_deg", "trunk_angle_start_deg")),
    ),
}
"""By lift, what is looked at before all, with the measures of which any one shows it: where none does, a lifter is
told so before he is told that nothing was found."""


def unseen_of(lift: str, seen: Collection[str]) -> list[str]:
    """Give what of the main things none of these measures shows."""
    return [thing for thing, measures in MAIN[lift] if not set(measures) & set(seen)]
