"""Opener, second and third attempt from an estimated maximum; and when none are planned."""

from __future__ import annotations

import math

from midfoot.records.base import NotMeasured
from midfoot.records.context import ADULT_YEARS
from midfoot.records.strength import Attempt, OneRm, Plan
from midfoot.strength.base import data

NAMES = ("opener", "second", "third")
NO_PAIN = ("", "no", "none", "nothing", "no pain")


def attempts(estimate: OneRm, *, pain: str | None = None, age_years: float | None = None) -> Plan | NotMeasured:
    """Plan three attempts.

    Parameters
    ----------
    estimate : the maximum with its sd, kg.
    pain : what hurts; None, "" or "none" when nothing does.
    age_years : the lifter's age, None when it is not known.

    Returns
    -------
    Plan or NotMeasured
        Nothing is planned with pain, for a minor, or from an estimate that is too unsure. Attempts are multiples
        of the step and rise by at least one; within one attempt low <= target <= high.
    """
    table = data("attempts")
    if pain is not None and pain.strip().lower() not in NO_PAIN:
        return NotMeasured(
            f"No attempts are planned while something hurts ({pain.strip()}).",
            "Leave out what hurts, stop if it gets worse, and let a licensed clinician look at it; "
            "the plan can wait.",
        )
    if age_years is not None and age_years < ADULT_YEARS:
        return NotMeasured(
            f"No attempts are planned here for a lifter under {ADULT_YEARS}.",
            "There is plenty of time: the coach who stands beside the bar chooses the loads, "
            "together with a guardian.",
        )
    step = float(table["step_kg"])
    if estimate.sd_kg > table["most_sd_share"] * estimate.kg:
        return NotMeasured(
            f"The estimate is too unsure for a plan ({estimate.kg:.0f} kg, sd {estimate.sd_kg:.0f}).",
            "Use a set nearer to failure, or more sets.",
        )
    least = float(table["least_kg"])
    made: list[Attempt] = []
    for name in NAMES:
        row = table[name]
        safe = estimate.kg - row["sds_below"] * estimate.sd_kg if row["sds_below"] else math.inf
        low, target, high = (_down(min(share * estimate.kg, safe), step) for share in row["shares"])
        if made:  # the bar never gets lighter, and goes up by a step at least
            low, target, high = (
                max(now, before + step) for now, before in zip((low, target, high), _of(made[-1]), strict=True)
            )
        made.append(Attempt(name, low, target, high))
    if made[0].low_kg < least or made[2].target_kg > estimate.kg + step:
        return NotMeasured(
            f"Three attempts in steps of {step:g} kg do not fit between the empty competition bar with collars "
            f"({least:g} kg) and {estimate.kg:.0f} kg.",
            "Choose them at the bar.",
        )
    return Plan((made[0], made[1], made[2]), estimate, step)


def _of(attempt: Attempt) -> tuple[float, float, float]:
    return attempt.low_kg, attempt.target_kg, attempt.high_kg


def _down(kg: float, step: float) -> float:
    return step * math.floor(kg / step + 1e-9)
