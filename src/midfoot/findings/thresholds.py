"""What counts as a finding: the floors of thresholds.toml, and a coach's own over them."""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from attrs import evolve, frozen

OWN_KEYS = ("floor", "natural")


class ThresholdsError(ValueError):
    """A coach's file of thresholds cannot be used: the text names key and remedy."""


@frozen(kw_only=True)
class Limit:
    """One threshold.

    Attributes
    ----------
    id, unit, source : str
        `source` is where the floor comes from, or "common practice, no source".
    floor : float
        The size from which on it counts, in `unit`.
    natural : float
        How much it differs from rep to rep in a lifter who does nothing wrong, one sd, in the same unit; 0 where
        such scatter does not make it (a bar that goes down).
    oblique : float
        The floor is this many times as high in oblique views.
    """

    id: str
    unit: str
    floor: float
    natural: float
    oblique: float
    source: str
    own: bool = False


Limits = Mapping[str, Limit]


@cache
def defaults() -> Limits:
    """Give the thresholds that come with the package, by id."""
    text = resources.files("midfoot.findings").joinpath("thresholds.toml").read_text("utf-8")
    rows = tomllib.loads(text).items()
    return {name: Limit(id=name, **{"natural": 0.0, "oblique": 1.0, **row}) for name, row in rows}


def read_thresholds(path: Path) -> Limits:
    """Give the thresholds with a coach's own over them.

    The file is TOML: a table for each threshold that is to differ, with `floor` and, if wished, `natural`.

    Raises
    ------
    ThresholdsError
        When the file cannot be read, names what there is not, or holds a value that cannot be.
    """
    try:
        table = tomllib.loads(path.read_text("utf-8"))
    except OSError:
        raise ThresholdsError(f"{path} cannot be read; give the TOML file with your thresholds.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ThresholdsError(f"{path} is no TOML ({error}); write [forward_drift] and floor = 20.") from None
    return with_own(table, str(path))


def with_own(table: Mapping[str, Any], where: str) -> Limits:
    """Lay a coach's table of thresholds over the package's; `where` names it in errors.

    Raises
    ------
    ThresholdsError
    """
    limits = dict(defaults())
    for name, row in table.items():
        if name not in limits:
            near = difflib.get_close_matches(name, limits, n=1)
            hint = f"the nearest is {near[0]}" if near else f"there are {', '.join(sorted(limits))}"
            raise ThresholdsError(f"{where}: there is no threshold {name!r}; {hint}.")
        if not isinstance(row, Mapping):
            raise ThresholdsError(f"{where}: {name}: expected a table with floor, got {row!r}.")
        for key, value in row.items():
            _check(where, limits[name], key, value)
        old = limits[name]
        limits[name] = evolve(
            old,
            floor=float(row.get("floor", old.floor)),
            natural=float(row.get("natural", old.natural)),
            own=True,
        )
    return limits


def limits_from(parameters: Mapping[str, Any]) -> Limits:
    """Give the thresholds of a measurement by what it says of itself (`engine.parameters`).

    A threshold that is not named there, or that there is no longer, counts as the package has it.
    """
    limits = dict(defaults())
    own, floors = parameters.get("own_thresholds") or (), parameters.get("floors") or {}
    natural = parameters.get("own_natural") or {}
    for name in own:
        if name in limits and name in floors:
            scatter = natural.get(name, limits[name].natural)
            limits[name] = evolve(limits[name], floor=float(floors[name]), natural=float(scatter), own=True)
    return limits


def _check(where: str, limit: Limit, key: str, value: Any) -> None:
    if key not in OWN_KEYS:
        raise ThresholdsError(f"{where}: {limit.id}: unknown key {key!r}; there are {', '.join(OWN_KEYS)}.")
    fits = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
    least = limit.floor / 5 if key == "floor" else 0.0
    most = limit.floor * 20
    if not fits or not least <= value <= most:
        raise ThresholdsError(
            f"{where}: {limit.id}: {key}: expected {least:g} to {most:g} {limit.unit}, got {value!r}."
        )
