"""Depth of a squat: by joints in place of surfaces, or calibrated by one pair of marks of the lifter.

The rule speaks of the crease of the hip and the top of the knee; the network gives joint centres, which stand
20-30 mm otherwise under the surfaces in every person. A person marks both once at the low of a rep. What the
joints say at that moment and the marks differ by is this lifter's offset; it holds at every other low of the same
lifter.
"""

from __future__ import annotations

import math

import numpy as np

from midfoot.measures.definition import Answer, DoesNotApply, Unseen
from midfoot.measures.scene import RepScene, Scene
from midfoot.measures.uncertain import Number, own
from midfoot.records.clip import DepthMarks, Tap

SURFACE_SD_MM = 25.0
"""The crease of the hip and the top of the knee stand otherwise over their joint centres in every person."""
CLICK_SD_PX = 4.0
"""How well a person marks a crease in cloth (common practice, no source)."""
SAME_POSTURE_MM = 120.0
MARK_AT_LOW = "mark crease and knee top in the same frame at the low of a rep, with --crease and --knee-top"


def joint_depth(scene: Scene, t_s: float) -> Number:
    """Give up(knee) - up(hip) by joint centres at a moment, mm."""
    joints = scene.joints_mm
    return joints.at("knee", t_s, "bent")[1] - joints.at("hip", t_s, "bent")[1]


def _marked_up(scene: Scene, tap: Tap, joint: str) -> Number:
    joints = scene.joints_mm
    away, _ = joints.away_mm(joint)
    times = joints.body.t_s
    shift = np.array([np.interp(tap.at_s, times, joints.shift_px[:, i]) for i in (0, 1)])
    point = (tap.x_px + float(shift[0]), tap.y_px + float(shift[1]))
    up = joints.optics.lens.on_plane(point, away)[1]
    if not math.isfinite(up):
        raise Unseen("the marks do not lie where a lifter can be", MARK_AT_LOW)
    number = own(up, CLICK_SD_PX * joints.optics.lens.mm_per_px_at(away), f"mark {joint}")
    for source, effect in joints.optics.effects(point, away)[1].items():
        number = number.plus(source, effect)
    return number


def marked_offset(scene: Scene, marks: DepthMarks) -> Number:
    """Give depth by the marks minus depth by joints at the same moment, mm; all reps share its error."""
    at = (marks.crease.at_s + marks.knee_top.at_s) / 2.0
    if abs(marks.crease.at_s - marks.knee_top.at_s) > 0.2:
        raise Unseen("crease and knee top are marked at different moments", MARK_AT_LOW)
    by_joints = joint_depth(scene, at)
    lows = [joint_depth(scene, r.low_s).value for r in scene.reps if _holds(r, at)]
    if not lows or abs(by_joints.value - lows[0]) > SAME_POSTURE_MM:
        raise Unseen("the marks do not stand at the low of a rep", MARK_AT_LOW)
    return (marked_depth(scene, marks) - by_joints).as_common("depth marks")


def marked_depth(scene: Scene, marks: DepthMarks) -> Number:
    """Give up(knee top) - up(crease) by the marks, mm."""
    return _marked_up(scene, marks.knee_top, "knee") - _marked_up(scene, marks.crease, "hip")


def _holds(rep: RepScene, t_s: float) -> bool:
    first, last = rep.rep.start or rep.rep.low_start, rep.rep.end or rep.rep.low_end
    return first is not None and last is not None and first.t_s <= t_s <= last.t_s


def _in_low(rep: RepScene, t_s: float) -> bool:
    first, last = rep.rep.low_start, rep.rep.low_end
    return first is not None and last is not None and first.t_s <= t_s <= last.t_s


def squat_depth(rep: RepScene) -> Answer:
    """Hip crease below the top of the knee at the low: by joint centres, or calibrated."""
    scene, side = rep.scene, rep.scene.joints_mm.side
    by_joints = joint_depth(scene, rep.low_s)
    marks, carried = scene.data.depth_marks, scene.data.depth_offset_mm
    if marks is not None:
        offset, at = marked_offset(scene, marks), marks.crease.at_s
        if _in_low(rep, at):
            # between the marks' moment and the lowest point the hip goes with the bar, 10 mm at the most
            depth = marked_depth(scene, marks) + (rep.bar.up(at) - rep.low_up)
            return Answer(depth, f"{side} crease and knee top, calibrated: marked in this rep")
        return Answer(by_joints + offset, f"{side} hip and knee, calibrated by marks of this clip")
    if carried is not None:
        shift = Number(carried.value, {"depth marks": carried.sd})
        return Answer(by_joints + shift, f"{side} hip and knee, calibrated by marks of an earlier clip")
    depth = by_joints.plus("crease and knee top", SURFACE_SD_MM)
    return Answer(depth, f"{side} hip and knee joints in place of crease and knee top")


def depth_offset(scene: Scene) -> Answer:
    """Depth by the marks minus depth by joints."""
    if scene.data.depth_marks is None:
        raise DoesNotApply("nobody marked crease and knee top in this clip")
    return Answer(marked_offset(scene, scene.data.depth_marks), "marks of crease and knee top against joints")
