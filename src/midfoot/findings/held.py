"""The good of a set: what held within the smallest change that the clip can tell; which rep was best and why."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from attrs import frozen

from midfoot.findings.look import CLEAR_SDS, Look
from midfoot.findings.words import amount, listed, reps_words
from midfoot.records.findings import Evidence, Finding, Held
from midfoot.records.measures import Measure

MOST_NAMED = 2
NEAR_SHARE = 0.4
"""A measure is named as near the middle when it is nearer to it than this share of what would matter."""
SMALL_SHARE = 0.5
"""What moves more than the clip resolves, but by less than this share of what would matter, has held too."""


@frozen
class Good:
    """A measure that may be praised.

    `matters` is how much of it would matter: the floor of the finding where there is one. `from_second` ones are
    held against the first rep, which has none itself.
    """

    measure: str
    words: str
    matters: float
    from_second: bool = False


LOCKOUT = Good("lockout_shortfall_mm", "the height of the lockout", 12.0)
GOOD = {
    "squat": (
        Good("low_height_change_mm", "the depth", 25.0),
        Good("path_departure_mm", "the path on the way up", 15.0),
        Good("path_at_low_mm", "the bar's place at the low", 15.0),
        Good("trunk_angle_low_deg", "the trunk at the low", 8.0),
        LOCKOUT,
        Good("descent_time_s", "the pace of the descent", 0.2),
        Good("ascent_time_s", "the pace of the ascent", 0.1),
    ),
    "bench": (
        Good("path_at_low_mm", "the touch point", 20.0),
        Good("pause_time_s", "the pause", 0.15),
        Good("path_departure_mm", "the path of the press", 20.0),
        LOCKOUT,
        Good("hip_lift_mm", "the place of the hips", 25.0),
        Good("descent_time_s", "the pace of the descent", 0.2),
        Good("ascent_time_s", "the pace of the press", 0.1),
    ),
    "deadlift": (
        Good("path_departure_mm", "the path of the pull", 15.0),
        LOCKOUT,
        Good("hip_height_liftoff_mm", "the height of the hips at lift-off", 35.0),
        Good("hip_lead_ratio", "the hips' share of the first pull", 0.15),
        Good("trunk_angle_start_deg", "the trunk at lift-off", 7.0),
        Good("start_shift_mm", "the bar's place on the floor", 20.0, from_second=True),
        Good("descent_time_s", "the pace of the lowering", 0.3),
        Good("ascent_time_s", "the pace of the pull", 0.1),
    ),
}
"""By lift, what is worth saying first, most telling first."""
KIN = {"path_forward_mm": "path_departure_mm"}
"""Measures of the same thing: where a finding rests on the first, the second is not praised."""


def held(look: Look, findings: Sequence[Finding]) -> Held | None:
    """Say what was good; None when nothing of a set can be held against anything.

    Parameters
    ----------
    look : the set.
    findings : what was found. A measure that a finding rests on is not praised; the best rep is the one that shows
        the fewest of them.
    """
    faulty = {f.evidence[0].measure for f in findings if f.evidence}
    faulty |= {KIN[measure] for measure in faulty & set(KIN)}
    kept = [k for k in (_kept(good, look) for good in GOOD[look.data.asked.lift]) if k is not None]
    kept = [k for k in kept if k[0].measure not in faulty][:MOST_NAMED]
    best, why = best_of(look, findings)
    if not kept and best is None:
        return None
    text = ""
    if kept:
        parts = [f"{good.words} (within {amount(within, within / 3, e.unit)})" for good, within, e in kept]
        count = len(look.completed)
        text = f"{listed(parts)} held through {f'all {count}' if count > 2 else 'both'} reps."
        text = text[:1].upper() + text[1:]
    return Held(
        text=text,
        evidence=tuple(e for *_, e in kept),
        within=tuple(within for _, within, _ in kept),
        best_rep=best,
        best_text=why,
    )


def _kept(good: Good, look: Look) -> tuple[Good, float, Evidence] | None:
    """Give a measure that held, within how much, and its values; None where it did not or is not told."""
    found = {i: m for i, m in look.values(good.measure).items() if i in look.completed}
    least = max(len(look.completed) - int(good.from_second), 1 if good.from_second else 2)
    if len(found) < least:
        return None
    values = np.array([m.value for m in found.values()], float)
    if good.from_second:
        values = np.append(values, 0.0)
    # Of every rep: one that the clip hardly shows has not been seen to hold.
    told = CLEAR_SDS * math.sqrt(2.0) * max(m.sd or 0.0 for m in found.values())
    spread = float(np.ptp(values))
    within = told if spread <= told else SMALL_SHARE * good.matters
    if told > good.matters or spread > within:
        return None
    return good, within, _evidence(look, good, next(iter(found.values())).unit)


def _evidence(look: Look, good: Good, unit: str) -> Evidence:
    read: list[Measure | None] = [look.read(good.measure, i) for i in range(len(look.reps))]
    return Evidence(
        measure=good.measure,
        title=good.words,
        unit=unit,
        values=tuple(None if m is None else m.value for m in read),
        sds=tuple(None if m is None else m.sd for m in read),
        reference_rep=look.measured.best_rep,
    )


def best_of(look: Look, findings: Sequence[Finding]) -> tuple[int | None, str]:
    """Give the number of the rep to copy and why; None below three completed reps.

    The completed rep that shows the fewest faults that are sure or likely; among equals the set's best rep by the
    medians, else the earliest.
    """
    if look.best is None:
        return None, ""
    faults = [f for f in findings if f.nature == "fault" and f.confidence != "hint"]
    count = {i: sum(look.reps[i].n in f.reps for f in faults) for i in look.completed}
    least = min(count.values())
    best = look.best if count.get(look.best) == least else min(i for i in count if count[i] == least)
    name = reps_words([look.reps[best].n])
    name = name[:1].upper() + name[1:]
    if faults and least == 0 and any(count.values()):
        middle = (
            ""
            if best == look.best
            else f" ({reps_words([look.reps[look.best].n])} only lies in the middle of the set)"
        )
        return look.reps[best].n, f"{name} is the one to copy: it shows none of the faults named here{middle}."
    near = [good.words for good in GOOD[look.data.asked.lift] if _near_middle(good, look, best)]
    where = f", in {listed(near[:3])}" if near else ""
    middle = "lies nearest to the middle of the set" if best == look.best else "shows the fewest of the faults"
    return look.reps[best].n, f"{name} {middle}{where}."


def _near_middle(good: Good, look: Look, best: int) -> bool:
    found = {i: m.value for i, m in look.values(good.measure).items() if i in look.completed}
    values = [v for v in found.values() if v is not None]
    here = found.get(best)
    if here is None or len(values) < 3:
        return False
    return abs(here - float(np.median(values))) <= NEAR_SHARE * good.matters
