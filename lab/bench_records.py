"""Measures and findings on sets made from records: `python -m lab.bench_records --sets 300 [--jobs N]`.

Half of the sets have one fault planted from some rep on, half vary as people do and have none. The list of what is
really there is taken from the truth by the measures' own definitions, consequences and chance included; what was
asked is not looked at. No pixels are in here: see `lab.made`.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from lab.ideal import recall_by_size
from lab.made import SQUAT_LINE, MadeMeasured, asked_set, compared, measured_set
from lab.misses import TOLD_FROM, misses_table, why
from lab.render.build import NotPossible
from lab.render.faults import Fault
from lab.render.limbs import OutOfReach
from lab.smallest_change import smallest_change_table
from midfoot.findings import FINDINGS, find
from midfoot.findings.definition import Sign
from midfoot.findings.look import Look, rank
from midfoot.findings.thresholds import defaults
from midfoot.records.base import LIFTS
from midfoot.records.context import Context

SIZES: dict[str, dict[str, tuple[float, float]]] = {
    "squat": {"forward_drift": (0.03, 0.06), "shallower": (0.05, 0.08), "hips_first": (9.0, 18.0),
              "slower": (0.15, 0.45), "lockout_short": (0.018, 0.035), "sinks": (0.018, 0.03)},
    "bench": {"late_toward_feet": (0.04, 0.06), "hips_off": (0.04, 0.07), "shoulders_creep": (0.025, 0.05),
              "slower": (0.15, 0.45), "lockout_short": (0.018, 0.035), "sinks": (0.018, 0.03),
              "pause_shorter": (0.25, 0.40)},
    "deadlift": {"forward_drift": (0.06, 0.11), "hips_first": (10.0, 18.0), "slower": (0.15, 0.45),
                 "lockout_short": (0.018, 0.035), "sinks": (0.018, 0.03)},
}  # fmt: skip
"""What is asked of each kind, in its unit."""
FROM_SHARE, TO_SHARE = 0.3, 1.3
"""Sets without pixels are asked for from this share of the smallest to this share of the largest, for a curve."""
NO_SIZE = 0.7
"""A true size under so many floors is none."""
BINS = ((0.25, 0.75), (0.75, 1.0), (1.0, 1.25), (1.25, 1.75), (1.75, 2.5), (2.5, 4.0))
"""True sizes in floors: from, and below."""
REPS = (3, 4, 5, 6)
GROWS = 0.3
"""This share of the faults grows evenly over the reps; the others are whole from their first rep on."""
MOST_YAW = 10.0
VIEWS = ("side", "oblique", "front")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sets", type=int, default=300)
    parser.add_argument("--from-seed", type=int, default=1000)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--faultless", action="store_true", help="plant nothing in any set")
    parser.add_argument("--out", type=Path, default=Path("out/records"))
    args = parser.parse_args()
    seeds = range(args.from_seed, args.from_seed + args.sets)
    with get_context("spawn").Pool(args.jobs) as pool:
        made = pool.imap_unordered(partial(one_set, faultless=args.faultless), seeds)
        rows = [row for row in made if row is not None]
    args.out.mkdir(parents=True, exist_ok=True)
    (args.out / "records.json").write_text(json.dumps(sorted(rows, key=lambda r: r["seed"]), indent=0))
    print(f"{len(rows)} of {args.sets} sets made\n")
    print("\n\n".join(f(rows) for f in TABLES))


def asked_of(seed: int) -> tuple[str, float, tuple[Fault, ...], int]:
    """Lift, yaw, faults and number of reps of a seed."""
    rng = np.random.default_rng([seed, 300])
    lift = LIFTS[seed % len(LIFTS)]
    yaw = rng.uniform(-MOST_YAW, MOST_YAW) if rng.random() < 0.6 else rng.uniform(15, 45)
    count = int(rng.choice(REPS))
    if rng.random() < 0.5:
        return lift, float(yaw), (), count
    kinds = list(SIZES[lift])
    kind = kinds[int(rng.integers(len(kinds)))]
    low, high = SIZES[lift][kind]
    fault = Fault(kind, float(rng.uniform(FROM_SHARE * low, TO_SHARE * high)), int(rng.integers(2, count + 1)),
                  bool(rng.random() < GROWS))  # fmt: skip
    return lift, float(yaw), (fault,), count


def one_set(seed: int, *, faultless: bool = False) -> dict[str, Any] | None:
    """Make, measure and judge one set; None where no body could do it."""
    lift, yaw, faults, count = asked_of(seed)
    faults = () if faultless else faults
    try:
        one = measured_set(asked_set(seed, lift, reps_done=count, yaw_deg=yaw, faults=faults))
    except (NotPossible, OutOfReach):
        return None
    return judged(seed, lift, yaw, faults, one)


def judged(seed: int, lift: str, yaw: float, faults: tuple[Fault, ...], one: MadeMeasured) -> dict[str, Any]:
    """Judge a set that was made and measured."""
    found = find(one.data, one.measured).findings
    look = Look(one.data, one.measured, Context(), (), defaults())
    really = there(lift, one.true, faults, oblique=abs(yaw) > MOST_YAW)
    told = {f.id for f in found if rank(f.confidence) <= rank("likely")}
    right = len(one.measured.reps) == len(one.true)
    return {
        "seed": seed, "lift": lift, "view": "side" if abs(yaw) <= MOST_YAW else "oblique",
        "fault": faults[0].kind if faults else None, "from_rep": faults[0].from_rep if faults else None,
        "reps_right": right,
        "measures": compared(lift, one.measured.reps, one.true),
        "there": really,
        "missed": {
            d.id: why(d, look) if right else "reps"
            for d in FINDINGS if really.get(d.id, 0.0) >= TOLD_FROM and d.id not in told
        },
        "found": {f.id: f.confidence for f in found},
        "scatter": scatter(lift, one.true) if not faults else {},
        "faults": [f.id for f in found if f.nature == "fault"],
    }  # fmt: skip


def there(
    lift: str, true: Sequence[Mapping[str, float]], faults: Sequence[Fault], *, oblique: bool
) -> dict[str, float]:
    """True size of every finding whose measures the truth holds, in floors; the largest over reps and signs.

    Against reference: from the mean of the reps before the fault, or (no fault) from the median rep.
    """
    out: dict[str, float] = {}
    for definition in FINDINGS:
        if definition.lift != lift:
            continue
        for sign in definition.signs:
            key = SQUAT_LINE.get(sign.measure, sign.measure) if lift == "squat" else sign.measure
            if sign.when is not None:
                continue
            values = np.array([row.get(key, np.nan) for row in true], float)
            if not np.isfinite(values).all():
                continue
            limit = defaults()[sign.limit]
            floor = limit.floor * (getattr(limit, "oblique", 1.0) or 1.0 if oblique else 1.0)
            out[definition.id] = max(out.get(definition.id, 0.0), _size(sign, values, faults) / floor)
            if definition.join == "first_seen":
                break
    return {k: round(v, 3) for k, v in out.items()}


def _size(sign: Sign, values: np.ndarray, faults: Sequence[Fault]) -> float:
    if sign.against == "nothing":
        change = values
    else:
        clean = values[: faults[0].from_rep - 1] if faults else values
        reference = float(np.mean(clean)) if faults else float(np.median(values))
        change = values - reference
        if sign.as_pct:
            change = 100.0 * change / reference
    if sign.worse == "away":
        return float(np.abs(change).max())
    return float(change.max() if sign.worse == "more" else -change.min())


def measures_table(rows: list[dict[str, Any]]) -> str:
    """Bias, rms error, stated sd and coverage of every measure; one vote a set for bias and coverage."""
    kept: dict[tuple[str, str, str], list[tuple[float, float, float]]] = defaultdict(list)
    for row in rows:
        by: dict[str, list[tuple[float, float]]] = defaultdict(list)
        for m in row["measures"]:
            by[m["id"]].append((m["value"] - m["true"], float(np.hypot(m["sd"] or 0.0, m["sd_common"] or 0.0))))
        for name, errors in by.items():
            e = np.array(errors)
            inside = float(np.mean(np.abs(e[:, 0]) <= 2 * e[:, 1]))
            kept[row["lift"], name, row["view"]].append(
                (float(np.mean(e[:, 0])), float(np.median(e[:, 1])), inside)
            )
    lines = ["| lift | measure | view | sets | bias | rms error of a set | stated sd, median | within 2 sd |",
             "| --- | --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for (lift, name, view), votes in sorted(kept.items()):
        v = np.array(votes)
        if len(v) < 8:
            continue
        rms = float(np.sqrt(np.mean(v[:, 0] ** 2)))
        lines.append(f"| {lift} | {name} | {view} | {len(v)} | {v[:, 0].mean():.3g} | {rms:.3g} | "
                     f"{np.median(v[:, 1]):.3g} | {100 * v[:, 2].mean():.0f} % |")  # fmt: skip
    return "\n".join(lines)


def scatter(lift: str, true: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """Scatter of a faultless set's true values, one sd in floors of the side view, of findings' first signs.

    From the steps between reps: reps that get slower over a set as people tire are no scatter.
    """
    out = {}
    for definition in FINDINGS:
        sign = definition.signs[0]
        key = SQUAT_LINE.get(sign.measure, sign.measure) if lift == "squat" else sign.measure
        values = np.array([row.get(key, np.nan) for row in true], float)
        if definition.lift == lift and np.isfinite(values).all() and sign.when is None:
            scale = 100.0 / float(values.mean()) if sign.as_pct else 1.0
            step = float(np.sqrt(np.mean(np.diff(values) ** 2) / 2.0))
            out[definition.id] = step * scale / defaults()[sign.limit].floor
    return out


def findings_table(rows: list[dict[str, Any]]) -> str:
    """Of what is really there, how much was found sure or likely, by its size; and how much anybody could find."""
    count: dict[tuple[str, str], list[list[int]]] = defaultdict(lambda: [[0, 0] for _ in BINS])
    spread: dict[str, list[float]] = defaultdict(list)
    for row in rows:
        for name, floors in row["there"].items():
            for i, (low, high) in enumerate(BINS):
                if low <= floors < high:
                    cell = count[name, row["view"]][i]
                    cell[0] += 1
                    cell[1] += row["found"].get(name) in ("sure", "likely")
        for name, floors in row.get("scatter", {}).items():
            spread[name].append(floors**2)
    sizes = " | ".join(f"{low:g}-{high:g}" for low, high in BINS)
    lines = [f"| finding | view | scatter | {sizes} | best possible |", "| --- " * (len(BINS) + 4) + "|"]
    for (name, view), cells in sorted(count.items()):
        said = " | ".join(f"{hits} of {n}" if n else "–" for n, hits in cells)
        wide, best = "–", "–"
        if spread[name]:
            sd = float(np.sqrt(np.mean(spread[name])))
            wide = f"{sd:.2f}"
            if view == "side":
                ideal = recall_by_size(sd, BINS, REPS)
                best = ", ".join("–" if np.isnan(r) else f"{100 * r:.0f}" for r in ideal[2:])
        lines.append(f"| `{name}` | {view} | {wide} | {said} | {best} |")
    return "\n".join(lines)


def alarms_table(rows: list[dict[str, Any]]) -> str:
    """Sets without a planted fault: how often a fault is said, and how often the truth does not hold it."""
    lines = ["| lift | view | sets without a fault | sure | sure or likely | of these not in the truth | which |",
             "| --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for lift in LIFTS:
        for view in VIEWS:
            clean = [r for r in rows if r["lift"] == lift and r["view"] == view and r["fault"] is None]
            if not clean:
                continue
            said = [
                {k: r["found"][k] for k in r["faults"] if rank(r["found"][k]) <= rank("likely")} for r in clean
            ]
            sure = sum(any(c == "sure" for c in s.values()) for s in said)
            some = sum(bool(s) for s in said)
            names: dict[str, int] = defaultdict(int)
            unbacked = 0
            for r, s in zip(clean, said, strict=True):
                wrong = [k for k in s if r["there"].get(k, 0.0) < NO_SIZE]
                unbacked += bool(wrong)
                for k in wrong:
                    names[k] += 1
            which = ", ".join(f"`{k}` {n}" for k, n in sorted(names.items())) or "–"
            n = len(clean)
            lines.append(f"| {lift} | {view} | {n} | {100 * sure / n:.0f} % | {100 * some / n:.0f} % | "
                         f"{100 * unbacked / n:.0f} % | {which} |")  # fmt: skip
    return "\n".join(lines)


TABLES = (measures_table, smallest_change_table, findings_table, misses_table, alarms_table)


if __name__ == "__main__":
    main()
