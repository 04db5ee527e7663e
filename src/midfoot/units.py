"""Loads and lengths as people write them, turned into SI at the rim. Shared by every shell; pure."""

from __future__ import annotations

import math
import re

KG_PER_LB = 0.45359237
"""The international pound, exact by definition (1959 agreement)."""
MM_PER_INCH = 25.4
"""The international inch, exact by definition (1959 agreement)."""

LOAD_STEPS = {"kg": 2.5, "lb": 5.0}
"""Two of the smallest common plates, one on each end (common practice, no source)."""

_MASS = {"kg": 1.0, "kgs": 1.0, "kilo": 1.0, "kilos": 1.0, "lb": KG_PER_LB, "lbs": KG_PER_LB, "pounds": KG_PER_LB}
_LENGTH = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH, "inch": MM_PER_INCH, '"': MM_PER_INCH}
_NUMBER_UNIT = re.compile(r"^\s*([+-]?\d+(?:[.,]\d+)?)\s*([a-zA-Z\"]*)\s*$")


class UnitError(ValueError):
    """A load or a length cannot be read. The text says what can."""


def load_kg(text: str) -> float:
    """Read a load such as "140kg", "315 lb" or "142,5 kg" in kilograms; a bare number is kilograms.

    Raises
    ------
    UnitError
        When it is no load, or not between 1 and 600 kg.
    """
    return mass_kg(text, low_kg=1.0, high_kg=600.0, what="a load", like="140kg or 315lb, bar included")


def mass_kg(text: str, *, low_kg: float, high_kg: float, what: str, like: str = "20kg or 45lb") -> float:
    """Read a mass such as "83kg" or "183 lb" in kilograms; a bare number is kilograms.

    Raises
    ------
    UnitError
        When it is no mass, or outside `low_kg`..`high_kg`.
    """
    kg = _read(text, _MASS, "kg", f"{what} such as {like}")
    if not low_kg <= kg <= high_kg:
        raise UnitError(
            f"{what.capitalize()} of {text.strip()} is outside {low_kg:g} to {high_kg:g} kg; give one like {like}."
        )
    return kg


def body_mass_kg(text: str) -> float:
    """Read a body mass such as "83kg" or "183 lb" in kilograms.

    Raises
    ------
    UnitError
        When it is none, or not between 20 and 350 kg.
    """
    return mass_kg(text, low_kg=20.0, high_kg=350.0, what="a body mass", like="83kg or 183lb")


def unit_of(text: str) -> str:
    """Tell whether a load was written in "kg" or "lb"; a bare number is kilograms."""
    match = _NUMBER_UNIT.match(text)
    return "lb" if match is not None and _MASS.get(match[2].lower()) == KG_PER_LB else "kg"


def load_words(kg: float, unit: str = "kg") -> str:
    """Write a load in "kg" or "lb", to a hundredth, without needless zeros."""
    number = kg / KG_PER_LB if unit == "lb" else kg
    return f"{number:.2f}".rstrip("0").rstrip(".") + f" {unit}"


def on_the_bar(kg: float, unit: str = "kg", *, down: bool = True) -> float:
    """Round a load, down or up, to steps that can be put on a bar: 2.5 kg or 5 lb; the number in `unit`."""
    step = LOAD_STEPS[unit]
    steps = (kg / KG_PER_LB if unit == "lb" else kg) / step
    return step * (math.floor(steps + 1e-9) if down else math.ceil(steps - 1e-9))


def length_mm(text: str, *, low_mm: float, high_mm: float, what: str) -> float:
    """Read a length such as "450mm", "45 cm" or "17.7in" in millimetres; a bare number is millimetres.

    Raises
    ------
    UnitError
        When it is no length, or outside `low_mm`..`high_mm`.
    """
    mm = _read(text, _LENGTH, "mm", f"{what} such as 450mm, 45cm or 17.7in")
    if not low_mm <= mm <= high_mm:
        raise UnitError(f"{what.capitalize()} of {text.strip()} is outside {low_mm:g} to {high_mm:g} mm.")
    return mm


def _read(text: str, units: dict[str, float], default: str, like: str) -> float:
    match = _NUMBER_UNIT.match(text)
    if match is None or (match[2].lower() or default) not in units:
        raise UnitError(f"{text.strip()!r} is not {like}.")
    return float(match[1].replace(",", ".")) * units[match[2].lower() or default]
