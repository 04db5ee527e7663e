"""What `midfoot mechanics` says: the table and the sentences, for terminal and page."""

from __future__ import annotations

import math
from typing import Any

LIMITS = (
    "A side view sees one plane. In squats hip and thigh angles read 3-13 degrees smaller in 2-D than in "
    "3-D, and the "
    "arms at knee and ankle differ by 7-9 cm in a narrow, 12-14 cm in a medium and 16-18 cm in a wide stance "
    "(Escamilla et al. 2001, MSSE 33:984-998, n = 39). Moments are net, of both sides together, and say "
    "nothing of "
    "single muscles, of the spine or of what a joint can bear."
)
CAUTION = "Try changes light, with safeties or spotters, and stop on pain; pain is for a clinician to judge."
CANNOT = {
    "load": "The load is not known: moment arms and angles only, no moments, work or power; give --load.",
    "body_mass": "Body mass is not known: joint moments leave out the lifter's own weight; give --body-mass.",
    "stature": "Stature is not known: no segment model and no what-if geometry; give --stature.",
    "sex": "Sex is not known: the men's half of the segment table was taken; give --sex.",
}


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


def reasons(found: dict[str, Any]) -> list[str]:
    """Say why there are dashes: each reason once, with all its moments."""
    at: dict[str, set[str]] = {}
    for rep in found["reps"]:
        for moment in rep["moments"]:
            for load in moment["loads"]:
                why, _, when = load["reason"].partition(" at ")
                if why:
                    at.setdefault(why, set()).update({when.removesuffix(" s")} if when else ())
    return [
        why + (f" at {', '.join(sorted(when, key=float))} s" if when else "") for why, when in sorted(at.items())
    ]


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
    lines += [f"– {reason}" for reason in reasons(found)]
    lines += ["", *what_if_lines(found), *sentences(found)]
    return lines


WHAT_IF = "What if (this lifter's segments, geometry only; worth trying, film both):"


def sentences(found: dict[str, Any]) -> list[str]:
    """Say work, power, drift and lengths in sentences, what cannot be said, and the limits."""
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
    return [*out, *lengths_words(found), *(f"! {c}" for c in found["cannot"]), found["limits"], CAUTION]


def what_if_rows(found: dict[str, Any]) -> list[dict[str, str]]:
    """Lay out what-if: change of set-up, measure, by how much, the model's value, the measured one; or why not."""
    out = []
    for w in found["what_if"]:
        name, unit = w["measure"].replace("_", " "), {"deg": "°"}.get(w["unit"], f" {w['unit']}")
        if w["now"] is None:
            out.append(
                {"what": w["what"], "measure": name, "change": "", "model": "", "measured": "", "why": w["text"]}
            )
            continue
        sd = max(math.hypot(w["change"]["sd"], w["change"]["sd_common"]), 1.0)
        change = f"{w['change']['value']:+.0f} ± {sd:.0f}{unit}".replace("-", "−")
        measured = f"{w['measured']:.0f}{unit} in rep {found['what_if_beside_rep']}" if w["measured"] else "–"
        model = f"{w['now']:.0f}{unit}"
        out.append(
            {"what": w["what"], "measure": name, "change": change, "model": model, "measured": measured, "why": ""}
        )
    return out


def what_if_lines(found: dict[str, Any]) -> list[str]:
    """Say what-if for the terminal, a line each."""
    lines = []
    for row in what_if_rows(found):
        if row["why"]:
            lines.append(f"  {row['what']}: {row['measure']}: {row['why']}")
            continue
        beside = "" if row["measured"] == "–" else f"; measured {row['measured']}"
        lines.append(f"  {row['what']}: {row['measure']} {row['change']} (model {row['model']}{beside})")
    return [WHAT_IF, *lines, ""] if lines else []


def lengths_words(found: dict[str, Any]) -> list[str]:
    """Say of every segment's length whether stature gave it, or the picture as well."""
    of = found["segments"]["of_this_lifter"]
    told, both, against = [], [], []
    for name, row in of.items():
        if row["used"] is None:
            continue
        word, stature, seen = name.replace("_", " "), row["stature"], row["seen"]
        if seen is None:
            told.append(word)
        elif row["counted"]:
            both.append(f"{word} {_length(row['used'])} (seen {_length(seen)}, from stature {_length(stature)})")
        else:
            against.append(f"{word} (seen {_length(seen)}, from stature {_length(stature)})")
    out = []
    if both:
        out.append(f"Lengths in mm, as seen and from stature joined by their errors: {'; '.join(both)}.")
    if against:
        out.append(f"Seen but left out, as it contradicts the stature: {'; '.join(against)}.")
    if told:
        out.append(f"Lengths from stature alone: {', '.join(told)}.")
    return out


def _length(row: dict[str, float]) -> str:
    return f"{row['value']:.0f} ± {row['sd']:.0f}"
