"""The short table as lines of text: a row a measure, a column a rep, in as many blocks as the width asks."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from attrs import frozen

from midfoot.publish.findings_section import size_words
from midfoot.publish.tables import rows_of
from midfoot.records.measures import Measurement

SHORT = {
    "squat": ("range_of_motion_mm", "ascent_time_s", "ascent_mean_velocity_m_s", "path_departure_mm",
              "trunk_angle_low_deg", "low_height_change_mm"),
    "bench": ("range_of_motion_mm", "ascent_time_s", "ascent_mean_velocity_m_s", "path_departure_mm",
              "pause_time_s", "touch_point_mm"),
    "deadlift": ("range_of_motion_mm", "ascent_time_s", "ascent_mean_velocity_m_s", "path_departure_mm",
                 "lockout_shortfall_mm", "downward_movement_mm"),
}  # fmt: skip
CONFIDENCE_WIDTH = 8
LEAST_WIDTH = 40
GAP = 3


@frozen
class Line:
    """One line; `strong` ones are headings."""

    text: str
    strong: bool = False


def short_table(measurement: Measurement, width: int) -> list[Line]:
    """Lay out the short table.

    Parameters
    ----------
    measurement : what was measured.
    width : characters a line may have; never taken as fewer than 40.

    Returns
    -------
    list of Line
        Heading, blocks of reps, what the sign after a value means, and which measures were seen in no rep and why.
    """
    width = max(width, LEAST_WIDTH)
    data = measurement.data
    lift, reps = data.asked.lift, data.reps.reps
    if not reps:
        return [Line(f"{lift}: no rep was found in this clip", strong=True)]
    wanted = SHORT[lift]
    rows = sorted((r for r in rows_of(measurement) if r["id"] in wanted), key=lambda r: wanted.index(r["id"]))
    seen = [r for r in rows if any(c["text"] not in ("not seen", "–") for c in r["cells"])]
    lines = [Line(f"{lift}, {len(reps)} rep{'s' if len(reps) > 1 else ''}", strong=True)]
    if seen:
        lines += [Line(""), *_blocks(measurement, seen, width), *_wrapped(_meaning(measurement, seen), width)]
    unseen: dict[str, list[str]] = {}
    for row in rows:
        if row not in seen and row["reason"]:
            unseen.setdefault(row["reason"], []).append(row["name"])
    for reason, names in unseen.items():
        lines += _wrapped(f"{', '.join(names)} not seen: {reason}", width)
    return lines


def found_lines(measurement: Measurement, width: int) -> list[Line]:
    """Lay out what was found: how sure, the claim, its size with sd, the rep; then what held, and notes.

    Parameters
    ----------
    measurement : what was measured.
    width : characters a line may have; never taken as fewer than 40.
    """
    found = measurement.found
    if not found.findings and found.held is None:
        return []
    lines = [Line("found", strong=True)]
    for finding in found.findings:
        size = size_words(finding)
        most = f", rep {finding.worst_rep}" if finding.worst_rep is not None else ""
        others = [str(n) for n in finding.reps if n != finding.worst_rep]
        also = f" (also {', '.join(others)})" if others else ""
        text = f"{finding.title}: {size}{most}{also}" if size else f"{finding.title}{most}{also}"
        first = finding.confidence.ljust(CONFIDENCE_WIDTH)
        lines += [Line(part) for part in wrapped(text, width, first=first, then=" " * CONFIDENCE_WIDTH)]
    if not any(f.nature == "fault" for f in found.findings):
        lines.append(Line("No fault stands out of what this clip can tell."))
    if found.held is not None:
        words = f"{found.held.text} {found.held.best_text}".strip()
        lines += [Line(p) for p in wrapped(words, width, first="good".ljust(CONFIDENCE_WIDTH),
                                           then=" " * CONFIDENCE_WIDTH)]  # fmt: skip
    for note in found.notes:
        lines += _wrapped(note.text, width)
    return lines


def wrapped(text: str, width: int, *, first: str = "", then: str = "") -> list[str]:
    """Break a text at spaces into lines of at most `width` characters; words are never broken."""
    return textwrap.wrap(
        text, max(width, LEAST_WIDTH), initial_indent=first, subsequent_indent=then, break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip


def _wrapped(text: str, width: int) -> list[Line]:
    return [Line(part) for part in wrapped(text, width, then="  ")]


def _blocks(measurement: Measurement, rows: list[dict[str, Any]], width: int) -> Iterator[Line]:
    names = [f"{r['name']}, {r['unit']}" if r["unit"] else str(r["name"]) for r in rows]
    left = max(len(n) for n in names)
    columns = [_column(measurement, rows, place) for place in range(len(measurement.data.reps.reps))]
    widths = [max(len(c) for c in column) for column in columns]
    start = 0
    while start < len(columns):
        end, used = start + 1, left + GAP + widths[start]
        while end < len(columns) and used + GAP + widths[end] <= width:
            used += GAP + widths[end]
            end += 1
        part = range(start, end)
        for at, name in enumerate(["", "", *names]):
            cells = "".join(" " * GAP + columns[i][at].rjust(widths[i]) for i in part)
            if at != 1 or cells.strip():
                yield Line((name.ljust(left) + cells).rstrip(), strong=at < 2)
        yield Line("")
        start = end


def _column(measurement: Measurement, rows: list[dict[str, Any]], place: int) -> list[str]:
    """Heading, what is special about the rep, then a cell a measure."""
    rep = measurement.data.reps.reps[place]
    special = "" if rep.outcome == "completed" else rep.outcome.replace("_", " ")
    if rep.n == measurement.measured.best_rep:
        special = "best"
    return [f"rep {rep.n}", special, *(_cell(row["cells"][place]) for row in rows)]


def _cell(cell: dict[str, str]) -> str:
    mark = "*" if cell["note"] == "inferred" else ""
    return f"{cell['text']} ± {cell['sd']}{mark}" if cell["sd"] else f"{cell['text']}{mark}"


def _meaning(measurement: Measurement, rows: list[dict[str, Any]]) -> str:
    words = "± is one standard deviation of that rep by itself"
    path = measurement.data.path
    if path is not None and path.scale_pct > 0:
        words += f"; lengths and velocities share another {path.scale_pct:.1f} % from the scale"
    words += "."
    if any(c["note"] == "inferred" for r in rows for c in r["cells"]):
        words += " * inferred from bones and joints that were seen."
    return words
