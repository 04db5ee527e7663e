"""The lifter's segments: shares of a published table times body mass and stature, or lengths as measured."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

from midfoot.records.mechanics import Length, Lifter, Segment

BETWEEN_PEOPLE = 0.05
"""One sd of a length for a given stature (common practice, no source)."""
PAIRED = ("upper_arm", "forearm", "hand", "thigh", "shank", "foot")


@cache
def tables() -> dict[str, Any]:
    """Give the tables of segments as read from the data file: table, sex, segment, four shares."""
    text = resources.files("midfoot.mechanics").joinpath("segments.toml").read_text("utf-8")
    return tomllib.loads(text)


def sources_of_lengths(table: str) -> tuple[str, str]:
    """Give where a table's shares and its lengths were published."""
    return str(tables()[table]["source"]), str(tables()[table]["lengths"])


def the_lifter(
    sex: str,
    stature_m: float,
    body_mass_kg: float,
    *,
    table: str = "de_leva",
    lengths: Mapping[str, Length] | None = None,
) -> Lifter:
    """Scale a table to one lifter.

    Parameters
    ----------
    sex : `male` or `female`; which half of the table.
    stature_m : 1.0 to 2.4 m.
    body_mass_kg : 20 to 350 kg.
    table : `de_leva` or `winter`.
    lengths : of this lifter, as seen or joined; they replace stature times share (sd 5 % between people).

    Returns
    -------
    Lifter
        Limbs count both sides, so the masses add up to the body's.

    Raises
    ------
    RecordError
        When a value is outside its range.
    """
    known = dict(lengths or {})
    segments = {}
    for name, (share, com, radius, length) in _rows(table, sex).items():
        mass = share * body_mass_kg * (2.0 if name in PAIRED else 1.0)
        mine = known.get(name) or Length(length * stature_m, BETWEEN_PEOPLE * length * stature_m, 0)
        segments[name] = Segment(name, mass, mine.m, com, radius, mine.sd_m / mine.m)
    return Lifter(sex, stature_m, body_mass_kg, table, segments)


def _rows(table: str, sex: str) -> dict[str, list[float]]:
    return dict(tables().get(table, {}).get(sex) or tables()["de_leva"]["male"])
