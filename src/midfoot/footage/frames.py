"""Every frame of a clip, one at a time, upright, with its own timestamp. Memory does not grow with the clip."""

from __future__ import annotations

import threading
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from attrs import define
from numpy.typing import NDArray

from midfoot.footage.colour import luma_of, reduced, rgb_of
from midfoot.footage.container import Geometry, geometry_of, opened, seconds
from midfoot.footage.errors import FootageError
from midfoot.records.clip import Frame, Reading

BROKEN_PACKETS_BORNE = 300
"""In a row; after so many the rest is taken for rubble."""


PASSES_OVER = ("h264",)
"""Codecs whose pictures say for certain whether others are made from them (ITU-T H.264, nal_ref_idc)."""
SEEK_FROM_S = 2.0
"""A jump costs the decoder the pictures it has begun: nearer ones are decoded up to."""


def frames(path: Path | str, reading: Reading | None = None, *, every_s: float = 0.0) -> Iterator[Frame]:
    """Decode a clip.

    Parameters
    ----------
    path : path of the file.
    reading : Reading, optional
        Part, mirroring and speed; the whole clip as stored by default.
    every_s : float
        For who wants the first frame at least so long after the last one, and no others: the same ones are among
        those given, and most of the others are not decoded where the codec allows it.

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
        needed: Needed | None = None
        if every_s > 0.0 and stream.codec_context.name in PASSES_OVER:
            known, _ = clock_of(path)
            needed = Needed(frozenset(known), _spaced(known, first, stream.time_base, every_s, reading))
        for raw in decoded(container, stream, needed):
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
        known, keys = clock_of(Path(path)) if len(wanted) > 1 else ([], [])
        tick_s = seconds(1, stream.time_base)
        needed: Needed | None = None
        if known and stream.codec_context.name in PASSES_OVER:
            clock = [seconds(pts - first, stream.time_base) for pts in known]
            places = [bisect_left(clock, target - 1e-4) for target in wanted]
            needed = Needed(frozenset(known), {known[i] for i in places if i < len(known)})
        geometry: Geometry | None = None
        at = -np.inf
        source: Iterator[Any] = iter(())
        held: Any = None
        for position, target in enumerate(wanted):
            if at == -np.inf or (target - at > SEEK_FROM_S and _key_between(keys, first, at, target, tick_s)):
                container.seek(first + int(target / tick_s), stream=stream, backward=True)
                source, held = decoded(container, stream, needed), None
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


@define
class Needed:
    """Which pictures are wanted, by their ticks, among all `known` ones; no longer kept to once `off`.

    It is off where the stream turns out not to be as its packets said: then every picture is decoded.
    """

    known: frozenset[int]
    wanted: set[int]
    off: bool = False

    def passes_over(self, pts: int | None) -> bool:
        """Tell whether the picture of a packet is needed only if others are made from it."""
        return not self.off and pts is not None and pts not in self.wanted


def clock_of(path: Path) -> tuple[list[int], list[int]]:
    """Give the ticks of all pictures, ascending, and of those that stand by themselves; none is decoded."""
    import av

    known, keys = [], []
    with opened(path) as (container, stream):
        try:
            for packet in container.demux(stream):
                if packet.pts is not None:
                    known.append(int(packet.pts))
                    if packet.is_keyframe:
                        keys.append(int(packet.pts))
        except av.error.FFmpegError:
            pass  # what comes after is read, and judged, by who decodes
    return sorted(known), sorted(keys)


def _spaced(known: list[int], first: int, time_base: Any, every_s: float, reading: Reading) -> set[int]:
    """Ticks of the first picture in `reading`, and of each first one at least `every_s` after the last of them."""
    start = (reading.from_s or 0.0) * reading.real_speed
    out: set[int] = set()
    last = -np.inf
    for pts in known:
        at = seconds(pts - first, time_base)
        if at < max(start - 1e-6, 0.0) or at / reading.real_speed - last < every_s:
            continue
        out.add(pts)
        last = at / reading.real_speed
    return out


def _key_between(keys: list[int], first: int, after_s: float, to_s: float, tick_s: float) -> bool:
    """Tell whether decoding can begin anew between two moments."""
    place = bisect_left(keys, first + to_s / tick_s + 1) - 1
    return place >= 0 and (keys[place] - first) * tick_s > after_s


def decoded(container: Any, stream: Any, needed: Needed | None = None) -> Iterator[Any]:
    """Yield decoded frames in order, stepping over broken packets; a clip that is only rubble ends early.

    With `needed` only those are yielded that are wanted, and of the others as many as can be are not decoded.

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
        if needed is not None:
            stream.codec_context.skip_frame = "NONREF" if needed.passes_over(packet.pts) else "DEFAULT"
        try:
            raws = packet.decode()
        except av.error.FFmpegError:
            if needed is not None:
                needed.off = True
            whole_after = max(packet.pts or 0, whole_after or 0)
            broken += 1
            if broken > BROKEN_PACKETS_BORNE:
                return
            continue
        for raw in raws:
            if needed is not None and raw.is_corrupt:
                needed.off = True
            if raw.pts is None or raw.is_corrupt or (last is not None and raw.pts <= last):
                continue
            if whole_after is not None:
                if not raw.key_frame or raw.pts <= whole_after:
                    continue
                whole_after, broken = None, 0
            last = raw.pts
            if needed is not None and not needed.off:
                needed.off = raw.pts not in needed.known
                if needed.passes_over(raw.pts):
                    continue
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
