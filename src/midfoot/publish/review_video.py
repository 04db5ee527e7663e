"""The video of a review: the set as it is spoken of, slow before each moment, frozen at it, with its words below.

It lasts as long as the script, line by line, so that it can be spoken over and the subtitles fit. A frozen frame
is written twice a second, not thirty times. No sound.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import cv2
import numpy as np
from attrs import frozen

from midfoot.publish import look
from midfoot.publish.captions import durations_s
from midfoot.publish.encode import Encoder
from midfoot.publish.moments import now
from midfoot.publish.review_shots import draw_moment, strip
from midfoot.records.measures import Measurement
from midfoot.records.review import Part, Review, Script

LONG_SIDE_PX = 1280
STRIP_PX = 76
SLOW, LEAD_S, LEAST_HOLD_S = 3.0, 1.2, 1.5
"""How much slower than life a moment is led up to, how much of the clip that is, how long it stands at least."""
BEFORE_S = 1.0
MOST_FPS = 32.0
HOLD_STEP_S = 0.5

Between = Callable[[float, float], Iterable[tuple[float, look.Picture]]]
"""Gives the upright frames from one second of the clip to another: timestamp and RGB."""


@frozen(kw_only=True)
class Piece:
    """A stretch of the clip in the video: played from `from_s` to `to_s`, `slow` times slower, then held."""

    from_s: float
    to_s: float
    slow: float
    hold_s: float
    part: str = ""
    caption: str = ""

    @property
    def length_s(self) -> float:
        """How long it lasts in the video."""
        return (self.to_s - self.from_s) * self.slow + self.hold_s


def plan(script: Script, review: Review, *, end_s: float) -> list[Piece]:
    """Lay the script over the clip: one piece a line, as long as the line takes.

    Parameters
    ----------
    script, review : what is spoken and of what.
    end_s : the last moment that the clip shows.
    """
    parts = {p.id: p for p in review.parts}
    spans = review.draft.spans
    cursor = max(0.0, spans[0].start_s - BEFORE_S) if spans else 0.0
    pieces: list[Piece] = []
    for line, length in zip(script.lines, durations_s(script), strict=True):
        part = parts.get(line.part)
        if line.at_s is None:
            to_s = min(end_s, cursor + length)
            pieces.append(Piece(from_s=cursor, to_s=to_s, slow=1.0, hold_s=length - (to_s - cursor)))
            cursor = to_s
            continue
        at_s = min(line.at_s, end_s)
        lead = max(0.0, min(LEAD_S, at_s, (length - LEAST_HOLD_S) / SLOW))
        caption = part.caption if part is not None else ""
        pieces.append(
            Piece(from_s=at_s - lead, to_s=at_s, slow=SLOW, hold_s=length - SLOW * lead, part=line.part,
                  caption=caption)
        )  # fmt: skip
        cursor = at_s
    return pieces


def write_review_video(
    measurement: Measurement,
    review: Review,
    script: Script,
    between: Between,
    path: Path,
    *,
    end_s: float,
    clean: bool,
    progress: Callable[[float], None] | None = None,
) -> float:
    """Encode the video of a review to `path` (H.264 in MP4); gives its length in seconds.

    Parameters
    ----------
    measurement, review, script : what is shown and spoken.
    between : gives frames of the clip.
    end_s : the last moment that the clip shows.
    clean : frames are the clip's own; otherwise the evidence is in them already.
    progress : called with the share that is done, 0..1.
    """
    import av

    canvas = _Canvas(measurement, review, clean=clean)
    pieces = plan(script, review, end_s=end_s)
    total = sum(p.length_s for p in pieces)
    with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as container:
        encoder = Encoder(container, canvas.size_px)
        for t_s, rgb in _timed(pieces, between, canvas):
            encoder.put(rgb, t_s)
            if progress is not None and total > 0:
                progress(min(1.0, t_s / total))
        encoder.end()
    return total


def _timed(pieces: list[Piece], between: Between, canvas: _Canvas) -> Iterator[tuple[float, look.Picture]]:
    """Give canvases with their time in the video, a rise by rise."""
    start, still = 0.0, canvas.empty()
    for piece in pieces:
        played, before = (piece.to_s - piece.from_s) * piece.slow, -1.0
        for at_s, rgb in between(piece.from_s, piece.to_s):
            t_s = start + (at_s - piece.from_s) * piece.slow
            if t_s - before < 1 / MOST_FPS and before >= 0:
                continue
            before = t_s
            still = canvas.draw(rgb, at_s, piece)
            yield t_s, still
        held = start + played
        for k in range(int(np.ceil(piece.hold_s / HOLD_STEP_S))):
            yield held + k * HOLD_STEP_S, still
        start += piece.length_s
    yield start, still


class _Canvas:
    """Draws the frame with its moment above a strip of words."""

    def __init__(self, measurement: Measurement, review: Review, *, clean: bool) -> None:
        self._data = measurement.data
        self._parts = {p.id: p for p in review.parts}
        self._clean = clean
        info = self._data.clip
        self._zoom = min(1.0, LONG_SIDE_PX / max(info.width_px, info.height_px))
        self._picture_px = (_even(info.width_px * self._zoom), _even(info.height_px * self._zoom))
        self.size_px = (self._picture_px[0], self._picture_px[1] + STRIP_PX)

    def empty(self) -> look.Picture:
        """Give a canvas of paper."""
        out = np.empty((self.size_px[1], self.size_px[0], 3), np.uint8)
        out[:] = look.PAPER
        return out

    def draw(self, rgb: look.Picture, at_s: float, piece: Piece) -> look.Picture:
        """Give the canvas of one frame."""
        part: Part | None = self._parts.get(piece.part)
        picture = cv2.resize(rgb, self._picture_px, interpolation=cv2.INTER_AREA)
        size = max(14.0, self._picture_px[1] / 44)
        draw_moment(picture, self._data, part, at_s, self._zoom, size, clean=self._clean)
        moment = now(self._data, at_s)
        words = moment.words if moment.part != "aside" else ""
        head = f"{words}, slowly" if words and piece.slow > 1 else words
        return np.vstack([picture, strip(self._picture_px[0], STRIP_PX, head, piece.caption)])


def _even(px: float) -> int:
    return int(px / 2) * 2
