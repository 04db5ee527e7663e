"""Velocity over time and over height, as SVG: one chart specification, no browser needed to draw it."""

from __future__ import annotations

from typing import Any

import numpy as np

from midfoot.publish import look
from midfoot.records.measures import Curve

WIDTH_PX, HEIGHT_PX = 400, 230
FONT = "system-ui, -apple-system, 'Segoe UI', sans-serif"


def velocity_over_time(curves: tuple[Curve, ...], font: str = FONT) -> str:
    """Give an SVG of each ascent's velocity over the time since it began; "" without curves."""
    return _draw(_rows(curves), "t", "seconds since the ascent began", font)


def velocity_over_height(curves: tuple[Curve, ...], font: str = FONT) -> str:
    """Give an SVG of each ascent's velocity over the height risen; "" without curves."""
    return _draw(_rows(curves), "height", "mm above the low point (deadlift: the floor)", font)


def _rows(curves: tuple[Curve, ...]) -> list[dict[str, Any]]:
    rows = []
    for curve in curves:
        step = max(1, len(curve.t_s) // 120)
        for i in range(0, len(curve.t_s), step):
            v, sd = float(curve.velocity_m_s[i]), float(curve.sd_m_s[i])
            if np.isfinite(v):
                sd = sd if np.isfinite(sd) else 0.0
                rows.append(
                    {"rep": curve.n, "t": round(float(curve.t_s[i]), 3), "height": round(float(curve.up_mm[i]), 1),
                     "v": round(v, 3), "low": round(v - sd, 3), "high": round(v + sd, 3), "order": i}
                )  # fmt: skip
    return rows


def _draw(rows: list[dict[str, Any]], across: str, title: str, font: str) -> str:
    if not rows:
        return ""
    import altair as alt

    reps = sorted({row["rep"] for row in rows})
    shade = alt.Color(
        "rep:O",
        scale=alt.Scale(domain=reps, range=shades(len(reps))),
        legend=alt.Legend(title="rep", orient="right", symbolOpacity=1) if len(reps) > 1 else None,
    )
    base = alt.Chart(alt.Data(values=rows))
    x = alt.X(f"{across}:Q", title=title, scale=alt.Scale(nice=True, zero=True))
    y = alt.Y("v:Q", title="m/s upward")
    band = base.mark_area(opacity=0.13).encode(
        x=x, y=alt.Y("low:Q", title="m/s upward"), y2="high:Q", color=shade, order="order:Q"
    )
    curve = base.mark_line(strokeWidth=1.7).encode(x=x, y=y, color=shade, order="order:Q")
    layers = [band, curve] if across == "t" else [curve]
    return svg_of(alt.layer(*layers).properties(width=WIDTH_PX, height=HEIGHT_PX), font)


def svg_of(chart: Any, font: str = FONT) -> str:
    """Draw an Altair chart with the axes and the letters of all our charts."""
    import vl_convert

    dressed = (
        chart.configure(background="transparent", font=font)
        .configure_view(stroke=None)
        .configure_axis(
            gridColor=look.css(look.GRID),
            domainColor=look.css(look.GRID_STRONG),
            tickColor=look.css(look.GRID_STRONG),
            labelColor=look.css(look.INK),
            titleColor=look.css(look.INK),
            titleFontWeight="normal",
            labelFontSize=12,
            titleFontSize=12,
        )
    )
    return str(vl_convert.vegalite_to_svg(dressed.to_dict()))


def shades(count: int) -> list[str]:
    """Give one hue from light to dark, first rep to last: order reads without a key, also without colour."""
    light, dark = np.array([125, 178, 214.0]), np.array([12, 47, 84.0])
    steps = np.linspace(0, 1, max(count, 2))[: max(count, 1)] if count > 1 else np.array([0.6])
    mixed = [[int(v) for v in light + (dark - light) * s] for s in steps]
    return [look.css((r, g, b)) for r, g, b in mixed]
