"""Measures of the whole set."""

from __future__ import annotations

from midfoot.measures.definition import Answer, DoesNotApply, SetMeasure, Unseen
from midfoot.measures.scene import WHOLE_REP, Scene
from midfoot.measures.speed import FILM_FAST, ascent_mean_velocity
from midfoot.measures.uncertain import Number, combine, own


def velocity_loss(scene: Scene) -> Answer:
    """How much slower the last rep is than the fastest, per cent of the fastest."""
    _ = scene.velocity
    reps = scene.completed()
    if len(reps) < 2:
        raise DoesNotApply("fewer than two completed reps")
    speeds: list[Number] = []
    for rep in reps:
        try:
            speeds.append(ascent_mean_velocity(rep).number)
        except Unseen as unseen:
            if rep is reps[-1]:
                raise Unseen(f"the last rep's velocity is not seen: {unseen.reason}", unseen.remedy) from unseen
    if len(speeds) < 2:
        raise Unseen("the velocity of only one rep is seen", WHOLE_REP)
    fastest = max(speeds, key=lambda n: n.value)
    loss = combine(lambda f, last: 100.0 * (f - last) / f, fastest, speeds[-1])
    return Answer(loss, "mean velocities of the ascents")


def _phase_time(scene: Scene, kind: str) -> Answer:
    first = next((r.rep.start.t_s for r in scene.reps if r.rep.start is not None), None)
    spans = [p for p in scene.data.reps.phases if p.kind == kind and (first is None or p.end_s <= first + 1e-6)]
    if not spans:
        raise DoesNotApply(f"the clip shows no {kind}")
    sd = scene.interval_s / 6.0**0.5
    return Answer(own(sum(p.end_s - p.start_s for p in spans), sd, kind), "phases of the set")


def unrack_time(scene: Scene) -> Answer:
    """Time of the unrack."""
    return _phase_time(scene, "unrack")


def walkout_time(scene: Scene) -> Answer:
    """Time of the walkout, until the bar is held still."""
    return _phase_time(scene, "walkout")


def set_time(scene: Scene) -> Answer:
    """Time from the first start to the last end."""
    if not scene.reps:
        raise Unseen("no rep was found", WHOLE_REP)
    return Answer(scene.reps[-1].time("end") - scene.reps[0].time("start"), "moments of the reps")


CATALOGUE: tuple[SetMeasure, ...] = (
    SetMeasure(
        id="velocity_loss_pct", title="Velocity loss over the set", unit="pct", compute=velocity_loss,
        needs_velocity=True, good="less",
        what="How much slower the last completed rep is than the fastest one.",
        formula="100 (fastest - last) / fastest, mean velocities of the ascents.",
        lies="A last rep that the lifter did not push (or pushed harder) says nothing of fatigue. The scale "
        "drops "
        "out, so an assumed plate does no harm.",
        film=FILM_FAST,
    ),
    SetMeasure(
        id="unrack_time_s", title="Time of the unrack", unit="s", lifts=("squat", "bench"), compute=unrack_time,
        what="From the bar leaving the rack to its height when held.", formula="length of the phase.",
        lies="A clip that begins with the bar already out has none.",
        film="start filming with the bar in the rack",
    ),
    SetMeasure(
        id="walkout_time_s", title="Time of the walkout", unit="s", lifts=("squat", "bench"),
        compute=walkout_time,
        what="From the unrack until the bar is held still before the first rep (bench: until it has come "
        "over the "
        "shoulders).",
        formula="length of the phase.", lies="A lifter who sways before the first rep seems to walk longer.",
        film="start filming with the bar in the rack",
    ),
    SetMeasure(
        id="set_time_s", title="Time of the set", unit="s", compute=set_time,
        what="From the first start to the last end.", formula="t(last end) - t(first start).",
        lies="Nothing known.",
        film=WHOLE_REP,
    ),
)  # fmt: skip
