"""The printed review: two or three pages by typst, with the page's own stills and charts.

Data is handed over as JSON and never becomes markup. Only the fonts that typst brings are used, and no clock: the
same review gives the same bytes.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any, Literal

from midfoot.publish import charts, grid, look
from midfoot.publish.report import COLOURS
from midfoot.publish.review_page import Shots, draft_words, parts_of, sections_of, title_of, urgent_of
from midfoot.publish.review_shots import STRIP_PX
from midfoot.records.measures import Curve, Measurement
from midfoot.records.review import Review

FONT = "Libertinus Serif"
PATHS_MM_PER_PX = 0.2
GRID_STYLE = (
    "<style>.grid-fine{{stroke:{grid};stroke-width:.7}}.grid-strong{{stroke:{strong};stroke-width:1}}"
    ".grid-own{{stroke:{soft};stroke-width:1.4}}.grid-name{{fill:{ink};font-family:'" + FONT + "'}}"
    ".path-up{{fill:none;stroke:{bar};stroke-width:2.4}}"
    ".path-down{{fill:none;stroke:{soft};stroke-width:1.3;stroke-dasharray:5 3}}</style>"
)


def review_pdf(measurement: Measurement, review: Review, shots: Shots, *, curves: tuple[Curve, ...] = ()) -> bytes:
    """Typeset the review as PDF; arguments as of `typeset`."""
    return typeset(measurement, review, shots, curves=curves, form="pdf")[0]


def typeset(
    measurement: Measurement,
    review: Review,
    shots: Shots,
    *,
    curves: tuple[Curve, ...] = (),
    form: Literal["pdf", "png"],
) -> list[bytes]:
    """Typeset the review: one file as PDF, or one a page as PNG.

    Parameters
    ----------
    measurement, review : the set and its review with the coach's edits in it.
    shots : stills by part, the one to look at first in front.
    curves : velocity of each way up.
    form : pdf or png.
    """
    import typst

    colours = {name: look.css(colour) for name, colour in COLOURS.items()}
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        text = (Path(__file__).parent / "templates" / "review.typ").read_text("utf-8")
        (root / "review.typ").write_text(text, "utf-8")
        data: dict[str, Any] = {
            "title": title_of(measurement),
            "draft": draft_words(review),
            "greeting": review.draft.greeting,
            "urgent": urgent_of(review),
            "sections": _with_files(sections_of(review, shots), shots, review, root),
            "colours": colours,
            **_drawings(measurement, review, curves, colours, root),
        }
        made = typst.compile(
            str(root / "review.typ"),
            root=str(root),
            format=form,
            sys_inputs={"data": json.dumps(data)},
            ignore_system_fonts=True,
            timestamp=0,
            pdf_standards="ua-1" if form == "pdf" else [],
        )
    return [bytes(m) for m in made] if isinstance(made, list) else [bytes(made)]


def _with_files(sections: list[dict[str, Any]], shots: Shots, review: Review, root: Path) -> list[dict[str, Any]]:
    """Write the stills of each change beside the document and name them in place of their data."""
    for section in sections:
        for shown, part in zip(section["parts"], parts_of(review, section["id"]), strict=True):
            files = []
            drawn = list(shots.get(part.id, ())) if section["id"] == "change" else []
            for (shot, picture), said in zip(drawn[: shown["beside"]], shown["shots"], strict=False):
                name = f"{shot.file}.jpg"
                (root / name).write_bytes(look.jpeg(picture[:-STRIP_PX], quality=88))
                files.append({"file": name, "alt": said["alt"], "moment": said["moment"]})
            shown["shots"] = files
    return sections


def _drawings(
    measurement: Measurement, review: Review, curves: tuple[Curve, ...], colours: dict[str, str], root: Path
) -> dict[str, Any]:
    found: dict[str, Any] = {"paths": "", "paths_mm": 0.0, "chart": ""}
    layout = grid.lay_out(measurement.data, review.draft.best_rep)
    if layout is not None:
        drawn = grid.svg(layout)
        width = _width_px(drawn)
        high, wide = (float(v) for v in drawn.partition('viewBox="0 0 ')[2].partition('"')[0].split()[::-1])
        size = f'xmlns="http://www.w3.org/2000/svg" height="{width * high / wide:.0f}" '
        named = drawn.replace("<svg ", f"<svg {size}", 1)
        head, _, rest = named.partition(">")
        (root / "paths.svg").write_text(f"{head}>{GRID_STYLE.format(**colours)}{rest}", "utf-8")
        found |= {"paths": "paths.svg", "paths_mm": width * PATHS_MM_PER_PX}
    chart = charts.velocity_over_time(curves, FONT)
    if chart:
        (root / "chart.svg").write_text(chart, "utf-8")
        found["chart"] = "chart.svg"
    return found


def _width_px(svg: str) -> float:
    return float(svg.partition('width="')[2].partition('"')[0])
