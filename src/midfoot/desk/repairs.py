"""What a person puts right of a clip's measurement: repairs as they are kept, and the request that comes of them.

Repairs are only ever added; one that was undone stays and no longer counts. Places are px of the upright picture
as it was shown, times are seconds on the file's own clock: what is said later of mirroring or of the clip's real
speed then moves none of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from attrs import evolve, frozen

from midfoot.pipeline import Request
from midfoot.records.base import LIFTS
from midfoot.records.body import INDEX
from midfoot.records.clip import LEAST_LENGTH_PX, DepthMarks, JointMark, KnownLength, Reading, Tap
from midfoot.records.reps import OUTCOMES
from midfoot.reps import GivenReps
from midfoot.reps.given import TIMES, GivenRep

KINDS = (
    "bar_at", "lifter_at", "length", "plate", "trim", "moment", "joint", "depth", "mirrored", "real_speed", "lift",
)  # fmt: skip
NOT_OF = {"squat": "top_", "bench": "top_", "deadlift": "low_"}
LEAST_MM, MOST_MM = 10.0, 3000.0
LEAST_PLATE_MM, MOST_PLATE_MM = 100.0, 500.0
SLOWEST, FASTEST = 0.05, 64.0
LEAST_PART_S = 1.0
SAME_FRAME_S = 0.02
SAME_REP_S = 1.0
"""The middle of a rep moves by less when one of its moments is put right."""

Body = Mapping[str, Any]


class RepairError(ValueError):
    """A repair makes no sense: the text says what is missing or wrong and what to do."""


@frozen
class Repair:
    """One repair: `n` counts them within the clip from 1; `undone` ones do not count."""

    n: int
    kind: str
    body: Body
    undone: bool = False


def repair_of(kind: str, body: Any) -> dict[str, Any]:
    """Check a repair as a page sent it; gives the body to keep, with nothing in it but what is understood.

    Raises
    ------
    RepairError
        When the kind is unknown, or something in the body is missing or impossible.
    """
    if kind not in CHECKS:
        raise RepairError(f"There is no repair {kind!r}; take one of {', '.join(KINDS)}.")
    if not isinstance(body, Mapping):
        raise RepairError(f"A repair of the kind {kind} needs its values, got {body!r}.")
    return CHECKS[kind](body)


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
    moments = [r.body for r in valid if r.kind == "moment"]
    return evolve(request, given=_given(request, moments)) if moments else request


def _number(body: Body, name: str, low: float = -math.inf, high: float = math.inf) -> float:
    value = body.get(name)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise RepairError(f"{name}: expected a number, got {value!r}.")
    if not low <= value <= high:
        raise RepairError(f"{name}: expected {low:g} to {high:g}, got {value:g}.")
    return float(value)


def _spot(body: Body, name: str = "") -> dict[str, float]:
    at = body.get(name) if name else body
    if not isinstance(at, Mapping):
        raise RepairError(f"{name}: expected a place with x_px, y_px, got {at!r}.")
    return {"x_px": _number(at, "x_px", 0), "y_px": _number(at, "y_px", 0)}


def _shown(body: Body) -> dict[str, Any]:
    """Give how the picture was shown when it was clicked, so that a later mirroring can be reckoned with."""
    if "width_px" not in body:
        return {}
    return {"width_px": _number(body, "width_px", 1), "mirrored": body.get("mirrored") is True}


def _check_place(body: Body) -> dict[str, Any]:
    return {**_spot(body), "at_s": _number(body, "at_s", 0), **_shown(body)}


def _check_length(body: Body) -> dict[str, Any]:
    a, b = _spot(body, "a"), _spot(body, "b")
    apart = math.hypot(a["x_px"] - b["x_px"], a["y_px"] - b["y_px"])
    if apart < LEAST_LENGTH_PX:
        raise RepairError(
            f"The two points lie {apart:.0f} px apart; take two that are at least {LEAST_LENGTH_PX:g} px apart, "
            "such as the upper and the lower edge of the plate."
        )
    return {"a": a, "b": b, "at_s": _number(body, "at_s", 0), "mm": _number(body, "mm", LEAST_MM, MOST_MM),
            **_shown(body)}  # fmt: skip


def _check_plate(body: Body) -> dict[str, Any]:
    return {"mm": _number(body, "mm", LEAST_PLATE_MM, MOST_PLATE_MM)}


def _check_trim(body: Body) -> dict[str, Any]:
    ends = {name: _number(body, name, 0) if body.get(name) is not None else None for name in ("from_s", "to_s")}
    start, end = ends["from_s"] or 0.0, ends["to_s"]
    if end is not None and end - start < LEAST_PART_S:
        raise RepairError(f"The part from {start:.2f} to {end:.2f} s is shorter than {LEAST_PART_S:g} s.")
    return ends


def _check_moment(body: Body) -> dict[str, Any]:
    rep = _number(body, "rep", 1, 999)
    found: dict[str, Any] = {"rep": int(rep)}
    if body.get("about_s") is not None:  # a moment inside the rep: its number may change
        found["about_s"] = _number(body, "about_s", 0)
    name, outcome = body.get("moment"), body.get("outcome")
    if name is None and outcome is None:
        raise RepairError(f"Say which moment of rep {rep:g} moves, or what became of it.")
    if name is not None:
        if name not in TIMES:
            raise RepairError(f"moment: expected one of {', '.join(TIMES)}, got {name!r}.")
        found |= {"moment": name, "at_s": _number(body, "at_s", 0)}
    if outcome is not None:
        if outcome not in OUTCOMES:
            raise RepairError(f"outcome: expected one of {', '.join(OUTCOMES)}, got {outcome!r}.")
        found["outcome"] = outcome
    return found


def _check_joint(body: Body) -> dict[str, Any]:
    joint = body.get("joint")
    if joint not in INDEX:
        raise RepairError(f"joint: expected a landmark such as left_hip, got {joint!r}.")
    return {"joint": joint, **_check_place(body)}


def _check_depth(body: Body) -> dict[str, Any]:
    return {"crease": _spot(body, "crease"), "knee_top": _spot(body, "knee_top"), "at_s": _number(body, "at_s", 0),
            **_shown(body)}  # fmt: skip


def _check_mirrored(body: Body) -> dict[str, Any]:
    if not isinstance(body.get("on"), bool):
        raise RepairError(f"on: expected true or false, got {body.get('on')!r}.")
    return {"on": body["on"]}


def _check_real_speed(body: Body) -> dict[str, Any]:
    return {"times_slower": _number(body, "times_slower", SLOWEST, FASTEST)}


def _check_lift(body: Body) -> dict[str, Any]:
    lift, variation = body.get("lift"), body.get("variation")
    if lift not in LIFTS:
        raise RepairError(f"lift: expected one of {', '.join(LIFTS)}, got {lift!r}.")
    return {"lift": lift, **({"variation": variation.strip()[:200]} if isinstance(variation, str) else {})}


CHECKS: dict[str, Callable[[Body], dict[str, Any]]] = {
    "bar_at": _check_place, "lifter_at": _check_place, "length": _check_length, "plate": _check_plate,
    "trim": _check_trim, "moment": _check_moment, "joint": _check_joint, "depth": _check_depth,
    "mirrored": _check_mirrored, "real_speed": _check_real_speed, "lift": _check_lift,
}  # fmt: skip


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
    whole = request.given.whole if request.given is not None else False
    return GivenReps(reps, whole) if reps else request.given


def _same_rep(one_s: float | None, other_s: float | None) -> bool:
    """Tell whether two moments were said of the same rep, where they have the same number."""
    return one_s is None or other_s is None or abs(one_s - other_s) <= SAME_REP_S
