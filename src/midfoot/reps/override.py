"""Put a person's moments in place of the measured ones."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from attrs import evolve

from midfoot.records.clip import ClipInfo
from midfoot.records.reps import Moment, Rep
from midfoot.reps.given import TIMES, GivenError, GivenRep, GivenReps

NOT_OF = {"squat": "top_", "bench": "top_", "deadlift": "low_"}
BEYOND_S = 0.5


def overridden(found: Sequence[Rep], given: GivenReps, lift: str, info: ClipInfo) -> list[Rep]:
    """Give the reps with what was given in place of what was measured.

    A given moment's sd is that of a person picking a frame: the frame interval over the square root of 12.

    Raises
    ------
    GivenError
        When a given time lies outside the clip, belongs to another lift, or contradicts a measured moment
        that was left standing.
    """
    measured = {rep.n: rep for rep in found}
    listed: dict[int, GivenRep] = {}
    for said in given.reps:
        n = said.n if said.about_s is None else _known_by(said.about_s, found)
        if n is not None:
            listed[n] = _both(listed[n], said) if n in listed else evolve(said, n=n)
    numbers = sorted(listed) if given.whole else sorted({*measured, *listed})
    out = []
    for place, n in enumerate(numbers, start=1):
        rep = measured.get(n) or Rep(n, "completed", False, False, None, None, why="given")
        one = listed.get(n)
        out.append(evolve(rep if one is None else _put(rep, one, lift, info), n=place))
    _in_turn(out)
    return out


def _known_by(about_s: float, found: Sequence[Rep]) -> int | None:
    """Give the number of the rep that a moment lies in or right beside; None when there is none."""
    spans = [(rep.n, [m.t_s for m in _moments(rep)]) for rep in found]
    apart = {n: max(min(times) - about_s, about_s - max(times), 0.0) for n, times in spans if times}
    near = min(apart, key=lambda n: apart[n], default=None)
    return near if near is not None and apart[near] <= BEYOND_S else None


def _both(first: GivenRep, then: GivenRep) -> GivenRep:
    """Join what was said of one rep at two times; the later word counts."""
    return evolve(first, **{name: v for name in (*TIMES, "outcome") if (v := getattr(then, name)) is not None})


def _put(rep: Rep, one: GivenRep, lift: str, info: ClipInfo) -> Rep:
    sd = info.frame_interval_median_s / 12**0.5
    new: dict[str, Moment] = {}
    for name in TIMES:
        t = getattr(one, name)
        if t is None:
            continue
        if name.startswith(NOT_OF[lift]):
            raise GivenError(f"Rep {one.n}: {name} is not a moment of a {lift}.")
        if not -BEYOND_S <= t <= info.duration_s + BEYOND_S:
            raise GivenError(
                f"Rep {one.n}: {name} is {t:g}, outside the clip (0 to {info.duration_s:.2f} seconds)."
            )
        new[name.removesuffix("_s")] = Moment(t, sd, "given")
    order = ("start", *(("top_start", "top_end") if lift == "deadlift" else ("low_start", "low_end")), "end")
    stands = [(name, new.get(name) or getattr(rep, name)) for name in order]
    known = [(name, m) for name, m in stands if m is not None]
    for (a, first), (b, second) in pairwise(known):
        if second.t_s < first.t_s:
            raise GivenError(
                f"Rep {one.n}: {b} at {second.t_s:.2f} s ({second.why}) would lie before {a} at {first.t_s:.2f} s"
                f" ({first.why}); give both."
            )
    start, end = new.get("start") or rep.start, new.get("end") or rep.end
    outcome = one.outcome or ("completed" if rep.outcome == "cut_off" and "end" in new else rep.outcome)
    why = f"{rep.why}; partly given" if rep.why not in ("", "given") and (new or one.outcome) else rep.why
    moments: dict[str, Any] = {**new}
    return evolve(rep, **moments, outcome=outcome, start_seen=start is not None, end_seen=end is not None, why=why)


def _in_turn(reps: Sequence[Rep]) -> None:
    for first, second in pairwise(reps):
        a = max((m.t_s for m in _moments(first)), default=None)
        b = min((m.t_s for m in _moments(second)), default=None)
        if a is not None and b is not None and b < a - 1e-9:
            raise GivenError(
                f"Rep {second.n} starts at {b:.2f} s, before rep {first.n} ends at {a:.2f} s;"
                " give the moments of both."
            )


def _moments(rep: Rep) -> list[Moment]:
    all_of = (rep.start, rep.low_start, rep.low_end, rep.top_start, rep.top_end, rep.end)
    return [m for m in all_of if m is not None]
