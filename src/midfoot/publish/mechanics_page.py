"""The page of `midfoot mechanics`: frames with moment arms, the table with both kinds of error, the sentences."""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import cv2

from midfoot.publish import look
from midfoot.publish.page_template import page_template
from midfoot.publish.report import COLOURS, LIFT_WORDS

INLINE_HEIGHT_PX = 560
COLUMNS = {"arm_mm": "arm, mm", "bar_nm": "bar, N·m", "moment_nm": "whole, N·m", "dynamic_nm": "moving, N·m"}
KEY = {"squat": "low", "bench": "touch", "deadlift": "lift-off"}
BONES = (("ankle", "knee"), ("knee", "hip"), ("hip", "shoulder"), ("shoulder", "elbow"), ("elbow", "wrist"))


def drawing(lift: str, moment: dict[str, Any], title: str) -> str:
    """Draw bones, the bar's vertical and the moment arms of one moment as SVG, in millimetres, forward right."""
    spots = {k: (1000 * x, -1000 * y) for k, (x, y) in moment["places_m"].items()}
    xs, ys = [p[0] for p in spots.values()], [p[1] for p in spots.values()]
    x0, y0, wide, high = min(xs) - 480, min(ys) - 140, max(xs) - min(xs) + 560, max(ys) - min(ys) + 260
    bx, by = spots["bar"]
    parts = [f'<line class="plumb" x1="{bx:.0f}" y1="{y0:.0f}" x2="{bx:.0f}" y2="{y0 + high:.0f}"/>']
    bones = BONES if lift == "bench" else (*BONES[:3], ("hip", "bar"), ("heel", "foot_index"))
    for a, b in bones:
        if a in spots and b in spots and not (b == "bar" and "shoulder" in spots):
            (ax, ay), (cx, cy) = spots[a], spots[b]
            parts.append(f'<line class="bone" x1="{ax:.0f}" y1="{ay:.0f}" x2="{cx:.0f}" y2="{cy:.0f}"/>')
    for load in moment["loads"]:
        if load["arm_mm"]:
            x, y = spots[load["joint"]]
            parts.append(f'<line class="arm" x1="{x:.0f}" y1="{y:.0f}" x2="{bx:.0f}" y2="{y:.0f}"/>')
            side = f'x="{min(x, bx) - 20:.0f}" text-anchor="end"'
            parts.append(
                f'<text {side} y="{y + 12:.0f}">{load["joint"]} {abs(load["arm_mm"]["value"]):.0f} mm</text>'
            )
    parts.append(f'<circle class="bar" cx="{bx:.0f}" cy="{by:.0f}" r="26"/>')
    return (
        f'<figure><svg viewBox="{x0:.0f} {y0:.0f} {wide:.0f} {high:.0f}" role="img" '
        f'aria-label="{html.escape(title)}, '
        f'moment arms">{"".join(parts)}</svg><figcaption>{html.escape(title)}</figcaption></figure>'
    )


def mechanics_html(
    found: dict[str, Any],
    sentences: Sequence[str],
    reasons: Sequence[str],
    what_if: Sequence[Mapping[str, str]],
    stills: Sequence[tuple[str, look.Picture]],
    *,
    no_stills: str = "",
) -> str:
    """Write the page: one file, nothing beside it.

    Parameters
    ----------
    found : mechanics.json's document.
    sentences, reasons : work, power, drift, lengths and limits in words; why there are dashes.
    what_if : rows of what, measure, change, model, measured, or why there is nothing.
    stills : what each shows, and the frame with its moment arms.
    no_stills : why there are none and what would help; a drawing of the figure then stands in their place.
    """
    lift = found["lift"]
    moments = [(rep["n"], moment) for rep in found["reps"] for moment in rep["moments"]]
    titles = [f"rep {n}, {m['name']}" for n, m in moments]
    drawings = [
        drawing(lift, m, f"{title}, {m['at_s']:.2f} s")
        for title, (_, m) in zip(titles, moments, strict=True)
        if not stills and m["name"] == KEY[lift]
    ]
    rows = [
        {"what": title, "joint": load["joint"], "cells": [_cell(load[key]) for key in COLUMNS]}
        for title, (_, m) in zip(titles, moments, strict=True)
        for load in m["loads"]
    ]
    return page_template("mechanics.html.j2").render(
        title=f"{LIFT_WORDS[lift]}: moments and moment arms",
        stills=[_inline(words, picture) for words, picture in stills],
        drawings=drawings,
        no_stills=no_stills,
        heads=list(COLUMNS.values()),
        rows=rows,
        reasons=list(reasons),
        what_if=list(what_if),
        sentences=[s.strip() for s in sentences],
        colours={name: look.css(colour) for name, colour in COLOURS.items()},
        style=(Path(__file__).parent / "templates" / "report.css").read_text("utf-8"),
    )


def _cell(value: dict[str, float] | None) -> dict[str, str] | None:
    if value is None:
        return None
    return {name: f"{value[name]:.0f}" for name in ("value", "sd", "sd_common")}


def _inline(words: str, picture: look.Picture) -> dict[str, Any]:
    zoom = INLINE_HEIGHT_PX / picture.shape[0]
    small = cv2.resize(picture, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    code = base64.b64encode(look.jpeg(small, quality=82)).decode("ascii")
    source = f"data:image/jpeg;base64,{code}"
    return {"words": words, "source": source, "width": small.shape[1], "height": small.shape[0]}
