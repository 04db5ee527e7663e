"""Measures that every lift has: times, heights, the path forward and backward, what shifts, the bar's tilt."""

from __future__ import annotations

import math

import numpy as np
from attrs import evolve

from midfoot.measures.definition import Answer, DoesNotApply, RepMeasure, Unseen
from midfoot.measures.scene import HOLD_S, WHOLE_REP, RepScene
from midfoot.measures.uncertain import Number, own
from midfoot.records.base import FloatArray

FILM_BAR = "camera square to the side, the whole plate in the picture from start to end"
CLEAR_DROP_SDS = 4.0
LEVEL_S = 0.4
"""Plates swing and the bar bends within this of lift-off and lockout."""


def between(rep: RepScene, first: str, last: str) -> Answer:
    """Time between two moments of a rep."""
    return Answer(rep.time(last) - rep.time(first), "moments of the rep")


def ascent_time(rep: RepScene) -> Answer:
    """Time of the ascent, of a deadlift's pull."""
    first, last = rep.ascent_names
    return between(rep, first, last)


def descent_time(rep: RepScene) -> Answer:
    """Time of the descent, of a deadlift's lowering."""
    return between(rep, "top_end", "end") if rep.lift == "deadlift" else between(rep, "start", "low_start")


def low_time(rep: RepScene) -> Answer:
    """Time within 10 mm of the low."""
    return between(rep, "low_start", "low_end")


def top_time(rep: RepScene) -> Answer:
    """Time within 10 mm of the top."""
    return between(rep, "top_start", "top_end")


def wait_before_time(rep: RepScene) -> Answer:
    """Time between the rep before and this one."""
    if rep.place == 0:
        raise DoesNotApply("there is no rep before the first")
    earlier = rep.scene.reps[rep.place - 1]
    return Answer(rep.time("start") - earlier.time("end"), "moments of the reps")


def range_of_motion(rep: RepScene) -> Answer:
    """Height from the lowest point (the floor) to the bar as held at the end of the ascent."""
    bottom = rep.start_place[1] if rep.lift == "deadlift" else rep.low_up
    return Answer(rep.top_up - bottom, rep.bar.basis)


def path_range(rep: RepScene) -> Answer:
    """Forward-backward travel of the path between start and end."""
    first, last = rep.t("start"), rep.t("end")
    rows = rep.bar.rows(first, last)
    if len(rows) < 5:
        raise Unseen("too few frames show this rep", WHOLE_REP)
    smooth = _calm(rep, rows)
    back, front = rows[int(np.argmin(smooth))], rows[int(np.argmax(smooth))]
    travel = rep.bar.forward(float(rep.bar.t_s[front])) - rep.bar.forward(float(rep.bar.t_s[back]))
    return Answer(travel, rep.bar.basis)


def path_at_low(rep: RepScene) -> Answer:
    """Forward of the low from the rep's own start."""
    if rep.lift == "deadlift":
        raise DoesNotApply("a deadlift has no low: it starts from the floor")
    return Answer(rep.low_forward - rep.start_place[0], rep.bar.basis)


def path_at_top(rep: RepScene) -> Answer:
    """Forward of the bar as held at the end of the ascent from where the ascent began."""
    return Answer(rep.held[0] - rep.bottom[0], rep.bar.basis)


def _away(rep: RepScene) -> tuple[FloatArray, FloatArray]:
    """Give the times of the ascent, s, and how far forward of where it began the bar is at each, mm."""
    rows = rep.bar.rows(*rep.ascent)
    if len(rows) < 5:
        raise Unseen("too few frames show the ascent", WHOLE_REP)
    return rep.bar.t_s[rows], _calm(rep, rows) - rep.bottom[0].value


def path_departure(rep: RepScene) -> Answer:
    """Largest signed forward distance while ascending from the vertical through the low or the lift-off.

    Where the bar goes about as far backward as forward, noise decides which of the two is the larger: the other
    one, as likely as their errors make it, is then part of the error.
    """
    t_s, away = _away(rep)
    # A reading at the very edge of the ascent is fitted with frames of the ascent only as far as they go.
    front, back = (rep.bar.forward(float(t_s[int(pick(away))])) - rep.bottom[0] for pick in (np.argmax, np.argmin))
    larger, other = (front, back) if away.max() >= -away.min() else (back, front)
    swap = abs(larger.value - other.value)
    lead, both = abs(front.value + back.value), front + back
    by_chance, at_all = _beyond(lead, both.sd), _beyond(lead, math.hypot(both.sd, both.sd_common))
    told = larger.plus(f"own:which way {rep.rep.n}", math.sqrt(by_chance) * swap)
    return Answer(told.plus("which way", math.sqrt(max(at_all - by_chance, 0.0)) * swap), rep.bar.basis)


def _beyond(size: float, sd: float) -> float:
    """How likely a normal error of so large an sd turns the sign of a size."""
    return 0.5 * math.erfc(size / (math.sqrt(2.0) * sd)) if sd > 0 else 0.0


def path_forward(rep: RepScene) -> Answer:
    """Farthest forward, ascending, of the vertical through the low or the lift-off; 0 where it stays behind."""
    t_s, away = _away(rep)
    reach = rep.bar.forward(float(t_s[int(np.argmax(away))])) - rep.bottom[0]
    return Answer(evolve(reach, value=max(reach.value, 0.0)), rep.bar.basis)


def lockout_shortfall(rep: RepScene) -> Answer:
    """How far the bar's held height stays below the set's highest."""
    return Answer(rep.scene.highest_lockout() - rep.held_up, rep.bar.basis)


def low_height_change(rep: RepScene) -> Answer:
    """How far the low stays above the set's lowest."""
    if rep.lift == "deadlift":
        raise DoesNotApply("a deadlift has no low: it starts from the floor")
    return Answer(rep.low_up - rep.scene.lowest_low(), rep.bar.basis)


def hold_sway(rep: RepScene) -> Answer:
    """Forward-backward travel in the last second of the hold."""
    if rep.lift == "deadlift":
        first, last = rep.t("top_start"), rep.t("top_end")
        first = max(first, last - HOLD_S)
    else:
        last = rep.t("start")
        first = max(last - HOLD_S, rep.before_s)
        settled = [p.start_s for p in rep.scene.data.reps.phases if p.kind == "hold" and p.start_s < last]
        first = max([first, *settled])
    rows = rep.bar.rows(first, last)
    if last - first < 0.4 or len(rows) < 6:
        raise DoesNotApply("the bar was held for less than 0.4 s")
    smooth = _calm(rep, rows)
    a, b = rows[int(np.argmax(smooth))], rows[int(np.argmin(smooth))]
    travel = rep.bar.forward(float(rep.bar.t_s[a])) - rep.bar.forward(float(rep.bar.t_s[b]))
    return Answer(travel, rep.bar.basis)


def start_shift(rep: RepScene) -> Answer:
    """How far forward the bar stands at this start from where it stood at the first rep's."""
    if rep.place == 0:
        raise DoesNotApply("there is no rep before the first")
    first = rep.scene.reps[0].start_place[0].as_common("the first start")
    return Answer(rep.start_place[0] - first, rep.bar.basis)


def feet_shift(rep: RepScene) -> Answer:
    """How far forward the near foot stands at this start from where it stood at the first rep's."""
    if rep.place == 0:
        raise DoesNotApply("there is no rep before the first")
    joints = rep.scene.joints_mm
    mine = foot(rep, rep.t("start"))
    first = rep.scene.reps[0]
    if first.rep.start is None:
        raise Unseen("the clip does not show the first start", WHOLE_REP)
    then = foot(first, first.t("start")).as_common("the first feet")
    return Answer(mine - then, f"{joints.side} heel and toes")


def foot(rep: RepScene, t_s: float) -> Number:
    """Give the forward place of the near foot's middle, between heel and toes."""
    joints = rep.scene.joints_mm
    heel, toes = joints.at("heel", t_s, "standing")[0], joints.at("foot_index", t_s, "standing")[0]
    return (heel + toes) * 0.5


def downward_movement(rep: RepScene) -> Answer:
    """Largest drop of the bar from a height it had already reached in the ascent."""
    first, last = rep.ascent
    rows = rep.bar.rows(first, last)
    if len(rows) < 5:
        raise Unseen("too few frames show the ascent", WHOLE_REP)
    times, height = rep.bar.t_s[rows], _calm(rep, rows, axis=1)
    reached = np.maximum.accumulate(height)
    drop = reached - height
    # On the bench the bar is held in the hands and short between them: nothing to excuse.
    swings = (
        (times < first + LEVEL_S) | (times > last - LEVEL_S) if rep.lift != "bench" else np.zeros(len(rows), bool)
    )
    worst = _worst(rep, times, height, drop, ~swings)
    if not swings.any():
        return Answer(worst, rep.bar.basis)
    in_swing = _worst(rep, times, height, drop, swings)
    if in_swing.value > worst.value + 2 * worst.sd and _wrists_drop(rep, times, height, drop, swings):
        return Answer(in_swing, f"{rep.bar.basis}, the wrists moved with it")
    return Answer(worst, rep.bar.basis)


def _calm(rep: RepScene, rows: np.ndarray, axis: int = 0) -> np.ndarray:
    """Give forward (0) or up (1) of rows with the frame-to-frame noise smoothed by a straight fit around each."""
    values = (rep.bar.forward_mm, rep.bar.up_mm)[axis]
    times = rep.bar.t_s
    out = np.empty(len(rows))
    for i, row in enumerate(rows):
        near = np.flatnonzero(np.abs(times - times[row]) <= rep.bar.reach_s)
        x = times[near] - times[row]
        if len(near) >= 3:
            out[i] = float(np.linalg.pinv(np.vander(x, min(len(near), 3)))[-1] @ values[near])
        else:
            out[i] = values[row]
    return out


def _worst(rep: RepScene, times: np.ndarray, height: np.ndarray, drop: np.ndarray, where: np.ndarray) -> Number:
    if not where.any():
        raise Unseen("the ascent is too short to tell a drop from the swing of the plates", "")
    low = int(np.flatnonzero(where)[int(np.argmax(drop[where]))])
    high = int(np.argmax(height[: low + 1]))
    before, after = rep.bar.up(float(times[high])), rep.bar.up(float(times[low]))
    if high == low:
        # No drop at all: as sure as two readings of one height are.
        return own(0.0, math.sqrt(2.0) * before.sd, f"no drop {rep.rep.n}", inferred=before.inferred)
    fall = before - after
    if fall.value > CLEAR_DROP_SDS * fall.sd:
        # A drop there is: now its full size; smoothing takes a quarter off one as short as 0.1 s.
        return rep.bar.sharp(float(times[high]), 1.0) - rep.bar.sharp(float(times[low]), -1.0)
    return fall


def _wrists_drop(
    rep: RepScene, times: np.ndarray, height: np.ndarray, drop: np.ndarray, where: np.ndarray
) -> bool:
    """Tell whether the near wrist came down with the bar in a stretch where plates swing."""
    low = int(np.flatnonzero(where)[int(np.argmax(drop[where]))])
    high = int(np.argmax(height[: low + 1]))
    try:
        joints = rep.scene.joints_mm
        fell = joints.at("wrist", float(times[high]), "hold")[1] - joints.at("wrist", float(times[low]), "hold")[1]
    except Unseen:
        return False
    return fell.value > max(0.5 * float(drop[low]), 2 * fell.sd)


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="range_of_motion_mm", title="Range of motion", unit="mm", compute=range_of_motion, typical=True,
        what="Height from the lowest point of the rep (deadlift: the bar at rest on the floor) to the bar "
        "as held at "
        "the end of the ascent; for a missed rep to its highest point.",
        formula="up(held) - up(lowest); held = middle of the plateau in the 0.5 s after the ascent "
        "(deadlift: the "
        "top interval), lowest = parabola through the frames around the lowest one; a touch-and-go deadlift "
        "has no rest "
        "on the floor and is read from its lowest point.",
        lies="With an assumed plate diameter it is wrong by the same share in every rep. In a heavy "
        "deadlift the "
        "middle of the bar rises 20-60 mm before the plates leave the floor.",
        film=FILM_BAR, good="same",
    ),
    RepMeasure(
        id="ascent_time_s", title="Time of the ascent", unit="s", compute=ascent_time, typical=True,
        what="From the end of the low to the bar entering the 10 mm band about its held height, of a missed rep "
        "about its highest point (deadlift: from lift-off to the lockout).",
        formula="t(end) - t(low_end); deadlift t(top_start) - t(start).",
        lies="Slow last centimetres move the end more than a stopwatch would.", film=FILM_BAR, good="less",
        source="moments by bands of 10 mm, this project's rule; a moment known to half a frame has "
        "sd 1/(f sqrt 12), the time between two 1/(f sqrt 6)",
    ),
    RepMeasure(
        id="descent_time_s", title="Time of the descent", unit="s", compute=descent_time,
        what="From the bar leaving the 10 mm band about its held height to its entering the low (deadlift: the "
        "lowering, from the end of the top to rest on the floor).",
        formula="t(low_start) - t(start); deadlift t(end) - t(top_end).",
        lies="A slow unlocking of the knees counts once the bar has come down 10 mm.", film=FILM_BAR,
    ),
    RepMeasure(
        id="low_time_s", title="Time in the low", unit="s", lifts=("squat", "bench"), compute=low_time,
        what="Time within 10 mm of the lowest point.", formula="t(low_end) - t(low_start).",
        lies="It is not the pause: a bar turning around without stopping also spends 0.2-0.4 s here.",
        film=FILM_BAR,
    ),
    RepMeasure(
        id="top_time_s", title="Time at the top", unit="s", lifts=("deadlift",), compute=top_time,
        what="Time within 10 mm of the lockout, from first coming there to leaving it for good: a bar that "
        "springs there is not lowered yet.", formula="t(top_end) - t(top_start).",
        lies="A bar let down slowly from the lockout counts until it has come down 10 mm.", film=FILM_BAR,
    ),
    RepMeasure(
        id="wait_before_time_s", title="Time since the rep before", unit="s", compute=wait_before_time,
        what="From the end of the rep before to this start: the hold between squats or presses, the reset "
        "between "
        "deadlifts.",
        formula="t(start) - t(end of the rep before).", lies="Touch-and-go deadlifts give nearly zero.",
        film=FILM_BAR,
    ),
    RepMeasure(
        id="path_range_mm", title="Forward-backward travel", unit="mm", compute=path_range, typical=True,
        what="Distance between the foremost and the rearmost point of the bar's path from start to end of "
        "the rep.",
        formula="max forward - min forward, smoothed over 0.1 s.",
        lies="Noise makes it larger, never smaller; below three times its sd it says nothing.",
        film=FILM_BAR, good="less",
    ),
    RepMeasure(
        id="path_at_low_mm", title="Forward at the low", unit="mm", lifts=("squat", "bench"),
        compute=path_at_low,
        typical=True,
        what="How far forward of the rep's own start the bar is at the low.",
        formula="mean forward over the low interval - forward as held before the start.",
        lies="One degree of camera roll moves it by 1.7 % of the range in every rep (10 mm in a squat).",
        film=FILM_BAR + "; a door frame or upright in view shows the vertical",
    ),
    RepMeasure(
        id="path_at_top_mm", title="Forward at the end of the ascent", unit="mm", compute=path_at_top,
        what="How far forward the bar is held at the end of the ascent from where the ascent began.",
        formula="forward(held) - mean forward over the low interval (deadlift: at rest on the floor).",
        lies="Camera roll, as for the path at the low.", film=FILM_BAR,
    ),
    RepMeasure(
        id="path_forward_mm", title="Forward reach in the ascent", unit="mm", compute=path_forward,
        what="How far forward, while ascending, the bar comes of the vertical through the low (deadlift: through "
        "the bar's place at rest before lift-off); 0 where it stays behind it.",
        formula="max(forward - reference, 0) between the ascent's begin and end.",
        lies="Camera roll moves it in every rep alike.", film=FILM_BAR, good="less",
    ),
    RepMeasure(
        id="path_departure_mm", title="Departure from the vertical in the ascent", unit="mm",
        compute=path_departure,
        typical=True,
        what="The largest signed distance forward (+) or back (-), while ascending, from the vertical "
        "through the low "
        "(deadlift: through the bar's place at rest before lift-off).",
        formula="forward - reference where its size is largest between the ascent's begin and end.",
        lies="When the path leaves about as far forward as back, the sign may change from rep to rep. "
        "Camera roll "
        "moves it in every rep alike. On the bench the path must run back, so it is large and negative.",
        film=FILM_BAR,
    ),
    RepMeasure(
        id="lockout_shortfall_mm", title="Height lost at the lockout", unit="mm", compute=lockout_shortfall,
        typical=True,
        what="How far the held bar stays below the highest lockout of this set. Needs two reps.",
        formula="largest up(held) of the completed reps - up(held).",
        lies="If no rep of the set was locked out, all look right. A lifter who stands with other feet, or "
        "a bar that "
        "still swings, is some millimetres off without a bent knee or elbow.",
        film=FILM_BAR, good="less",
        source="rulebooks ask for a full lockout; the yardstick here is the lifter's own",
    ),
    RepMeasure(
        id="low_height_change_mm", title="Height of the low against the set's lowest", unit="mm",
        lifts=("squat", "bench"), compute=low_height_change, typical=True,
        what="How far the low of this rep stays above the lowest low of the set.",
        formula="up(lowest) - smallest up(lowest) of the completed reps.",
        lies="A squat's bar also comes down by leaning further forward at the same depth of the hips.",
        film=FILM_BAR, good="less",
    ),
    RepMeasure(
        id="hold_sway_mm", title="Sway in the last second of the hold", unit="mm", compute=hold_sway,
        what="Forward-backward travel of the bar in the last second before the start (deadlift: of the top).",
        formula="max forward - min forward, smoothed over 0.1 s.",
        lies="Noise makes it larger, never smaller.", film=FILM_BAR + "; the phone on a stand", good="less",
    ),
    RepMeasure(
        id="start_shift_mm", title="Shift of the start", unit="mm", compute=start_shift,
        what="How far forward the bar stands at this start from where it stood at the first.",
        formula="forward(held before the start) - the same of the first rep.",
        lies="It does not say whether the feet moved or the bar on the back.", film=FILM_BAR, good="zero",
    ),
    RepMeasure(
        id="feet_shift_mm", title="Shift of the feet", unit="mm", compute=feet_shift,
        what="How far forward the near foot stands at this start from where it stood at the first.",
        formula="middle of heel and toes, forward, against the first rep's.",
        lies="Feet are small and often behind plates: below 30 mm it says little.",
        film="feet in the picture, nothing in front of them", good="zero",
    ),
    RepMeasure(
        id="downward_movement_mm", title="Downward movement in the ascent", unit="mm",
        compute=downward_movement,
        what="The largest drop of the bar from a height it had already reached, before the ascent ends. In "
        "squat and "
        "deadlift plates swing and bars bend: within 0.4 s of lift-off, low and lockout a drop counts only "
        "when the "
        "near wrist comes down with it.",
        formula="max over the ascent of (highest so far - height), smoothed over 0.1 s.",
        lies="Noise makes it larger, never smaller; under three times its sd it says nothing.",
        film=FILM_BAR + ", 60 frames a second", good="less",
        source="rulebooks fault downward movement; settling as the shoulders come back is excused",
    ),
)  # fmt: skip
