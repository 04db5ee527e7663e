"""How far a bencher's body has moved along the bench: from rep to rep, and by the unrack.

Joints are read while the bar is held, over the whole hold: the near plate covers the shoulder at the touch, and
one look alone is off by what the network wanders.
"""

from __future__ import annotations

from midfoot.measures.bench import BENCH, FILM_BENCH
from midfoot.measures.definition import Answer, DoesNotApply, RepMeasure, Unseen
from midfoot.measures.joints import LYING_CHANGED_SHARE, OFFSET_SHARE
from midfoot.measures.legs import racked
from midfoot.measures.scene import LOCKOUT_S, RepScene, Scene

MOST_SHIFT_MM = 300.0
"""Nobody slides so far along a bench between two lockouts (half a trunk; no source): it is someone else."""
REST_S = 0.8
"""A hold is looked at for so long: as long as people settle between reps (common practice, no source)."""
ARMS_CHANGED_SHARE = 0.5
"""Of a shoulder's sd: how much its offset changes as the arms come from the rack to over the shoulders. On 29
drawn benches in which nothing moved three read 21 mm or more; without this that is two sds."""


def _rests(rep: RepScene) -> tuple[tuple[float, float] | None, tuple[float, float] | None]:
    """Give from when to when the bar is held before the rep and after it; None where the clip does not show it."""
    scene, place = rep.scene, rep.place
    before = after = None
    if rep.rep.start is not None:
        at = rep.rep.start.t_s
        last = scene.reps[place - 1].rep.end if place > 0 else None
        since = last.t_s if last is not None else _held_since(scene, at)
        before = (min(max(since, at - REST_S), at), at)
    if rep.rep.end is not None and rep.rep.outcome != "missed":
        at = rep.rep.end.t_s
        following = scene.reps[place + 1].rep.start if place + 1 < len(scene.reps) else None
        until = following.t_s if following is not None else at + LOCKOUT_S
        after = (at, max(min(until, at + REST_S), at))
    return before, after


def _held_since(scene: Scene, at_s: float) -> float:
    """Give since when the bar has been held when the first rep starts."""
    holds = [p for p in scene.data.reps.phases if p.kind == "hold" and p.start_s < at_s <= p.end_s + 0.05]
    return holds[-1].start_s if holds else at_s


def _shift(rep: RepScene, joint: str) -> Answer:
    """Forward shift of a joint at the lockout after this rep from where it was at the first start."""
    joints = rep.scene.joints_mm
    rests, first = _rests(rep), _rests(rep.scene.reps[0])
    now, then = rests[1] or rests[0], first[0] or first[1]
    if now is None or then is None:
        raise Unseen(
            "the clip shows no lockout of this rep or the first", "let the clip run through the whole set"
        )
    begin = joints.held(joint, *then, "held")[0].as_common(f"first {joint}")
    shift = joints.held(joint, *now, "held")[0] - begin
    if abs(shift.value) > MOST_SHIFT_MM + 2.0 * shift.sd:
        raise Unseen(
            f"the {joint} would have moved by {abs(shift.value):.0f} mm: somebody else's joints were taken there",
            rep.scene.joints.remedy,
        )
    return Answer(shift, f"{joints.side} {joint} at the lockouts")


def shoulder_shift(rep: RepScene) -> Answer:
    """Forward shift of the shoulder since the first start."""
    return _shift(rep, "shoulder")


def hip_shift(rep: RepScene) -> Answer:
    """Forward shift of the hip since the first start."""
    return _shift(rep, "hip")


def _unrack_shift(rep: RepScene, joint: str) -> Answer:
    """Forward shift of a joint from the bar lying in the rack to the first start."""
    if rep.place > 0:
        raise DoesNotApply("only before the first rep")
    joints = rep.scene.joints_mm
    lying = racked(rep)
    before = max(lying - LOCKOUT_S / 2, float(joints.body.t_s[0]))
    earliest = max(before - REST_S, float(joints.body.t_s[0]))
    held = _rests(rep)[0]
    assert held is not None  # racked() has read the start
    now = joints.held(joint, *held, "held")[0]
    share = ARMS_CHANGED_SHARE if joint == "shoulder" else LYING_CHANGED_SHARE
    offset = abs(now.parts[f"{joint} forward held"]) / OFFSET_SHARE
    shift = now - joints.held(joint, earliest, before, "held")[0]
    return Answer(shift.plus(f"{joint} by the unrack", share * offset), f"{joints.side} {joint}")


def unrack_shoulder_shift(rep: RepScene) -> Answer:
    """Forward shift of the shoulder from the rack to the first start."""
    return _unrack_shift(rep, "shoulder")


def unrack_hip_shift(rep: RepScene) -> Answer:
    """Forward shift of the hip from the rack to the first start."""
    return _unrack_shift(rep, "hip")


def unrack_feet_shift(rep: RepScene) -> Answer:
    """Forward shift of the near ankle from the rack to the first start."""
    return _unrack_shift(rep, "ankle")


def unrack_chest_shift(rep: RepScene) -> Answer:
    """Shift of the chest by the unrack: no landmark of the network lies on the chest."""
    if rep.place > 0:
        raise DoesNotApply("only before the first rep")
    raise Unseen("no joint lies on the chest", "watch the chest from the side while the bar comes out")


CATALOGUE: tuple[RepMeasure, ...] = (
    RepMeasure(
        id="shoulder_shift_mm", title="Shift of the shoulders", unit="mm", lifts=BENCH, compute=shoulder_shift,
        good="zero",
        what="How far the near shoulder lies toward the feet, at the lockout after this rep, of where it "
        "lay at the "
        "first start; toward the head is negative.",
        formula="forward(shoulder) - forward(shoulder at the first start).",
        lies="Below 10 mm the network's own scatter is as large.", film=FILM_BENCH,
    ),
    RepMeasure(
        id="hip_shift_mm", title="Shift of the hips", unit="mm", lifts=BENCH, compute=hip_shift, good="zero",
        what="The same of the near hip.", formula="forward(hip) - forward(hip at the first start).",
        lies="As for the shoulders.", film=FILM_BENCH,
    ),
    RepMeasure(
        id="unrack_shoulder_shift_mm", title="Shoulders shifted by the unrack", unit="mm", lifts=BENCH,
        compute=unrack_shoulder_shift, good="zero",
        what="How far the near shoulder moves toward the feet between the bar lying in the rack and the first "
        "start: the upper back's tightness is lost there.",
        formula="forward(shoulder at the first start) - forward(shoulder before the unrack).",
        lies="Arms in front of the shoulder pull the network's place for it along.",
        film="start filming with the bar in the rack",
    ),
    RepMeasure(
        id="unrack_chest_shift_mm", title="Chest shifted by the unrack", unit="mm", lifts=BENCH,
        compute=unrack_chest_shift, good="zero",
        what="How far the chest moves toward the feet by the unrack. Never measured so far: the network has no "
        "joint "
        "on the chest; the coach sees it from the side.",
        formula="none.", lies="It is not measured.", film="from the side, the chest clear of the arms",
    ),
    RepMeasure(
        id="unrack_feet_shift_mm", title="Feet shifted by the unrack", unit="mm", lifts=BENCH,
        compute=unrack_feet_shift, good="zero",
        what="How far the near ankle moves, away from the head, between the bar lying in the rack and the first "
        "start.",
        formula="forward(ankle, first start) - forward(ankle, bar lying).", lies="As for the shoulders.",
        film="start filming with the bar in the rack, the feet in the picture",
    ),
    RepMeasure(
        id="unrack_hip_shift_mm", title="Hips shifted by the unrack", unit="mm", lifts=BENCH,
        compute=unrack_hip_shift, good="zero", what="The same of the near hip.",
        formula="forward(hip at the first start) - forward(hip before the unrack).",
        lies="As for the shoulders.",
        film="start filming with the bar in the rack",
    ),
)  # fmt: skip
