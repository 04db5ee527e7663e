"""Pictures for a review: the frame that proves each part, with its marks; the same marks as a transparent overlay.

Only the evidence of the moment stands in the picture: the bar, the rep's own vertical, one distance, and what the
coach marked. No figure: it stands on the page, rounded.
"""

from __future__ import annotations

import re

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.publish import evidence, finding_marks, look
from midfoot.publish.moments import at, now, reference_of, start_of
from midfoot.publish.stills import scene_px
from midfoot.records.measures import Measurement, SetData
from midfoot.records.reps import Rep
from midfoot.records.review import Mark, Part, Review

SHOT_HEIGHT_PX = 720
STRIP_PX = 64
MOST_PER_PART = 3
SAME_MOMENT_S = 0.05
SAME_PART_S = 0.1
"""So near to a lockout, an end or a low a moment belongs to it."""


@frozen(kw_only=True)
class Shot:
    """A frame worth a picture: of which part and rep, when, where that is, words under it, name of its file."""

    part: str
    rep: int | None
    at_s: float
    moment: str
    words: str
    file: str


def shots_of(review: Review, measurement: Measurement) -> list[Shot]:
    """Give the frames that prove what is good and what to change.

    At most three a part, the worst rep first; behind it, for what to change, the same moment of the rep that the
    others are held against.
    """
    found: list[Shot] = []
    for part in review.parts:
        if not part.shown or part.section not in ("good", "change"):
            continue
        places: list[tuple[int | None, float]] = list(zip(part.reps, part.at_s, strict=False))
        places = places or [(None, t) for t in part.at_s]
        places += [(m.rep, m.at_s) for m in part.marks]
        worst = part.figure.rep if part.figure is not None else None
        places.sort(key=lambda p: (p[0] != worst, p[1]))
        words = part.caption or part.text
        kept: list[tuple[int | None, float, str]] = []
        for n, t in places:
            if len(kept) < MOST_PER_PART and all(abs(t - k[1]) > SAME_MOMENT_S for k in kept):
                kept.append((n, t, words))
        best = review.draft.best_rep
        if kept and part.section == "change" and best is not None and best not in part.reps:
            twin = same_moment(measurement.data, kept[0][0], kept[0][1], best)
            if twin is not None:
                kept.insert(1, (best, twin, f"For comparison, rep {best}"))
        for n, t, said in kept:
            stem = re.sub(r"[^a-z0-9]+", "-", part.id.lower()).strip("-")
            name = f"{stem}-rep{n:02d}" if n is not None else stem
            taken = sum(s.file.startswith(name) for s in found)
            file = f"{name}{f'-{taken + 1}' if taken else ''}"
            moment = now(measurement.data, t).words
            found.append(Shot(part=part.id, rep=n, at_s=t, moment=moment, words=said, file=file))
    return found


def same_moment(data: SetData, rep: int | None, at_s: float, other: int) -> float | None:
    """Give when another rep is where this one is: the bar as high above its reference, on the same way."""
    reps = {r.n: r for r in data.reps.reps}
    path = data.path
    if rep not in reps or other not in reps or path is None:
        return None
    here, there = reps[rep], reps[other]
    low, also = reference_of(here), reference_of(there)
    if low is None or also is None:
        return None
    same_part = _in_part(here, there, at_s)
    if same_part is not None:
        return same_part
    rise = at(path.up_mm, path.t_s, at_s) - at(path.up_mm, path.t_s, low.t_s)
    span = there.ascent_s if at_s >= low.t_s else (start_of(there, data), also.t_s)
    if span is None or not np.isfinite(rise):
        return also.t_s
    inside = (path.t_s >= span[0]) & (path.t_s <= span[1]) & np.isfinite(path.up_mm)
    if inside.sum() < 3:
        return also.t_s
    height = path.up_mm[inside] - at(path.up_mm, path.t_s, also.t_s)
    return float(path.t_s[inside][np.argmin(np.abs(height - rise))])


def _in_part(here: Rep, there: Rep, at_s: float) -> float | None:
    """Give the moment of another rep where the part says it: at the lockout, at the end, in the low; else None."""
    if here.top_start is not None and at_s >= here.top_start.t_s - SAME_PART_S:
        if there.top_start is None:
            return None
        last = there.top_end.t_s if there.top_end is not None else there.top_start.t_s
        return min(last, there.top_start.t_s + max(0.0, at_s - here.top_start.t_s))
    if here.end is not None and at_s >= here.end.t_s - SAME_PART_S:
        return there.end.t_s if there.end is not None else None
    if here.low_start is None or here.low_end is None or there.low_end is None:
        return None
    begun, over = here.low_start.t_s, here.low_end.t_s
    if not begun - SAME_PART_S <= at_s <= over + SAME_PART_S:
        return None
    share = min(1.0, max(0.0, (at_s - begun) / max(1e-6, over - begun)))
    start = there.low_start.t_s if there.low_start is not None else there.low_end.t_s
    return start + share * (there.low_end.t_s - start)


def draw_moment(
    picture: look.Picture, data: SetData, part: Part | None, at_s: float, zoom: float, size: float, *, clean: bool
) -> None:
    """Draw what belongs to a moment of a part onto its frame.

    Parameters
    ----------
    picture : RGB of the whole upright frame, resized by `zoom`; drawn on in place.
    data : the set.
    part : what is spoken of, None for nothing in particular.
    at_s : the frame's timestamp on the clip's clock.
    zoom : picture px per clip px.
    size : height of type in px.
    clean : the frame is the clip's own; otherwise the evidence is in it already.
    """
    if clean:
        evidence.draw(picture, data, at_s, now(data, at_s), zoom, size, label=_label(part))
        if part is not None and part.figure is not None:
            rep = now(data, at_s).rep
            places = dict(zip(part.reps, part.at_s, strict=False))
            if rep is not None and rep.n in places:
                finding_marks.draw(picture, data, part.figure.measure, at_s, places[rep.n], zoom, size)
    for mark in part.marks if part is not None else ():
        if abs(mark.at_s - at_s) <= SAME_MOMENT_S + 0.02:
            draw_mark(picture, mark, zoom, size)


def _label(part: Part | None) -> str:
    figure = part.figure if part is not None else None
    return "this far" if figure is not None and figure.measure in finding_marks.FORWARD else ""


def draw_mark(
    picture: look.Picture, mark: Mark, zoom: float, size: float, *, origin_px: tuple[float, float] = (0.0, 0.0)
) -> None:
    """Draw a mark by its meaning; `origin_px` is the picture's corner in the clip, `zoom` its px per clip px."""
    points = [((x - origin_px[0]) * zoom, (y - origin_px[1]) * zoom) for x, y in mark.points_px]
    first = points[0]
    reach = 2.2 * size
    words = mark.words
    if mark.meaning == "where":
        look.ring(picture, first, (reach, reach), 0.0, look.EVIDENCE)
    elif mark.meaning == "how_far":
        look.distance(picture, first, points[1], words or "so far", size)
        return
    elif mark.meaning == "what_angle":
        look.line(picture, points[1], first, look.EVIDENCE, halo=True)
        look.line(picture, points[1], points[2], look.EVIDENCE, halo=True)
        first = points[1]
    else:
        look.dashes(picture, (first[0] - 2 * reach, first[1]), (first[0] + 2 * reach, first[1]), look.EVIDENCE)
        words = words or "hold here"
    if words:
        look.label(picture, words, (first[0], first[1] - reach - 6), size)


def shot_picture(
    measurement: Measurement, part: Part, shot: Shot, rgb: look.Picture, *, clean: bool
) -> look.Picture:
    """Draw the still of a part: the scene of the set with its marks above a strip of words; RGB.

    `rgb` is the whole upright frame, at whatever size.
    """
    data = measurement.data
    left, top, right, bottom = scene_px(data)
    zoom = SHOT_HEIGHT_PX / (bottom - top)
    size = (round(data.clip.width_px * zoom), round(data.clip.height_px * zoom))
    shrink = cv2.INTER_AREA if size[0] < rgb.shape[1] else cv2.INTER_CUBIC
    picture = cv2.resize(rgb, size, interpolation=shrink)
    draw_moment(picture, data, part, shot.at_s, zoom, 17, clean=clean)
    picture = picture[round(top * zoom) : round(bottom * zoom), round(left * zoom) : round(right * zoom)]
    return np.vstack([picture, strip(picture.shape[1], STRIP_PX, shot.moment, shot.words)])


def strip(width: int, height: int, head: str, words: str) -> look.Picture:
    """Give a strip of paper with a line that says where one is and a line of words."""
    paper = np.empty((height, width, 3), np.uint8)
    paper[:] = look.PAPER
    for size in (17, 15, 14, 13, 12, 11, 10):
        if look.text_width(words, size, 500) < width - 28:
            break
    look.text(paper, head, (14, round(0.38 * height)), 14, look.SOFT_TEXT)
    look.text(paper, words, (14, round(0.8 * height)), size, look.INK, 500)
    return paper


def overlay(data: SetData, part: Part, shot: Shot) -> NDArray[np.uint8]:
    """Draw a shot's marks alone, RGBA in the size of the upright clip: to be laid over the frame anywhere.

    Painted on black and on white: what differs between the two is how much shines through.
    """
    shape = (data.clip.height_px, data.clip.width_px, 3)
    on = [np.full(shape, shade, np.uint8) for shade in (0, 255)]
    for canvas in on:
        draw_moment(canvas, data, part, shot.at_s, 1.0, max(14.0, data.clip.height_px / 48), clean=True)
    black, white = (canvas.astype(np.float64) for canvas in on)
    alpha = np.clip(1.0 - (white - black).mean(axis=2) / 255.0, 0.0, 1.0)
    colour = np.where(alpha[..., None] > 0.004, black / np.maximum(alpha[..., None], 0.004), 0.0)
    out = np.dstack([np.clip(colour, 0, 255), 255.0 * alpha])
    return np.round(out).astype(np.uint8)


def png(picture: NDArray[np.uint8]) -> bytes:
    """Encode RGBA as PNG; raises ValueError when it cannot be."""
    good, data = cv2.imencode(".png", cv2.cvtColor(picture, cv2.COLOR_RGBA2BGRA))
    if not good:
        raise ValueError("A picture could not be encoded; check the memory and try again.")
    return data.tobytes()
