"""The table from repetitions and effort to a share of the maximum: common practice, a coach may bring another."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from attrs import frozen

from midfoot.strength.base import StrengthError, data, read_toml


@frozen
class RpeTable:
    """Per cent of the maximum: `efforts` from hardest to easiest, `percent[i][n - 1]` for n repetitions."""

    efforts: tuple[float, ...]
    percent: tuple[tuple[float, ...], ...]

    def share(self, reps: int, rpe: float) -> float | None:
        """Give the share of the maximum (0..1), between rows in proportion; None outside the table."""
        if not 1 <= reps <= len(self.percent[0]) or not self.efforts[-1] <= rpe <= self.efforts[0]:
            return None
        column = [row[reps - 1] for row in self.percent]
        for place, effort in enumerate(self.efforts):
            if rpe == effort:
                return column[place] / 100.0
            if rpe > effort:
                above = self.efforts[place - 1]
                part = (rpe - effort) / (above - effort)
                return (column[place] + part * (column[place - 1] - column[place])) / 100.0
        return None


def rpe_table(path: Path | None = None) -> RpeTable:
    """Read the table of the package, or a coach's own.

    Raises
    ------
    StrengthError
        When the file is no such table: rows of one length, falling with repetitions and with ease.
    """
    table = data("rpe") if path is None else read_toml(path)
    name = "The table" if path is None else path.name
    rows = table.get("percent")
    try:
        found = sorted(((float(k), tuple(float(v) for v in row)) for k, row in rows.items()), reverse=True)  # type: ignore[union-attr]
    except (AttributeError, TypeError, ValueError):
        raise StrengthError(
            f'{name} needs a [percent] table with rows such as "9" = [95.5, 92.2]; copy the one in the manual.'
        ) from None
    if len(found) < 2 or len({len(row) for _, row in found}) != 1 or not found[0][1]:
        raise StrengthError(f"{name} needs at least two rows, all of one length.")
    made = RpeTable(tuple(k for k, _ in found), tuple(row for _, row in found))
    grid = made.percent
    falls = all(a > b for row in grid for a, b in pairwise(row)) and all(
        a > b for upper, lower in pairwise(grid) for a, b in zip(upper, lower)
    )
    if not falls or not 0 < grid[-1][-1] < grid[0][0] <= 100:
        raise StrengthError(
            f"{name}: per cents must fall along every row and down every column, from 100 at most."
        )
    return made
