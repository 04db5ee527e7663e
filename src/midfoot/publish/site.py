"""The static pages that leave: the lifter's own, the public one, and the note where one was taken back.

Everything lies in the page's own folder beside it; nothing is asked of anybody else, no script runs. What they say
has been through the policy before: this module knows no private field.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from attrs import frozen

from midfoot.publish import charts, grid, look
from midfoot.publish.page_template import page_template
from midfoot.publish.report import COLOURS
from midfoot.publish.review_page import parts_of, sections_of, title_of, urgent_of
from midfoot.publish.review_shots import STRIP_PX, Shot
from midfoot.records.measures import Curve, Measurement
from midfoot.records.review import Review

PAGE, STYLE, VIDEO, CAPTIONS, PRINT = "index.html", "page.css", "set.mp4", "captions.vtt", "review.pdf"
PREVIEW, POSTER, CHART, ICON = "preview.jpg", "poster.jpg", "speed.svg", "icon.svg"
KINDS = ("lifter", "public")
STILL_HEIGHT_PX = 640
PREVIEW_PX = (1200, 630)
"""Width and height of the picture that stands beside a link; what the open graph's readers ask for."""


@frozen
class Still:
    """A still as a file of the page's folder, and what is to be said of it."""

    file: str
    width: int
    height: int
    alt: str
    moment: str
    rep: int | None


def still_files(
    shots: Mapping[str, Sequence[tuple[Shot, look.Picture]]],
) -> tuple[dict[str, list[Still]], dict[str, bytes]]:
    """Give the stills by part, and their files: numbered, so that no name says what is in it."""
    stills: dict[str, list[Still]] = {}
    files: dict[str, bytes] = {}
    for part, drawn in shots.items():
        for shot, picture in drawn:
            frame = picture[:-STRIP_PX]  # the words under it are text on a page
            zoom = min(1.0, STILL_HEIGHT_PX / frame.shape[0])
            small = cv2.resize(frame, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA) if zoom < 1 else frame
            name = f"still-{len(files) + 1:02d}.jpg"
            files[name] = look.jpeg(small, quality=84)
            stills.setdefault(part, []).append(
                Still(name, small.shape[1], small.shape[0], f"{shot.moment}: {shot.words}", shot.moment, shot.rep)
            )
    return stills, files


def page_html(
    kind: str,
    measurement: Measurement,
    review: Review,
    stills: Mapping[str, Sequence[Still]],
    *,
    video: bool,
    captions: bool,
    chart: bool,
    address: str = "",
) -> str:
    """Write a page.

    Parameters
    ----------
    kind : `lifter` or `public`.
    measurement, review : the set and its review as they may go to this page.
    stills : by part, the one to look at first in front.
    video, captions, chart : whether those files lie beside it.
    address : where the folder will stand, with a slash at its end; "" when it is not known.
    """
    if kind not in KINDS:
        raise ValueError(f"kind: expected one of {', '.join(KINDS)}, got {kind!r}")
    layout = grid.lay_out(measurement.data, review.draft.best_rep)
    return page_template(f"site_{kind}.html.j2").render(
        title=title_of(measurement),
        described=described(kind, review),
        address=address,
        greeting=review.draft.greeting,
        urgent=urgent_of(review),
        sections=_sections(review, stills),
        video=VIDEO if video else "",
        captions=CAPTIONS if captions else "",
        print=PRINT,
        preview=PREVIEW,
        poster=POSTER,
        style=STYLE,
        icon=ICON,
        grid_svg=grid.svg(layout) if layout is not None else "",
        chart=CHART if chart else "",
    )


def described(kind: str, review: Review) -> str:
    """Say what the page holds in a sentence for the card beside a link: nothing of the lifter, no finding."""
    seen = sum(p.section == "change" for p in review.parts)
    if kind == "public":
        return "A set looked at frame by frame: what holds, and what stands out."
    return f"Your set looked at frame by frame: what is good and {'what to work on' if seen else 'why it is'}."


def _sections(review: Review, stills: Mapping[str, Sequence[Still]]) -> list[dict[str, Any]]:
    found = sections_of(review, {})
    for section in found:
        for shown, part in zip(section["parts"], parts_of(review, section["id"]), strict=True):
            own = list(stills.get(part.id, ()))
            beside = 2 if len(own) > 1 and own[1].rep not in part.reps else 1
            shown |= {"stills": own[:beside], "more": own[beside:]}
    return found


def style_css() -> str:
    """Give the pages' style sheet."""
    names = " ".join(f"--{name}: {look.css(colour)};" for name, colour in COLOURS.items())
    text = (Path(__file__).parent / "templates" / "site.css").read_text("utf-8")
    return f":root {{ {names} }}\n{text}"


def open_script() -> str:
    """Give the script of an open set's page."""
    return (Path(__file__).parent / "templates" / "open_set.js").read_text("utf-8")


def open_style() -> str:
    """Give the style sheet of an open set's page: that of the pages, and what a form needs."""
    return f"{style_css()}\n{(Path(__file__).parent / 'templates' / 'open_set.css').read_text('utf-8')}"


def icon_svg() -> str:
    """Draw the small sign of a page: a plate and the line of its way."""
    bar, ochre = look.css(look.BAR), look.css(look.EVIDENCE)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32">'
        f'<circle cx="16" cy="16" r="11" fill="none" stroke="{bar}" stroke-width="4"/>'
        f'<path d="M16 2v28" stroke="{ochre}" stroke-width="3"/></svg>\n'
    )


def chart_svg(curves: tuple[Curve, ...]) -> str:
    """Draw the velocity of each way up; "" where none is known."""
    return charts.velocity_over_time(curves)


def preview_jpeg(frame: look.Picture, measurement: Measurement) -> bytes:
    """Draw the picture beside a link: the covered frame with the set's title, and nothing else."""
    width, height = PREVIEW_PX
    zoom = max(width / frame.shape[1], height / frame.shape[0])
    upright = frame.shape[0] > frame.shape[1]
    if upright:
        zoom = height / frame.shape[0]
    size = (round(frame.shape[1] * zoom), round(frame.shape[0] * zoom))
    small = cv2.resize(frame, size, interpolation=cv2.INTER_AREA)
    out = np.empty((height, width, 3), np.uint8)
    out[:] = look.PAPER
    if upright:
        out[:, width - size[0] :] = small[:, :width]
    else:
        top, left = (size[1] - height) // 2, (size[0] - width) // 2
        out[:] = small[top : top + height, left : left + width]
        out[height - 110 :] = look.PAPER
    room = width - size[0] - 96 if upright else width - 96
    y = 250.0 if upright else height - 44.0
    for line in _lines(title_of(measurement), room, 52):
        look.text(out, line, (48, y), 52, look.INK, 600)
        y += 66
    return look.jpeg(out, quality=86)


def _lines(words: str, room: float, size: float) -> list[str]:
    lines: list[str] = []
    for word in words.split():
        if lines and look.text_width(f"{lines[-1]} {word}", size, 600) <= room:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines


def taken_back_html() -> str:
    """Write the page that stands where one was taken back."""
    return page_template("site_gone.html.j2").render(style=STYLE, icon=ICON)


def doorstep_html() -> str:
    """Write the page of a folder that holds others: nothing is listed there."""
    return page_template("site_doorstep.html.j2").render()
