"""Clips made on the spot: a bright square on grey whose place tells the frame, in any codec, timing and turn."""

from __future__ import annotations

import struct
import wave
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

TICKS = 90_000
SQUARE = 16


def square_frame(size: tuple[int, int], x: int, y: int, level: int = 230) -> np.ndarray:
    """RGB, grey with a bright square whose upper left corner is (x, y)."""
    picture = np.full((size[1], size[0], 3), 90, np.uint8)
    picture[y : y + SQUARE, x : x + SQUARE] = level
    return picture


def write_clip(
    path: Path,
    *,
    times_s: np.ndarray | None = None,
    size: tuple[int, int] = (160, 96),
    codec: str = "libx264",
    pix_fmt: str = "yuv420p",
    options: dict[str, str] | None = None,
    pictures: list[np.ndarray] | None = None,
    colour: dict[str, int] | None = None,
    metadata: dict[str, str] | None = None,
) -> np.ndarray:
    """Write a clip whose square walks 1 px a frame to the right; gives the timestamps written, seconds."""
    times_s = np.arange(45) / 30 if times_s is None else np.asarray(times_s, float)
    ticks = np.round(times_s * TICKS).astype(int)
    flags = "+faststart+use_metadata_tags" if metadata else "+faststart"
    with av.open(str(path), "w", options={"movflags": flags} if path.suffix in (".mp4", ".mov") else {}) as out:
        out.metadata.update(metadata or {})
        stream = out.add_stream(codec, options=options or {})
        stream.width, stream.height, stream.pix_fmt = *size, pix_fmt
        stream.time_base = stream.codec_context.time_base = Fraction(1, TICKS)
        for name, value in (colour or {}).items():
            setattr(stream.codec_context, name, value)
        for i, tick in enumerate(ticks):
            rgb = pictures[i] if pictures is not None else square_frame(size, 8 + i % (size[0] - 32), 24)
            frame = av.VideoFrame.from_ndarray(rgb, format="rgb24")
            frame.pts, frame.time_base = int(tick), Fraction(1, TICKS)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return ticks / TICKS


def set_display_matrix(path: Path, a: int, b: int, c: int, d: int) -> None:
    """Write a quarter-turn or mirror matrix into the track header of an MP4 (ISO/IEC 14496-12, tkhd)."""
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4
    version = data[at]
    matrix = at + (52 if version == 1 else 40)
    data[matrix : matrix + 36] = struct.pack(">9i", a << 16, b << 16, 0, c << 16, d << 16, 0, 0, 0, 1 << 30)
    path.write_bytes(bytes(data))


def square_place(luma: np.ndarray) -> tuple[float, float]:
    """Centre of the bright square, x and y in px."""
    rows, columns = np.nonzero(luma > 150)
    return float(columns.mean()), float(rows.mean())


def text_file(path: Path) -> None:
    """Write words under a video's name."""
    path.write_text("this is no video\n" * 50)


def empty_file(path: Path) -> None:
    """Write nothing."""
    path.write_bytes(b"")


def sound_file(path: Path) -> None:
    """Write two seconds of silence without a picture."""
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(8000)
        out.writeframes(bytes(32_000))


def clip_without_index(path: Path) -> None:
    """Write a clip that was cut off before its index."""
    write_clip(path)
    data = path.read_bytes()
    path.write_bytes(data[: data.index(b"moov") - 4])
