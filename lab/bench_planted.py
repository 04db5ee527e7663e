"""Tables of drawn and filmed sets with and without a planted fault: what was found, what was said in vain.

What is really there is read from the truth by the measures' own definitions, consequences and chance included.
"""

from __future__ import annotations

from typing import Any

from lab.bench_records import alarms_table, findings_table, measures_table


def planted_tables(rows: list[dict[str, Any]]) -> list[str]:
    """Every table of planted sets; sets whose reps were not all found count as sets in which nothing was found."""
    usable = [{**r, "measures": r["all"]} for r in rows]
    short = [r for r in rows if not r["reps_right"]]
    said = (
        f"{len(rows)} sets, {sum(r['fault'] is None for r in rows)} without a planted fault; reps not all found: "
    )
    return [
        said + (", ".join(f"{r['name']} ({r['followed']})" for r in short) or "none"),
        findings_table(usable), alarms_table(usable), measures_table(usable),
    ]  # fmt: skip
