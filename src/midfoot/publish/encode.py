"""Pictures with their own times into H.264: one way for every video that midfoot writes for people."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from midfoot.publish import look

TIME_BASE = Fraction(1, 90_000)
PLAIN: Mapping[str, str] = MappingProxyType({"preset": "veryfast", "crf": "23"})
HELD: Mapping[str, str] = MappingProxyType({**PLAIN, "g": "30", "bf": "0"})
"""For frames that stand for long: with B-frames the file would name a length shorter than it has."""


class Encoder:
    """The stream of pictures of an open container.

    Parameters
    ----------
    container : of PyAV, open for writing.
    size_px : width and height, both even.
    options : of the encoder, `PLAIN` or `HELD`.
    """

    def __init__(self, container: Any, size_px: tuple[int, int], options: Mapping[str, str] = HELD) -> None:
        self._container = container
        self._stream: Any = container.add_stream("libx264", options=dict(options))
        self._stream.width, self._stream.height = size_px
        self._stream.pix_fmt = "yuv420p"
        self._stream.time_base = self._stream.codec_context.time_base = TIME_BASE
        self._last = -1

    def put(self, rgb: look.Picture, t_s: float) -> None:
        """Write a picture with its time in the video, s; two never share one."""
        import av

        picture = av.VideoFrame.from_ndarray(rgb, format="rgb24")
        picture.pts = self._last = max(self._last + 1, round(t_s / float(TIME_BASE)))
        picture.time_base = TIME_BASE
        self._container.mux(self._stream.encode(picture))

    def end(self) -> None:
        """Write what the encoder still holds."""
        self._container.mux(self._stream.encode(None))
