"""The request that repairs make of a clip: whatever still counts of them, in their order."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from attrs import evolve

from midfoot.desk.repairs import Repair
from midfoot.pipeline import Request
from midfoot.records.clip import DepthMarks, JointMark, KnownLength, Reading, Tap
from midfoot.reps import GivenReps
from midfoot.reps.given import TIMES, GivenRep

NOT_OF = {"squat": "top_", "bench": "top_", "deadlift": "low_"}
SAME_FRAME_S = 0.02
SAME_REP_S = 1.0
"""The middle of a rep moves by less when one of its moments is put right."""

Body = Mapping[str, Any]


def request_with(request: Request, repairs: Sequence[Repair]) -> Request:
    """Put every repair that still counts into the request, in their order; of one kind the last counts.

    Moments of reps, and marks of different joints or moments, add up. What does not belong to the lift that was
    said last (a low of a deadlift, depth marks of a bench) is left out.
    """
    valid = sorted((r for r in repairs if not r.undone), key=lambda r: r.n)
    for repair in valid:  # the lift, the clock and the mirror first: the others are read by them
        if repair.kind in FIRST:
            request = FIRST[repair.kind](request, repair.body)
    for repair in valid:
        if repair.kind in THEN:
            request = THEN[repair.kind](request, repair.body)
    given = _given(request, [r.body for r in valid if r.kind == "moment"])
    return evolve(request, given=_counted(request, given, valid))


def _tap(reading: Reading, body: Body, spot: Body | None = None) -> Tap:
    """Give a place on the clip's clock and in the picture as it will be measured."""
    x = float((spot or body)["x_px"])
    if "width_px" in body and body["mirrored"] != reading.mirrored:
        x = body["width_px"] - 1 - x
    return Tap(x, float((spot or body)["y_px"]), body["at_s"] / reading.real_speed)


def _bar_at(request: Request, body: Body) -> Request:
    return evolve(request, bar_at=_tap(request.reading, body))


def _lifter_at(request: Request, body: Body) -> Request:
    return evolve(request, lifter_at=_tap(request.reading, body))


def _length(request: Request, body: Body) -> Request:
    a, b = (_tap(request.reading, body, body[name]) for name in ("a", "b"))
    return evolve(request, length=KnownLength(a, b, body["mm"]))


def _plate(request: Request, body: Body) -> Request:
    return evolve(request, asked=evolve(request.asked, plate_mm=body["mm"]), length=None)


def _trim(request: Request, body: Body) -> Request:
    speed = request.reading.real_speed
    start, end = (None if body[name] is None else body[name] / speed for name in ("from_s", "to_s"))
    asked = evolve(request.asked, from_s=start, to_s=end)
    return evolve(request, reading=evolve(request.reading, from_s=start, to_s=end), asked=asked)


def _joint(request: Request, body: Body) -> Request:
    mark = JointMark(body["joint"], _tap(request.reading, body))
    others = [m for m in request.joints if m.joint != mark.joint or abs(m.at.at_s - mark.at.at_s) > SAME_FRAME_S]
    return evolve(request, joints=(*others, mark))


def _depth(request: Request, body: Body) -> Request:
    if request.asked.lift != "squat":
        return request
    marks = DepthMarks(*(_tap(request.reading, body, body[name]) for name in ("crease", "knee_top")))
    return evolve(request, depth_marks=marks)


def _mirrored(request: Request, body: Body) -> Request:
    return evolve(request, reading=evolve(request.reading, mirrored=body["on"]))


def _real_speed(request: Request, body: Body) -> Request:
    return evolve(request, reading=evolve(request.reading, real_speed=body["times_slower"]))


def _lift(request: Request, body: Body) -> Request:
    asked = evolve(request.asked, lift=body["lift"], variation=body.get("variation", request.asked.variation))
    return evolve(request, asked=asked, depth_marks=request.depth_marks if body["lift"] == "squat" else None)


FIRST: dict[str, Callable[[Request, Body], Request]] = {
    "mirrored": _mirrored, "real_speed": _real_speed, "lift": _lift,
}  # fmt: skip
THEN: dict[str, Callable[[Request, Body], Request]] = {
    "bar_at": _bar_at, "lifter_at": _lifter_at, "length": _length, "plate": _plate, "trim": _trim, "joint": _joint,
    "depth": _depth,
}  # fmt: skip


def _given(request: Request, moments: Sequence[Body]) -> GivenReps | None:
    """Join the moments with those that the request holds already."""
    speed = request.reading.real_speed
    before = request.given.reps if request.given is not None else ()
    said: list[dict[str, Any]] = [
        {name: getattr(rep, name) for name in ("n", "about_s", *TIMES, "outcome")} for rep in before
    ]
    for body in moments:
        about = body["about_s"] / speed if "about_s" in body else None
        row = next((r for r in said if r["n"] == body["rep"] and _same_rep(r["about_s"], about)), None)
        if row is None:
            row = {"n": body["rep"], "about_s": about}
            said.append(row)
        if "moment" in body and not body["moment"].startswith(NOT_OF[request.asked.lift]):
            row[body["moment"]] = body["at_s"] / speed
        if "outcome" in body:
            row["outcome"] = body["outcome"]
    reps = [GivenRep(**row) for row in said if any(row.get(name) is not None for name in (*TIMES, "outcome"))]
    return evolve(request.given or GivenReps(()), reps=reps) if reps else request.given


def _counted(request: Request, given: GivenReps | None, valid: Sequence[Repair]) -> GivenReps | None:
    """Join reps that were missed, and what is none, with what else is given; said again, the last counts."""
    speed = request.reading.real_speed
    said = given or GivenReps(())
    missing, false_at = list(said.missing), list(said.false_at)
    for body, kind in ((r.body, r.kind) for r in valid):
        if kind == "rep":
            span = (body["from_s"] / speed, body["to_s"] / speed)
            missing = [m for m in missing if m[1] <= span[0] or m[0] >= span[1]] + [span]
            false_at = [t for t in false_at if not span[0] <= t <= span[1]]
        elif kind == "no_rep":
            at_s = body["about_s"] / speed
            missing = [m for m in missing if not m[0] <= at_s <= m[1]]
            false_at.append(at_s)
    if (missing, false_at) == (list(said.missing), list(said.false_at)):
        return given
    return evolve(said, missing=tuple(sorted(missing)), false_at=tuple(false_at))


def _same_rep(one_s: float | None, other_s: float | None) -> bool:
    """Tell whether two moments were said of the same rep, where they have the same number."""
    return one_s is None or other_s is None or abs(one_s - other_s) <= SAME_REP_S
