"""Relative strength: DOTS, IPF GL, Wilks and Wilks 2020."""

from __future__ import annotations

import math

from midfoot.records.base import NotMeasured
from midfoot.records.strength import RESULTS, Points
from midfoot.strength.base import StrengthError, data, known_sex, within

POLYNOMIALS = ("dots", "wilks", "wilks_2020")
FORMULAS = ("dots", "ipf_gl", "wilks", "wilks_2020")
LIGHTEST_KG, HEAVIEST_KG = 20.0, 350.0
"""Body masses that are believed."""
MOST_KG = {"total": 1500.0, "squat": 700.0, "bench": 700.0, "deadlift": 700.0}
"""Results that are believed, in kg."""


def all_points(
    sex: str, body_mass_kg: float | None, result_kg: float, *, lift: str = "total", equipped: bool = False
) -> dict[str, Points | NotMeasured]:
    """Give the points of a result by every formula.

    Parameters
    ----------
    sex : "m" or "f" ("male" and "female" too).
    body_mass_kg : 20 to 350; None when it is not known, and then nothing can be computed.
    result_kg : the total, or the best attempt of one lift; 0 gives 0 points.
    lift : "total", or which lift the result is of.
    equipped : whether supportive equipment was worn; only IPF GL asks.

    Returns
    -------
    dict
        Per id of `FORMULAS` the points, or why there are none.

    Raises
    ------
    StrengthError
        When a value cannot be.
    """
    return {name: points(name, sex, body_mass_kg, result_kg, lift=lift, equipped=equipped) for name in FORMULAS}


def points(
    formula: str,
    sex: str,
    body_mass_kg: float | None,
    result_kg: float,
    *,
    lift: str = "total",
    equipped: bool = False,
) -> Points | NotMeasured:
    """Give the points of a result by one formula; parameters and errors as in `all_points`."""
    if formula not in FORMULAS:
        raise StrengthError(f"There is no formula {formula!r}; take one of {', '.join(FORMULAS)}.")
    if lift not in RESULTS:
        raise StrengthError(f"The result is of one of {', '.join(RESULTS)}; got {lift!r}.")
    sex = known_sex(sex)
    within(result_kg, 0.0, MOST_KG[lift], "The total" if lift == "total" else f"The {lift}", "kg")
    name = str(data("points")[formula]["name"])
    if body_mass_kg is None:
        return NotMeasured(f"{name} divides by a number that depends on body mass.", "Give the body mass.")
    within(body_mass_kg, LIGHTEST_KG, HEAVIEST_KG, "Body mass", "kg")
    if formula == "ipf_gl":
        return _ipf_gl(sex, body_mass_kg, result_kg, lift, equipped)
    return _polynomial(formula, sex, body_mass_kg, result_kg)


def _polynomial(formula: str, sex: str, body_mass_kg: float, result_kg: float) -> Points:
    table = data("points")[formula]
    mine = table[sex]
    used = min(max(body_mass_kg, mine["low_kg"]), mine["high_kg"])
    coefficient = table["numerator"] / sum(c * used**power for power, c in enumerate(mine["c"]))
    value = result_kg * coefficient
    return Points(
        formula, value, value, coefficient, used, used != body_mass_kg, table["source"], table["year"]
    )  # fmt: skip


def _ipf_gl(sex: str, body_mass_kg: float, result_kg: float, lift: str, equipped: bool) -> Points | NotMeasured:
    table = data("points")["ipf_gl"]
    if lift not in ("total", "bench"):
        return NotMeasured(
            f"IPF GL has no coefficients for the {lift} alone.",
            "It is defined for the total and for the bench press.",
        )
    least = table["least_kg"][sex]
    if body_mass_kg < least:
        return NotMeasured(f"IPF GL is not defined below {least:g} kg of body mass.", "Take another formula.")
    a, b, c = table[sex][f"{'equipped' if equipped else 'classic'}_{lift}"]
    exact = 100.0 / (a - b * math.exp(-c * body_mass_kg))
    official = round(exact, 6)
    return Points(
        "ipf_gl", official * result_kg, exact * result_kg, official, body_mass_kg, False,
        table["source"], table["year"],
    )  # fmt: skip
