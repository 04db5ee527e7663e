"""Two sets side by side on a page: predictions, what really changed, and the paths on height and in step."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from midfoot.publish import look
from midfoot.publish.charts import svg_of
from midfoot.publish.moments import at, end_of, reference_of, start_of, written
from midfoot.publish.page_template import page_template
from midfoot.publish.report import COLOURS, LIFT_WORDS, VIEW_WORDS
from midfoot.publish.tables import UNIT_WORDS
from midfoot.records.base import Value
from midfoot.records.history import Comparison, Followed, Row, Side
from midfoot.records.measures import Measurement
from midfoot.units import load_words

STEPS = 60
WIDTH_PX, HEIGHT_PX = 300, 330
VERDICT_WORDS = {"held": "held", "not_held": "not held", "cannot_tell": "cannot tell"}
CHANGE_WORDS = {"more": "more", "less": "less", "no_real_change": "no real change", "cannot_tell": "cannot tell"}
KIND_WORDS = {"level": "mean of the reps", "over_the_set": "first rep to last"}


def compare_html(comparison: Comparison, first: Measurement, second: Measurement) -> str:
    """Write the page: one file with everything in it.

    Parameters
    ----------
    comparison : what came of holding the two sets against each other.
    first, second : the sets, for their paths.
    """
    rows = _path_rows(first, comparison.first.name) + _path_rows(second, comparison.second.name)
    names = [comparison.first.name, comparison.second.name]
    return page_template("compare.html.j2").render(
        title=f"{LIFT_WORDS[comparison.lift]}: two sets compared",
        sides=[_side(comparison.first), _side(comparison.second)],
        refused=comparison.refused,
        followed=[_followed(f) for f in comparison.followed],
        changed=[_row(r) for r in comparison.rows if r.verdict in ("more", "less")],
        same=[_row(r) for r in comparison.rows if r.verdict == "no_real_change"],
        untold=_untold(comparison.rows),
        compared=sum(r.change is not None for r in comparison.rows),
        on_height=_chart(rows, names, "forward", "height") if rows else "",
        in_step=_chart(rows, names, "share", "forward") if rows else "",
        colours={name: look.css(colour) for name, colour in COLOURS.items()},
        style=(Path(__file__).parent / "templates" / "review.css").read_text("utf-8"),
    )


def table_rows(comparison: Comparison) -> list[dict[str, str]]:
    """Give the rows that were compared, as text: title, kind, first, second, change, smallest change, verdict."""
    return [_row(r) for r in comparison.rows if r.change is not None]


def _side(side: Side) -> dict[str, str]:
    facts = [f"{side.reps} rep{'s' if side.reps != 1 else ''}"]
    facts += [load_words(side.load_kg)] if side.load_kg else []
    facts += [f"effort {side.rpe:g} of 10"] if side.rpe is not None else []
    facts.append(f"filmed {VIEW_WORDS[side.view]}")
    return {"name": side.name, "facts": ", ".join(facts)}


def _row(row: Row) -> dict[str, str]:
    smallest = f"{row.smallest:.2g}" if row.smallest is not None else ""
    return {
        "measure": row.measure,
        "title": row.title,
        "kind": KIND_WORDS[row.kind],
        "first": _value(row.first, row.unit),
        "second": _value(row.second, row.unit),
        "change": _value(row.change, row.unit, signed=True),
        "smallest": _unit(smallest, row.unit),
        "verdict": CHANGE_WORDS[row.verdict],
        "good": row.good,
    }


def _followed(one: Followed) -> dict[str, str]:
    return {
        "title": one.title,
        "change": one.change,
        "expected": f"{_value(one.expected, one.unit)} less of it",
        "found": f"{_value(one.found, one.unit)} less of it" if one.found is not None else "",
        "verdict": VERDICT_WORDS[one.verdict],
        "reason": one.reason,
    }


def _value(value: Value | None, unit: str, *, signed: bool = False) -> str:
    if value is None:
        return ""
    number, sd = written(value.value, value.sd, signed=signed)
    return f"{_unit(number, unit)} (sd {sd})" if sd else _unit(number, unit)


def _unit(text: str, unit: str) -> str:
    words = UNIT_WORDS.get(unit, unit)
    return f"{text}{words}" if words == "°" else f"{text} {words}".strip()


def _untold(rows: tuple[Row, ...]) -> list[dict[str, Any]]:
    """Give reasons with the measures they hold for, one row a reason."""
    found: dict[str, list[str]] = {}
    for row in rows:
        if row.verdict == "cannot_tell" and row.reason and row.title not in found.setdefault(row.reason, []):
            found[row.reason].append(row.title)
    return [{"reason": reason, "titles": titles} for reason, titles in found.items()]


def _path_rows(one: Measurement, name: str) -> list[dict[str, Any]]:
    """Give every completed rep's path at even shares of its time, forward of its own vertical, above its low."""
    path, out = one.data.path, []
    if path is None:
        return []
    for rep in one.data.reps.reps:
        reference = reference_of(rep)
        if reference is None or rep.outcome != "completed":
            continue
        start, end = start_of(rep, one.data), end_of(rep, one.data)
        zero = at(path.forward_mm, path.t_s, reference.t_s, 0.3)
        base = at(path.up_mm, path.t_s, reference.t_s, 0.3)
        for k, t_s in enumerate(np.linspace(start, end, STEPS + 1)):
            forward, up = at(path.forward_mm, path.t_s, t_s) - zero, at(path.up_mm, path.t_s, t_s) - base
            if np.isfinite(forward) and np.isfinite(up):
                out.append(
                    {"set": name, "rep": f"{name} {rep.n}", "share": round(100 * k / STEPS, 2), "order": k,
                     "forward": round(float(forward), 1), "height": round(float(up), 1),
                     "best": rep.n == one.measured.best_rep}
                )  # fmt: skip
    return out


def _chart(rows: list[dict[str, Any]], names: list[str], across: str, upward: str) -> str:
    """Draw both sets side by side on the same axes; the best rep strong, the others thin."""
    import altair as alt

    titles = {"forward": "mm forward of the rep's own vertical", "height": "mm above the low (or the floor)",
              "share": "% of the rep's time"}  # fmt: skip
    chart = (
        alt.Chart(alt.Data(values=rows))
        .mark_line()
        .encode(
            x=alt.X(f"{across}:Q", title=titles[across], axis=alt.Axis(grid=True)),
            y=alt.Y(f"{upward}:Q", title=titles[upward], axis=alt.Axis(grid=True)),
            detail="rep:N",
            order="order:Q",
            strokeWidth=alt.condition("datum.best", alt.value(2.4), alt.value(1.0)),
            opacity=alt.condition("datum.best", alt.value(1.0), alt.value(0.55)),
            column=alt.Column("set:N", sort=names, title=None, header=alt.Header(labelFontSize=13)),
            color=alt.value(look.css(look.BAR)),
        )
        .properties(width=WIDTH_PX if across == "share" else 210, height=HEIGHT_PX if across != "share" else 190)
    )
    return svg_of(chart)
