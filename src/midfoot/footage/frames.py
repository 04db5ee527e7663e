"""Every frame of a clip, one at a time, upright, with its own timestamp. Memory does not grow with the clip."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from midfoot.footage.colour import luma_of, reduced, rgb_of
from midfoot.footage.container import Geometry, geometry_of, opened, seconds
from midfoot.footage.errors import FootageError
from midfoot.records.clip import Frame, Reading

BROKEN_PACKETS_BORNE = 300
"""In a row; after so many the rest is taken for rubble."""


def frames(path: Path | str, reading: Reading | None = None) -> Iterator[Frame]:
    """Decode a clip.

    Parameters
    ----------
    path : path of the file.
    reading : Reading, optional
        Part, mirroring and speed; the whole clip as stored by default.

    Yields
    ------
    Frame
        In order of presentation. `t_s` counts from the clip's first shown frame, also with `from_s`.
        `index` counts yielded frames from 0. Frames without a timestamp are left out.

    Raises
    ------
    FootageError
        When nothing can be decoded. A clip that breaks off later simply ends.
    """
    reading = reading or Reading()
    path = Path(path)
    start = (reading.from_s or 0.0) * reading.real_speed
    end = np.inf if reading.to_s is None else reading.to_s * reading.real_speed
    count = 0
    with opened(path) as (container, stream):
        first = first_pts(container, stream)
        if start > 0.5:
            container.seek(first + int(start / seconds(1, stream.time_base)), stream=stream, backward=True)
        geometry: Geometry | None = None
        for raw in decoded(container, stream):
            t_s = seconds(raw.pts - first, stream.time_base)
            if t_s < start - 1e-6 or t_s < 0:
                continue
            if t_s > end + 1e-6:
                break
            if geometry is None:
                geometry = geometry_of(raw, mirrored=reading.mirrored)
            yield _frame(count, t_s / reading.real_speed, raw, geometry)
            count += 1
    if not count:
        raise FootageError(f"No frame of {path.name} can be decoded; send the phone's own file.")


def frames_at(path: Path | str, times_s: Iterable[float], reading: Reading | None = None) -> Iterator[Frame]:
    """Decode the frames nearest at or after each of `times_s` (ascending), seeking where that saves work.

    `index` is the position in `times_s`. Moments past the end give nothing.
    """
    reading = reading or Reading()
    wanted = [t * reading.real_speed for t in times_s]
    if wanted != sorted(wanted):
        raise ValueError("times_s: expected ascending moments")
    with opened(Path(path)) as (container, stream):
        first = first_pts(container, stream)
        geometry: Geometry | None = None
        at = -np.inf
        source: Iterator[Any] = iter(())
        held: Any = None
        for position, target in enumerate(wanted):
            if target - at > 2.0 or at == -np.inf:
                container.seek(first + int(target / seconds(1, stream.time_base)), stream=stream, backward=True)
                source, held = decoded(container, stream), None
            while held is None or held.pts is None or seconds(held.pts - first, stream.time_base) < target - 1e-4:
                held = next(source, None)
                if held is None:
                    return
            at = seconds(held.pts - first, stream.time_base)
            geometry = geometry or geometry_of(held, mirrored=reading.mirrored)
            yield _frame(position, at / reading.real_speed, held, geometry)


def first_picture(container: Any, stream: Any, path: Path) -> Any:
    """Give the first frame that decodes, still in PyAV's own form."""
    raw = next(decoded(container, stream), None)
    if raw is None:
        raise FootageError(f"No frame of {path.name} can be decoded; send the phone's own file.")
    return raw


def first_pts(container: Any, stream: Any) -> int:
    """Give the tick from which the clip's clock counts: that of its first shown frame."""
    if stream.start_time is not None:
        return int(stream.start_time)
    for raw in decoded(container, stream):
        if raw.pts is not None:
            container.seek(0)
            return int(raw.pts)
    return 0


def decoded(container: Any, stream: Any) -> Iterator[Any]:
    """Yield decoded frames in order, stepping over broken packets; a clip that is only rubble ends early.

    After a broken packet the decoder goes on with pictures made up from older ones, which look still where
    things move, and may give late ones out of turn: nothing is taken until a picture that stands by itself and
    comes after what was broken.
    """
    import av

    broken = 0
    whole_after: int | None = None
    last: int | None = None
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
        except av.error.FFmpegError:
            return
        if packet is None:
            return
        try:
            raws = packet.decode()
        except av.error.FFmpegError:
            whole_after = max(packet.pts or 0, whole_after or 0)
            broken += 1
            if broken > BROKEN_PACKETS_BORNE:
                return
            continue
        for raw in raws:
            if raw.pts is None or raw.is_corrupt or (last is not None and raw.pts <= last):
                continue
            if whole_after is not None:
                if not raw.key_frame or raw.pts <= whole_after:
                    continue
                whole_after, broken = None, 0
            last = raw.pts
            yield raw


def _frame(index: int, t_s: float, raw: Any, geometry: Geometry) -> Frame:
    small = reduced(raw, geometry)
    return Frame(index, t_s, luma_of(small, geometry), _once(lambda: rgb_of(small, geometry)))


def _once(make: Callable[[], NDArray[np.uint8]]) -> Callable[[], NDArray[np.uint8]]:
    """Convert on the first call only, also when two consumers on two threads ask together."""
    lock = threading.Lock()
    made: list[NDArray[np.uint8]] = []

    def give() -> NDArray[np.uint8]:
        with lock:
            if not made:
                made.append(make())
            return made[0]

    return give
