"""The one-repetition maximum from one set near failure: published formulas and the table, with their spread."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from statistics import median, pstdev

from midfoot.records.base import NotMeasured
from midfoot.records.strength import Method, OneRm
from midfoot.strength.base import data, within
from midfoot.strength.rpe import RpeTable, rpe_table
from midfoot.units import load_words, on_the_bar

HEAVIEST_KG = 600.0
FORMULAS: dict[str, Callable[[float, float], float]] = {
    "epley": lambda w, r: w * (1 + r / 30),
    "brzycki": lambda w, r: 36 * w / (37 - r),
    "brzycki_decimal": lambda w, r: w / (1.0278 - 0.0278 * r),
    "lander": lambda w, r: 100 * w / (101.3 - 2.67123 * r),
    "lombardi": lambda w, r: w * r**0.10,
    "mayhew": lambda w, r: 100 * w / (52.2 + 41.9 * math.exp(-0.055 * r)),
    "oconner": lambda w, r: w * (1 + 0.025 * r),
    "wathan": lambda w, r: 100 * w / (48.8 + 53.8 * math.exp(-0.075 * r)),
}
"""Load in kg and repetitions to failure (1 to 10) to the maximum in kg; names and years stand in one_rm.toml."""


def one_rm(
    load_kg: float, reps: int, *, rpe: float | None = None, rir: float | None = None, table: RpeTable | None = None
) -> OneRm | NotMeasured:
    """Estimate the maximum from one set.

    Parameters
    ----------
    load_kg : over 0, to 600.
    reps : completed repetitions, 1 or more.
    rpe : how hard it felt, 1..10 (10: nothing left). Without it and `rir` the set counts as one to failure.
    rir : repetitions left in reserve, 0..20; wins over `rpe`.
    table : a coach's own table of effort.

    Returns
    -------
    OneRm or NotMeasured
        Refused, with the reason, when more than three repetitions were left or more than ten were done.

    Raises
    ------
    StrengthError
        When a value cannot be.
    """
    limits = data("one_rm")
    within(load_kg, 0.5, HEAVIEST_KG, "The load", "kg")
    within(reps, 1, 1000, "The number of repetitions")
    if rpe is not None:
        within(rpe, 1, 10, "RPE")
    told = rir is not None or rpe is not None
    left = (
        within(rir, 0, 20, "Repetitions in reserve") if rir is not None else 10 - rpe if rpe is not None else 0.0
    )
    most_left = limits["most_in_reserve"]
    if left > most_left:
        return NotMeasured(
            f"With {left:g} repetitions left the set says little about the maximum: people judge their reserve "
            f"well only within {most_left} of failure.",
            f"Use a set with at most {most_left} left (RPE {10 - most_left} or more).",
        )  # fmt: skip
    if reps > limits["most_reps"]:
        return NotMeasured(
            f"The formulas hold to {limits['most_reps']} repetitions; this set had {reps}.",
            f"Use a heavier set of {limits['most_reps']} or fewer.",
        )
    to_failure = reps + left
    if to_failure == 1:
        single = Method("single", "the single itself", load_kg, True)
        basis = "a single with nothing left is a maximum itself"
        if not told:
            basis += "; no RPE was given, so it was taken as one"
        return OneRm(load_kg, 0.0, load_kg, load_kg, 1.0, (single,), basis)
    methods = _methods(load_kg, reps, left, to_failure, table or rpe_table())
    counted = [m.kg for m in methods if m.counted]
    if not counted:
        return NotMeasured(
            f"{to_failure:g} repetitions to failure lie beyond the formulas and the table.", "Use a heavier set."
        )
    kg = median(counted)
    return OneRm(
        kg, _sd(load_kg, kg, left, to_failure, counted), min(counted), max(counted), to_failure, methods,
        "a set to failure, as no RPE was given: with repetitions left the maximum is higher" if not told
        else f"{reps} repetition{'s' * (reps > 1)} done and {left:g} left",
    )  # fmt: skip


NEXT_EFFORT = (7.0, 8.0)
"""Effort of a working set that leaves room to think (common practice, no source)."""
MOST_MORE = 0.05
"""Of the load, added from one session to the next at most (common practice, no source)."""


def for_the_lifter(found: OneRm, unit: str = "kg") -> str:
    """Say an estimated maximum as a lifter reads it: a range in steps of 2.5 kg or 5 lb, or the single itself."""
    if found.sd_kg <= 0:
        return load_words(found.kg, unit)
    low, high = found.range_kg()
    return f"about {on_the_bar(low, unit):g} to {on_the_bar(high, unit, down=False):g} {unit}"


def next_range_kg(
    load_kg: float, reps: int, effort: float, *, more: bool = True, table: RpeTable | None = None
) -> tuple[float, float] | None:
    """Give the loads for as many repetitions again at an effort of 7 to 8: from, to; None outside the table.

    The same set at the same effort is the same load. Never more than a twentieth above what was lifted, and
    nothing above it unless `more`.

    Parameters
    ----------
    load_kg, reps, effort : what was lifted, how often, how hard it was on the scale to 10.
    more : whether it may be heavier than that.
    table : a coach's own table of effort.
    """
    chart = table or rpe_table()
    done = chart.share(reps, effort)
    low, high = (chart.share(reps, e) for e in NEXT_EFFORT)
    if done is None or low is None or high is None:
        return None
    most = load_kg * (1.0 + MOST_MORE) if more else load_kg
    to = min(load_kg * high / done, most)
    return min(load_kg * low / done, to), to


def _methods(load_kg: float, reps: int, left: float, to_failure: float, table: RpeTable) -> tuple[Method, ...]:
    limits = data("one_rm")
    found = []
    if to_failure <= limits["most_reps"]:
        for row in limits["formula"]:
            value = FORMULAS[row["id"]](load_kg, to_failure)
            found.append(Method(row["id"], f"{row['name']} {row['year']}", value, row.get("counted", True)))
    share = table.share(reps, 10 - left)
    if share is not None:
        found.append(Method("rpe_table", "RPE table", load_kg / share, True))
    return tuple(found)


def _sd(load_kg: float, kg: float, left: float, to_failure: float, counted: list[float]) -> float:
    """Join three doubts: between the methods, between lifters, and about the reserve that was told."""
    limits = data("one_rm")
    ramp = min(1.0, (to_failure - 1) / (limits["full_from_reps"] - 1))
    share = limits["error_share" if to_failure <= limits["most_reps"] else "beyond_error_share"] * ramp
    # a repetition more or less is worth load / 30 (the first formula's slope; the others differ little)
    reserve = load_kg / 30 * _between(limits["reserve_sd"], left)
    return math.hypot(pstdev(counted), share * kg, reserve)


def _between(rows: list[list[float]], x: float) -> float:
    for (x0, y0), (x1, y1) in pairwise(rows):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return rows[-1][1]
