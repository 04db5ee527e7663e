"""What a person puts right of a clip's measurement: repairs as they are kept, each checked.

Repairs are only ever added; one that was undone stays and no longer counts. Places are px of the upright picture
as it was shown, times are seconds on the file's own clock: what is said later of mirroring or of the clip's real
speed then moves none of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from attrs import frozen

from midfoot.records.base import LIFTS
from midfoot.records.body import INDEX
from midfoot.records.clip import LEAST_LENGTH_PX
from midfoot.records.reps import OUTCOMES
from midfoot.reps.given import TIMES

KINDS = (
    "bar_at", "lifter_at", "length", "plate", "trim", "moment", "rep", "no_rep", "joint", "depth", "mirrored",
    "real_speed", "lift",
)  # fmt: skip
LEAST_MM, MOST_MM = 10.0, 3000.0
LEAST_PLATE_MM, MOST_PLATE_MM = 100.0, 500.0
SLOWEST, FASTEST = 0.05, 64.0
LEAST_PART_S = 1.0
LEAST_REP_S, MOST_REP_S = 0.4, 60.0
"""No rep of a loaded bar is quicker; what takes longer is several, or a part of the clip (common practice)."""

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


def _check_rep(body: Body) -> dict[str, Any]:
    start, end = (_number(body, name, 0) for name in ("from_s", "to_s"))
    if not LEAST_REP_S <= end - start <= MOST_REP_S:
        raise RepairError(
            f"From {start:.2f} to {end:.2f} s is no rep: go to the frame in which it starts and take it, then to "
            f"the one in which it ends, {LEAST_REP_S:g} s later at least."
        )
    return {"from_s": start, "to_s": end}


def _check_no_rep(body: Body) -> dict[str, Any]:
    return {"rep": int(_number(body, "rep", 1, 999)), "about_s": _number(body, "about_s", 0)}


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
    "trim": _check_trim, "moment": _check_moment, "rep": _check_rep, "no_rep": _check_no_rep,
    "joint": _check_joint, "depth": _check_depth,
    "mirrored": _check_mirrored, "real_speed": _check_real_speed, "lift": _check_lift,
}  # fmt: skip
