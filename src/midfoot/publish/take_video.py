"""The voice-over as a video: what the player showed while the coach spoke, wide or upright, words and sound.

Frames are drawn anew from the clip and from the measurement that counts now; nothing of the recording but its
sound and what the player did is needed. Frames that stand are written twice a second.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from attrs import field, frozen

from midfoot.publish import look
from midfoot.publish.encode import Encoder
from midfoot.publish.layers import draw_layers
from midfoot.publish.moments import now
from midfoot.publish.stills import scene_px
from midfoot.publish.take_sound import SOUND_BITS, SOUND_HZ, sound_of
from midfoot.records.measures import Measurement
from midfoot.records.mechanics import ArmsInPicture
from midfoot.records.takes import Shown, Stretch

SHAPES = ("wide", "upright")
LONG_SIDE_PX = 1280
UPRIGHT_PX = (720, 1280)
STRIP_PX = 108
MOST_FPS = 50.0
"""A frame left out is shown late by the time to the next one: 20 ms at most."""
HOLD_STEP_S = 0.5
WORDS_PX, LINES = 22, 2

Between = Callable[[float, float], Iterable[tuple[float, look.Picture]]]
"""Gives the upright frames from one second of the clip to another: timestamp and RGB."""
At = Callable[[float], look.Picture | None]
"""Gives the upright frame that stands at a moment of the clip."""


@frozen(kw_only=True)
class Telling:
    """What is told in pictures.

    Attributes
    ----------
    measurement : Measurement
        That counts now.
    rows : tuple of Shown
        What stands in the picture, one after the other.
    lines : tuple of str
        Of the script, by number.
    arms : tuple of ArmsInPicture
        Moment arms, drawn near their moments where that layer is on.
    """

    measurement: Measurement
    rows: tuple[Shown, ...]
    lines: tuple[str, ...] = ()
    arms: tuple[ArmsInPicture, ...] = field(default=())

    @property
    def length_s(self) -> float:
        """How long it is."""
        return self.rows[-1].from_s + self.rows[-1].length_s if self.rows else 0.0


def write_take_video(
    telling: Telling,
    between: Between,
    at: At,
    path: Path,
    *,
    shape: str = "wide",
    stretches: Sequence[Stretch] = (),
    sounds: Mapping[str, Path] | None = None,
    progress: Callable[[float], None] | None = None,
) -> float:
    """Encode the voice-over to `path` (H.264 and AAC in MP4); gives its length in seconds.

    Parameters
    ----------
    telling : what is shown.
    between, at : give frames of the clip, covered where they are to be.
    path : where to.
    shape : `wide` as the clip is, `upright` 720 x 1280 with the lifter cut out of a wide clip.
    stretches : of which takes it is made, for the sound.
    sounds : recordings by the take's id; what is not there is silent.
    progress : called with the share that is done, 0..1.
    """
    import av
    from av.codec.context import Flags

    canvas = _Canvas(telling, shape)
    total = telling.length_s
    with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as container:
        encoder = Encoder(container, canvas.size_px)
        heard = [s for s in stretches if sounds and s.take.id in sounds]
        sound_stream: Any = None
        if heard:
            sound_stream = container.add_stream("aac", rate=SOUND_HZ, layout="mono")
            sound_stream.codec_context.flags |= Flags.bitexact  # or the encoder writes its name into the sound
            sound_stream.bit_rate = SOUND_BITS
            sound = sound_of(stretches, sounds or {})
        spoken = 0.0
        for t_s, rgb in canvas.timed(between, at):
            encoder.put(rgb, t_s)
            while sound_stream is not None and spoken <= t_s + 0.5:
                chunk = next(sound, None)
                if chunk is None:
                    break
                container.mux(sound_stream.encode(chunk))
                spoken = float((chunk.pts + chunk.samples) * chunk.time_base)
            if progress is not None and total > 0:
                progress(min(1.0, t_s / total))
        encoder.end()
        if sound_stream is not None:
            for chunk in sound:
                container.mux(sound_stream.encode(chunk))
            container.mux(sound_stream.encode(None))
    return total


class _Canvas:
    """Draws what the player showed, above a strip of words."""

    def __init__(self, telling: Telling, shape: str) -> None:
        self._telling = telling
        self._data = telling.measurement.data
        info = self._data.clip
        left, top, right, bottom = 0, 0, info.width_px, info.height_px
        if shape == "upright":
            width, high = UPRIGHT_PX
            left, top, right, bottom = _cut(self._data, (width, high - STRIP_PX))
            self._zoom = min(width / (right - left), (high - STRIP_PX) / (bottom - top))
            self.size_px = UPRIGHT_PX
        else:
            self._zoom = min(1.0, LONG_SIDE_PX / max(info.width_px, info.height_px))
            self.size_px = (_even(info.width_px * self._zoom), _even(info.height_px * self._zoom) + STRIP_PX)
        self._cut = (left, top, right, bottom)

    def timed(self, between: Between, at: At) -> Iterator[tuple[float, look.Picture]]:
        """Give canvases with their time in the voice-over, a rise by rise."""
        still = np.empty((self.size_px[1], self.size_px[0], 3), np.uint8)
        still[:] = look.PAPER
        for row in self._telling.rows:
            until = row.from_s + row.length_s
            if row.rate > 0:
                before = -1.0
                for t_s, rgb in between(row.t_s, row.t_s + row.length_s * row.rate):
                    v_s = row.from_s + (t_s - row.t_s) / row.rate
                    if v_s >= until or (before >= 0 and v_s - before < 1 / MOST_FPS):
                        continue
                    before = v_s
                    still = self.draw(rgb, t_s, row)
                    yield v_s, still
                resting = max(before, row.from_s) + HOLD_STEP_S
            else:
                rgb_now = at(row.t_s)
                if rgb_now is not None:
                    still = self.draw(rgb_now, row.t_s, row)
                resting = row.from_s
            while resting < until:  # the clip stands, or has come to its end
                yield resting, still
                resting += HOLD_STEP_S
        yield self._telling.length_s, still

    def draw(self, rgb: look.Picture, t_s: float, row: Shown) -> look.Picture:
        """Give the canvas of one frame."""
        info = self._data.clip
        zoom = self._zoom
        left, top, right, bottom = self._cut
        share = rgb.shape[1] / info.width_px
        part = rgb[round(top * share) : round(bottom * share), round(left * share) : round(right * share)]
        size = (_even((right - left) * zoom), _even((bottom - top) * zoom))
        shrink = cv2.INTER_AREA if size[0] < part.shape[1] else cv2.INTER_CUBIC
        picture: look.Picture = np.asarray(cv2.resize(part, size, interpolation=shrink), np.uint8)
        draw_layers(
            picture, self._telling.measurement.data, t_s, row.layers, row.marks, self._telling.arms,
            zoom=zoom, origin_px=(left, top), size=max(14.0, size[1] / 44),
        )  # fmt: skip
        out = np.empty((self.size_px[1], self.size_px[0], 3), np.uint8)
        out[:] = look.PAPER
        high = self.size_px[1] - STRIP_PX
        x, y = (self.size_px[0] - size[0]) // 2, (high - size[1]) // 2
        out[y : y + size[1], x : x + size[0]] = picture
        self._words(out[high:], t_s, row)
        return out

    def _words(self, strip: look.Picture, t_s: float, row: Shown) -> None:
        moment = now(self._data, t_s)
        head = moment.words if moment.part != "aside" else ""
        if 0 < row.rate < 1 and head:
            head += ", slowly"
        look.text(strip, head, (16, 24), 15, look.SOFT_TEXT)
        lines = self._telling.lines
        if row.line is None or not 0 <= row.line < len(lines):
            return
        words = _wrapped(lines[row.line], self.size_px[0] - 32)
        shown = _page(words, LINES, self._share(row))
        for k, line in enumerate(shown):
            look.text(strip, line, (16, 56 + 30 * k), WORDS_PX, look.INK, 500)

    def _share(self, row: Shown) -> float:
        """Say how much of the time of its line has passed when this row begins."""
        rows = [r for r in self._telling.rows if r.line == row.line]
        begun, end = rows[0].from_s, rows[-1].from_s + rows[-1].length_s
        return (row.from_s - begun) / max(end - begun, 1e-6)


def _cut(data: Any, size_px: tuple[int, int]) -> tuple[int, int, int, int]:
    """Give the part of the frame that an upright video shows: lifter and bar, as high as the frame allows."""
    width, height = data.clip.width_px, data.clip.height_px
    left, _, right, _ = scene_px(data)
    shape = size_px[0] / size_px[1]
    wide = min(float(width), max(float(right - left), height * shape))
    x = min(max((left + right) / 2 - wide / 2, 0.0), width - wide)
    return round(x), 0, round(x + wide), height


def _wrapped(words: str, width_px: int) -> list[str]:
    out: list[str] = []
    for word in words.split():
        joined = f"{out[-1]} {word}" if out else word
        if out and look.text_width(joined, WORDS_PX, 500) <= width_px:
            out[-1] = joined
        else:
            out.append(word)
    return out


def _page(lines: list[str], count: int, share: float) -> list[str]:
    """Give the lines that stand there when so much of the time has passed."""
    pages = [lines[k : k + count] for k in range(0, len(lines), count)] or [[]]
    return pages[min(int(share * len(pages)), len(pages) - 1)]


def _even(px: float) -> int:
    return int(px / 2) * 2
