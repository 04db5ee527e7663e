"""Smallest change of every measure that two reps of one clip can show, from sets with known truth, by view."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

FEWEST = 20
"""Reps, beyond one a clip, from which a figure is worth a cell: its own error is a sixth of it then."""
SDC_SEMS = 1.96 * np.sqrt(2.0)
"""SEMs in the smallest change that is told at 95 % (Weir 2005, JSCR 19:231-240; from memory)."""
VIEWS = ("side", "oblique", "front oblique", "rear oblique", "front", "front or rear")


def smallest_change(errors: Sequence[Sequence[float]]) -> tuple[float, int] | None:
    """Give 1.96 sqrt(2) SEM and how many reps beyond one a clip it rests on; None with fewer than 20 of them.

    Parameters
    ----------
    errors
        A sequence a clip of its reps' errors against the truth, in the measure's unit. SEM is the standard
        deviation of errors about their clip's mean, which takes out what all reps of a clip have in common.
    """
    off = [np.asarray(e) - np.mean(e) for e in errors if len(e) > 1]
    free = sum(len(e) - 1 for e in off)
    if free < FEWEST:
        return None
    return float(SDC_SEMS * np.sqrt(sum(float(e @ e) for e in off) / free)), free


def smallest_change_table(rows: Sequence[Mapping[str, Any]]) -> str:
    """A line a lift and measure: smallest change, and reps it rests on, in each view, and what was stated.

    `rows` have `lift`, `view` and `measures` (a list of `id`, `value`, `sd`, `true`). "Stated" is the same
    multiple of the median stated random sd, which is what findings weigh a difference with.
    """
    errors: dict[tuple[str, str, str], list[list[float]]] = defaultdict(list)
    stated: dict[tuple[str, str], list[float]] = defaultdict(list)
    for row in rows:
        by: dict[str, list[float]] = defaultdict(list)
        for m in row["measures"]:
            by[m["id"]].append(m["value"] - m["true"])
            stated[row["lift"], m["id"]].append(m["sd"])
        for name, values in by.items():
            errors[row["lift"], name, row["view"]].append(values)
    views = [view for view in VIEWS if any(key[2] == view for key in errors)]
    lines = [f"| lift | measure | {' | '.join(views)} | stated |", "| --- |" + " --- |" * (len(views) + 2)]
    for lift, name in sorted(stated):
        found = [smallest_change(errors[lift, name, view]) for view in views]
        if any(found):
            cells = [f"{f[0]:.2g} ({f[1]})" if f else "–" for f in found]
            usual = SDC_SEMS * float(np.median(stated[lift, name]))
            lines.append(f"| {lift} | `{name}` | {' | '.join(cells)} | {usual:.2g} |")
    return "\n".join(lines)
