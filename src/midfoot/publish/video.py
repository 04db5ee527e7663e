"""The annotated video: original timing, no sound, plays in browsers.

The picture carries the current rep and the evidence of the moment; the millimetre grid stands beside it, a line
of words below.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import cv2
import numpy as np

from midfoot.publish import evidence, grid, look
from midfoot.publish.encode import PLAIN, Encoder
from midfoot.publish.moments import Now, now
from midfoot.records.clip import ClipInfo, Frame
from midfoot.records.measures import Measurement

LONG_SIDE_PX = 1280
LEAST_PANEL_PX, MOST_PANEL_SHARE = 220, 0.5
STRIP_PX = 44
GRID_EVERY_S = 0.1
"""The grid is redrawn this often: the eye does not follow it faster, and drawing it costs most of the time."""


def write_video(
    measurement: Measurement,
    frames: Iterable[Frame],
    path: Path,
    *,
    progress: Callable[[float], None] | None = None,
) -> int:
    """Encode the annotated video to `path` (H.264 in MP4, every frame at its own timestamp).

    Parameters
    ----------
    measurement : what to draw.
    frames : frames of the clip in order.
    progress : called with each frame's timestamp.

    Returns
    -------
    int
        Frames written.
    """
    import av

    canvas = _Canvas(measurement)
    count, first = 0, None
    with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as container:
        encoder = Encoder(container, canvas.size_px, PLAIN)
        for frame in frames:
            first = frame.t_s if first is None else first
            encoder.put(canvas.draw(frame), frame.t_s - first)
            count += 1
            if progress is not None:
                progress(frame.t_s)
        encoder.end()
    return count


def picture_px(measurement: Measurement) -> tuple[int, int]:
    """Give width and height of the annotated video's picture, without the grid beside it and the words below."""
    return _Canvas(measurement).picture_px


class _Canvas:
    """Draws one frame after another; keeps the grid between frames."""

    def __init__(self, measurement: Measurement) -> None:
        self._data = measurement.data
        info: ClipInfo = self._data.clip
        self._zoom = min(1.0, LONG_SIDE_PX / max(info.width_px, info.height_px))
        if max(info.width_px, info.height_px) < 640:
            self._zoom = 640 / max(info.width_px, info.height_px)
        self.picture_px = (_even(info.width_px * self._zoom), _even(info.height_px * self._zoom))
        self._layout = grid.lay_out(self._data, measurement.measured.best_rep)
        panel = 0
        if self._layout is not None:
            fits = grid.fitting_width_px(self._layout, self.picture_px[1])
            panel = _even(min(max(fits, LEAST_PANEL_PX), MOST_PANEL_SHARE * max(self.picture_px)))
        self._panel_px = (panel, self.picture_px[1])
        self.size_px = (self.picture_px[0] + panel, self.picture_px[1] + STRIP_PX)
        self._grid: look.Picture | None = None
        self._grid_s = -np.inf

    def draw(self, frame: Frame) -> look.Picture:
        """Give the whole canvas for one frame, RGB."""
        width, height = self.picture_px
        out = np.empty((self.size_px[1], self.size_px[0], 3), np.uint8)
        shrink = cv2.INTER_AREA if self._zoom < 1 else cv2.INTER_LINEAR
        rgb = frame.rgb()
        picture = rgb.copy() if self._zoom == 1 else cv2.resize(rgb, (width, height), interpolation=shrink)
        picture = picture[:height, :width]
        moment = now(self._data, frame.t_s)
        evidence.draw(picture, self._data, frame.t_s, moment, self._zoom, max(14.0, height / 48))
        out[: picture.shape[0], : picture.shape[1]] = picture
        if self._layout is not None:
            out[:height, width:] = self._panel(frame.t_s)
        self._strip(out[height:], frame, moment)
        return out

    def _panel(self, t_s: float) -> look.Picture:
        assert self._layout is not None
        if self._grid is None or t_s - self._grid_s >= GRID_EVERY_S:
            self._grid = grid.paint(self._layout, self._panel_px, until_s=t_s)
            self._grid_s = t_s
        return self._grid

    def _strip(self, strip: look.Picture, frame: Frame, moment: Now) -> None:
        strip[:] = look.PAPER
        look.text(strip, moment.words, (16, 29), 20, look.INK, 500)
        clock = f"{frame.t_s:.2f} s"
        x = self.size_px[0] - look.text_width(clock, 16) - 16
        look.text(strip, clock, (x, 28), 16, look.SOFT)
        if self._layout is not None:
            words = "grid 10 mm, strong lines 50 mm; forward to the right"
            wide = look.text_width(words, 13)
            room = x - 24 - look.text_width(moment.words, 20, 500) - 40
            if wide < room:
                look.text(strip, words, (x - wide - 24, 28), 13, look.SOFT)


def _even(px: float) -> int:
    return int(px / 2) * 2
