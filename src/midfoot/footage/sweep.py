"""One decode, several consumers: each looks at every frame on its own thread, with a short queue before it."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Protocol

from midfoot.records.clip import Frame

QUEUE_FRAMES = 6
"""Frames that may wait before a slow consumer; what bounds the memory."""


WAIT_S = 0.1
"""Between two words of progress while a sweep is waited for."""


class Consumer(Protocol):
    """Something that looks at frames in order."""

    def see(self, frame: Frame) -> None:
        """Look at one frame."""


class Stopped(Exception):
    """The sweep was stopped from outside before the clip's end."""


def heeding(source: Iterable[Frame], stop: threading.Event | None) -> Iterator[Frame]:
    """Give the frames of `source`, and end with `Stopped` before the next one once `stop` is set."""
    for frame in source:
        if stop is not None and stop.is_set():
            raise Stopped
        yield frame


def sweep(
    source: Iterable[Frame],
    consumers: Iterable[Consumer],
    *,
    progress: Callable[[float], None] | None = None,
    stop: threading.Event | None = None,
) -> int:
    """Show every frame of `source` to every consumer, in order.

    Parameters
    ----------
    source : frames in order.
    consumers : each is called on its own thread; an error in one ends the sweep and is raised here.
    progress : called with the timestamp of each frame.
    stop : when set, the sweep ends with `Stopped`.

    Returns
    -------
    int
        Number of frames shown.
    """
    failed: list[BaseException] = []
    ended = threading.Event()
    lanes: list[tuple[queue.Queue[Frame | None], threading.Thread]] = []
    for consumer in consumers:
        lane: queue.Queue[Frame | None] = queue.Queue(QUEUE_FRAMES)
        thread = threading.Thread(target=_drain, args=(lane, consumer, failed, ended), daemon=True)
        thread.start()
        lanes.append((lane, thread))
    count = 0
    try:
        for frame in heeding(source, stop):
            if failed:
                break
            for lane, _ in lanes:
                lane.put(frame)
            count += 1
            if progress is not None:
                progress(frame.t_s)
    except BaseException:
        ended.set()  # what waits in the lanes is dropped: who stops the work does not wait for it
        raise
    finally:
        for lane, _ in lanes:
            lane.put(None)
        for _, thread in lanes:
            thread.join()
    if failed:
        raise failed[0]
    return count


@contextmanager
def beside(
    source: Iterable[Frame],
    consumers: Iterable[Consumer],
    *,
    progress: Callable[[float], None] | None = None,
    stop: threading.Event | None = None,
) -> Iterator[None]:
    """Sweep on a thread of its own while the block runs; leaving the block waits for the sweep.

    `progress` is called on the caller's thread, while it waits, with the timestamp that the sweep is at. An error
    in the sweep is raised on leaving the block; an error in the block ends the sweep.
    """
    given_up = threading.Event()
    failed: list[BaseException] = []
    at_s = [0.0]

    def passed(t_s: float) -> None:
        at_s[0] = t_s

    def run() -> None:
        try:
            sweep(heeding(source, stop), consumers, progress=passed, stop=given_up)
        except BaseException as error:
            failed.append(error)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        yield
        while thread.is_alive():
            thread.join(WAIT_S)
            if progress is not None:
                progress(at_s[0])
    except BaseException:
        given_up.set()
        raise
    finally:
        thread.join()
    if failed:
        raise failed[0]


def _drain(
    lane: queue.Queue[Frame | None], consumer: Consumer, failed: list[BaseException], ended: threading.Event
) -> None:
    while (frame := lane.get()) is not None:
        if failed or ended.is_set():
            continue  # keep emptying, so that whoever puts is never left waiting
        try:
            consumer.see(frame)
        except BaseException as error:
            failed.append(error)
