"""Body-mass classes of federations, as data with a year."""

from __future__ import annotations

from midfoot.records.strength import BodyMassClass
from midfoot.strength.base import StrengthError, data, known_sex, within
from midfoot.strength.points import HEAVIEST_KG, LIGHTEST_KG


def federations() -> tuple[str, ...]:
    """Give the ids of the federations whose classes are known."""
    return tuple(data("classes"))


def class_of(federation: str, sex: str, body_mass_kg: float, *, young: bool = False) -> BodyMassClass:
    """Give the class of a body mass; `young` adds the classes that only juniors have.

    Raises
    ------
    StrengthError
        When the federation is unknown or the body mass cannot be.
    """
    table = data("classes").get(federation.lower())
    if table is None:
        raise StrengthError(
            f"The classes of {federation!r} are not known here; known are {', '.join(federations())}."
        )
    sex = known_sex(sex)
    within(body_mass_kg, LIGHTEST_KG, HEAVIEST_KG, "Body mass", "kg")
    ends = sorted([*table[sex], *(table["young"][sex] if young else ())])
    over = max((float(e) for e in ends if body_mass_kg > e), default=0.0)
    to = min((float(e) for e in ends if body_mass_kg <= e), default=None)
    name = f"{to:g} kg" if to is not None else f"over {over:g} kg"
    return BodyMassClass(table["name"], name, over, to, table["source"], table["year"])
