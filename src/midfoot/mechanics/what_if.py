"""What-if: grip, stance, bar position, heel height, sumo or conventional, on this lifter's own segments.

The change of a measure is the difference of two postures of `set_up`. Segment lengths and the assumed posture
carry errors, most of which drop out of the difference; how the lifter adapts to a new stance does not.
"""

from __future__ import annotations

import math

from attrs import frozen

from midfoot.mechanics.set_up import lengths_state, posture
from midfoot.mechanics.spread import Source, State, spread
from midfoot.records.base import RecordError
from midfoot.records.findings import Prediction
from midfoot.records.mechanics import Known, Lifter, WhatIf

SQUAT_TURN, SQUAT_SHANK = 23.0, -27.0
"""Degrees per metre of stance that the feet turn out and the shanks lean: +6 and -7 from 107 to 169 % of shoulder
width, some 0.26 m (Escamilla et al. 2001, MSSE 33:984-998, n = 39)."""
SUMO = {"stance_m": 0.38, "hands_m": -0.08, "turn_deg": 28.0}
"""Sumo against conventional in competition (Escamilla et al. 2000, MSSE 32:1265-1275, 12 and 12 lifters)."""
PULL_TURN = SUMO["turn_deg"] / SUMO["stance_m"]
ADAPTS_DEG = 15.0
"""One sd per metre of stance of how far the shanks lean otherwise than assumed (common practice, no source)."""
HEELS_ADAPT = 0.5
"""One sd of the share of a heel's tilt that the shank does not follow (common practice, no source; trunks lean
some 3-4 degrees less on heels of about 20 mm, Sato et al. 2012, JSCR 26:28-33, as remembered)."""
FOOT_M = 0.26
"""From heel to ball and on to the toes, about: over it a heel of 20 mm tilts the foot by some 4 degrees."""
FARTHEST_MM = 400.0
CLEAR_SDS = 1.96
"""A prediction smaller than this many sds could not be refuted and is none."""
NO_HANDS = "A side view of the squat has no hands in it, so nothing is predicted. Worth trying: film both."
NO_SUMO_TRUNK = (
    "Not predicted: on these segments the model tips the trunk up two to four times as far as the 5-10 degrees "
    "between sumo and conventional lifters in competition (Escamilla et al. 2000). Worth trying: film both."
)
MEASURED = {
    ("squat", "trunk_angle"): "trunk_angle_low_deg", ("squat", "range_of_motion"): "range_of_motion_mm",
    ("deadlift", "trunk_angle"): "trunk_angle_start_deg", ("deadlift", "range_of_motion"): "range_of_motion_mm",
    ("bench", "touch_point"): "touch_point_mm", ("bench", "range_of_motion"): "range_of_motion_mm",
}  # fmt: skip
UNITS = {"trunk_angle": "deg"}


@frozen
class SetUp:
    """A change of set-up: what of the lift it alters, by how much (mm), in words."""

    alters: str
    by_mm: float
    words: str


TRIED = {
    "squat": (
        SetUp("stance", 100, "stance 100 mm wider"), SetUp("bar_position", 50, "bar 50 mm lower on the back"),
        SetUp("heels", 20, "heels 20 mm higher"), SetUp("grip", 100, "hands 100 mm wider on the bar"),
    ),
    "deadlift": (SetUp("sumo", 0, "sumo instead of conventional"), SetUp("stance", 100, "stance 100 mm wider")),
    "bench": (SetUp("grip", -100, "hands 100 mm narrower"), SetUp("grip", 100, "hands 100 mm wider")),
}  # fmt: skip


def what_if(lift: str, lifter: Lifter, measured: dict[str, float | None]) -> tuple[WhatIf, ...]:
    """Predict what each change of set-up does to this lifter's measures.

    Parameters
    ----------
    lift, lifter : whose geometry.
    measured : measures of the rep to show beside, by id.

    Returns
    -------
    tuple of WhatIf
        A change whose constraints cannot be met by these segments is left out.
    """
    found: list[WhatIf] = []
    for tried in TRIED[lift]:
        if lift == "squat" and tried.alters == "grip":
            found.append(_nothing(tried.words, "trunk_angle", NO_HANDS))
            continue
        before, changes = _changed(lift, lifter, tried.alters, tried.by_mm)
        if tried.alters == "sumo":
            changes = {name: change for name, change in changes.items() if name == "range_of_motion"}
            found.append(_nothing(tried.words, "trunk_angle", NO_SUMO_TRUNK))
        for name, change in changes.items():
            beside = measured.get(MEASURED.get((lift, name), ""))
            then = before[name] + change.value
            found.append(WhatIf(tried.words, name, UNITS.get(name, "mm"), before[name], then, change, beside))
    return tuple(found)


def predictions(lift: str, lifter: Lifter, alters: str, by_mm: float) -> tuple[Prediction, ...]:
    """Predict measures after a change of set-up, as a later set can refute them.

    Parameters
    ----------
    lift : squat, bench or deadlift.
    lifter : whose segments.
    alters : `grip` or `stance` (+ wider), `bar_position` (+ lower on the back), `heels` (+ higher).
    by_mm : by how much, up to 400 mm either way.

    Returns
    -------
    tuple of Prediction
        Measures by their ids; nothing for what the model does not know (the hands in a squat), whose constraints
        the segments cannot meet, or that is smaller than 1.96 sds.

    Raises
    ------
    RecordError
        When the change is no such change, or absurd.
    """
    if not math.isfinite(by_mm) or abs(by_mm) > FARTHEST_MM:
        raise RecordError(f"by_mm: expected a change of at most {FARTHEST_MM:g} mm, got {by_mm!r}")
    if alters not in ("grip", "stance", "bar_position", "heels"):
        raise RecordError(f"alters: expected grip, stance, bar_position or heels, got {alters!r}")
    found = []
    for name, change in _changed(lift, lifter, alters, by_mm)[1].items():
        measure = MEASURED.get((lift, name))
        if measure is None or abs(change.value) < CLEAR_SDS * max(change.total_sd, 1e-9):
            continue
        direction = "more" if change.value > 0 else "less"
        found.append(Prediction(measure, direction, abs(change.value), change.total_sd, UNITS.get(name, "mm")))
    return tuple(found)


def _nothing(words: str, measure: str, why: str) -> WhatIf:
    unit = UNITS.get(measure, "mm")
    return WhatIf(words, measure, unit, math.nan, math.nan, Known(0, 0, 0), None, why)


def _changed(lift: str, lifter: Lifter, alters: str, by_mm: float) -> tuple[dict[str, float], dict[str, Known]]:
    """Give the measures before, and the change of each with its errors; nothing where the lift knows no such."""
    delta, adapts = _delta(lift, alters, by_mm / 1000.0)
    if not delta:
        return {}, {}
    base, sources = lengths_state(lifter, lift)
    base["adapts_deg"] = 0.0
    sources = [*sources, Source("how the lifter adapts", {"adapts_deg": adapts}, common=True)]

    def changed(state: State) -> dict[str, float]:
        now = posture(lift, state)
        after = {k: v + delta.get(k, 0.0) for k, v in state.items()}
        if "shank_deg" in after:
            after["shank_deg"] += state["adapts_deg"]
        then = posture(lift, after)
        return {k: then[k] - now[k] for k in now}

    return posture(lift, base), spread(changed, base, sources)


def _delta(lift: str, alters: str, by_m: float) -> tuple[dict[str, float], float]:
    """Give what a change does to the assumed posture, and one sd (degrees) of how the shanks adapt to it."""
    if alters == "stance":
        adapts = ADAPTS_DEG * abs(by_m)
        if lift == "squat":
            return {"stance_m": by_m, "turn_deg": SQUAT_TURN * by_m, "shank_deg": SQUAT_SHANK * by_m}, adapts
        return ({"stance_m": by_m, "turn_deg": PULL_TURN * by_m}, adapts) if lift == "deadlift" else ({}, 0.0)
    if alters == "sumo" and lift == "deadlift":
        return SUMO, ADAPTS_DEG * SUMO["stance_m"]
    if alters == "heels" and lift == "squat":
        return {"heel_m": by_m}, HEELS_ADAPT * math.degrees(math.atan2(abs(by_m), FOOT_M))
    key = {("bench", "grip"): "grip_m", ("deadlift", "grip"): "hands_m",
           ("squat", "bar_position"): "down_m"}.get((lift, alters))  # fmt: skip
    return ({key: by_m}, 0.0) if key else ({}, 0.0)
