"""How often findings are raised where there is nothing, and found where something was planted.

    python -m lab.score_findings [--sets 300] [--planted 50]

On made measured sets (lab/made_sets.py): records and not pixels, so it scores the engine and its thresholds, not
the measuring. Prints the two tables of docs/accuracy.md. Sets have 3 to 8 reps. The seeds are others than those
that the multiples of findings/scatter.py were set on.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator

import numpy as np
from attrs import frozen

from lab.made_sets import CLEAN, FRONT, made_set
from midfoot.findings import FINDINGS, find
from midfoot.findings.definition import FindingDefinition, Sign
from midfoot.findings.look import rank
from midfoot.findings.thresholds import defaults
from midfoot.records.base import LIFTS

TIMES = (0.0, 0.5, 1.2, 2.0)
STEADY, HUMAN = 0.2, 1.0
LEAST_REPS, MOST_REPS = 3, 8
OBLIQUE_ONLY = ("bar_tilt_change_deg",)
NOT_PLANTED = ("squat_depth_mm",)
"""A line that a rule draws has no size to plant."""


@frozen
class Planted:
    """One sign of one finding to be planted."""

    definition: FindingDefinition
    sign: Sign

    def once(self, times: float, rng: np.random.Generator, vary: float, count: int) -> str | None:
        """Plant `times` the floor in the last rep (of an unrack, the first); give how sure the finding is."""
        lift, measure = self.definition.lift, self.sign.measure
        oblique = measure in OBLIQUE_ONLY
        front = measure not in CLEAN[lift] and not self.sign.of_set
        clean = (FRONT if front else CLEAN)[lift].get(measure, (0.0, 0.0, 0.0, 0.0))[0]
        size = times * defaults()[self.sign.limit].floor
        size *= defaults()[self.sign.limit].oblique if oblique else 1.0
        if self.sign.as_pct:
            size *= clean / 100.0
        way = -1.0 if self.sign.worse == "less" else 1.0
        # A value that is held against nothing is planted whole: the clean lifter's own is taken off.
        offset = way * size - (clean if self.sign.against == "nothing" and times else 0.0)
        planted = np.zeros(count)
        planted[0 if measure.startswith("unrack") else -1] = offset if times else 0.0
        before = [s.measure for s in self.definition.signs[: self.definition.signs.index(self.sign)]]
        data, measured = made_set(
            lift, count, rng, vary=vary, path_mm=rng.uniform(8, 12), planted={measure: planted}, front=front,
            view="front_oblique" if oblique else "front" if front else "side",
            of_set={measure: size} if self.sign.of_set else None,
            without=before if self.definition.join == "first_seen" else (),
        )  # fmt: skip
        found = next((f for f in find(data, measured).findings if f.id == self.definition.id), None)
        return None if found is None or found.evidence[0].measure != measure else found.confidence


def signs() -> Iterator[Planted]:
    """Give every sign of every finding that can be planted."""
    for definition in FINDINGS:
        for sign in definition.signs:
            known = sign.measure in CLEAN[definition.lift] or sign.measure in FRONT[definition.lift]
            if sign.measure not in NOT_PLANTED and sign.when is None and (known or sign.of_set):
                yield Planted(definition, sign)


def false_alarms(lift: str, sets: int) -> tuple[float, float, float, Counter[str]]:
    """Give the shares of faultless, varying sets with a sure, a sure or likely, and any fault; and which."""
    sure = likely = some = 0
    which: Counter[str] = Counter()
    for seed in range(sets):
        rng = np.random.default_rng([seed, 21])
        count = int(rng.integers(LEAST_REPS, MOST_REPS + 1))
        data, measured = made_set(lift, count, rng, path_mm=rng.uniform(8, 12))
        faults = [f for f in find(data, measured).findings if f.nature == "fault"]
        surest = min((rank(f.confidence) for f in faults), default=3)
        sure, likely, some = sure + (surest == 0), likely + (surest <= 1), some + (surest <= 2)
        which.update(f.id for f in faults if f.confidence != "hint")
    return sure / sets, likely / sets, some / sets, which


def recall(planted: Planted, times: float, sets: int, vary: float) -> float:
    """Give the share of sets in which a planted sign is sure or likely."""
    hits = 0
    for seed in range(sets):
        rng = np.random.default_rng([seed, 22])
        count = int(rng.integers(LEAST_REPS, MOST_REPS + 1))
        hits += planted.once(times, rng, vary, count) in ("sure", "likely")
    return hits / sets


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sets", type=int, default=300)
    parser.add_argument("--planted", type=int, default=50, help="sets a cell of the second table")
    sets, few = parser.parse_args().sets, parser.parse_args().planted
    print(f"{sets} made sets of each lift without a fault\n")
    print("| lift | sure | sure or likely | with a hint or more | which |\n| --- | --- | --- | --- | --- |")
    for lift in LIFTS:
        sure, likely, some, which = false_alarms(lift, sets)
        names = ", ".join(f"{name} {n}" for name, n in which.most_common())
        print(f"| {lift} | {sure:.1%} | {likely:.1%} | {some:.0%} | {names or '–'} |", flush=True)
    print(f"\n{few} made sets a cell with one sign planted in one rep, share found sure or likely\n")
    head = " | ".join(f"{t:g} x floor" for t in TIMES)
    print(f"| finding | sign | {head} | {TIMES[2]:g} x, human | {TIMES[3]:g} x, human |")
    print("| --- " * (4 + len(TIMES)) + "|")
    for planted in signs():
        cells = [recall(planted, t, few, STEADY) for t in TIMES]
        cells += [recall(planted, t, few, HUMAN) for t in TIMES[2:]]
        row = " | ".join(f"{c:.0%}" for c in cells)
        print(f"| `{planted.definition.id}` | `{planted.sign.measure}` | {row} |", flush=True)


if __name__ == "__main__":
    main()
