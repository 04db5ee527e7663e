"""What to put on the bar: every sum that the plates allow, exact where it can be."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from attrs import frozen

from midfoot.records.strength import Loaded, Loading
from midfoot.strength.base import StrengthError, data, read_toml
from midfoot.units import UnitError, load_words, mass_kg

GRAIN_KG = 1e-10
"""Weights are counted in whole grains, in which kilograms and pounds are both exact to a quarter pound."""
MOST_PAIRS, MOST_SIZES = 60, 16


@frozen
class PlateSet:
    """A bar, what each collar weighs, and pairs of plates: (name, kg of one plate, pairs), heaviest first."""

    name: str
    bar: str
    bar_kg: float
    collar: str
    collar_kg: float
    pairs: tuple[tuple[str, float, int], ...]


def plate_sets() -> tuple[str, ...]:
    """Give the names of the sets that come with the program."""
    return tuple(data("plates"))


def plate_set(name: str) -> PlateSet:
    """Give a set by its name, or read a coach's own from a TOML file.

    Raises
    ------
    StrengthError, UnitError
        When there is none, or it cannot be.
    """
    if name in data("plates"):
        return _made(name, data("plates")[name])
    if not name.lower().endswith(".toml"):
        raise StrengthError(f"There is no plate set {name!r}; take {', '.join(plate_sets())}, or a TOML file.")
    return _made(Path(name).stem, read_toml(Path(name)))


def loaded(load_kg: float, plates: PlateSet) -> Loaded:
    """Find what goes on each side; with no exact way, the nearest below and above.

    The fewest plates are taken, the heaviest innermost. `load_kg` is everything: bar, collars and plates.
    """
    target = _grains(load_kg)
    empty = _grains(plates.bar_kg) + 2 * _grains(plates.collar_kg)
    ways = _ways(plates, target - empty)
    sums = sorted(ways)
    heaviest = empty + sum(2 * _grains(kg) * n for _, kg, n in plates.pairs)
    if target - empty in ways:
        exact = _loading(plates, empty, target - empty, ways, "exact")
        return Loaded(load_kg, plates.bar, plates.collar, plates.name, exact, None, None)
    below = max((s for s in sums if s < target - empty), default=None)
    above = min((s for s in sums if s > target - empty), default=None)
    unit = "lb" if plates.bar.endswith("lb") else "kg"
    if target < empty:
        reason = f"the bar and collars alone weigh {load_words(empty * GRAIN_KG, unit)}"
    elif target > heaviest:
        reason = f"the whole set with bar and collars weighs {load_words(heaviest * GRAIN_KG, unit)}"
    else:
        reason = "no plates of this set sum to it"
    return Loaded(
        load_kg, plates.bar, plates.collar, plates.name, None,
        _loading(plates, empty, below, ways, "below") if below is not None and target > empty else None,
        _loading(plates, empty, above, ways, "above") if above is not None else None,
        reason,
    )  # fmt: skip


def _ways(plates: PlateSet, target: int) -> dict[int, tuple[int, ...]]:
    """Give every reachable sum of pairs up to one pair over the target, each with its best counts."""
    most = max(0, target) + max((2 * _grains(kg) for _, kg, _ in plates.pairs), default=0)
    ways: dict[int, tuple[int, ...]] = {0: ()}
    for _, kg, pairs in plates.pairs:
        weight = 2 * _grains(kg)
        grown: dict[int, tuple[int, ...]] = {}
        for sum_, counts in ways.items():
            for n in range(pairs + 1):
                total, mine = sum_ + n * weight, (*counts, n)
                if total > most:
                    break
                if total not in grown or _better(mine, grown[total]):
                    grown[total] = mine
        ways = grown
    return ways


def _better(mine: tuple[int, ...], other: tuple[int, ...]) -> bool:
    return (sum(mine), tuple(-n for n in mine)) < (sum(other), tuple(-n for n in other))


def _loading(plates: PlateSet, empty: int, sum_: int, ways: Mapping[int, tuple[int, ...]], kind: str) -> Loading:
    side = tuple((name, n) for (name, _, _), n in zip(plates.pairs, ways[sum_], strict=True) if n)
    return Loading((empty + sum_) * GRAIN_KG, side, kind)


def _grains(kg: float) -> int:
    return round(kg / GRAIN_KG)


def _made(name: str, table: Mapping[str, Any]) -> PlateSet:
    pairs = table.get("pairs")
    if not isinstance(pairs, dict) or not pairs:
        raise StrengthError(f'{name} needs a [pairs] table such as "20 kg" = 4, the number being pairs.')
    rows = []
    for size, count in pairs.items():
        if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= MOST_PAIRS:
            raise StrengthError(
                f"{name}: pairs of {size} must be a whole number from 0 to {MOST_PAIRS}; got {count!r}."
            )
        kg = mass_kg(str(size), low_kg=0.05, high_kg=100, what="a plate")
        rows.append((str(size), kg, count))
    if len(rows) > MOST_SIZES or sum(n for _, _, n in rows) > MOST_PAIRS:
        raise StrengthError(f"{name}: at most {MOST_SIZES} sizes and {MOST_PAIRS} pairs in all.")
    bar, collars = str(table.get("bar", "20 kg")), str(table.get("collars", "0 kg"))
    try:
        bar_kg = mass_kg(bar, low_kg=1, high_kg=50, what="a bar")
        collar_kg = mass_kg(collars, low_kg=0, high_kg=5, what="a collar")
    except UnitError as error:
        raise StrengthError(f"{name}: {error}") from None
    return PlateSet(name, bar, bar_kg, collars, collar_kg, tuple(sorted(rows, key=lambda r: -r[1])))
