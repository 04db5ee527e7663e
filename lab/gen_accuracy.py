"""Charts and the list of versions of docs/accuracy.md: `python -m lab.gen_accuracy [LINES ...]`.

With folders of lines (`lab.bench_clips --out`) it first takes their figures into docs/accuracy/clips.json; without
it draws what is there again. A section's figures belong to the versions of the steps that they were read with: who
raises one must read the section again, or the page says that it is older (`tests/lab/test_gen_accuracy.py`).
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from lab.bench_clips import lines_of
from lab.clip_jobs import USUAL
from lab.pages_out import DOCS
from midfoot import bar, body, findings, footage, measures, reps, rules

INTO = DOCS / "accuracy"
CLIPS, SWEPT, READ = INTO / "clips.json", INTO / "sweeps.json", INTO / "read_with.json"
PAGE = DOCS / "accuracy.md"
BEGIN, END = "<!-- versions: written by lab/gen_accuracy.py -->", "<!-- end of versions -->"
KEPT = ("name", "lift", "yaw_deg", "told", "fps", "followed", "forward_rms_mm", "up_rms_mm", "worst_moment_s",
        "rock_deg", "plate_px")  # fmt: skip
TOLD, UNTOLD = "plate told", "plate not told"
SWEPT_WORDS = {
    "yaw_deg": "camera's turn, degrees", "fps": "frames/s", "long_side_px": "long side, px",
    "noise": "sensor noise, of 255", "shake_deg": "shake, degrees", "exposure_ms": "exposure, ms",
    "plate_wrong_pct": "plate told wrong, %",
}  # fmt: skip
HIGHEST_MM = 20.0
"""Where a sweep's charts end; points beyond lie on the edge."""


def versions() -> dict[str, str]:
    """Give the present version of every step that figures depend on."""
    steps = {"footage": footage, "bar": bar, "body": body, "reps": reps, "measures": measures, "rules": rules,
             "findings": findings}  # fmt: skip
    return {name: step.VERSION for name, step in steps.items()}


def versions_text(read: dict[str, dict[str, str]], now: dict[str, str]) -> str:
    """Write which versions every section was read with, and which sections are older than the code."""
    lines = [BEGIN, "| section | read with | older than the code in |", "| --- | --- | --- |"]
    for section, had in read.items():
        older = [f"{name} (now {now[name]})" for name in had if had[name] != now[name]]
        words = ", ".join(f"{name} {version}" for name, version in had.items())
        lines.append(f"| {section} | {words} | {', '.join(older) or 'nothing'} |")
    lines += ["", "Versions of the code now: " + ", ".join(f"{k} {v}" for k, v in now.items()) + ".", END]
    return "\n".join(lines)


def with_versions(page: str, text: str) -> str:
    """Put the list of versions into the page, where the last one stands."""
    before, _, rest = page.partition(BEGIN)
    if not rest:
        raise ValueError(f"docs/accuracy.md: expected the line {BEGIN!r}, found none")
    return before + text + rest.partition(END)[2]


def taken(folders: list[Path]) -> list[dict[str, Any]]:
    """Take what the charts need out of lines; of a clip that is there twice the later folder's."""
    rows: dict[str, dict[str, Any]] = {}
    for folder in folders:
        for row in lines_of(folder):
            if "failed" not in row and not row.get("changed"):
                kept = {k: row.get(k) for k in KEPT}
                for key in ("scale_pct", "yaw_deg"):
                    kept[f"{key}_error"], kept[f"{key}_sd"] = row["errors"].get(key), row["sds"].get(key)
                rows[row["name"]] = {k: round(v, 3) if isinstance(v, float) else v for k, v in kept.items()}
    return [rows[name] for name in sorted(rows)]


def swept(folders: list[Path]) -> list[dict[str, Any]]:
    """Take what the sweeps' charts need; the usual clip stands at its value in every sweep of its seed."""
    rows = {row["name"]: row for folder in folders for row in lines_of(folder) if row.get("changed")}
    out = []
    for row in rows.values():
        what, value = row["changed"]
        found = row.get("followed") == "right"
        base = {"seed": row["seed"], "lift": row.get("lift"), "found": found,
                **{w: round(row[f"{w}_rms_mm"], 3) if found else None for w in ("forward", "up")}}  # fmt: skip
        places = USUAL.items() if what == "usual" else [(what, value)]
        out += [{"what": w, "value": v, **base} for w, v in places if "failed" not in row]
    return sorted(out, key=lambda r: (r["what"], r["seed"], r["value"]))


def sweep_chart(rows: list[dict[str, Any]]) -> str:
    """Draw how the path's errors go with each thing that was changed; a cross where a tap was asked for."""
    import altair as alt

    from midfoot.publish.charts import svg_of

    scale = alt.Scale(domain=["forward", "up"], range=["#1f4e79", "#d98032"])
    colour = alt.Color(
        "way:N", scale=scale, legend=alt.Legend(title="rms about each rep's start, mm", orient="top")
    )
    parts = []
    for what, words in SWEPT_WORDS.items():
        here = [r for r in rows if r["what"] == what]
        if not here:
            continue
        shown = [
            {"value": r["value"], "seed": r["seed"], "way": way, "mm": min(r[way], HIGHEST_MM)}
            for r in here for way in ("forward", "up") if r[way] is not None
        ]  # fmt: skip
        taps = [{"value": r["value"], "mm": HIGHEST_MM} for r in here if not r["found"]]
        across = alt.X("value:Q", title=words, scale=alt.Scale(zero=what != "long_side_px", nice=True),
                       axis=alt.Axis(values=sorted({r["value"] for r in here}), labelOverlap=True))  # fmt: skip
        height = alt.Y("mm:Q", title=None, scale=alt.Scale(domain=[0, HIGHEST_MM]))
        lines = alt.Chart(alt.Data(values=shown)).mark_line(point=alt.OverlayMarkDef(size=40), opacity=0.85)
        layers = [lines.encode(x=across, y=height, color=colour, detail="seed:N")]
        if taps:
            crosses = alt.Chart(alt.Data(values=taps)).mark_point(
                shape="cross", angle=45, size=70, color="#6b6b6b"
            )
            layers.append(crosses.encode(x=across, y=height))
        parts.append(alt.layer(*layers).properties(width=165, height=120))
    return svg_of(alt.concat(*parts, columns=4))


def charts(rows: list[dict[str, Any]]) -> dict[str, str]:
    """Draw the charts, as SVG by file name."""
    import altair as alt

    from midfoot.publish.charts import svg_of

    right = [{**r, "plate": TOLD if r["told"] else UNTOLD} for r in rows if r["followed"] == "right"]
    colour = alt.Color("plate:N", scale=alt.Scale(domain=[TOLD, UNTOLD], range=["#1f4e79", "#d98032"]),
                       legend=alt.Legend(title=None, orient="top"))  # fmt: skip
    shape = alt.Shape("plate:N", scale=alt.Scale(domain=[TOLD, UNTOLD], range=["circle", "triangle"]), legend=None)
    across = alt.X("yaw_deg:Q", title="camera's turn off the side, degrees (+ toward the lifter's front)",
                   scale=alt.Scale(domain=[-90, 90]), axis=alt.Axis(values=list(range(-90, 91, 30))))  # fmt: skip
    out = {}
    for name, field, title, top in (
        ("forward", "forward_rms_mm", "forward error about each rep's start, rms mm", 30.0),
        ("up", "up_rms_mm", "error of the height about each rep's start, rms mm", 40.0),
    ):
        shown = [{**r, field: min(r[field], top)} for r in right if r.get(field) is not None]
        y = alt.Y(f"{field}:Q", title=title, scale=alt.Scale(domain=[0, top]))
        dots = alt.Chart(alt.Data(values=shown)).mark_point(size=46, filled=True, opacity=0.75)
        chart = dots.encode(x=across, y=y, color=colour, shape=shape)
        out[f"{name}.svg"] = svg_of(chart.properties(width=560, height=220))
    scale = [
        {
            **r,
            "low": r["scale_pct_error"] - 2 * r["scale_pct_sd"],
            "high": r["scale_pct_error"] + 2 * r["scale_pct_sd"],
        }
        for r in right
        if r.get("scale_pct_sd")
    ]
    base = alt.Chart(alt.Data(values=scale))
    y = alt.Y("scale_pct_error:Q", title="error of the scale, %, and two stated sds")
    layers = alt.layer(
        base.mark_rule(opacity=0.5).encode(x=across, y=alt.Y("low:Q"), y2="high:Q", color=colour),
        base.mark_point(size=46, filled=True).encode(x=across, y=y, color=colour, shape=shape),
    )
    out["scale.svg"] = svg_of(layers.properties(width=560, height=260))
    return out


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("lines", nargs="*", type=Path, help="folders of lines, the newest last")
    args = parser.parse_args()
    INTO.mkdir(parents=True, exist_ok=True)
    if args.lines:
        rows = taken(args.lines)
        for file, kept in ((CLIPS, rows), (SWEPT, swept(args.lines))):
            if kept:
                file.write_text("[\n" + ",\n".join(json.dumps(r) for r in kept) + "\n]\n", "utf-8")
    drawn = charts(json.loads(CLIPS.read_text("utf-8")))
    drawn["sweeps.svg"] = sweep_chart(json.loads(SWEPT.read_text("utf-8")))
    for name, svg in drawn.items():
        (INTO / name).write_text(svg, "utf-8")
    text = versions_text(json.loads(READ.read_text("utf-8")), versions())
    PAGE.write_text(with_versions(PAGE.read_text("utf-8"), text), "utf-8")


if __name__ == "__main__":
    main()
