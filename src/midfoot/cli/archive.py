"""`midfoot archive`: what was found in all sets and what the coach made of it, as a table, CSV or JSON."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

if TYPE_CHECKING:
    from midfoot.desk.archive import CaseRow, Found

Lift = Literal["squat", "bench", "deadlift"]
View = Literal["side", "front_oblique", "rear_oblique", "front", "rear", "unknown"]
HEAD = ("lift", "finding", "title", "by", "could_be_judged", "seen", "seen_share", "seen_low", "seen_high",
        "hints", "kept", "reworded", "dropped", "accepted", "not_looked_at", "agreed_share", "agreed_low",
        "agreed_high")  # fmt: skip
CASES = ("received_at", "lifter", "lift", "load_kg", "set_id", "finding", "title", "by", "size", "sd", "unit",
         "confidence", "view", "rep", "at_s", "decision", "reason", "until", "up_to_kg", "decided_at")  # fmt: skip


def archive(
    *,
    lift: Lift | None = None,
    finding: str | None = None,
    lifter: str | None = None,
    view: View | None = None,
    since: date | None = None,
    until: date | None = None,
    from_kg: float | None = None,
    to_kg: float | None = None,
    cases: Annotated[bool, Parameter(negative=())] = False,
    workspace: Path | None = None,
    csv: Annotated[bool, Parameter(negative=())] = False,
    json: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Say how common each finding is in your sets, and how far you agree with it.

    Example: midfoot archive --lift squat --since 2031-01-01

    Parameters
    ----------
    lift
        Only sets of this lift.
    finding
        Only this finding, by its id.
    lifter
        Only sets of the lifter of this name.
    view
        Only sets filmed from there.
    since
        Only sets that came in on that day or later.
    until
        Only sets that came in on that day or before.
    from_kg
        Only sets with that load, kg, or more.
    to_kg
        Only sets with that load, kg, or less.
    cases
        Every case, one a line, instead of the counts.
    workspace
        The folder of the workspace; the usual one without it.
    csv
        Print as CSV.
    json
        Print as JSON.
    """
    import json as json_module

    from midfoot.cli.failures import UseError
    from midfoot.desk.archive import Filters, case_rows, overview
    from midfoot.desk.gathering import gather
    from midfoot.desk.who import known_as
    from midfoot.store import Workspace

    if csv and json:
        raise UseError("Choose one of --csv and --json.")
    with Workspace.open(workspace) as opened:
        gather(opened)
        with opened.read() as connection:
            who = [i for i, _, exact in known_as(connection, lifter or "") if exact]
            if lifter and not who:
                raise UseError(f"--lifter: nobody here is called {lifter!r}; write the name as the desk has it.")
            filters = Filters(
                lift=lift or "", finding=finding or "", lifter=who[0] if who else "", view=view or "", since=since,
                until=until, least_kg=from_kg, most_kg=to_kg,
            )  # fmt: skip
            over = overview(connection, filters)
            rows = (
                [_case(c) for c in case_rows(connection, filters)] if cases else [_counted(f) for f in over.found]
            )
    if json:
        print(
            json_module.dumps({"measured_sets": over.measured, "cases" if cases else "findings": rows}, indent=1)
        )
    elif csv:
        print(_csv(CASES if cases else HEAD, rows), end="")
    elif not rows:
        print(f"{over.measured} measured sets, and nothing was found in them.")
    else:
        for line in _case_lines(rows) if cases else _lines(over.measured, over.found):
            print(line)
    return 0


def _counted(found: Found) -> dict[str, Any]:
    seen, agreed = found.seen, found.agreed
    told = found.by == "measured"
    return {
        "lift": found.lift, "finding": found.finding, "title": found.title, "by": found.by,
        "could_be_judged": seen.of if told else None, "seen": seen.count,
        "seen_share": _rounded(seen.value) if told else None, "seen_low": _rounded(seen.low) if told else None,
        "seen_high": _rounded(seen.high) if told else None, "hints": found.hints, "kept": found.kept,
        "reworded": found.reworded, "dropped": found.dropped, "accepted": found.accepted,
        "not_looked_at": found.open, "agreed_share": _rounded(agreed.value),
        "agreed_low": _rounded(agreed.low) if agreed.of else None,
        "agreed_high": _rounded(agreed.high) if agreed.of else None,
    }  # fmt: skip


def _case(row: CaseRow) -> dict[str, Any]:
    found = {name: getattr(row, name) for name in CASES}
    return {k: v.isoformat() if hasattr(v, "isoformat") else v for k, v in found.items()}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _csv(head: tuple[str, ...], rows: list[dict[str, Any]]) -> str:
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        # a spreadsheet runs a cell that begins like a formula
        cells = ["" if row[name] is None else row[name] for name in head]
        writer.writerow([f"'{c}" if isinstance(c, str) and c[:1] in ("=", "+", "-", "@") else c for c in cells])
    return out.getvalue()


def _lines(measured: int, found: tuple[Found, ...]) -> list[str]:
    """Lay out the counts: what was seen where it could be judged, and the agreement with its 95 % interval."""
    width = max(len(f.title) for f in found)
    lines = [f"{measured} measured sets", "", f"{'':{width}}  {'seen':>9}  {'share':>14}  {'agree':>14}  dropped"]
    for f in found:
        of = f"{f.seen.count}/{f.seen.of}" if f.by == "measured" else f"{f.seen.count}"
        share = _share(f.seen.value, f.seen.low, f.seen.high) if f.by == "measured" else "by you"
        agree = _share(f.agreed.value, f.agreed.low, f.agreed.high)
        lines.append(f"{f.title:{width}}  {of:>9}  {share:>14}  {agree:>14}  {f.dropped or ''}".rstrip())
    return [
        *lines,
        "",
        "share: of the sets in which it could be judged; agree: kept or reworded of what you judged.",
    ]


def _share(value: float | None, low: float, high: float) -> str:
    return "" if value is None else f"{value:.0%} {low:.0%}-{high:.0%}"


def _case_lines(rows: list[dict[str, Any]]) -> list[str]:
    out = []
    for r in rows:
        size = (
            ""
            if r["size"] is None
            else f"{r['size']:.3g} {r['unit']}" + (f" (sd {r['sd']:.2g})" if r["sd"] else "")
        )
        out.append(
            f"{r['received_at'][:10]}  {(r['lifter'] or 'nobody named'):20}  {r['title']}  {size}  {r['decision']}"
            + (f": {r['reason']}" if r["reason"] else "")
        )
    return out
