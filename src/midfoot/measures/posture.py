"""What the rules ask of posture and of the whole bar.

Straight joints at the start, feet, head, stillness on the chest, knees bending again, shoulders behind the bar,
both ends of the bar going down.
"""

from __future__ import annotations

import math

import numpy as np

from midfoot.measures.bench import BENCH, FILM_BENCH, LEAST_PAUSE_FRAMES, MOST_NOISE_M_S
from midfoot.measures.common import LEVEL_S, foot
from midfoot.measures.definition import Answer, DoesNotApply, RepMeasure, SetMeasure, Unseen
from midfoot.measures.ends import BOTH_ENDS, NO_FAR_END, Tilts
from midfoot.measures.legs import ELBOW, FILM, KNEE, corner, corners, highest, joint_gap, lockout_span
from midfoot.measures.scene import LOCKOUT_S, WHOLE_REP, RepScene, Scene
from midfoot.measures.speed import FILM_FAST
from midfoot.measures.uncertain import own

STOP_S = 0.15
FRONT_DELTOID_MM = (50.0, 20.0)
"""The front of the shoulder stands this far before the joint's centre (from anatomy, unverified)."""
STEP_MM = 60.0
STEP_M_S = 0.20
STEPS_SD = 0.5
FILM_RACK = "start filming with the bar in the rack, from the side, the feet in the picture"


def _before_start(rep: RepScene) -> tuple[float, float]:
    last = rep.t("start")
    return max(last - LOCKOUT_S, rep.before_s), last


def knee_start_gap(rep: RepScene) -> Answer:
    """Bend left in the near knee just before the descent."""
    return joint_gap(rep, KNEE, *_before_start(rep), "before the start")


def elbow_start_gap(rep: RepScene) -> Answer:
    """Bend left in the near elbow just before the descent."""
    return joint_gap(rep, ELBOW, *_before_start(rep), "before the start")


def foot_move(rep: RepScene) -> Answer:
    """How far forward the near foot stands at the end of the ascent from where it stood at the start."""
    finish = "top_start" if rep.lift == "deadlift" else "end"
    return Answer(foot(rep, rep.t(finish)) - foot(rep, rep.t("start")), f"{rep.scene.joints.side} heel and toes")


def head_lift(rep: RepScene) -> Answer:
    """Highest the near ear rises during the rep above where it was at the start."""
    joints = rep.scene.joints_mm
    start = rep.t("start")
    at = highest(rep, "ear", start, rep.t("end"))
    before, then = joints.pair("ear", start, at, "lying")
    return Answer(then[1] - before[1], f"{joints.side} ear")


def stillness(rep: RepScene) -> Answer:
    """The calmest 0.15 s about the low: the largest speed within it."""
    speed = rep.scene.velocity
    window = max(STOP_S, LEAST_PAUSE_FRAMES * rep.scene.interval_s)
    rows = speed.span(rep.t("low_start") - window, rep.t("low_end") + window)
    if len(rows) < 4:
        raise Unseen("the low is not seen without gaps", "nothing between camera and plate; " + FILM_FAST)
    t, v = speed.t_s[rows], np.abs(speed.velocity_m_s[rows])
    sds = speed.sd_m_s[rows][np.isfinite(speed.sd_m_s[rows])]
    if not len(sds) or float(np.median(sds)) > MOST_NOISE_M_S:
        raise Unseen("the path is too noisy to tell a stop from slow movement", FILM_FAST)
    calmest = math.inf
    for i, begin in enumerate(t):
        inside = v[i : int(np.searchsorted(t, begin + window, side="right"))]
        if begin + window <= t[-1] + 1e-6 and np.isfinite(inside).all():
            calmest = min(calmest, float(inside.max()))
    if not math.isfinite(calmest):
        raise Unseen("the low is not seen without gaps", "nothing between camera and plate; " + FILM_FAST)
    return Answer(own(calmest, float(np.median(sds)), f"stillness {rep.rep.n}"), rep.bar.basis)


def knee_rebend(rep: RepScene) -> Answer:
    """Largest bending of the near knee in the pull from a straightness it had already reached."""
    first, top = rep.ascent
    times, angles = corners(rep, KNEE, first, top)
    late = times[times >= first + 0.4 * (top - first)]
    if len(times) < 8 or len(late) < 4 or np.max(np.diff(late)) > 0.25 or top - late[-1] > 0.25:
        raise Unseen("hip, knee and ankle are not seen through the pull", rep.scene.joints.remedy)
    calm = np.convolve(np.pad(angles, 2, mode="edge"), np.ones(5) / 5, mode="valid")
    drop = np.maximum.accumulate(calm) - calm
    worst = int(np.argmax(drop))
    high = int(np.argmax(calm[: worst + 1]))
    before, after = (corner(rep, float(times[i]), "half way", KNEE) for i in (high, worst))
    scatter = float(np.std(angles - calm)) / math.sqrt(2.5)
    number = own(float(drop[worst]), max(math.hypot(before.sd, after.sd), scatter), f"rebend {rep.rep.n}")
    return Answer(number, f"{rep.scene.joints.side} hip, knee, ankle")


def shoulder_behind_bar(rep: RepScene) -> Answer:
    """How far the front of the near shoulder is behind the vertical through the bar at the top."""
    joints = rep.scene.joints_mm
    first, last = lockout_span(rep)
    at = (first + last) / 2
    front = joints.at("shoulder", at, "held")[0] + FRONT_DELTOID_MM[0]
    place = rep.bar.forward(at) - front.plus("front of the shoulder", FRONT_DELTOID_MM[1])
    return Answer(place, f"{rep.bar.basis} against {joints.side} shoulder, its front 50 mm before the joint")


def whole_bar_drop(rep: RepScene) -> Answer:
    """Largest drop that both ends of the bar made at one moment from heights they had reached."""
    ends = Tilts.of(rep)
    first, last = rep.ascent
    rows = ends.rows(first, last)
    if len(rows) < 8 or np.max(np.diff(ends.t_s[rows])) > 0.2:
        raise Unseen(NO_FAR_END, "film from " + BOTH_ENDS)
    times = ends.t_s[rows]
    near = np.interp(times, rep.bar.t_s, rep.bar.up_mm)
    tilt = np.convolve(np.pad(ends.tilt_deg[rows], 2, mode="edge"), np.ones(5) / 5, mode="valid")
    far = near - ends.length_mm * np.sin(np.radians(tilt))
    both = np.minimum(np.maximum.accumulate(near) - near, np.maximum.accumulate(far) - far)
    if rep.lift != "bench":
        both = both[(times >= first + LEVEL_S) & (times <= last - LEVEL_S)]
    if not len(both):
        raise Unseen("the ascent is too short to tell a drop from the swing of the plates", WHOLE_REP)
    sd = ends.length_mm * math.radians(ends.sd_deg) * math.sqrt(2.0 / 5.0)
    sd = math.hypot(sd, rep.bar.up(float(times[len(times) // 2])).sd * math.sqrt(2.0))
    return Answer(own(float(both.max()), sd, f"whole bar {rep.rep.n}"), "both ends of the bar")


def walkout_steps(scene: Scene) -> Answer:
    """Steps of the near foot between the unrack and the first rep."""
    first = next((r.rep.start.t_s for r in scene.reps if r.rep.start is not None), math.inf)
    walks = [p for p in scene.data.reps.phases if p.kind == "walkout" and p.end_s <= first + 1e-6]
    if not walks:
        raise DoesNotApply("the clip shows no walkout")
    joints = scene.joints_mm
    rows = joints.seen_rows("ankle", start_s=walks[0].start_s - 0.3, end_s=walks[-1].end_s + 0.3)
    times = joints.body.t_s[rows]
    if len(rows) < 8 or np.max(np.diff(times)) > 0.4:
        raise Unseen("the near ankle is not seen through the walkout", joints.remedy)
    place = np.convolve(np.pad(joints.place("ankle", rows)[:, 0], 2, mode="edge"), np.ones(5) / 5, mode="valid")
    moving = np.abs(np.gradient(place, times)) / 1000.0 > STEP_M_S
    edges = np.flatnonzero(np.diff(np.concatenate([[False], moving, [False]]).astype(int)))
    steps = sum(
        abs(place[min(b, len(place) - 1)] - place[a]) >= STEP_MM
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )
    return Answer(own(float(steps), STEPS_SD, "steps"), f"{joints.side} ankle")


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="knee_start_gap_deg", title="Knee bend left before the descent", unit="deg", lifts=("squat",),
        compute=knee_start_gap, good="less",
        what="Angle by which the near knee stays short, just before the descent, of its straightest in the "
        "clip.",
        formula="largest knee angle held for 0.3 s anywhere - median over the last half second before the "
        "start.",
        lies="If the knee never was straight in the clip it looks straight now.", film=FILM,
        source="rulebooks ask for locked knees at the start; the yardstick is this lifter's own straightest",
    ),
    RepMeasure(
        id="elbow_start_gap_deg", title="Elbow bend left before the descent", unit="deg", lifts=BENCH,
        compute=elbow_start_gap, good="less",
        what="Angle by which the near elbow stays short, just before the descent, of its straightest in the "
        "clip.",
        formula="largest elbow angle held for 0.3 s anywhere - median over the last half second before the "
        "start.",
        lies="If the elbow never was straight in the clip it looks straight now.", film=FILM_BENCH,
        source="rulebooks ask for locked elbows at the start; the yardstick is this lifter's own straightest",
    ),
    RepMeasure(
        id="foot_move_mm", title="Foot moved during the rep", unit="mm", compute=foot_move, good="zero",
        what="How far forward the near foot (middle of heel and toes) is, at the end of the ascent, of where it "
        "was at the start of the rep.",
        formula="forward(foot, end of the ascent) - forward(foot, start).",
        lies="Rocking on the foot moves heel and toes a little; a foot that turns looks as if it slid. A "
        "deadlift's plate covers the foot on the floor.",
        film="feet in the picture, nothing in front of them",
    ),
    RepMeasure(
        id="head_lift_mm", title="Head off the bench", unit="mm", lifts=BENCH, compute=head_lift, good="less",
        what="Highest the near ear rises during the rep above where it was at the start.",
        formula="max up(ear) - up(ear at the start), smoothed over five looks.",
        lies="Turning the head or pressing it into the bench moves the ear too; arms and plate cover it for a "
        "while.",
        film=FILM_BENCH, source="some rulebooks keep the head on the bench, others let it rise",
    ),
    RepMeasure(
        id="stillness_m_s", title="Stillness on the chest", unit="m_s", lifts=BENCH, compute=stillness,
        good="less", needs_velocity=True,
        what="The largest speed within the calmest 0.15 s about the low (longer where frames are few): near "
        "zero "
        "for a paused rep, large for one that turns on the chest.",
        formula="least, over windows of 0.15 s, of the largest |velocity| in the window.",
        lies="A chest that gives way under a stopped bar moves it.", film=FILM_FAST,
        source="rulebooks: motionless on the chest; the window is this project's rule",
    ),
    RepMeasure(
        id="knee_rebend_deg", title="Knees bending again", unit="deg", lifts=("deadlift",), compute=knee_rebend,
        good="less",
        what="Largest bending of the near knee in the pull from a straightness it had already reached.",
        formula="max over the pull of (straightest so far - now), smoothed over five looks.",
        lies="Knees that give way outward show less of it from the side; the smallest values are the network's "
        "own "
        "scatter.",
        film=FILM,
        source="rulebooks fault supporting the bar on the thighs; knees bend again where that is done",
    ),
    RepMeasure(
        id="shoulder_behind_bar_mm", title="Shoulders behind the bar at the top", unit="mm", lifts=("deadlift",),
        compute=shoulder_behind_bar, good="more",
        what="How far the front of the near shoulder is behind (+) the vertical through the bar at the lockout.",
        formula="forward(bar) - (forward(shoulder joint) + 50 mm).",
        lies="How far the front stands before the joint differs between people (sd 20 mm); one degree of yaw "
        "moves "
        "bar against shoulder by some 10 mm.",
        film=FILM, source="IPF rules of 2026: front of the deltoid behind the vertical projection of the bar",
    ),
    RepMeasure(
        id="whole_bar_drop_mm", title="Downward movement of the whole bar", unit="mm", compute=whole_bar_drop,
        good="less",
        what="Largest drop that both ends of the bar made at one moment in the ascent, each from the height it "
        "had "
        "reached.",
        formula="max over time of the smaller of both ends' drops; squat and deadlift without 0.4 s at either "
        "end.",
        lies="The far end's height comes from the tilt, smoothed over five frames: dips shorter than that are "
        "cut.",
        film=BOTH_ENDS, source="rulebooks fault downward movement of the whole bar",
    ),
)  # fmt: skip
PER_SET: tuple[SetMeasure, ...] = (
    SetMeasure(
        id="walkout_steps_count", title="Steps of the walkout", unit="count", lifts=("squat",),
        compute=walkout_steps, good="less",
        what="Steps of the near foot between the unrack and the first rep.",
        formula="movements of the near ankle of 60 mm or more, faster than 0.2 m/s.",
        lies="The far foot's steps are not counted; a shuffle below 60 mm is none.", film=FILM_RACK,
    ),
)  # fmt: skip
