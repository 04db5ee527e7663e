"""What every part of this stage needs: its error, its data files, checks of numbers."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from midfoot.records.strength import SEXES


class StrengthError(ValueError):
    """A load, a name or a file makes no sense. The text says what would."""


@cache
def data(name: str) -> dict[str, Any]:
    """Give a data file of this package as tables."""
    return tomllib.loads(resources.files("midfoot.strength").joinpath(f"{name}.toml").read_text("utf-8"))


def read_toml(path: Path) -> dict[str, Any]:
    """Read a coach's own data file.

    Raises
    ------
    StrengthError
        When it is not there or not TOML.
    """
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except OSError:
        raise StrengthError(f"There is no file {path}; check its name.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise StrengthError(f"{path.name} is not a TOML file ({error}); correct it.") from None


def within(value: float, low: float, high: float, what: str, unit: str = "") -> float:
    """Give a value back when it lies in low..high.

    Raises
    ------
    StrengthError
        When it does not, or is no number.
    """
    if not (math.isfinite(value) and low <= value <= high):
        raise StrengthError(f"{what} must be from {low:g} to {high:g}{unit and ' ' + unit}; got {value:g}.")
    return float(value)


def known_sex(sex: str) -> str:
    """Give "m" or "f"; also takes the whole words.

    Raises
    ------
    StrengthError
        When it is neither: the formulas and classes exist for these two only.
    """
    short = {"male": "m", "female": "f"}.get(sex, sex)
    if short not in SEXES:
        raise StrengthError(f"The formulas and classes exist for m and f only; got {sex!r}.")
    return short
