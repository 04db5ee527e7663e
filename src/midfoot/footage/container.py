"""Opening a container: stream choice, orientation, clock. Private to footage."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Any

from attrs import frozen

from midfoot.footage.errors import FootageError

MAX_LONG_SIDE_PX = 1920
"""Larger pictures are decoded smaller: a plate in an ordinary framing is then still some 250 px across."""

MOST_THREADED_PX = 4096
"""Larger pictures are decoded on two threads: every thread holds some of them, 50 MB each at 8K."""


@frozen
class Geometry:
    """How a stored picture becomes the upright one: transpose, then flip left-right, then top-bottom."""

    transposed: bool
    flip_x: bool
    flip_y: bool
    stored_width_px: int
    stored_height_px: int
    reduced: float

    @property
    def rotation_deg(self) -> int:
        """Clockwise quarter turn that the file asks for, mirroring left aside."""
        if self.transposed:
            return 270 if self.flip_y else 90
        return 180 if self.flip_y else 0

    @property
    def reduced_size_px(self) -> tuple[int, int]:
        """Width and height of the reduced picture as stored, even numbers."""
        if self.reduced == 1.0:
            return self.stored_width_px, self.stored_height_px
        return (
            int(self.stored_width_px / self.reduced / 2) * 2,
            int(self.stored_height_px / self.reduced / 2) * 2,
        )

    @property
    def upright_size_px(self) -> tuple[int, int]:
        """Width and height of the upright, reduced picture."""
        w, h = self.reduced_size_px
        return (h, w) if self.transposed else (w, h)


@contextmanager
def opened(path: Path) -> Iterator[tuple[Any, Any]]:
    """Open `path` and give (container, first video stream); every failure is a FootageError."""
    import av  # imported late: two FFmpeg copies in one process are best kept out of programs that only read

    if not path.exists():
        raise FootageError(f"There is no file {path}; check the path.")
    if path.is_dir():
        raise FootageError(f"{path} is a folder; give one video file.")
    if path.stat().st_size == 0:
        raise FootageError(f"{path.name} is empty; send the file again, the transfer broke off.")
    try:
        container = av.open(str(path), metadata_errors="replace")
    except av.error.InvalidDataError:
        head = path.read_bytes()[:4096]
        if b"ftyp" in head[:64]:
            raise FootageError(
                f"{path.name} has no readable index, which happens when a recording or a transfer is cut off; "
                "send the original file again."
            ) from None
        raise FootageError(f"{path.name} is not a video that can be read; send the phone's own file.") from None
    except (av.error.FFmpegError, OSError, ValueError) as error:
        raise FootageError(f"{path.name} cannot be opened ({error}); send the phone's own file.") from None
    try:
        streams = [s for s in container.streams.video if s.codec_context is not None]
        moving = [s for s in streams if not _is_cover(s)]
        if not moving:
            what = "only sound" if container.streams.audio else "no moving picture"
            raise FootageError(f"{path.name} holds {what}; send the video itself.")
        stream = moving[0]
        stream.thread_type = "AUTO"
        if max(stream.codec_context.width, stream.codec_context.height) > MOST_THREADED_PX:
            stream.codec_context.thread_count = 2
        yield container, stream
    finally:
        container.close()


def _is_cover(stream: Any) -> bool:
    return bool(getattr(stream.disposition, "value", 0) & 0x400) or stream.codec_context.name in (
        "png",
        "gif",
    )


def seconds(ticks: int, time_base: Any) -> float:
    """Turn ticks into seconds; PyAV's time base changed its type between majors."""
    return float(Fraction(time_base.numerator, time_base.denominator) * ticks)


def geometry_of(frame: Any, *, mirrored: bool) -> Geometry:
    """Tell how a decoded frame must be turned, flipped and reduced, from its display matrix.

    ISO/IEC 14496-12 writes the matrix {a, b, u, c, d, v, x, y, w}: a stored point (x, y) is shown at
    (a x + c y, b x + d y). Only the eight quarter-turn and mirror cases are taken.
    """
    a, b, c, d = _display_matrix(frame)
    long_side = max(frame.width, frame.height)
    reduced = long_side / MAX_LONG_SIDE_PX if long_side > MAX_LONG_SIDE_PX * 1.02 else 1.0
    transposed = a == 0 and d == 0
    flip_x, flip_y = (c < 0, b < 0) if transposed else (a < 0, d < 0)
    return Geometry(transposed, flip_x != mirrored, flip_y, frame.width, frame.height, reduced)


def _display_matrix(frame: Any) -> tuple[int, int, int, int]:
    from av.sidedata.sidedata import Type

    data = frame.side_data.get(Type.DISPLAYMATRIX)
    if data is None:
        return 1, 0, 0, 1
    m = struct.unpack("<9i", bytes(data)[:36])
    a, b, c, d = (round(v / 65536) for v in (m[0], m[1], m[3], m[4]))
    if sorted((abs(a), abs(b), abs(c), abs(d))) != [0, 0, 1, 1] or abs(a) != abs(d):
        raise FootageError("The clip's rotation flag is not a quarter turn; export it upright and send it again.")
    return a, b, c, d
