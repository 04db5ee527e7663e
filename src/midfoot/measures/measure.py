"""From a set's data to its measures: every number with its errors, or with the reason why there is none."""

from __future__ import annotations

import math

from attrs import evolve

from midfoot.measures import speed
from midfoot.measures.definition import Answer, Definition, DoesNotApply, RepMeasure, SetMeasure, Unseen
from midfoot.measures.drift import CLEAR_SDS, best_rep, drifts
from midfoot.measures.joints import OWN_SHARE
from midfoot.measures.registry import rep_measures, set_measures
from midfoot.measures.scene import FEW_FRAMES, RepScene, Scene
from midfoot.measures.velocity import HIGHEST_HZ, LOWEST_FPS, LOWEST_HZ, NOISE_M_S
from midfoot.measures.views import VIEW_WORDS, rules, weak_factor
from midfoot.records.base import NotMeasured
from midfoot.records.measures import Curve, Drift, Measure, Measured, SetData
from midfoot.records.reps import Rep

FACING_UNKNOWN = (
    "which way the lifter faces could not be told; keep the lifter's head and feet in the picture, or point at "
    "the lifter with --lifter-at"
)


def measure(data: SetData) -> Measured:
    """Compute every measure of a set.

    Parameters
    ----------
    data : the set. Path, body and scale may be missing; then what rests on them is not seen, with the reason.

    Returns
    -------
    Measured
        Every measure of the lift for every rep, whatever its status; best rep, drift, velocity curves.
    """
    scene = Scene(data)
    per_rep = rep_measures(scene.lift)
    rows = tuple(tuple(_answer(m, rep) for m in per_rep) for rep in scene.reps)
    whole = tuple(_answer(m, scene) for m in set_measures(scene.lift))
    best, drift = over_set(scene.lift, rows, data.reps.reps)
    found = [_curve(rep) for rep in scene.reps]
    return Measured(
        reps=rows,
        whole=whole,
        best_rep=best,
        drift=drift,
        curves=tuple(c for c in found if isinstance(c, Curve)),
    )


def over_set(
    lift: str, rows: tuple[tuple[Measure, ...], ...], reps: tuple[Rep, ...], *, without: tuple[str, ...] = ()
) -> tuple[int | None, tuple[Drift, ...]]:
    """Give the best rep and the drift of reps whose measures were computed elsewhere.

    Parameters
    ----------
    lift : of the set.
    rows : measures of every rep.
    reps : the reps, in the same order.
    without : ids of measures that cannot be held against each other over these reps.

    Returns
    -------
    best : int or None
        Number of the best rep.
    drift : tuple of Drift
    """
    per_rep = tuple(m for m in rep_measures(lift) if m.id not in without)
    numbers = tuple(r.n for r in reps)
    best = best_rep(rows, numbers, tuple(r.outcome == "completed" for r in reps), per_rep)
    return best, drifts(rows, numbers, best, per_rep)


def velocity_curve(data: SetData, rep: int) -> Curve | NotMeasured:
    """Give the bar's vertical velocity through the ascent of one rep.

    Parameters
    ----------
    data : the set.
    rep : position of the rep in the set, 0 is the first.

    Returns
    -------
    Curve
        `t_s` from the begin of the ascent, `up_mm` above the low or the floor, `velocity_m_s`, `sd_m_s`; NaN where
        the bar was not seen. NotMeasured with the reason when there is none.
    """
    return _curve(Scene(data).reps[rep])


def velocity_over_clip(data: SetData) -> Curve | NotMeasured:
    """Give the bar's vertical velocity over the whole clip, as the measures take it.

    Returns
    -------
    Curve
        `n` is 0, `t_s` on the clip's clock, `up_mm` of the path. NotMeasured where the bar was not followed, or
        with too few frames a second for a velocity.
    """
    if data.path is None:
        return NotMeasured("the bar was not followed", "point at the bar")
    try:
        found = Scene(data).velocity
    except Unseen as unseen:
        return NotMeasured(unseen.reason, unseen.remedy)
    return Curve(n=0, t_s=found.t_s, up_mm=found.up_mm, velocity_m_s=found.velocity_m_s, sd_m_s=found.sd_m_s)


def parameters() -> dict[str, object]:
    """Give the numbers that a result depends on, for its provenance."""
    return {
        "velocity_cutoff_hz": [LOWEST_HZ, HIGHEST_HZ],
        "velocity_noise_m_s": NOISE_M_S,
        "lowest_fps_for_velocity": LOWEST_FPS,
        "joint_own_share": OWN_SHARE,
        "weak_view_factor": weak_factor(),
        "clear_sds": CLEAR_SDS,
    }


def _curve(rep: RepScene) -> Curve | NotMeasured:
    try:
        return speed.curve(rep)
    except Unseen as unseen:
        return NotMeasured(unseen.reason, unseen.remedy)
    except DoesNotApply as reason:
        return NotMeasured(reason.reason)


def _answer(definition: RepMeasure | SetMeasure, scene: RepScene | Scene) -> Measure:
    root = scene.scene if isinstance(scene, RepScene) else scene
    rule = rules()[definition.id]
    if rule.needs_facing and root.data.view.facing == "unknown":
        return _none(definition, "not_seen", FACING_UNKNOWN)
    grade = rule.grade(root.data.view)
    if grade == "none":
        seen_from = VIEW_WORDS[root.data.view.view_class]
        return _none(definition, "not_seen", f"not told {seen_from}; {rule.film}")
    if definition.needs_velocity and not root.velocity_allowed:
        return _none(definition, "not_seen", f"{FEW_FRAMES}; film at 60 frames a second")
    try:
        answer = definition.compute(scene)  # type: ignore[arg-type]
    except Unseen as unseen:
        reason = unseen.reason if not unseen.remedy else f"{unseen.reason.rstrip('.')}; {unseen.remedy}"
        return evolve(_none(definition, "not_seen", reason), at_most=unseen.at_most)
    except DoesNotApply as reason:
        return _none(definition, "not_applicable", reason.reason)
    if not all(map(math.isfinite, (answer.number.value, answer.number.sd, answer.number.sd_common))):
        return _none(definition, "not_seen", f"the numbers do not carry it; {definition.film}")
    measured = _measured(definition, answer)
    if grade == "weak":
        wide = weak_factor()
        basis = f"{measured.basis}; weak {VIEW_WORDS[root.data.view.view_class]}"
        return evolve(measured, sd=wide * answer.number.sd, sd_common=wide * answer.number.sd_common, basis=basis)
    return measured


def _measured(definition: Definition, answer: Answer) -> Measure:
    number = answer.number
    return Measure(
        id=definition.id,
        value=number.value,
        unit=definition.unit,
        sd=number.sd,
        sd_common=number.sd_common,
        status="inferred" if number.inferred else "measured",
        basis=answer.basis,
    )


def _none(definition: Definition, status: str, reason: str) -> Measure:
    return Measure(definition.id, None, definition.unit, None, None, status, reason=reason)
