"""Measures that need both sides of the lifter: from the front or the rear.

Both sides are read in the same frame, so the camera's own movement drops out; lengths use the scale at the
lifter's mid-plane.
"""

from __future__ import annotations

import math

import numpy as np

from midfoot.measures.definition import Answer, DoesNotApply, RepMeasure, Unseen
from midfoot.measures.scene import RepScene
from midfoot.measures.uncertain import Number, combine, own
from midfoot.records.body import HIDDEN, INDEX

FILM_FRONT = "from the front or the rear, the whole body in the picture"
REACH_S = 0.12
LEAST_APART_PX = 12.0


def _sides(rep: RepScene, joint: str, t_s: float) -> dict[str, tuple[Number, Number]]:
    """Give x and y (px, down) of a joint on both sides at a moment."""
    body = rep.scene.data.body
    if body.status != "seen":
        raise Unseen(body.reason or "the lifter's body was not followed", FILM_FRONT)
    near = np.flatnonzero(np.abs(body.t_s - t_s) <= REACH_S)
    found = {}
    for side in ("left", "right"):
        k = INDEX[f"{side}_{joint}"]
        rows = near[(body.state[near, k] > HIDDEN) & np.isfinite(body.xy_px[near, k]).all(axis=1)]
        if not len(rows):
            raise Unseen(f"the {side} {joint} is not seen at {t_s:.1f} s", "film " + FILM_FRONT)
        x, y = np.median(body.xy_px[rows, k], axis=0)
        sd = float(np.median(body.sd_px[rows, k]))
        name = f"{side} {joint} {t_s:.3f}"
        found[side] = (own(float(x), sd, f"x {name}"), own(float(y), sd, f"y {name}"))
    return found


def _apart(rep: RepScene, joint: str, t_s: float) -> Number:
    """Give how far the left one stands to the lifter's left of the right one in the picture, px (signed in "
    "x)."""
    both = _sides(rep, joint, t_s)
    return both["left"][0] - both["right"][0]


def _scaled(rep: RepScene, px: Number) -> Number:
    scale = rep.scene.data.scale
    if scale is None:
        raise Unseen("the scale is not known, so lengths on the body are not", "give the plate with --plate")
    mm = px * scale.body_mm_per_px.value
    return mm.plus("body scale", px.value * scale.body_mm_per_px.sd)


def _knees(rep: RepScene, t_s: float) -> Number:
    feet = _apart(rep, "ankle", t_s)
    if abs(feet.value) < LEAST_APART_PX:
        raise Unseen("the feet are not apart in the picture", "film " + FILM_FRONT)
    return combine(lambda k, a: k / a, _apart(rep, "knee", t_s), feet)


def knee_separation(rep: RepScene) -> Answer:
    """Distance of the knees over that of the ankles at the low."""
    return Answer(_knees(rep, rep.low_s), "both knees and ankles")


def knee_caving(rep: RepScene) -> Answer:
    """How much nearer the knees come in the ascent than they were at the low, in ankle distances."""
    first, last = rep.ascent
    low = _knees(rep, rep.low_s)
    found: list[Number] = []
    for t_s in np.arange(first, first + 0.7 * (last - first), 0.1):
        try:
            found.append(_knees(rep, float(t_s)))
        except Unseen:
            continue
    if len(found) < 3:
        raise Unseen("the knees are not seen through the ascent", "film " + FILM_FRONT)
    return Answer(low - min(found, key=lambda n: n.value), "both knees and ankles")


def hip_sideways(rep: RepScene) -> Answer:
    """How far the middle of the hips moves to the lifter's left over the feet from the start to the low."""

    def over(t_s: float) -> Number:
        hips, feet = _sides(rep, "hip", t_s), _sides(rep, "ankle", t_s)
        way = math.copysign(1.0, feet["left"][0].value - feet["right"][0].value)
        return (hips["left"][0] + hips["right"][0] - feet["left"][0] - feet["right"][0]) * (0.5 * way)

    return Answer(_scaled(rep, over(rep.low_s) - over(rep.t("start"))), "middle of the hips over the ankles")


def stance_width(rep: RepScene) -> Answer:
    """Distance of the ankles at the start."""
    apart = _apart(rep, "ankle", rep.t("start"))
    return Answer(_scaled(rep, apart * math.copysign(1.0, apart.value)), "both ankles")


def forearm_sideways(rep: RepScene) -> Answer:
    """Lean of the forearms in the picture, mean of both, positive with the elbows outside the wrists."""
    at = rep.t("start") if rep.lift == "squat" else rep.low_s
    elbows, wrists = _sides(rep, "elbow", at), _sides(rep, "wrist", at)
    middle = (wrists["left"][0].value + wrists["right"][0].value) / 2.0
    leans = []
    for side in ("left", "right"):
        out = math.copysign(1.0, wrists[side][0].value - middle)
        (ex, ey), (wx, wy) = elbows[side], wrists[side]
        leans.append(combine(lambda f, u: math.degrees(math.atan2(f, u)), (ex - wx) * out, ey - wy))
    return Answer((leans[0] + leans[1]) * 0.5, "both elbows and wrists")


def shrug_change(rep: RepScene) -> Answer:
    """How much nearer the shoulders are to the ears at this start than at the first one."""
    if rep.place == 0:
        raise DoesNotApply("there is no rep before the first")

    def neck(of: RepScene) -> Number:
        ears, shoulders = (_sides(of, joint, of.t("start")) for joint in ("ear", "shoulder"))
        return (shoulders["left"][1] + shoulders["right"][1] - ears["left"][1] - ears["right"][1]) * 0.5

    return Answer(_scaled(rep, neck(rep.scene.reps[0]) - neck(rep)), "both ears and shoulders")


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="knee_separation_ratio", title="Knees apart at the low", unit="ratio", lifts=("squat",),
        compute=knee_separation,
        what="Distance of the knees at the low over the distance of the ankles, in the picture.",
        formula="(x(left knee) - x(right knee)) / (x(left ankle) - x(right ankle)).",
        lies="Knees nearer to the camera than the ankles look up to 10 % farther apart; a camera off the middle "
        "moves both.", film=FILM_FRONT,
    ),
    RepMeasure(
        id="knee_caving_ratio", title="Knees coming in", unit="ratio", lifts=("squat",), compute=knee_caving,
        good="less",
        what="How much nearer the knees come in the ascent's first 70 % than they were at the low, in ankle "
        "distances.",
        formula="separation at the low - least separation in the ascent, every 0.1 s.",
        lies="The least of many readings lies a little below the truth.", film=FILM_FRONT,
    ),
    RepMeasure(
        id="hip_sideways_mm", title="Hips to one side", unit="mm", lifts=("squat",), compute=hip_sideways,
        good="zero",
        what="How far the middle of the hips moves over the feet, from the start to the low, to the lifter's "
        "left "
        "(+).",
        formula="middle of the hips - middle of the ankles, at the low against the start, at the body's scale.",
        lies="Hips going back come nearer to a camera behind; off the middle that looks like a shift.",
        film=FILM_FRONT,
    ),
    RepMeasure(
        id="stance_width_mm", title="Stance", unit="mm", lifts=("squat", "deadlift"), compute=stance_width,
        what="Distance of the ankles at the start, in the picture.",
        formula="|x(left ankle) - x(right ankle)| at the body's scale.",
        lies="Ankles stand inside the heels' outer edges; feet at different depths look otherwise apart.",
        film=FILM_FRONT,
    ),
    RepMeasure(
        id="forearm_sideways_deg", title="Forearms from the front", unit="deg", lifts=("squat", "bench"),
        compute=forearm_sideways,
        what="Lean of the forearms from the vertical in the picture, mean of both, positive with the elbows "
        "outside the wrists: at a squat's start, at a bench press's low.",
        formula="mean of atan2(elbow outside wrist, wrist above elbow).",
        lies="Forearms that point at the camera have no direction in the picture.",
        film="bench: from the foot or the head end; squat: from the rear",
    ),
    RepMeasure(
        id="shrug_change_mm", title="Shoulders up to the ears", unit="mm", lifts=("squat",), compute=shrug_change,
        good="zero",
        what="How much nearer the shoulders are to the ears at this start than at the first one, mean of both "
        "sides.",
        formula="(up(ear) - up(shoulder)) at the first start - the same at this start, at the body's scale.",
        lies="Nodding the head moves the ears; the bar covers the shoulders from behind in some positions.",
        film=FILM_FRONT,
    ),
)  # fmt: skip
