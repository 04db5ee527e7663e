"""Why a finding whose measures the truth holds was not told: read off its signs, one cause each.

    python -m lab.bench_records --sets 120 --from-seed 83000

prints the table with the others. Of several signs the one that came nearest to being told gives the cause.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from midfoot.findings.definition import FindingDefinition
from midfoot.findings.engine import shown_of
from midfoot.findings.look import CLEAR_SDS, LIKELY_SHARE, Look, Shown, confidence_of, rank

TOLD_FROM = 1.15
"""True sizes from so many floors on should be told."""
ASKED = {
    "squat_bar_forward", "deadlift_bar_leaves", "bench_toward_feet", "squat_soft_lockout", "bench_not_locked",
    "deadlift_short_lockout", "squat_shallower", "squat_hips_first", "deadlift_hips_first", "squat_slowing",
    "bench_slowing", "deadlift_slowing", "bench_pause_short", "bench_hips_off", "squat_bar_dips", "bench_bar_dips",
    "deadlift_bar_dips", "squat_to_one_side", "bench_uneven", "deadlift_uneven", "bench_grip_moves",
}  # fmt: skip
"""Findings whose floors the project set itself ("this project's aim" in thresholds.toml)."""
CAUSES = {
    "reps": "a rep was not found, or one that was none",
    "not seen": "the clip does not show the measure",
    "error": "within what the measure may be off by",
    "small": "measured smaller than what counts",
    "chance": "chance makes as much in so few reps of this lifter",
    "held back": "large enough, and held back by what makes the clip doubtful",
}
"""Causes from the farthest from being told to the nearest."""


def why(definition: FindingDefinition, look: Look) -> str:
    """Give the cause for which a finding was not told, a key of `CAUSES`."""
    found = [_of_rep(shown, i) for shown in shown_of(definition, look) for i in shown.by_rep]
    return max(found, key=list(CAUSES).index, default="not seen")


def _of_rep(shown: Shown, i: int) -> str:
    seen = shown.by_rep[i]
    if rank(confidence_of(seen.size, seen.sd, shown.floor)) <= rank("likely"):
        return (
            "held back"
            if not any("stand far out" in doubt for doubt in seen.doubts) and seen.confidence
            else "chance"
        )
    return "error" if seen.size > LIKELY_SHARE * shown.floor or seen.sd * CLEAR_SDS > shown.floor else "small"


def misses_table(rows: Sequence[Mapping[str, Any]]) -> str:
    """Say of what is there from 1.15 floors on how much was told, and why the rest was not."""
    there: Counter[str] = Counter()
    told: Counter[str] = Counter()
    causes: dict[str, Counter[str]] = defaultdict(Counter)
    for row in rows:
        for name, floors in row["there"].items():
            if floors < TOLD_FROM:
                continue
            there[name] += 1
            if row["found"].get(name) in ("sure", "likely"):
                told[name] += 1
            else:
                causes[name][row["missed"].get(name, "reps")] += 1
    lines = [
        _share("every finding", there, told, set(there)),
        _share("those whose floors were asked", there, told, ASKED),
    ]
    lines += ["", "| not told | of | " + " | ".join(CAUSES) + " |", "| --- " * (2 + len(CAUSES)) + "|"]
    for name in sorted(causes, key=lambda n: -causes[n].total()):
        cells = " | ".join(str(causes[name][c] or "–") for c in CAUSES)
        lines.append(f"| `{name}` {causes[name].total()} | {there[name]} | {cells} |")
    lines += ["", "; ".join(f"{cause}: {words}" for cause, words in CAUSES.items()) + "."]
    return "\n".join(lines)


def _share(which: str, there: Counter[str], told: Counter[str], names: set[str]) -> str:
    of, hits = (sum(count[n] for n in names) for count in (there, told))
    return f"From {TOLD_FROM:g} floors on, {which}: {hits} of {of} told" + (
        f" ({100 * hits / of:.0f} %)." if of else "."
    )
