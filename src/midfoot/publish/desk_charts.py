"""Charts of one set for the desk: four specifications of one dress, a playhead in each, the samples behind them.

The specifications hold no colours but names: the page puts its own in, by day and by night. `at` (s on the clip's
clock) and `rep` are parameters that the player sets; nothing is drawn anew for it.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from midfoot.publish import look
from midfoot.publish.charts import FONT, shades
from midfoot.publish.moments import at, reference_of
from midfoot.publish.scene import forward_seen
from midfoot.records.measures import Curve, Measurement

MOST_SAMPLES = 900
MOST_PER_REP = 160
OVER_TIME_PX, OVER_HEIGHT_PX = 170, 250
NAMES = ("height", "velocity", "velocity_over_height", "forward_over_height")
TITLES = {
    "height": "Height over time",
    "velocity": "Velocity over time",
    "velocity_over_height": "Velocity over height",
    "forward_over_height": "Forward over height",
}
HEIGHT = "mm above the low point"
HEIGHT_DEADLIFT = "mm above the floor"


def samples(measurement: Measurement, speed: Curve | None) -> dict[str, Any]:
    """Give the samples: `set` over the whole clip, `reps` through each rep's ascent.

    Parameters
    ----------
    measurement : the set.
    speed : the velocity over the whole clip; None where there is none.

    Returns
    -------
    dict
        `set` rows of t, up (mm, from the first start), v, low, high (m/s, one sd); `reps` rows of rep, t, up (mm
        above the rep's own low or the floor), v, forward (mm from its own vertical), order.
    """
    return {"set": _set_rows(measurement, speed), "reps": _rep_rows(measurement, speed)}


def _set_rows(measurement: Measurement, speed: Curve | None) -> list[dict[str, Any]]:
    path = measurement.data.path
    if path is None:
        return []
    rows = []
    for i in range(0, len(path.t_s), max(1, len(path.t_s) // MOST_SAMPLES)):
        t = float(path.t_s[i])
        row: dict[str, Any] = {"t": round(t, 3), "up": _round(path.up_mm[i], 1), "v": None}
        if speed is not None:
            v, sd = at(speed.velocity_m_s, speed.t_s, t), at(speed.sd_m_s, speed.t_s, t)
            row |= {"v": _round(v, 3), "low": _round(v - sd, 3), "high": _round(v + sd, 3)}
        rows.append(row)
    return rows


def _rep_rows(measurement: Measurement, speed: Curve | None) -> list[dict[str, Any]]:
    data, path = measurement.data, measurement.data.path
    if path is None:
        return []
    facing = forward_seen(measurement)
    rows = []
    for rep in data.reps.reps:
        reference, span = reference_of(rep), rep.ascent_s
        if reference is None or span is None:  # its ascent is not in the clip
            continue
        zero, base = (at(c, path.t_s, reference.t_s, 0.3) for c in (path.forward_mm, path.up_mm))
        inside = np.flatnonzero((path.t_s >= span[0]) & (path.t_s <= span[1]) & np.isfinite(path.up_mm))
        if not len(inside) or not np.isfinite(base):
            continue
        for order, i in enumerate(inside[:: max(1, len(inside) // MOST_PER_REP)]):
            t = float(path.t_s[i])
            v = at(speed.velocity_m_s, speed.t_s, t) if speed is not None else float("nan")
            rows.append(
                {"rep": rep.n, "t": round(t, 3), "up": _round(path.up_mm[i] - base, 1), "v": _round(v, 3),
                 "forward": _round(path.forward_mm[i] - zero, 1) if facing else None, "order": order}
            )  # fmt: skip
    return rows


def _round(value: float, digits: int) -> float | None:
    return round(float(value), digits) if np.isfinite(value) else None


def specs(measurement: Measurement, rows: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Give the Vega-Lite specification of each chart that there are samples for, by its name.

    They name their data (`set`, `reps`, `other` for another set's reps) and hold none.
    """
    found: dict[str, dict[str, Any]] = {}
    if any(r["up"] is not None for r in rows["set"]):
        found["height"] = _over_time("up", "mm", "Height of the bar over time")
    if any(r["v"] is not None for r in rows["set"]):
        found["velocity"] = _over_time("v", "m/s upward", "Velocity of the bar over time")
    of_deadlift = measurement.data.asked.lift == "deadlift"
    across = HEIGHT_DEADLIFT if of_deadlift else HEIGHT
    reps = sorted({r["rep"] for r in rows["reps"]})
    if any(r["v"] is not None for r in rows["reps"]):
        found["velocity_over_height"] = _over_height(
            reps, x="up", y="v", titles=(across, "m/s upward"), words="Velocity of every ascent over height"
        )
    if any(r["forward"] is not None for r in rows["reps"]):
        found["forward_over_height"] = _over_height(
            reps, x="forward", y="up", titles=("mm forward of its own vertical", across),
            words="Way forward of every ascent over height",
        )  # fmt: skip
    return found


def _over_time(name: str, unit: str, words: str) -> dict[str, Any]:
    import altair as alt

    playhead = alt.param(name="at", value=0)
    base = alt.Chart(alt.NamedData("set"))
    x = alt.X("t:Q", title="s", scale=alt.Scale(nice=False, zero=False))
    y = alt.Y(f"{name}:Q", title=unit)
    layers = []
    if name == "v":
        layers.append(
            base.mark_area(opacity=0.2, color="bar").encode(x=x, y=alt.Y("low:Q", title=unit), y2="high:Q")
        )
    layers.append(base.mark_line(strokeWidth=1.6, color="bar").encode(x=x, y=y))
    rule = alt.Chart(alt.Data(values=[{}])).transform_calculate(t="at")
    layers.append(rule.mark_rule(color="evidence", strokeWidth=1.6, clip=True).encode(x=x))
    return _dressed(alt.layer(*layers).add_params(playhead), OVER_TIME_PX, words)


def _over_height(reps: list[int], *, x: str, y: str, titles: tuple[str, str], words: str) -> dict[str, Any]:
    """Draw every rep from light to dark; those not among `shown` are faint, `other` is another set or none."""
    import altair as alt

    params = [
        alt.param(name="here_x", value=None), alt.param(name="here_y", value=None), alt.param(name="rep", value=0),
        alt.param(name="shown", value=reps),
    ]  # fmt: skip
    shade = alt.Color(
        "rep:O",
        scale=alt.Scale(domain=reps, range=shades(len(reps))),
        legend=alt.Legend(title="rep", orient="top", symbolOpacity=1) if len(reps) > 1 else None,
    )
    ways = {
        "x": alt.X(f"{x}:Q", title=titles[0], scale=alt.Scale(zero=x != "up")),
        "y": alt.Y(f"{y}:Q", title=titles[1]),
        "order": alt.Order("order:Q"),
    }
    shown = alt.expr("indexof(shown, datum.rep) < 0 ? 0.12 : datum.rep == rep ? 1 : 0.75")
    own = (
        alt.Chart(alt.NamedData("reps"))
        .mark_line(strokeWidth=1.9)
        .encode(**ways, color=shade, opacity=alt.value(shown), detail="rep:O")
    )
    other = (
        alt.Chart(alt.NamedData("other"))
        .mark_line(strokeWidth=1.7, strokeDash=[6, 4], color="ink")
        .encode(**ways, detail="rep:O")
    )
    here = (
        alt.Chart(alt.Data(values=[{}]))
        .transform_filter("here_x !== null")
        .transform_calculate(**{x: "here_x", y: "here_y"})
        .mark_point(filled=True, size=70, color="evidence", stroke="paper", strokeWidth=1.5, opacity=1)
        .encode(x=ways["x"], y=ways["y"])
    )
    chart = alt.layer(own, other, here).add_params(*params)
    return _dressed(chart, OVER_HEIGHT_PX, words)


def _dressed(chart: Any, height_px: int, words: str) -> dict[str, Any]:
    spec: dict[str, Any] = chart.properties(
        width="container", height=height_px, background="transparent", description=words
    ).to_dict()
    spec["autosize"] = {"type": "fit", "contains": "padding"}
    spec["config"] = {"font": FONT, "view": {"stroke": None}}
    return spec


def colours() -> dict[str, str]:
    """Give the colours by day under the names that the specifications use, for a page that brings none."""
    return {"bar": look.css(look.BAR), "evidence": look.css(look.EVIDENCE), "ink": look.css(look.INK),
            "paper": look.css(look.PAPER)}  # fmt: skip
