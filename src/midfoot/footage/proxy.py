"""A clip as a browser plays it: H.264 in MP4, the same frames at the same timestamps, upright, without sound.

A player steps through it by the timestamps of the measurement, so none may be missing, doubled or moved. Key
frames come often and nothing is predicted backward: a seek decodes a few frames only.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.footage.colour import is_hdr, rgb_of, upright
from midfoot.footage.container import Geometry, geometry_of, opened, seconds
from midfoot.footage.errors import FootageError
from midfoot.footage.frames import decoded, first_pts
from midfoot.footage.sweep import Stopped
from midfoot.records.base import FloatArray

PROXY_LONG_SIDE_PX = 1280
KEY_FRAME_EVERY = 12
"""Frames from one key frame to the next: what a seek has to decode at most."""
NOMINAL_RATE = 60
"""Told to the encoder for its level alone; the frames carry their own ticks."""
BT709, MPEG_RANGE = 1, 1
"""Code points of ITU-T H.273 and FFmpeg's limited range."""


@frozen
class Proxy:
    """What was written: size of the picture in px and when each frame is shown, in s from the first."""

    width_px: int
    height_px: int
    times_s: tuple[float, ...]


def write_proxy(
    clip: Path,
    path: Path,
    *,
    progress: Callable[[float], None] | None = None,
    stop: threading.Event | None = None,
    threads: int = 2,
    from_s: float = 0.0,
    to_s: float | None = None,
) -> Proxy:
    """Write the proxy of a clip to `path`.

    Parameters
    ----------
    clip, path : the clip, and where the proxy goes.
    progress : called with the timestamp of each frame, s.
    stop : when set, the work ends with `Stopped`.
    threads : of the encoder.
    from_s, to_s : only this part of the clip, s; its first frame is then shown at 0.

    Returns
    -------
    Proxy
        `times_s` are those that `frames` gives, before any `real_speed`; the picture is not mirrored.

    Raises
    ------
    FootageError
        When nothing can be decoded.
    """
    import av

    times: list[float] = []
    cut: int | None = None
    with opened(clip) as (container, stream):
        first = first_pts(container, stream)
        base = Fraction(stream.time_base.numerator, stream.time_base.denominator)
        writer: _Writer | None = None
        with av.open(
            str(path), "w", format="mp4",
            options={"movflags": "+faststart", "movie_timescale": str(min(base.denominator, 2**31 - 1))},
        ) as out:  # fmt: skip
            for raw in decoded(container, stream):
                if stop is not None and stop.is_set():
                    raise Stopped
                tick = raw.pts - first
                if tick < 0 or seconds(tick, stream.time_base) < from_s - 1e-6:
                    continue
                if to_s is not None and seconds(tick, stream.time_base) > to_s + 1e-6:
                    break
                cut = tick if cut is None and from_s > 0 else cut or 0
                tick -= cut
                writer = writer or _Writer(out, raw, base, threads)
                writer.write(raw, tick)
                times.append(seconds(tick, stream.time_base))
                if progress is not None:
                    progress(times[-1])
            if writer is None:
                raise FootageError(f"No frame of {clip.name} can be decoded; send the phone's own file.")
            writer.close()
    return Proxy(*writer.size_px, tuple(times))


class _Writer:
    """Turns decoded frames upright and small, and encodes them with their own ticks."""

    def __init__(self, out: Any, raw: Any, base: Fraction, threads: int) -> None:
        self._out = out
        self._base = base
        self._geometry = _small(geometry_of(raw, mirrored=False), raw)
        self.size_px = self._geometry.upright_size_px
        stream = out.add_stream("libx264", rate=NOMINAL_RATE, options={"preset": "veryfast", "crf": "21"})
        stream.width, stream.height = self.size_px
        stream.pix_fmt = "yuv420p"
        stream.time_base = base
        context = stream.codec_context
        context.time_base = base
        context.gop_size = KEY_FRAME_EVERY
        context.max_b_frames = 0
        context.thread_count = threads
        self._hdr = is_hdr(raw)
        context.color_range = MPEG_RANGE
        if self._hdr:
            context.colorspace = context.color_primaries = context.color_trc = BT709
        else:
            context.colorspace = int(raw.colorspace)
            context.color_primaries, context.color_trc = int(raw.color_primaries), int(raw.color_trc)
        self._stream = stream
        self._last = 0
        self._step = 1

    def write(self, raw: Any, tick: int) -> None:
        frame = self._prepared(raw)
        frame.pts, frame.time_base = tick, self._base
        frame.pict_type = 0
        self._step, self._last = max(1, tick - self._last), tick
        self._mux(self._stream.encode(frame))

    def close(self) -> None:
        self._mux(self._stream.encode(None))

    def _mux(self, packets: Any) -> None:
        for packet in packets:
            packet.duration = packet.duration or self._step
            self._out.mux(packet)

    def _prepared(self, raw: Any) -> Any:
        import av

        width, height = self._geometry.reduced_size_px
        if self._hdr:
            small = raw.reformat(width=width, height=height, interpolation="AREA")
            frame = av.VideoFrame.from_ndarray(rgb_of(small, self._geometry), format="rgb24")
            return frame.reformat(
                format="yuv420p", dst_colorspace="ITU709", src_color_range="JPEG", dst_color_range="MPEG"
            )
        small = raw.reformat(
            width=width, height=height, format="yuv420p", interpolation="AREA", dst_color_range="MPEG"
        )
        if not (self._geometry.transposed or self._geometry.flip_x or self._geometry.flip_y):
            return small
        planes = _planes(small.to_ndarray(format="yuv420p"), width, height)
        turned = np.concatenate([upright(p, self._geometry).ravel() for p in planes])
        return av.VideoFrame.from_ndarray(turned.reshape(-1, self.size_px[0]), format="yuv420p")


def _planes(packed: NDArray[np.uint8], width: int, height: int) -> tuple[NDArray[np.uint8], ...]:
    flat = packed.ravel()
    whole, quarter = width * height, width * height // 4
    return (
        flat[:whole].reshape(height, width),
        flat[whole : whole + quarter].reshape(height // 2, width // 2),
        flat[whole + quarter :].reshape(height // 2, width // 2),
    )


def _small(geometry: Geometry, raw: Any) -> Geometry:
    """Give the geometry with a reduction to the proxy's size; sides of the picture are even."""
    long_side = max(raw.width, raw.height)
    zoom = max(1.0, long_side / PROXY_LONG_SIDE_PX)
    if zoom == 1.0 and (raw.width % 2 or raw.height % 2):
        zoom = 1.0 + 1e-9  # even sides, by way of `reduced_size_px`
    return Geometry(
        geometry.transposed, geometry.flip_x, geometry.flip_y, geometry.stored_width_px, geometry.stored_height_px,
        zoom,
    )  # fmt: skip


def shown_times_s(path: Path) -> FloatArray:
    """Read when each frame of a proxy is shown, s from its first, from the packets alone."""
    with opened(path) as (container, stream):
        ticks = sorted(p.pts for p in container.demux(stream) if p.pts is not None and p.size)
        return np.array([seconds(t - ticks[0], stream.time_base) for t in ticks], np.float64)
