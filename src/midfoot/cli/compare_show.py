"""What the terminal shows of two sets compared: what was refused, what was foretold, what really changed."""

from __future__ import annotations

from collections.abc import Iterator

from midfoot.publish.compare_page import VERDICT_WORDS, table_rows
from midfoot.records.history import Comparison


def lines(comparison: Comparison) -> Iterator[str]:
    """Give the lines, the predictions first."""
    yield f"{comparison.lift}: {comparison.first.name} and {comparison.second.name}"
    yield from (f"! {words}" for words in comparison.refused)
    for one in comparison.followed:
        why = f" ({one.reason})" if one.reason else ""
        yield f"foretold of “{one.title}”: {VERDICT_WORDS[one.verdict]}{why}"
    rows = table_rows(comparison)
    changed = [r for r in rows if r["verdict"] in ("more", "less")]
    yield ""
    yield f"{len(changed)} of {len(rows)} measures really changed" if rows else "nothing could be compared"
    head = {"title": "measure", "kind": "of it", "first": comparison.first.name, "second": comparison.second.name,
            "change": "change", "smallest": "can tell", "verdict": "", "good": ""}  # fmt: skip
    shown = [head, *changed]
    keys = ("title", "kind", "first", "second", "change", "smallest")
    widths = {k: max(len(r[k]) for r in shown) for k in keys}
    for row in shown if changed else []:
        cells = [row[k].ljust(widths[k]) for k in keys]
        yield f"  {'  '.join(cells)}  {', '.join(w for w in (row['verdict'], row['good']) if w)}".rstrip()
