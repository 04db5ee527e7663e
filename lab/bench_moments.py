"""Moments and outcomes on sets made from records: `python -m lab.bench_moments --sets 300 [--jobs N]`.

Sets as a phone films them, some with a last rep that is missed, helped or dropped, measured without pixels (see
`lab.made`): figures from here say what finding reps makes of a good track, never how good tracks are.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from multiprocessing import get_context
from typing import Any

import numpy as np

from lab.made import Noise, measured_set
from lab.render.build import NotPossible
from lab.render.limbs import OutOfReach
from lab.render.recipe import recipe
from midfoot.records.base import LIFTS

MOMENTS = ("start", "low_start", "low_end", "top_start", "top_end", "end")
Row = dict[str, Any]


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sets", type=int, default=300)
    parser.add_argument("--from-seed", type=int, default=70000)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--wandering-px", type=float, default=Noise().slow_px)
    args = parser.parse_args()
    asked = [(seed, args.wandering_px) for seed in range(args.from_seed, args.from_seed + args.sets)]
    with get_context("spawn").Pool(args.jobs) as pool:
        sets = [one for one in pool.imap_unordered(_one, asked) if one is not None]
    print(f"{len(sets)} of {args.sets} sets made\n")
    print(f"{outcomes_table(sets)}\n\n{moments_table(sets)}")


def _one(asked: tuple[int, float]) -> Row | None:
    return one_set(*asked)


def one_set(seed: int, wandering_px: float = Noise().slow_px) -> Row | None:
    """Make and measure one set; None where no body could do it.

    Returns
    -------
    dict
        `outcomes` pairs of (true, told) or None where the number of reps is wrong; `moments` rows of (outcome,
        moment, error s, stated sd s); `untold` whether it is said that help is not told apart.
    """
    lift = LIFTS[seed % len(LIFTS)]
    try:
        one = measured_set(recipe(seed, "phone", lift=lift), Noise(slow_px=wandering_px))
    except (NotPossible, OutOfReach):
        return None
    true, found = one.made.lifter.course.outcomes, one.data.reps
    row: Row = {"seed": seed, "lift": lift, "true": true, "outcomes": None, "moments": [],
                "untold": any(w.id == "help_not_told" for w in found.warnings)}  # fmt: skip
    if len(found.reps) != len(true):
        return row
    row["outcomes"] = [(said, rep.outcome) for said, rep in zip(true, found.reps, strict=True)]
    for said, rep, event in zip(true, found.reps, one.events, strict=True):
        for name in MOMENTS:
            moment = getattr(rep, name)
            if moment is not None and f"{name}_s" in event:
                row["moments"].append((said, name, moment.t_s - event[f"{name}_s"], moment.sd_s))
    return row


def outcomes_table(sets: Sequence[Row]) -> str:
    """Write what reps of every outcome were told as, and of which sets it was said that help is not told apart."""
    told: Counter[tuple[str, str]] = Counter()
    for row in sets:
        told.update(row["outcomes"] or [(true, "wrong number of reps") for true in row["true"]])
    lines = ["| true | told as | reps |", "| --- | --- | --- |"]
    lines += [f"| {true} | {said} | {count} |" for (true, said), count in sorted(told.items())]
    helped = [row["untold"] for row in sets if "assisted" in row["true"]]
    others = [row["untold"] for row in sets if "assisted" not in row["true"]]
    lines += ["", f"Help said not to be told apart: {sum(helped)} of {len(helped)} sets with a helped rep, "
                  f"{sum(others)} of {len(others)} without."]  # fmt: skip
    return "\n".join(lines)


def moments_table(sets: Sequence[Row]) -> str:
    """Write errors of the moments and how many lie within one and two stated sds."""
    rows = [m for row in sets for m in row["moments"]]
    heads = ("moment", "n", "rms error, s", "mean error, s", "stated sd, s", "within 1 sd, %", "within 2 sds, %",
             "worst, s")  # fmt: skip
    lines = [f"| {' | '.join(heads)} |", f"|{' --- |' * len(heads)}"]
    groups = [("completed, assisted", name) for name in MOMENTS] + [("missed", "end"), ("dropped", "end")]
    for kinds, name in [*groups, ("all", "all")]:
        part = [m for m in rows if kinds == "all" or (m[0] in kinds and m[1] == name)]
        if not part:
            continue
        error, sd = (np.array([m[k] for m in part]) for k in (2, 3))
        share = [100 * float(np.mean(np.abs(error) <= k * sd)) for k in (1, 2)]
        lines.append(
            f"| {name if kinds in ('all', groups[0][0]) else f'{name} of a {kinds} rep'} | {len(part)} "
            f"| {np.sqrt(np.mean(error**2)):.4f} | {np.mean(error):+.4f} | {np.sqrt(np.mean(sd**2)):.4f} "
            f"| {share[0]:.0f} | {share[1]:.1f} | {np.abs(error).max():.3f} |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    main()
