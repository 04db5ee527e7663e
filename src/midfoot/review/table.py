"""The review as a table: one row a part, value with unit and sd, for a spreadsheet."""

from __future__ import annotations

import csv
import io

from midfoot.records.review import Review

HEAD = (
    "section", "what", "text", "why", "to try", "reps", "seconds", "value", "unit", "sd", "resolution", "range",
    "confidence", "seen by", "status", "reason",
)  # fmt: skip


def table_csv(review: Review) -> str:
    """Write every part, whatever its status, as CSV (RFC 4180) with a heading; private parts are left out."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEAD)
    for part in review.parts:
        if part.quiet:
            continue
        size = part.figure.size if part.figure is not None else None
        numbers = (size.value, size.unit, size.sd, size.resolution) if size is not None else ("", "", "", "")
        writer.writerow(
            [
                part.section, part.about, part.text, part.why, part.try_text,
                " ".join(str(n) for n in part.reps), " ".join(f"{t:.2f}" for t in part.at_s),
                *(f"{n:.4g}" if isinstance(n, float) else n for n in numbers),
                part.figure.words if part.figure is not None else "", part.confidence, part.by, part.status,
                part.reason,
            ]
        )  # fmt: skip
    return out.getvalue()
