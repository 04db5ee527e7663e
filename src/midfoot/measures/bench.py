"""Measures of the bench press that one side or oblique view can give.

Forward is toward the feet. The near plate covers the shoulder at the touch, so the shoulder is read at the
lockouts before and after.
"""

from __future__ import annotations

import math

import numpy as np

from midfoot.measures.common import FILM_BAR
from midfoot.measures.definition import Answer, DoesNotApply, RepMeasure, Unseen
from midfoot.measures.forearm import forearm_angle
from midfoot.measures.legs import ELBOW, highest, lockout_gap
from midfoot.measures.scene import RepScene
from midfoot.measures.speed import FILM_FAST
from midfoot.measures.uncertain import Number, own
from midfoot.numeric import runs

BENCH = ("bench",)
PAUSE_M_S = 0.030
STILL_M_S = 0.010
LEAST_PAUSE_FRAMES = 4.5
"""0.15 s at 30 frames a second: shorter stops are not told from a turn."""
MOST_NOISE_M_S = 0.013
"""With more noise in the velocity a stop below 0.03 m/s is not told from moving."""
NOISE_GAP_S, NOISE_SDS = 0.1, 2.5
"""A stop is one stop when the speed passes the limit for no longer than this and by no more sds than this: a bar
that truly moves on and stops again does both."""
ELBOW_SURFACE_SD_MM = 25.0
HELD_S = 0.5
"""Over this long before the descent the hips are read where they lie."""
MOST_BEHIND_BAR_MM = 450.0
"""Held at arm's length the bar stands over the shoulders: arms of 0.7 m (0.186 + 0.146 of stature and half a hand,
Drillis & Contini 1966, at 1.9 m) lean by 40 degrees there. A shoulder farther off is somebody else's."""
FILM_BENCH = "side, camera at the height of the bench, shoulder and hip clear of spotters"


def shoulder_s(rep: RepScene) -> list[float]:
    """Give the moments at which the shoulder is read: held before and after the rep."""
    moments = []
    if rep.rep.start is not None:
        moments.append(rep.rep.start.t_s)
    if rep.rep.end is not None and rep.rep.outcome != "missed":
        moments.append(rep.rep.end.t_s)
    return moments


def shoulder(rep: RepScene) -> tuple[Number, Number]:
    """Give forward and up of the near shoulder, mean of the lockouts before and after as far as seen."""
    joints = rep.scene.joints_mm
    found: list[tuple[Number, Number]] = []
    why: Unseen | None = None
    for at in shoulder_s(rep):
        try:
            found.append(_under_bar(rep, at, joints.at("shoulder", at, "held")))
        except Unseen as unseen:
            why = unseen
    if not found:
        raise why or Unseen("the near shoulder is seen at neither lockout", rep.scene.joints.remedy)
    share = 1.0 / len(found)
    forward, up = found[0][0] * share, found[0][1] * share
    for more in found[1:]:
        forward, up = forward + more[0] * share, up + more[1] * share
    return forward, up


def _under_bar(rep: RepScene, at_s: float, place: tuple[Number, Number]) -> tuple[Number, Number]:
    """Give a shoulder's place back where it can hold the bar that is held at arm's length; raises `Unseen`."""
    off = place[0] - rep.bar.forward(at_s)
    if abs(off.value) > MOST_BEHIND_BAR_MM + 2.0 * math.hypot(off.sd, off.sd_common):
        raise Unseen(
            f"the near shoulder would be {abs(off.value):.0f} mm from under the bar at a lockout: "
            "somebody else's joints were taken there", rep.scene.joints.remedy,
        )  # fmt: skip
    return place


def touch_point(rep: RepScene) -> Answer:
    """Forward (toward the feet) of the bar at the touch from the shoulder."""
    place = rep.low_forward - shoulder(rep)[0]
    return Answer(place, f"{rep.bar.basis} against {rep.scene.joints.side} shoulder at the lockouts")


def late_descent_travel(rep: RepScene) -> Answer:
    """Forward travel in the last third of the descent's time."""
    first, last = rep.t("start"), rep.t("low_start")
    return Answer(rep.bar.forward(last) - rep.bar.forward(last - (last - first) / 3.0), rep.bar.basis)


def off_chest_travel(rep: RepScene) -> Answer:
    """Forward travel from the low until the bar has risen a third of its range."""
    return Answer(rep.bar.forward(rep.third_s()) - rep.low_forward, rep.bar.basis)


def elbow_depth(rep: RepScene) -> Answer:
    """How far the near elbow is below the shoulder at the touch, by joint centres."""
    joints = rep.scene.joints_mm
    elbow = joints.at("elbow", rep.low_s, "touch")[1]
    depth = (shoulder(rep)[1] - elbow).plus("elbow and shoulder surfaces", ELBOW_SURFACE_SD_MM)
    return Answer(depth, f"{joints.side} elbow against shoulder at the lockouts, joint centres")


def stop(rep: RepScene) -> tuple[float, float, float]:
    """Give begin and end of the longest stop inside the low, and the sd of its length, s."""
    speed = rep.scene.velocity
    first, last = rep.t("low_start"), rep.t("low_end")
    rows = speed.span(first, last)
    sd = float(np.nanmedian(speed.sd_m_s)) if len(rows) else math.nan
    if not sd <= MOST_NOISE_M_S:
        raise Unseen("the path is too noisy to tell a stop from slow movement", FILM_FAST)
    v = speed.velocity_m_s[rows]
    if len(rows) < 3 or not np.isfinite(v).all():
        raise Unseen("the low is not seen without gaps", "nothing between camera and plate; " + FILM_FAST)
    step = float(speed.t_s[1] - speed.t_s[0])
    best = (0.0, 0.0, 0.0)
    for run in runs(_still(v, sd, step)):
        a, slope_a = _edge(speed.t_s[rows], v, run.start, -1)
        b, slope_b = _edge(speed.t_s[rows], v, run.stop - 1, 1)
        if b - a > best[1] - best[0]:
            blur = step / math.sqrt(6.0)
            # The filter rounds the corners of a stop by a share of its own length, the more the softer they are.
            rounded = 0.1 / speed.cutoff_hz
            error = math.hypot(math.hypot(sd / slope_a, sd / slope_b), math.hypot(blur, rounded))
            best = (a, b, error)
    return best


def _still(v: np.ndarray, sd: float, step_s: float) -> np.ndarray:
    """Where the bar rests: below the limit, and where noise lifts the speed over it for a moment in between."""
    still: np.ndarray = np.abs(v) < PAUSE_M_S
    for gap in runs(~still):
        inside = gap.start > 0 and gap.stop < len(v)
        short = (gap.stop - gap.start) * step_s <= NOISE_GAP_S
        if inside and short and float(np.abs(v[gap]).max()) < PAUSE_M_S + NOISE_SDS * sd:
            still[gap] = True
    return still


def _edge(t_s: np.ndarray, v: np.ndarray, i: int, way: int) -> tuple[float, float]:
    """Give where the speed crosses the limit beside row i, and how steeply, m/s2."""
    j = i + way
    step = float(t_s[1] - t_s[0])
    if not 0 <= j < len(v):
        return float(t_s[i]) + way * step / 2, PAUSE_M_S / step
    steep = max(abs(float(v[j]) - float(v[i])) / step, 0.05)
    share = (PAUSE_M_S - abs(float(v[i]))) / max(abs(float(v[j])) - abs(float(v[i])), 1e-9)
    return float(t_s[i]) + way * step * float(np.clip(share, 0.0, 1.0)), steep


def pause_time(rep: RepScene) -> Answer:
    """Longest time below 30 mm/s inside the low band."""
    first, last, sd = stop(rep)
    least = LEAST_PAUSE_FRAMES * rep.scene.interval_s
    if last - first < least:
        raise Unseen(
            f"no stop of {least:.2f} s or more, and a shorter one is not told at this frame rate", FILM_FAST, least
        )
    return Answer(own(last - first, sd, f"pause {rep.rep.n}"), f"{rep.bar.basis}, velocity below 30 mm/s")


def sink(rep: RepScene) -> Answer:
    """How far the bar sinks after it had stopped, before it rises."""
    first, last, _ = stop(rep)
    if last - first < LEAST_PAUSE_FRAMES * rep.scene.interval_s:
        raise DoesNotApply("the bar did not stop")
    speed = rep.scene.velocity
    rows = speed.span(first, last)
    still = np.flatnonzero(np.abs(speed.velocity_m_s[rows]) <= STILL_M_S)
    # Coming to rest takes a millimetre or two more: sinking counts from where it hardly moved at all.
    at = rows[still[0]] if len(still) else rows[int(np.argmin(np.abs(speed.velocity_m_s[rows])))]
    first = float(speed.t_s[at])
    after = rep.bar.lowest_s(first, rep.t("low_end"))
    early = rep.bar.up(first)
    if after - first < rep.scene.interval_s:
        return Answer(own(0.0, math.sqrt(2.0) * early.sd, f"no sinking {rep.rep.n}"), rep.bar.basis)
    return Answer(early - rep.bar.up(after), rep.bar.basis)


def hip_lift(rep: RepScene) -> Answer:
    """Highest the near hip rises during the rep above where it was at the start."""
    joints = rep.scene.joints_mm
    start = rep.t("start")
    at = highest(rep, "hip", start, rep.t("end"))
    _, then = joints.pair("hip", start, at, "lying")
    # The bar is held still before it comes down, and so are the hips.
    before = joints.held("hip", max(start - HELD_S, rep.before_s), start, "lying")
    return Answer(then[1] - before[1], f"{joints.side} hip")


def elbow_lockout_gap(rep: RepScene) -> Answer:
    """Bend left in the near elbow at the lockout."""
    return lockout_gap(rep, ELBOW)


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="touch_point_mm", title="Touch point from the shoulder", unit="mm", lifts=BENCH, compute=touch_point,
        typical=True,
        what="How far toward the feet of the shoulder the bar is at the low; the shoulder is read at the "
        "lockouts "
        "before and after, because the plate covers it at the touch.",
        formula="mean forward of the bar over the low - mean forward of the near shoulder at the lockouts.",
        lies="The network's shoulder stands up to 25 mm off the joint, in every rep alike.", film=FILM_BENCH,
    ),
    RepMeasure(
        id="late_descent_travel_mm", title="Travel toward the feet late in the descent", unit="mm", lifts=BENCH,
        compute=late_descent_travel, typical=True,
        what="Forward travel (toward the feet) in the last third of the descent's time.",
        formula="forward(low_start) - forward(low_start - a third of the descent).",
        lies="A descent that hangs before the chest has a longer last third.", film=FILM_BAR,
    ),
    RepMeasure(
        id="off_chest_travel_mm", title="Travel off the chest", unit="mm", lifts=BENCH,
        compute=off_chest_travel,
        what="Forward travel from the low until the bar has risen a third of its range; toward the head is "
        "negative.",
        formula="forward(bar risen a third) - mean forward over the low.",
        lies="Camera roll tilts it with the height.", film=FILM_BAR,
        source="skilled benchers move back first: 60 against 84 degrees to the horizontal (McLaughlin, after a "
        "secondary source): a sanity range",
    ),
    RepMeasure(
        id="forearm_angle_deg", title="Forearm at the touch", unit="deg", lifts=BENCH, compute=forearm_angle,
        typical=True, good="zero",
        what="Lean of the near forearm from the vertical at the touch, positive with the wrist toward the "
        "feet of the elbow.",
        formula="atan2(forward, up) of the line from elbow to the bar in the hand; to the wrist where no plate "
        "tells where the bar is.",
        lies="In a true side view the plate often covers the elbow at the touch. A wrist that is bent back puts "
        "the bar beside the forearm's line by up to 25 mm, some 5 degrees.", film=FILM_BENCH,
    ),
    RepMeasure(
        id="elbow_depth_mm", title="Elbow below the shoulder", unit="mm", lifts=BENCH, compute=elbow_depth,
        good="more",
        what="How far the near elbow is below (+) the shoulder at the low, by joint centres.",
        formula="up(shoulder at the lockouts) - up(elbow at the low).",
        lies="The rule speaks of surfaces; those of elbow and shoulder stand 20-30 mm otherwise in every "
        "person.",
        film=FILM_BENCH,
        source="since 2023 the underside of both elbows must reach the top of the shoulder joint (IPF rules as "
        "reported by British Powerlifting)",
    ),
    RepMeasure(
        id="pause_time_s", title="Pause", unit="s", lifts=("squat", "bench"), compute=pause_time,
        needs_velocity=True,
        what="Longest time below 30 mm/s inside the low band. Stops shorter than four and a half frames "
        "(0.15 s at "
        "30 frames a second) are not told.",
        formula="time with |velocity| < 0.03 m/s between low_start and low_end.",
        lies="It is not the referee's: he waits for the bar to be motionless and then for his own voice. A "
        "chest "
        "that gives way under the bar shortens it.",
        film=FILM_FAST, source="rulebooks fix no length; 30 mm/s is this project's rule",
    ),
    RepMeasure(
        id="sink_mm", title="Sinking after the stop", unit="mm", lifts=BENCH, compute=sink, needs_velocity=True,
        good="less",
        what="How far the bar sinks after it had stopped and before it rises.",
        formula="up(first moment of the stop below 10 mm/s) - up(lowest after it).",
        lies="A breath under the bar moves it by some millimetres.", film=FILM_FAST,
        source="rulebooks fault sinking the bar after it was motionless",
    ),
    RepMeasure(
        id="hip_lift_mm", title="Hips off the bench", unit="mm", lifts=BENCH, compute=hip_lift, good="less",
        what="Highest the near hip rises during the rep above where it was at the start.",
        formula="max up(hip), smoothed over five looks, - mean up(hip) over 0.5 s before the descent.",
        lies="Legs driving hard lift the hip joint by 10-20 mm while the seat still touches.", film=FILM_BENCH,
        source="rulebooks: the buttocks stay on the bench",
    ),
    RepMeasure(
        id="elbow_lockout_gap_deg", title="Elbow bend left at the lockout", unit="deg", lifts=BENCH,
        compute=elbow_lockout_gap, good="less",
        what="Angle by which the near elbow stays short, at the lockout, of its straightest in the clip.",
        formula="largest elbow angle held for 0.3 s anywhere - median at the lockout.",
        lies="If the elbow never was straight in the clip it looks straight now; the plate often covers the "
        "wrist.",
        film=FILM_BENCH,
    ),
)  # fmt: skip
