"""What `midfoot mechanics` works out, prints and draws."""

from __future__ import annotations

import html
import json
import math
from pathlib import Path
from typing import Any

from attrs import asdict

from midfoot.mechanics import mechanics_of, sources_of_lengths, the_lifter, what_if
from midfoot.positions import places_of
from midfoot.publish.look import css
from midfoot.publish.report import COLOURS, LIFT_WORDS
from midfoot.records.base import NotMeasured
from midfoot.records.context import Context
from midfoot.records.mechanics import Lifter
from midfoot.store import StoreError, context_from_json, read_folder
from midfoot.units import UnitError, length_mm, load_kg

SCHEMA_ID = "midfoot/mechanics/1"
LIGHTEST_KG, HEAVIEST_KG = 20.0, 350.0
LIMITS = (
    "A side view sees one plane. In squats hip and thigh angles read 3-13 degrees smaller in 2-D than in "
    "3-D, and the "
    "arms at knee and ankle differ by 7-9 cm in a narrow, 12-14 cm in a medium and 16-18 cm in a wide stance "
    "(Escamilla et al. 2001, MSSE 33:984-998, n = 39). Moments are net, of both sides together, and say "
    "nothing of "
    "single muscles, of the spine or of what a joint can bear."
)
CAUTION = "Try changes light, with safeties or spotters, and stop on pain; pain is for a clinician to judge."
MOMENTS = {
    "squat": (("start", "start_s"), ("low", "low_end_s"), ("end", "end_s")),
    "bench": (("start", "start_s"), ("touch", "low_end_s"), ("end", "end_s")),
    "deadlift": (("lift-off", "start_s"), ("top", "top_start_s")),
}


def work_out(
    folder: Path, body_mass: str | None, stature: str | None, sex: str | None, load: str | None, table: str
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Give mechanics.json's document and the measurement's.

    Raises
    ------
    StoreError, UnitError
        When the folder is not a measured one, or a value cannot be read.
    """
    mass = _body_mass(body_mass) if body_mass else None
    told_m = length_mm(stature, low_mm=1000, high_mm=2400, what="a stature") / 1000 if stature else None
    told_kg = load_kg(load) if load else None
    document, arrays = read_folder(folder)
    asked = document["asked"]
    context = _context(folder)
    kg, tall = told_kg or asked["load_kg"], told_m or asked.get("stature_m")
    if context is not None:
        mass, tall = mass or context.body_mass_kg, tall or context.stature_m
        sex = sex or {"female": "f", "male": "m"}.get(context.sex or "")
    cannot = []
    if kg is None:
        cannot.append(
            "The load is not known: moment arms and angles only, no moments, work or power; give --load."
        )
    if mass is None:
        cannot.append("Body mass is not known: joint moments leave out the lifter's own weight; give --body-mass.")
    if tall is None:
        cannot.append("Stature is not known: no segment model and no what-if geometry; give --stature.")
    if sex is None and tall is not None:
        cannot.append("Sex is not known: the men's half of the segment table was taken; give --sex.")
    places = places_of(document, arrays)
    if isinstance(places, NotMeasured):
        raise StoreError(f"{folder}: {places.reason}; {places.remedy}.")
    if not document["reps"]:
        raise StoreError(f"{folder}: no rep was found in this set; give them with midfoot measure --reps.")
    lifter = _lifter(sex, tall, mass, table)
    lift = asked["lift"]
    reps, drift = mechanics_of(lift, places, _reps(document), lifter, kg)
    model = lifter or _lifter(sex, tall, 75.0, table)  # geometry needs no mass
    best = document["set"]["best_rep"] or document["reps"][0]["n"]
    rep = next(r for r in document["reps"] if r["n"] == best)
    measured = {k: m["value"] for k, m in rep["measures"].items()}
    changes = what_if(lift, model, measured) if model is not None else ()
    source, lengths = sources_of_lengths(table)
    found = {
        "schema": SCHEMA_ID, "lift": lift, "load_kg": kg, "body_mass_kg": mass, "stature_m": tall, "sex": sex,
        "segments": {"table": table, "source": source, "lengths": lengths},
        "reps": [asdict(r) for r in reps], "drift_10_mm": asdict(drift) if drift else None,
        "what_if": [asdict(w) for w in changes], "what_if_beside_rep": best, "cannot": cannot, "limits": LIMITS,
    }  # fmt: skip
    clean: dict[str, Any] = _finite(found)
    return clean, document


def _context(folder: Path) -> Context | None:
    file = folder / "context.json"
    try:
        return context_from_json(json.loads(file.read_text("utf-8"))) if file.is_file() else None
    except (OSError, ValueError, AttributeError):
        raise StoreError(f"{file} cannot be read; measure the clip again with --context.") from None


def _body_mass(words: str) -> float:
    try:
        kg = load_kg(words)
    except UnitError:
        kg = math.nan
    if not LIGHTEST_KG <= kg <= HEAVIEST_KG:
        raise UnitError(
            f"--body-mass must be from {LIGHTEST_KG:g} to {HEAVIEST_KG:g} kg, such as 83kg; got {words!r}."
        )
    return kg


def _lifter(sex: str | None, tall: float | None, mass: float | None, table: str) -> Lifter | None:
    if tall is None or mass is None:
        return None
    return the_lifter("female" if sex == "f" else "male", tall, mass, table=table)


def _reps(document: dict[str, Any]) -> list[tuple[int, dict[str, float], tuple[float, float] | None]]:
    lift = document["asked"]["lift"]
    first, last = ("start_s", "top_start_s") if lift == "deadlift" else ("low_end_s", "end_s")
    found = []
    for rep in document["reps"]:
        named = {name: rep[key] for name, key in MOMENTS[lift] if rep.get(key) is not None}
        span = (rep.get(first), rep.get(last))
        found.append((rep["n"], named, None if None in span else span))
    return found


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _finite(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(v) for v in value]
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value


def said(value: dict[str, float] | None, digits: int = 0) -> str:
    """Write a value with its whole sd, or a dash."""
    if value is None:
        return "–"
    return f"{value['value']:.{digits}f} ± {math.hypot(value['sd'], value['sd_common']):.{digits}f}"


def rows(found: dict[str, Any]) -> list[tuple[str, ...]]:
    """Give the table: rep and moment, joint, arm, the bar's moment, whole moment, with accelerations, why not."""
    out: list[tuple[str, ...]] = []
    for rep in found["reps"]:
        for moment in rep["moments"]:
            for load in moment["loads"]:
                cells = (
                    said(load["arm_mm"]),
                    said(load["bar_nm"]),
                    said(load["moment_nm"]),
                    said(load["dynamic_nm"]),
                )
                out.append((f"rep {rep['n']}, {moment['name']}", load["joint"], *cells, load["reason"]))
    return out


HEAD = ("", "joint", "arm, mm", "bar, N·m", "whole, N·m", "moving, N·m")


def table_lines(found: dict[str, Any]) -> list[str]:
    """Lay the result out for the terminal, 100 characters wide at most but for sentences."""
    table = [HEAD, *(r[:6] for r in rows(found))]
    widths = [max(len(r[k]) for r in table) for k in range(6)]
    lines = [
        f"{found['lift']}, {len(found['reps'])} reps; ± is one standard deviation, the clip's included",
        "",
    ]
    lines += [
        "  ".join(c.ljust(w) if k < 2 else c.rjust(w) for k, (c, w) in enumerate(zip(r, widths))) for r in table
    ]
    lines.append("")
    for reason in sorted({r[6] for r in rows(found) if r[6]}):
        lines.append(f"– {reason}")
    lines += ["", *sentences(found)]
    return lines


def sentences(found: dict[str, Any]) -> list[str]:
    """Say work, power, drift and what-if in sentences."""
    out = []
    for rep in found["reps"]:
        if rep["bar_work_j"]:
            out.append(
                f"rep {rep['n']}: work on the bar {said(rep['bar_work_j'])} J, mean power "
                f"{said(rep['mean_power_w'])} W,"
                f" peak {said(rep['peak_power_w'])} W, peak force {said(rep['peak_force_n'])} N"
            )
    drift = found["drift_10_mm"]
    if drift:
        more = f", as much as {said(drift['kg'], 1)} kg more on the bar" if drift["kg"] else ""
        out.append(f"10 mm of forward drift costs {drift['moment_nm']:.1f} N·m at the hip{more}.")
    if found["what_if"]:
        out.append("What if (this lifter's segments, geometry only; worth trying, film both):")
    for w in found["what_if"]:
        if w["now"] is None:
            out.append(f"  {w['what']}: {w['text']}")
            continue
        beside = f"; measured in rep {found['what_if_beside_rep']} {w['measured']:.0f}" if w["measured"] else ""
        name, by = w["measure"].replace("_", " "), w["change"]["value"]
        sd = math.hypot(w["change"]["sd"], w["change"]["sd_common"])
        out.append(
            f"  {w['what']}: {name} {by:+.0f} ± {max(sd, 1):.0f} {w['unit']} (model {w['now']:.0f}{beside})"
        )
    return [*out, *(f"! {c}" for c in found["cannot"]), found["limits"], CAUTION]


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


STYLE = """
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 system-ui,sans-serif}main{max-width:1180px;
margin:0 auto;padding:24px 16px}h1{margin:0 0 8px}.scroll{overflow-x:auto}table{border-collapse:collapse;
font-variant-numeric:tabular-nums}th,td{padding:4px 14px 4px 0;text-align:right;white-space:nowrap;
border-bottom:1px solid var(--grid)}th:nth-child(-n+2),td:nth-child(-n+2){text-align:left}
.figures{display:grid;grid-template-columns:repeat(auto-fill,minmax(260px,1fr));gap:16px}figure{margin:0;
background:var(--card);border:1px solid var(--grid);border-radius:6px;padding:8px}svg{display:block;width:100%;
height:320px}figcaption,.soft{color:var(--soft)}.bone{stroke:var(--ink);stroke-width:9;stroke-linecap:round}
.plumb{stroke:var(--bar);stroke-width:4;stroke-dasharray:18 14}.arm{stroke:var(--evidence);stroke-width:11}
.bar{fill:var(--bar)}svg text{font:600 44px system-ui,sans-serif;fill:var(--ink)}li{margin:4px 0}
"""


def page(found: dict[str, Any], document: dict[str, Any], folder: Path) -> str:
    """Write the page: drawings with moment arms, the table, the sentences. One file, nothing beside it."""
    colours = ";".join(f"--{k}:{css(v)}" for k, v in COLOURS.items())
    key = "lift-off" if found["lift"] == "deadlift" else "touch" if found["lift"] == "bench" else "low"
    figures = "".join(
        drawing(found["lift"], m, f"rep {r['n']}, {m['name']}, {m['at_s']:.2f} s")
        for r in found["reps"] for m in r["moments"] if m["name"] == key
    )  # fmt: skip
    head = "".join(f"<th scope=col>{html.escape(h)}</th>" for h in HEAD)
    body = "".join("<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in r[:6]) + "</tr>" for r in rows(found))
    why = "".join(f"<li>{html.escape(w)}</li>" for w in sorted({r[6] for r in rows(found) if r[6]}))
    words = "".join(f"<li>{html.escape(s.strip())}</li>" for s in sentences(found))
    title = f"{LIFT_WORDS[found['lift']]}: moments and moment arms"
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" '
        f'content="width=device-width,initial-scale=1"><title>{title}</title><style>:root{{{colours}}}{STYLE}</style>'
        f'</head><body><main><h1>{title}</h1><p class="soft">Forward is to the right. Ochre: how far the '
        f"bar is from "
        f'the joint, level; blue: the bar and its vertical.</p><div class="figures">{figures}</div><h2>Per '
        f"rep</h2>"
        f'<div class="scroll" tabindex="0" role="region" aria-label="Moments per '
        f'rep"><table><thead><tr>{head}</tr>'
        f"</thead><tbody>{body}</tbody></table></div><ul>{why}</ul><h2>In "
        f"words</h2><ul>{words}</ul></main></body></html>"
    )
