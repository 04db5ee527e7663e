"""Measures of the deadlift that one side or oblique view can give.

The near plate covers the ankle at the start, the shin through the pull and the hip at the lockout. The trunk is
the line from hip to shoulder while both are seen; at the top the body's lean is the line from ankle to shoulder.
"""

from __future__ import annotations

import math

import numpy as np

from midfoot.measures.definition import Answer, DoesNotApply, RepMeasure, Unseen
from midfoot.measures.joints import FILM_OBLIQUE, HIP_CHANGED_MM
from midfoot.measures.legs import FILM, HIP, KNEE, corner, corners, lockout_gap, lockout_span, reaches_s
from midfoot.measures.scene import RepScene
from midfoot.measures.uncertain import Number, lean_deg, own

DEADLIFT = ("deadlift",)
SLACK_LOOK_S = 3.0
SLACK_SD_S = 0.2
"""A shoulder that rises by 40 mm/s leaves its shaking of 8 mm within this time."""
TOUCH_S = 0.7
"""A bar that lay shorter than this was turned round: a rise cannot be told from the way down."""
LEAST_ROWS = 8
STRAIGHT_WITHIN_DEG = 6.0
"""A joint has arrived when it stays within this of its angle at the top: twice the usual scatter of an angle."""
ARRIVAL_SD_S = 0.06


def trunk(rep: RepScene, t_s: float, posture: str) -> Number:
    """Give the lean of the line from hip to shoulder, degrees forward of vertical."""
    joints = rep.scene.joints
    hip, shoulder = joints.at("hip", t_s, posture), joints.at("shoulder", t_s, posture)
    return lean_deg(shoulder[0] - hip[0], shoulder[1] - hip[1])


def trunk_angle_start(rep: RepScene) -> Answer:
    """Lean of the trunk at lift-off."""
    return Answer(trunk(rep, rep.t("start"), "bent"), f"{rep.scene.joints.side} hip and shoulder")


def trunk_tip(rep: RepScene) -> Answer:
    """How much further the trunk leans when the bar has risen a third, against lift-off."""
    joints = rep.scene.joints
    first, third = rep.t("start"), rep.third_s()
    hip, hip_then = joints.pair("hip", first, third, "bent", HIP_CHANGED_MM)
    top, top_then = joints.pair("shoulder", first, third, "bent")
    then = lean_deg(top_then[0] - hip_then[0], top_then[1] - hip_then[1])
    return Answer(then - lean_deg(top[0] - hip[0], top[1] - hip[1]), f"{joints.side} hip and shoulder")


def hip_height_liftoff(rep: RepScene) -> Answer:
    """Height of the near hip above the bar at lift-off."""
    joints = rep.scene.joints_mm
    at = rep.t("start")
    return Answer(joints.at("hip", at, "bent")[1] - rep.bar.up(at), f"{joints.side} hip above {rep.bar.basis}")


def knee_angle_start(rep: RepScene) -> Answer:
    """Flexion of the near knee at lift-off, 0 when straight."""
    return Answer(180.0 - corner(rep, rep.t("start"), "bent", KNEE), f"{rep.scene.joints.side} hip, knee, ankle")


def body_lean_top(rep: RepScene) -> Answer:
    """Lean of the line from ankle to shoulder at the top, forward positive."""
    joints = rep.scene.joints
    first, last = lockout_span(rep)
    at = (first + last) / 2
    ankle, shoulder = joints.at("ankle", at, "held"), joints.at("shoulder", at, "held")
    return Answer(
        lean_deg(shoulder[0] - ankle[0], shoulder[1] - ankle[1]), f"{joints.side} ankle and shoulder at the top"
    )


def hip_lockout_gap(rep: RepScene) -> Answer:
    """Bend left in the near hip at the lockout."""
    return lockout_gap(rep, HIP)


def arrival_s(rep: RepScene, joints: tuple[str, str, str]) -> float:
    """Give when the angle at the middle joint comes to stay near its value at the top."""
    first, _ = rep.ascent
    top, end = lockout_span(rep)
    times, angles = corners(rep, joints, first, end)
    at_top = angles[times >= top]
    late = times[(times >= first + 0.6 * (top - first)) & (times <= top)]
    if len(at_top) < 3 or len(late) < 4 or np.max(np.diff(late)) > 0.25:
        raise Unseen(
            f"{joints[0]}, {joints[1]} and {joints[2]} are not seen through the lockout", rep.scene.joints.remedy
        )
    calm = np.convolve(np.pad(angles, 1, mode="edge"), np.ones(3) / 3, mode="valid")
    return reaches_s(times, calm, float(np.median(at_top)), STRAIGHT_WITHIN_DEG)


def knees_before_hips(rep: RepScene) -> Answer:
    """How much earlier the knee reaches its end than the hip."""
    early = arrival_s(rep, HIP) - arrival_s(rep, KNEE)
    number = own(early, math.sqrt(2.0) * ARRIVAL_SD_S, f"arrivals {rep.rep.n}")
    return Answer(number, f"{rep.scene.joints.side} knee and hip angles")


def shrug_rise(rep: RepScene) -> Answer:
    """How far the bar still rises after knees and hips have reached their end."""
    stopped = max(arrival_s(rep, KNEE), arrival_s(rep, HIP))
    rise = rep.held_up - rep.bar.up(stopped)
    speed = 0.0
    if rep.scene.velocity_allowed:
        here = float(np.interp(stopped, rep.scene.velocity.t_s, rep.scene.velocity.velocity_m_s))
        speed = abs(here) * 1000.0 if math.isfinite(here) else 0.0
    number = rise.plus(f"own:arrival {rep.rep.n}", speed * ARRIVAL_SD_S)
    return Answer(number, f"{rep.bar.basis} after {rep.scene.joints.side} knee and hip stopped")


def slack_begin_s(rep: RepScene) -> float:
    """Give when the lifter begins the rise that ends in lift-off."""
    start = rep.t("start")
    named = [p for p in rep.scene.data.reps.phases if p.kind == "slack" and abs(p.end_s - start) < 0.2]
    if named:
        return named[-1].start_s
    joints = rep.scene.joints_mm
    if not rep.rep.start_seen:
        raise Unseen("the clip begins after this rep started", "let the clip run from before the first pull")
    if rep.place and start - rep.before_s < TOUCH_S:
        raise DoesNotApply("the bar hardly rested on the floor before this rep")
    rows = joints.seen_rows("shoulder", start_s=max(start - SLACK_LOOK_S, rep.before_s), end_s=start)
    times = joints.body.t_s[rows]
    if len(rows) < LEAST_ROWS or start - times[-1] > 0.3 or np.max(np.diff(times)) > 0.3:
        raise Unseen("the near shoulder is not seen before lift-off", rep.scene.joints.remedy)
    raise DoesNotApply("no slack is seen: nothing rises clearly before the plates leave the floor")


def slack_time(rep: RepScene) -> Answer:
    """Time from the lifter's rise to lift-off."""
    begin = slack_begin_s(rep)
    taken = rep.time("start") - own(begin, SLACK_SD_S, f"slack begins {begin:.3f}")
    return Answer(taken, f"{rep.scene.joints.side} side before {rep.bar.basis} leaves the floor")


def _slack_rise(rep: RepScene, joint: str) -> Answer:
    joints = rep.scene.joints_mm
    begin, start = slack_begin_s(rep), rep.t("start")
    before, then = joints.pair(joint, begin, start, "bent")
    return Answer(then[1] - before[1], f"{joints.side} {joint}")


def slack_hip_rise(rep: RepScene) -> Answer:
    """Rise of the near hip from the begin of the slack to lift-off."""
    return _slack_rise(rep, "hip")


def slack_shoulder_rise(rep: RepScene) -> Answer:
    """Rise of the near shoulder from the begin of the slack to lift-off."""
    return _slack_rise(rep, "shoulder")


def slack_wrist_rise(rep: RepScene) -> Answer:
    """Rise of the near wrist from the begin of the slack to lift-off: what the middle of the bar bends."""
    return _slack_rise(rep, "wrist")


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="trunk_angle_start_deg", title="Trunk at lift-off", unit="deg", lifts=DEADLIFT,
        compute=trunk_angle_start, typical=True,
        what="Lean of the trunk from the vertical at lift-off, forward positive: line from hip to shoulder.",
        formula="atan2(forward(shoulder) - forward(hip), up(shoulder) - up(hip)).",
        lies="A round back makes the line shorter, not the angle smaller. The network puts a bent hip 30-50 "
        "mm to "
        "the front.",
        film=FILM, source="sumo stands 5-10 degrees more upright (Escamilla et al. 2000, MSSE 32:1265-1275): a "
        "sanity range",
    ),
    RepMeasure(
        id="trunk_tip_deg", title="Trunk tipping off the floor", unit="deg", lifts=DEADLIFT, compute=trunk_tip,
        good="less",
        what="How much further forward the trunk leans when the bar has risen a third of its range than at "
        "lift-off.",
        formula="trunk(bar risen a third) - trunk(lift-off).",
        lies="The two postures differ, and with them the network's offset: a few degrees are not told.",
        film=FILM,
    ),
    RepMeasure(
        id="hip_height_liftoff_mm", title="Hip height at lift-off", unit="mm", lifts=DEADLIFT,
        compute=hip_height_liftoff, typical=True,
        what="Height of the near hip above the bar at lift-off.", formula="up(hip) - up(bar).",
        lies="Hips that rise before the plates leave have risen already: see the slack.", film=FILM,
    ),
    RepMeasure(
        id="knee_angle_start_deg", title="Knee flexion at lift-off", unit="deg", lifts=DEADLIFT,
        compute=knee_angle_start,
        what="Bend of the near knee at lift-off, 0 when straight, in the plane of motion.",
        formula="180 - angle hip-knee-ankle.",
        lies="The plate covers the ankle; in a sumo stance the thigh points outward and looks short.",
        film=FILM,
    ),
    RepMeasure(
        id="body_lean_top_deg", title="Lean at the top", unit="deg", lifts=DEADLIFT, compute=body_lean_top,
        what="Lean of the line from ankle to shoulder in the middle of the top, forward positive.",
        formula="atan2(forward(shoulder) - forward(ankle), up(shoulder) - up(ankle)).",
        lies="It does not tell soft knees from hips not through: see the gaps.", film=FILM,
        source="rulebooks ask for an erect stand with shoulders back",
    ),
    RepMeasure(
        id="hip_lockout_gap_deg", title="Hip bend left at the lockout", unit="deg", lifts=DEADLIFT,
        compute=hip_lockout_gap, good="less",
        what="Angle by which the near hip stays short, at the top, of its straightest in the clip.",
        formula="largest angle shoulder-hip-knee held for 0.3 s anywhere - median at the top.",
        lies="From the side the plate covers the hip at the top; then it is inferred or not seen.", film=FILM,
    ),
    RepMeasure(
        id="knees_before_hips_s", title="Knees before hips", unit="s", lifts=DEADLIFT,
        compute=knees_before_hips,
        what="How much earlier the knee reaches its end than the hip; negative when the hip is first.",
        formula="t(hip within 6 degrees of its top angle) - t(knee within 6 degrees of its own).",
        lies="Angles scatter by 2-5 degrees: under 0.2 s it says little.", film=FILM,
        source="skilled conventional pulls extend one after the other (Hales et al. 2009, JSCR 23:2574-2580)",
    ),
    RepMeasure(
        id="shrug_rise_mm", title="Bar rising after knees and hips stopped", unit="mm", lifts=DEADLIFT,
        compute=shrug_rise, good="less",
        what="How far the bar still rises after knees and hips have reached their end: a shrug.",
        formula="up(held) - up(bar when the later of knee and hip has come within 6 degrees of its top angle).",
        lies="The last six degrees of hip and knee lift the bar by 10-20 mm themselves.", film=FILM,
    ),
    RepMeasure(
        id="slack_time_s", title="Taking up the slack", unit="s", lifts=DEADLIFT, compute=slack_time,
        what="Time from the rise of shoulder, hip or wrist to the plates leaving the floor.",
        formula="t(start) - t(shoulder, hip or wrist leaves its lowest place for good, by more than it shakes).",
        lies="A lifter who drops into the pull and goes has none; one who rises slowly into position looks "
        "as if he "
        "took up slack.",
        film="side, shoulder and hip in the picture before the pull",
    ),
    RepMeasure(
        id="slack_hip_rise_mm", title="Hips rising before lift-off", unit="mm", lifts=DEADLIFT,
        compute=slack_hip_rise, good="less",
        what="How far the near hip rises from the begin of the slack to lift-off; negative when it drops.",
        formula="up(hip, lift-off) - up(hip, begin of the slack).", lies="As for the slack.", film=FILM,
    ),
    RepMeasure(
        id="slack_shoulder_rise_mm", title="Shoulders rising before lift-off", unit="mm", lifts=DEADLIFT,
        compute=slack_shoulder_rise,
        what="How far the near shoulder rises from the begin of the slack to lift-off.",
        formula="up(shoulder, lift-off) - up(shoulder, begin of the slack).", lies="As for the slack.",
        film=FILM,
    ),
    RepMeasure(
        id="slack_wrist_rise_mm", title="Hands rising before lift-off", unit="mm", lifts=DEADLIFT,
        compute=slack_wrist_rise,
        what="How far the near wrist rises before the plates leave: what the middle of the bar bends.",
        formula="up(wrist, lift-off) - up(wrist, begin of the slack).",
        lies="From the side the plate covers the wrist on the floor.", film=FILM_OBLIQUE,
    ),
)  # fmt: skip
