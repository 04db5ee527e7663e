"""Measures of the squat that one side or oblique view can give.

The near plate covers the shoulder through a squat, so the trunk is the line from the hip to the *bar*. Its change
is the trunk's change; against the line to the shoulder it has a constant offset (the bar lies behind it).
"""

from __future__ import annotations

from midfoot.measures.common import foot
from midfoot.measures.definition import Answer, DoesNotApply, RepMeasure, SetMeasure, Unseen
from midfoot.measures.depth import depth_offset, squat_depth
from midfoot.measures.joints import HIP_CHANGED_MM
from midfoot.measures.legs import (
    FILM,
    KNEE,
    corner,
    highest,
    hip_lead,
    knee_lockout_gap,
    unrack_lift,
    unrack_travel,
)  # fmt: skip
from midfoot.measures.scene import ONLY_ONE, RepScene
from midfoot.measures.speed import slowest_s
from midfoot.measures.uncertain import Number, lean_deg

SQUAT = ("squat",)
MOST_YAW_SD_DEG = 1.5
MOST_DISTANCE_SHARE = 0.15
TRUNK_LINE = "line from the near hip to the bar, not to the shoulder"
TRUNK_LIES = (
    "The line to the bar stands a constant few degrees off the line to the shoulder, another few for a low "
    "bar. "
    "The network puts a bent hip 30-50 mm to the front, which leans the line by up to 5 degrees, in every "
    "rep alike."
)


def trunk(rep: RepScene, t_s: float, posture: str) -> Number:
    """Give the lean of the line from hip to bar at a moment, degrees forward of vertical."""
    hip = rep.scene.joints.at("hip", t_s, posture)
    if rep.scene.joints.optics.lens.distant:
        raise Unseen("the scale is not known, so hip and bar cannot be set against each other", "give --plate")
    bar = rep.bar.at(t_s)
    return lean_deg(bar[0] - hip[0], bar[1] - hip[1])


def _answer(rep: RepScene, number: Number) -> Answer:
    return Answer(number, f"{rep.scene.joints.side} side, {TRUNK_LINE}")


def trunk_angle_start(rep: RepScene) -> Answer:
    """Lean of the trunk at the start."""
    return _answer(rep, trunk(rep, rep.t("start"), "standing"))


def trunk_angle_low(rep: RepScene) -> Answer:
    """Lean of the trunk at the low."""
    return _answer(rep, trunk(rep, rep.low_s, "bent"))


def trunk_angle_slowest(rep: RepScene) -> Answer:
    """Lean of the trunk at the slowest point of the ascent."""
    return _answer(rep, trunk(rep, slowest_s(rep), "half way"))


def trunk_tip(rep: RepScene) -> Answer:
    """How much further the trunk leans when the bar has risen a third, against the begin of the ascent."""
    first, third = rep.ascent[0], rep.third_s()
    hip, then = rep.scene.joints_mm.pair("hip", first, third, "bent", HIP_CHANGED_MM)
    bar, risen = rep.bar.at(first), rep.bar.at(third)
    change = lean_deg(risen[0] - then[0], risen[1] - then[1]) - lean_deg(bar[0] - hip[0], bar[1] - hip[1])
    return _answer(rep, change)


def depth_change(rep: RepScene) -> Answer:
    """How far the hip at the low stays above the set's lowest hip."""
    joints = rep.scene.joints_mm
    hips: list[Number] = []
    for other in rep.scene.completed() or rep.scene.reps:
        try:
            hips.append(joints.at("hip", other.low_s, "bent")[1])
        except Unseen:
            continue
    if not hips:
        raise Unseen("the near hip is hidden at every low", rep.scene.joints.remedy)
    if len(hips) < 2:
        raise DoesNotApply(ONLY_ONE)
    lowest = min(hips, key=lambda n: n.value).as_common("the set's lowest hip")
    return Answer(joints.at("hip", rep.low_s, "bent")[1] - lowest, f"{joints.side} hip")


def knee_back(rep: RepScene) -> Answer:
    """How far the near knee travels back from the begin of the ascent until the bar has risen a third."""
    joints = rep.scene.joints_mm
    knee, then = joints.pair("knee", rep.ascent[0], rep.third_s(), "bent")
    return Answer(knee[0] - then[0], f"{joints.side} knee")


def knee_flexion_low(rep: RepScene) -> Answer:
    """Flexion of the near knee at the low, 0 when straight."""
    return Answer(180.0 - corner(rep, rep.low_s, "bent", KNEE), f"{rep.scene.joints.side} hip, knee, ankle")


def shank_angle_low(rep: RepScene) -> Answer:
    """Forward lean of the near shank at the low."""
    joints = rep.scene.joints
    knee, ankle = joints.at("knee", rep.low_s, "bent"), joints.at("ankle", rep.low_s, "bent")
    return Answer(lean_deg(knee[0] - ankle[0], knee[1] - ankle[1]), f"{joints.side} knee and ankle")


def heel_lift(rep: RepScene) -> Answer:
    """Highest the near heel comes above where it stood at the start, against the toes."""
    joints = rep.scene.joints_mm
    start = rep.t("start")
    at = highest(rep, "heel", start, rep.t("end"))
    heel = joints.at("heel", at, "standing")[1] - joints.at("heel", start, "standing")[1]
    toes = joints.at("foot_index", at, "standing")[1] - joints.at("foot_index", start, "standing")[1]
    return Answer(heel - toes, f"{joints.side} heel against toes")


def bar_over_midfoot(rep: RepScene) -> Answer:
    """How far forward of the middle of the near foot the bar is at the low."""
    view = rep.scene.data.view
    share = view.distance_m.sd / view.distance_m.value
    if not (rep.bar.path.yaw_deg < MOST_YAW_SD_DEG and share < MOST_DISTANCE_SHARE):
        raise Unseen(
            "the camera's yaw is not known to 1.5 degrees (12 mm each); the path's change is",
            "camera square to the side, the far plate in view beside the near one",
        )
    place = rep.low_forward - foot(rep, rep.low_s)
    return Answer(place, f"{rep.bar.basis} against {rep.scene.joints.side} heel and toes")


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="squat_depth_mm", title="Depth", unit="mm", lifts=SQUAT, compute=squat_depth, good="more",
        typical=True,
        what="How far the hip is below (+) the knee at the low, by joint centres, which stand in for the "
        "crease of "
        "the hip and the top of the knee.",
        formula="up(knee) - up(hip) at the lowest point of the bar, at the body's scale; plus the lifter's offset "
        "where crease and knee top were marked once (--crease, --knee-top, or depth_offset in the context).",
        lies="Surfaces stand 20-30 mm otherwise over the joints in every person (held in the common error), so "
        "against the rule it is nearly always close. A camera above knee height makes squats look shallower.",
        film=FILM, source="IPF technical rules: top surface of the legs at the hip joint lower than the top "
        "of the "
        "knees; joint centres are a proxy for it",
    ),
    RepMeasure(
        id="depth_change_mm", title="Depth lost against the set's deepest hip", unit="mm", lifts=SQUAT,
        compute=depth_change, good="less",
        what="How far the hip at the low stays above the lowest hip of the set. Needs no proxy: whatever "
        "stands "
        "between joint and crease is the same in every rep.",
        formula="up(hip) at the low - the smallest of the completed reps.",
        lies="Plates that cover the hip leave its place to bones; then it is inferred.", film=FILM,
    ),
    RepMeasure(
        id="trunk_angle_start_deg", title="Trunk at the start", unit="deg", lifts=SQUAT,
        compute=trunk_angle_start,
        what="Lean of the trunk from the vertical at the start, forward positive: line from hip to bar.",
        formula="atan2(forward(bar) - forward(hip), up(bar) - up(hip)).", lies=TRUNK_LIES, film=FILM,
    ),
    RepMeasure(
        id="trunk_angle_low_deg", title="Trunk at the low", unit="deg", lifts=SQUAT, compute=trunk_angle_low,
        typical=True,
        what="Lean of the trunk from the vertical at the low, forward positive: line from hip to bar.",
        formula="atan2(forward(bar) - forward(hip), up(bar) - up(hip)) at the lowest point.", lies=TRUNK_LIES,
        film=FILM,
        source="ranges seen: 30-45 degrees high bar, 40-55 low bar (from memory, a sanity range, not a "
        "yardstick)",
    ),
    RepMeasure(
        id="trunk_angle_slowest_deg", title="Trunk at the slowest point", unit="deg", lifts=SQUAT,
        compute=trunk_angle_slowest, needs_velocity=True,
        what="Lean of the trunk at the minimum of the sticking region; no such region, no such angle.",
        formula="atan2(forward(bar) - forward(hip), up(bar) - up(hip)) at the minimum of the velocity.",
        lies=TRUNK_LIES, film=FILM,
        source="lean and hip moment grow into the sticking region (van den Tillaar et al. 2021, Front "
        "Sports Act "
        "Living 3:691459)",
    ),
    RepMeasure(
        id="trunk_tip_deg", title="Trunk tipping out of the low", unit="deg", lifts=SQUAT, compute=trunk_tip,
        good="less",
        what="How much further forward the trunk leans when the bar has risen a third of its range than "
        "when the "
        "ascent began.",
        formula="trunk(bar risen a third) - trunk(begin of the ascent).",
        lies="The two postures differ, and with them the network's offset: a few degrees are not told.",
        film=FILM,
    ),
    RepMeasure(
        id="hip_lead_ratio", title="Hip rise against bar rise", unit="ratio", lifts=("squat", "deadlift"),
        compute=hip_lead, typical=True,
        what="How far the hip rises for every millimetre of the bar, until the bar has risen a third of its "
        "range. "
        "Above the lifter's own best rep the hips lead.",
        formula="rise of the hip / rise of the bar, from the begin of the ascent until a third of its range.",
        lies="Neutral is not 1: clean squats show about 1.2, clean deadlifts less. The hip's offset changes "
        "with posture: on drawn bodies the ratio reads 0.1-0.3 low, in every rep alike, and the error that all "
        "reps share holds that. A bar that bends takes up to 0.1 off a deadlift's. A hip behind the plate is "
        "inferred or not seen.",
        film=FILM, source="common practice, no source: no published index of hips rising first is known",
    ),
    RepMeasure(
        id="knee_back_travel_mm", title="Knees travelling back", unit="mm", lifts=SQUAT, compute=knee_back,
        good="less",
        what="How far the near knee moves back from the begin of the ascent until the bar has risen a third.",
        formula="forward(knee, begin) - forward(knee, bar risen a third).",
        lies="Knees that move out or in look as if they moved back from an oblique view.", film=FILM,
    ),
    RepMeasure(
        id="knee_flexion_low_deg", title="Knee flexion at the low", unit="deg", lifts=SQUAT,
        compute=knee_flexion_low,
        what="Bend of the near knee at the low, 0 when straight, in the plane of motion.",
        formula="180 - angle hip-knee-ankle.",
        lies="Knees that point outward bend more than their picture; 2-D hip and thigh angles read 3-13 "
        "degrees "
        "small.",
        film=FILM, source="2-D against 3-D: Escamilla et al. 2001, MSSE 33:984-998",
    ),
    RepMeasure(
        id="shank_angle_low_deg", title="Shank at the low", unit="deg", lifts=SQUAT, compute=shank_angle_low,
        what="Forward lean of the near shank at the low.",
        formula="atan2(forward, up) of the line ankle to knee.",
        lies="The network puts the ankle 20-45 mm up the shank.", film=FILM,
    ),
    RepMeasure(
        id="heel_lift_mm", title="Heel lift", unit="mm", lifts=("squat", "bench"), compute=heel_lift, good="less",
        what="Highest the near heel comes above where it stood at the start, against the toes.",
        formula="rise of the heel - rise of the toes at the heel's highest moment.",
        lies="Heels are small: below 30 mm it says little.",
        film="feet in the picture, nothing in front of them",
    ),
    RepMeasure(
        id="bar_over_midfoot_mm", title="Bar over the middle of the foot at the low", unit="mm", lifts=SQUAT,
        compute=bar_over_midfoot,
        what="How far forward of the middle of the near foot (heel to toes) the bar is at the low. Given "
        "only where "
        "the camera's yaw is known to 1.5 degrees and its distance to 15 %.",
        formula="forward(bar) - (forward(heel) + forward(toes)) / 2.",
        lies="One degree of yaw moves it by 12 mm, in every rep alike. Its change is the path's change.",
        film="camera square to the side, the far plate in view beside the near one",
    ),
    RepMeasure(
        id="knee_lockout_gap_deg", title="Knee bend left at the lockout", unit="deg", lifts=("squat",
        "deadlift"),
        compute=knee_lockout_gap, good="less",
        what="Angle by which the near knee stays short, at the lockout, of its straightest in the clip.",
        formula="largest knee angle held for 0.3 s anywhere - median at the lockout.",
        lies="If the knee never was straight in the clip it looks straight now. Plates cover knee or hip at "
        "the "
        "lockout of a deadlift.",
        film=FILM, source="rulebooks ask for locked knees; the yardstick is this lifter's own straightest",
    ),
    RepMeasure(
        id="unrack_lift_mm", title="Height of the unrack", unit="mm", lifts=("squat", "bench"),
        compute=unrack_lift,
        good="less",
        what="Height from the bar lying in the rack to the bar held at the first start.",
        formula="up(held before the first start) - up(lying).", lies="The rack's hooks hide nothing of it.",
        film="start filming with the bar in the rack",
    ),
    RepMeasure(
        id="unrack_travel_mm", title="Forward travel of the unrack", unit="mm", lifts=("squat", "bench"),
        compute=unrack_travel,
        what="How far forward of its place in the rack the bar is at the first start (squat: the walkout).",
        formula="forward(held before the first start) - forward(lying).",
        lies="A walk toward or away from the camera changes the scale on the way.",
        film="start filming with the bar in the rack",
    ),
)  # fmt: skip
PER_SET: tuple[SetMeasure, ...] = (
    SetMeasure(
        id="depth_offset_mm", title="Depth by marks against joints", unit="mm", lifts=SQUAT, compute=depth_offset,
        what="This lifter's depth by the marked crease and knee top minus that by joint centres, at the moment of "
        "the marks. Written as depth_offset into this lifter's context it calibrates later clips.",
        formula="(up(knee top) - up(crease)) by marks - (up(knee) - up(hip)) by joints.",
        lies="A crease hidden by cloth is marked where it is thought to be; other trousers, other view, other "
        "offset.", film=FILM,
    ),
)  # fmt: skip
