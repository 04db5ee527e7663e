"""Charts of the archive: agreement over time with its interval; sizes that were kept beside those dropped.

Plain Vega-Lite, written out: a page draws them at every look, and a builder takes longer than the questions to the
database. No colours: the page puts its own in (`chart.js`). Kept and dropped differ by row and form.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from midfoot.desk.archive_time import Period
from midfoot.desk.suggesting import Suggestion
from midfoot.web.lifter_chart import UNIT_WORDS

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
TIME_PX, SIZES_PX = 220, 130
MOST_POINTS = 400
"""More cases than these are thinned out evenly by size: the picture does not change, the page stays light."""
SCATTER = (7919, 100)
"""Points of a row are set apart by their number times a prime, so that the picture is the same at every look."""


def time_chart(periods: Sequence[Period]) -> dict[str, Any] | None:
    """Give the agreement by period with its 95 % interval; None without two periods."""
    if len(periods) < 2:
        return None
    rows = [
        {"name": p.name, "share": round(100 * (p.agreed.value or 0.0), 1), "low": round(100 * p.agreed.low, 1),
         "high": round(100 * p.agreed.high, 1), "n": f"{p.agreed.count} of {p.agreed.of}"}
        for p in periods
    ]  # fmt: skip
    x = {"field": "name", "type": "nominal", "title": None, "sort": [p.name for p in periods],
         "axis": {"labelAngle": 0, "labelOverlap": True}}  # fmt: skip
    title, scale = ["kept or reworded,", "% of what you judged"], {"domain": [0, 100]}

    def y(field: str) -> dict[str, Any]:
        return {"field": field, "type": "quantitative", "title": title, "scale": scale}

    return {
        "$schema": SCHEMA, "data": {"values": rows}, "height": TIME_PX, "layer": [
            {"mark": {"type": "rule", "strokeWidth": 1.5},
             "encoding": {"x": x, "y": y("low"), "y2": {"field": "high"}}},
            {"mark": {"type": "point", "filled": True, "size": 80, "opacity": 1},
             "encoding": {"x": x, "y": y("share")}},
            {"mark": {"type": "text", "align": "left", "dx": 8, "fontSize": 12},
             "encoding": {"x": x, "y": y("share"), "text": {"field": "n"}}},
        ],
    }  # fmt: skip


def sizes_chart(found: Suggestion) -> dict[str, Any] | None:
    """Give each case by its size, kept above dropped, with where a draft says it now and where it would."""
    if not found.evidence:
        return None
    step = max(1, -(-len(found.evidence) // MOST_POINTS))
    prime, places = SCATTER
    rows = [
        {"size": round(e.size, 4), "row": "kept" if e.kept else "dropped", "set_id": e.set_id, "at": e.at_s or 0.0,
         "place": k * prime % places / places}
        for k, e in enumerate(found.evidence[::step])
    ]  # fmt: skip
    words = UNIT_WORDS.get(found.unit, found.unit)
    x = {"field": "size", "type": "quantitative", "title": f"size, {words}" if words else "size",
         "scale": {"zero": True, "nice": True}}  # fmt: skip
    where = {
        "x": x,
        "y": {"field": "row", "type": "nominal", "title": None, "scale": {"domain": ["kept", "dropped"]}},
        "yOffset": {"field": "place", "type": "quantitative", "scale": {"domain": [-0.6, 1.6]}},
    }
    kept = {"type": "point", "filled": True, "size": 55, "opacity": 0.75, "cursor": "pointer"}
    dropped = {**kept, "filled": False, "strokeWidth": 1.5, "opacity": 0.9}
    picked = {"name": "picked", "select": {"type": "point", "fields": ["set_id", "at"], "on": "click",
                                           "toggle": False}}  # fmt: skip
    lines = _line(found.said_from, "said from here now", [5, 4], SIZES_PX - 6, x)
    if found.would_say_from is not None:
        lines += _line(found.would_say_from, "suggested", [1, 0], 6, x)
    return {
        "$schema": SCHEMA, "data": {"values": rows}, "height": SIZES_PX, "layer": [
            {"mark": kept, "params": [picked], "transform": [{"filter": "datum.row == 'kept'"}],
             "encoding": where},
            {"mark": dropped, "transform": [{"filter": "datum.row == 'dropped'"}], "encoding": where},
            *lines,
        ],
    }  # fmt: skip


def _line(size: float, words: str, dash: list[int], at_px: int, x: dict[str, Any]) -> list[dict[str, Any]]:
    """Draw an upright line with its name beside it, so high up or down that two of them can be read."""
    data = {"values": [{"size": round(size, 4), "words": words}]}
    return [
        {"data": data, "mark": {"type": "rule", "strokeWidth": 1.6, "strokeDash": dash}, "encoding": {"x": x}},
        {"data": data, "mark": {"type": "text", "align": "left", "dx": 5, "fontSize": 12},
         "encoding": {"x": x, "y": {"value": at_px}, "text": {"field": "words"}}},
    ]  # fmt: skip
