"""What squat and deadlift share of hips, knees and trunk, and the unrack that squat and bench share."""

from __future__ import annotations

import math

import numpy as np

from midfoot.measures.definition import Answer, DoesNotApply, Unseen
from midfoot.measures.joints import HIP_CHANGED_MM, REACH_S, WANDER_S
from midfoot.measures.scene import LOCKOUT_S, RepScene
from midfoot.measures.uncertain import Number, averaged, combine, corner_deg
from midfoot.records.base import FloatArray

FILM = "side, or up to 30 degrees to the front; camera at knee height, hip and knee clear of stands"
STRAIGHT_S = 0.3
"""The straightest posture is one held this long: the very largest angle of all is the noisiest."""
LEAST_ROWS = 5
ABOUT_S = 0.2
"""The hip of a squat is read against the bar over this long before and after a moment. On five squats of a person
under motion capture the rise of the hips' middle to a third of the way scattered by 8.5 mm between squats when it
was read over 0.07 s, and by 5.2 mm over 0.2 s (`lab/hip_centres.py`)."""
BEFORE_PULL = "hip, knee and ankle in the picture from before the pull until after the lockout"


def corner(rep: RepScene, t_s: float, posture: str, joints: tuple[str, str, str]) -> Number:
    """Give the angle at the middle one of three joints at a moment, degrees, 180 when straight."""
    reader = rep.scene.joints
    a, b, c = (reader.at(j, t_s, posture) for j in joints)
    return corner_deg(a, b, c)


KNEE = ("hip", "knee", "ankle")
HIP = ("shoulder", "hip", "knee")
ELBOW = ("shoulder", "elbow", "wrist")


def corners(
    rep: RepScene, joints: tuple[str, str, str], start_s: float, end_s: float
) -> tuple[FloatArray, FloatArray]:
    """Give times and angles (degrees, 180 straight) at the middle joint wherever all three are seen."""
    reader = rep.scene.joints
    rows = reader.seen_rows(*joints, start_s=start_s, end_s=end_s)
    a, b, c = (reader.place(j, rows) for j in joints)
    u, v = a - b, c - b
    turn = np.arctan2(u[:, 1], u[:, 0]) - np.arctan2(v[:, 1], v[:, 0])
    return reader.body.t_s[rows], np.abs((np.degrees(turn) + 180.0) % 360.0 - 180.0)


def straightest(rep: RepScene, joints: tuple[str, str, str]) -> float:
    """Give the straightest angle of these joints seen anywhere in the clip."""
    if joints in rep.scene.kept:
        return rep.scene.kept[joints]
    times, angles = corners(rep, joints, -math.inf, math.inf)
    held: list[float] = []
    for i, t_s in enumerate(times):
        near = angles[i : int(np.searchsorted(times, t_s + STRAIGHT_S, side="right"))]
        if len(near) >= LEAST_ROWS and times[i + len(near) - 1] - t_s >= 0.6 * STRAIGHT_S:
            held.append(float(np.median(near)))
    if not held:
        raise Unseen(
            f"{joints[0]}, {joints[1]} and {joints[2]} are hardly ever seen together", rep.scene.joints.remedy
        )
    rep.scene.kept[joints] = max(held)
    return max(held)


def lockout_span(rep: RepScene) -> tuple[float, float]:
    """Give the stretch in which the lifter stands (or holds) locked out after the ascent."""
    if rep.rep.outcome == "missed":
        raise DoesNotApply("the rep was not completed")
    if rep.lift == "deadlift":
        first = rep.t("top_start")
        last = rep.rep.top_end.t_s if rep.rep.top_end is not None else first + LOCKOUT_S
        return first, max(last, first + 0.1)
    first = rep.t("end")
    return first, max(min(first + LOCKOUT_S, rep.after_s), first + 0.1)


def lockout_gap(rep: RepScene, joints: tuple[str, str, str]) -> Answer:
    """Angle at the lockout against the straightest seen in the clip; the posture is the same, offsets drop out."""
    return joint_gap(rep, joints, *lockout_span(rep), "at the lockout")


def joint_gap(rep: RepScene, joints: tuple[str, str, str], first_s: float, last_s: float, where: str) -> Answer:
    """Angle over a stretch against the straightest seen in the clip; `where` names the stretch in words."""
    times, angles = corners(rep, joints, first_s, last_s)
    if len(angles) < 3:
        raise Unseen(
            f"{joints[0]}, {joints[1]} and {joints[2]} are not seen together {where}", rep.scene.joints.remedy
        )
    middle = float(np.median(times))
    angle = corner(rep, middle, "held", joints)
    best = Number(straightest(rep, joints), {**angle.parts}, angle.inferred).as_common("straightest posture")
    here = Number(float(np.median(angles)), angle.parts, angle.inferred)
    side = rep.scene.joints.side
    return Answer(best - here, f"{side} {joints[0]}, {joints[1]}, {joints[2]} against the straightest seen")


def knee_lockout_gap(rep: RepScene) -> Answer:
    """Bend left in the near knee at the lockout."""
    return lockout_gap(rep, KNEE)


def hip_lead(rep: RepScene) -> Answer:
    """Hip rise over bar rise until the bar has risen a third of its range."""
    joints = rep.scene.joints_mm
    first, third = rep.ascent[0], rep.third_s()
    before, then = joints.pair("hip", first, third, "bent", HIP_CHANGED_MM)
    hip = then[1] - before[1]
    if rep.lift == "squat":
        # A pull's hips rise before the plates leave and slow down soon after: a longer look loses of their lead.
        hip = _calm(rep, then[1], third) - _calm(rep, before[1], first)
    bar = rep.bar.up(third) - rep.bar.up(first)
    if bar.value <= 0:
        raise Unseen("the bar does not rise here", "film at 60 frames a second")
    return Answer(combine(lambda h, b: h / b, hip, bar), f"{joints.side} hip against {rep.bar.basis}")


def _calm(rep: RepScene, hip_up: Number, at_s: float) -> Number:
    """Give the hip's height at a moment from all looks about it, each taken to that moment by the bar's own rise.

    Hip and bar rise nearly together, so that their difference hardly changes over so short a time: a tenth of the
    lead is lost at the most. What the network is off by wanders within some tenths of a second.
    """
    joints = rep.scene.joints_mm
    rows = joints.seen_rows("hip", start_s=at_s - ABOUT_S, end_s=at_s + ABOUT_S)
    times = joints.body.t_s[rows]
    known = np.isfinite(rep.bar.up_mm)
    # Looks on one side of the moment alone would shift it.
    even = [float(np.ptp(times[side])) >= ABOUT_S / 2 for side in (times <= at_s, times >= at_s) if side.any()]
    if len(rows) < LEAST_ROWS or len(even) < 2 or not all(even):
        return hip_up
    apart = joints.place("hip", rows)[:, 1] - np.interp(times, rep.bar.t_s[known], rep.bar.up_mm[known])
    looks = 1.0 + (2.0 * ABOUT_S - REACH_S) / (2.0 * WANDER_S)
    return averaged(hip_up, rep.bar.up(at_s).value + float(np.mean(apart)), looks)


def reaches_s(times: FloatArray, angles: FloatArray, final: float, within_deg: float) -> float:
    """Give the moment from which an angle stays within `within_deg` of its final value."""
    short = np.flatnonzero(angles < final - within_deg)
    if not len(short):
        raise Unseen("it is straight all the time it is seen", BEFORE_PULL)
    if short[-1] + 1 >= len(times):
        raise Unseen("it does not come to rest at its angle of the top", BEFORE_PULL)
    i = int(short[-1])
    step = (final - within_deg - angles[i]) / max(angles[i + 1] - angles[i], 1e-9)
    return float(times[i] + np.clip(step, 0.0, 1.0) * (times[i + 1] - times[i]))


def unrack(rep: RepScene) -> tuple[Number, Number]:
    """Give forward and up of the bar at the first start from where it lay in the rack."""
    if rep.place > 0:
        raise DoesNotApply("only before the first rep")
    racked_s = racked(rep)
    lay = rep.bar.held(max(racked_s - LOCKOUT_S, float(rep.bar.t_s[0])), racked_s)
    now = rep.start_place
    return now[0] - lay[0], now[1] - lay[1]


def racked(rep: RepScene) -> float:
    """Give the moment at which the bar leaves the rack."""
    start = rep.t("start")
    found = [p for p in rep.scene.data.reps.phases if p.kind == "unrack" and p.end_s <= start + 1e-6]
    if not found:
        raise DoesNotApply("the clip shows no unrack")
    return found[0].start_s


def unrack_lift(rep: RepScene) -> Answer:
    """Height from the rack to the first start."""
    return Answer(unrack(rep)[1], rep.bar.basis)


def unrack_travel(rep: RepScene) -> Answer:
    """Forward from the rack to the first start."""
    return Answer(unrack(rep)[0], rep.bar.basis)


def highest(rep: RepScene, joint: str, start_s: float, end_s: float) -> float:
    """Give the moment at which a joint is highest within a stretch, smoothed over five looks at the body."""
    joints = rep.scene.joints_mm
    rows = joints.seen_rows(joint, start_s=start_s, end_s=end_s)
    if len(rows) < LEAST_ROWS:
        raise Unseen(f"the near {joint} is not seen through the rep", rep.scene.joints.remedy)
    up = joints.place(joint, rows)[:, 1]
    calm = np.convolve(np.pad(up, 2, mode="edge"), np.ones(5) / 5, mode="valid")
    return float(joints.body.t_s[rows[int(np.argmax(calm))]])
