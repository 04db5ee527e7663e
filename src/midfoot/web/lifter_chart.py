"""Technique against load, or over the weeks: one measure of a lifter's sets with its sd, as a chart specification.

The specification holds no colours: the page puts its own in (`chart.js`). What may not stand on one line with the
latest set is drawn hollow and is told apart in the table beside it.
"""

from __future__ import annotations

from typing import Any

from midfoot.desk.lifter import Point
from midfoot.units import KG_PER_LB

HEIGHT_PX = 260
ACROSS = ("load", "date")
UNIT_WORDS = {
    "mm": "mm",
    "s": "s",
    "m_s": "m/s",
    "deg": "degrees",
    "ratio": "ratio",
    "pct": "%",
    "%": "%",
    "count": "",
}


def course_chart(
    points: tuple[Point, ...], *, title: str, unit: str, across: str = "load"
) -> dict[str, Any] | None:
    """Give the Vega-Lite specification; None without points.

    Parameters
    ----------
    points : of one measure, the oldest first.
    title : the measure's.
    unit : of loads, kg or lb.
    across : `load`, or `date`.
    """
    rows = [_row(p, unit) for p in points if across == "date" or p.load_kg is not None]
    if not rows:
        return None
    import altair as alt

    words = UNIT_WORDS.get(points[0].unit, points[0].unit)
    x: Any = (
        alt.X(
            "load:Q",
            title=f"load, {unit}",
            axis=alt.Axis(labelOverlap=True, tickCount=6),
            scale=alt.Scale(zero=False, nice=True, padding=24),
        )
        if across == "load"
        else alt.X(
            "at:T",
            title=None,
            axis=alt.Axis(format="%-d %b", labelOverlap=True, tickCount=6),
            scale=alt.Scale(padding=24),
        )
    )
    name = [title, words] if words else title
    y = alt.Y("value:Q", title=name, scale=alt.Scale(zero=False, nice=True))
    base = alt.Chart(alt.Data(values=rows))
    picked = alt.selection_point(name="picked", fields=["set_id"], on="click", toggle=False)
    layers: list[Any] = []
    if across == "date":
        layers.append(
            base.transform_filter("!datum.apart").mark_line(strokeWidth=1.2, opacity=0.6).encode(x=x, y=y)
        )
    layers += [
        base.mark_rule(strokeWidth=1.5).encode(x=x, y=alt.Y("low:Q", title=name), y2="high:Q"),
        base.transform_filter("!datum.apart").mark_point(filled=True, size=90, opacity=1, cursor="pointer")
        .encode(x=x, y=y).add_params(picked),
        base.transform_filter("datum.apart").mark_point(filled=False, size=80, strokeWidth=1.6).encode(x=x, y=y),
        base.mark_text(dx=9, align="left", fontSize=12).encode(x=x, y=y, text="day:N"),
    ]  # fmt: skip
    chart: dict[str, Any] = alt.layer(*layers).properties(height=HEIGHT_PX).to_dict()
    return chart


def _row(point: Point, unit: str) -> dict[str, Any]:
    load = None if point.load_kg is None else point.load_kg / KG_PER_LB if unit == "lb" else point.load_kg
    return {
        "set_id": point.set_id,
        "at": point.at.isoformat(),
        "day": f"{point.at.day} {point.at:%b}",
        "load": None if load is None else round(load, 1),
        "value": point.value,
        "low": round(point.value - point.sd, 4),
        "high": round(point.value + point.sd, 4),
        "apart": bool(point.apart),
    }
