"""What `midfoot strength` reckons from: measured folders, sets and days as told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from midfoot.cli.failures import CannotSay, UseError
from midfoot.cli.strength_words import set_from
from midfoot.records.base import NotMeasured
from midfoot.records.strength import LoadedSet, OneRm
from midfoot.store import read_folder
from midfoot.strength import one_rm, rpe_table

VELOCITY = "ascent_mean_velocity_m_s"


def sets_of(folders: Sequence[Path], told: Sequence[str], lift: str | None) -> tuple[list[LoadedSet], str]:
    """Give the sets and their lift.

    Raises
    ------
    UseError
        When there is no set, or they are of different lifts.
    CannotSay
        When a folder knows no load or no velocity of a completed repetition.
    StoreError
        When a folder is no measured one.
    """
    lifts = {lift} if lift is not None else set()
    sets = []
    for folder in folders:
        document, _ = read_folder(folder)
        lifts.add(document["asked"]["lift"])
        sets.append(_fastest(folder, document))
    if len(lifts) > 1:
        raise UseError(f"A profile is of one lift; these sets are of {' and '.join(sorted(map(str, lifts)))}.")
    if not lifts:
        raise UseError("Name the lift: --lift squat|bench|deadlift, or give measured folders.")
    if not sets and not told:
        raise UseError("Give at least three sets: measured folders, or --set LOAD@VELOCITY once a set.")
    return [*sets, *(set_from(one) for one in told)], str(next(iter(lifts)))


def estimate_from(
    load_kg: float, reps: int, rpe: float | None, rir: float | None, table: Path | None = None
) -> OneRm:
    """Estimate the maximum from one set.

    Raises
    ------
    CannotSay
        When the set says too little about it.
    StrengthError
        When a value cannot be.
    """
    found = one_rm(load_kg, reps, rpe=rpe, rir=rir, table=rpe_table(table))
    if isinstance(found, NotMeasured):
        raise CannotSay(f"{found.reason} {found.remedy}")
    return found


def day_from(text: str) -> date:
    """Read the day of a competition; raises UseError when it is none."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UseError(f"--competition is a day written YYYY-MM-DD, such as 2027-03-13; got {text!r}.") from None


def _fastest(folder: Path, document: dict[str, Any]) -> LoadedSet:
    """Give a measured set by its fastest completed repetition; the clip's part of the error counts too."""
    load = document["asked"]["load_kg"]
    if load is None:
        raise CannotSay(f"{folder} knows no load; measure the clip again with --load.")
    known = [
        rep["measures"][VELOCITY] for rep in document["reps"]
        if rep["outcome"] == "completed" and rep["measures"].get(VELOCITY, {}).get("value") is not None
    ]  # fmt: skip
    if not known:
        raise CannotSay(
            f"{folder} has no completed repetition whose velocity was seen; film it whole, from the side."
        )
    best = max(known, key=lambda m: float(m["value"]))
    return LoadedSet(load, best["value"], math.hypot(best["sd"] or 0.0, best["sd_common"] or 0.0))
