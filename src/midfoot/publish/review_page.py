"""The lifter's page of a review: one file for a phone, read from top to bottom; the figures are on tap."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import cv2

from midfoot.publish import charts, grid, look
from midfoot.publish.moments import written
from midfoot.publish.page_template import page_template
from midfoot.publish.report import COLOURS, LIFT_WORDS
from midfoot.publish.review_shots import STRIP_PX, Shot
from midfoot.publish.tables import UNIT_WORDS
from midfoot.records.findings import Size
from midfoot.records.measures import Curve, Measurement
from midfoot.records.review import SECTIONS, Part, Review
from midfoot.units import load_words

HEADINGS = {
    "since": "Since the last review", "asked": "You asked", "good": "What is good",
    "change": "What to change and why",
    "seen": "Seen besides", "next": "Next session",
    "film": "What to film next", "caution": "Before you load the bar",
}  # fmt: skip
HEADINGS_HURT = {**HEADINGS, "change": "What the clip shows", "next": "Until then", "caution": "Always"}
"""With pain nothing is to be changed: it is said what was seen."""
URGENT = ("hurts", "minor", "guard")
"""Cautions that stand before everything else."""
INLINE_HEIGHT_PX = 560
Shots = Mapping[str, Sequence[tuple[Shot, look.Picture]]]
"""Stills already drawn, by the part's id, the one to look at first in front."""


def review_html(
    measurement: Measurement,
    review: Review,
    shots: Shots,
    *,
    curves: tuple[Curve, ...] = (),
    video: str | None = None,
    subtitles: str = "",
) -> str:
    """Write the page.

    Parameters
    ----------
    measurement, review : the set and its review with the coach's edits in it.
    shots : stills by part.
    curves : velocity of each way up.
    video : file name of the review's video beside the page, None when there is none.
    subtitles : WebVTT of that video.

    Returns
    -------
    str
        A whole HTML page with everything in it but the video.
    """
    layout = grid.lay_out(measurement.data, review.draft.best_rep)
    sections = sections_of(review, shots)
    track = f"data:text/vtt;base64,{base64.b64encode(subtitles.encode()).decode('ascii')}" if subtitles else ""
    return page_template("review.html.j2").render(
        title=title_of(measurement),
        draft=draft_words(review),
        greeting=review.draft.greeting,
        urgent=urgent_of(review),
        sections=sections,
        video=video,
        poster=next((p["shots"][0]["source"] for s in sections for p in s["parts"] if p["shots"]), ""),
        track=track,
        grid_svg=grid.svg(layout) if layout is not None else "",
        chart=charts.velocity_over_time(curves),
        colours={name: look.css(colour) for name, colour in COLOURS.items()},
        style=(Path(__file__).parent / "templates" / "review.css").read_text("utf-8"),
    )


def title_of(measurement: Measurement) -> str:
    """Give the heading: lift, reps, load."""
    data = measurement.data
    count = len(data.reps.reps)
    parts = [LIFT_WORDS[data.asked.lift], f"{count} rep{'s' if count != 1 else ''}"]
    if data.asked.load_kg:
        parts.append(load_words(data.asked.load_kg, measurement.context.load_unit or "kg"))
    return ", ".join(parts)


def draft_words(review: Review) -> str:
    """Say that it is a draft as long as a part was not looked at or a question is open; "" when all were."""
    open_, asks = len(review.unseen), len(review.asks)
    if not open_ and not asks:
        return ""
    words = f"Draft: {open_} of {len(review.parts)} parts not looked at yet" if open_ else "Draft"
    return f"{words}{f'; {asks} questions after measuring again' if asks else ''}."


def urgent_of(review: Review) -> list[str]:
    """Give the cautions that stand first: what hurts, a minor, nothing that would catch the bar."""
    return [p.text for p in review.of("caution") if p.about in URGENT]


def sections_of(review: Review, shots: Shots) -> list[dict[str, Any]]:
    """Give the sections that have something to say: id, heading, parts."""
    found = []
    for section in SECTIONS:
        parts = [_part(p, shots.get(p.id, ())) for p in parts_of(review, section)]
        if parts:
            found.append({"id": section, "heading": headings_of(review)[section], "parts": parts})
    return found


def headings_of(review: Review) -> dict[str, str]:
    """Give the headings of the sections, by whether something hurts."""
    return HEADINGS_HURT if any(p.about == "hurts" for p in review.of("caution")) else HEADINGS


def parts_of(review: Review, section: str) -> list[Part]:
    """Give the parts of a section as they stand in it: what is urgent stands before all of them."""
    return [p for p in review.of(section) if not (section == "caution" and p.about in URGENT)]


def _part(part: Part, shots: Sequence[tuple[Shot, look.Picture]]) -> dict[str, Any]:
    figure = part.figure
    return {
        "id": part.id,
        "text": part.text,
        "why": part.why,
        "caption": part.caption,
        "try_text": part.try_text,
        "open": part.needs_words,
        "figure": None
        if figure is None
        else {
            "words": figure.words,
            "value": figure_words(figure.size),
            "rep": figure.rep,
            "resolution": f"differences from {with_unit(f'{figure.size.resolution:.2g}', figure.size.unit)} on",
        },
        "beside": 2 if len(shots) > 1 and shots[1][0].rep not in part.reps else 1,
        "shots": [_inline(shot, picture) for shot, picture in shots],
    }


def figure_words(size: Size) -> str:
    """Write a size for whoever taps it: value, unit, sd."""
    value, sd = written(size.value, size.sd)
    text = with_unit(value, size.unit)
    return f"{text}, sd {sd}" if sd else text


def with_unit(text: str, unit: str) -> str:
    """Write a number with its unit as people do."""
    words = UNIT_WORDS.get(unit, unit)
    return f"{text}{words}" if words == "°" else f"{text} {words}".strip()


def _inline(shot: Shot, picture: look.Picture) -> dict[str, Any]:
    frame = picture[:-STRIP_PX]  # the words under it are text on a page
    zoom = min(1.0, INLINE_HEIGHT_PX / frame.shape[0])
    small = cv2.resize(frame, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    code = base64.b64encode(look.jpeg(small, quality=82)).decode("ascii")
    return {
        "source": f"data:image/jpeg;base64,{code}",
        "width": small.shape[1],
        "height": small.shape[0],
        "alt": f"{shot.moment}: {shot.words}",
        "moment": shot.moment,
    }
