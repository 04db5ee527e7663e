"""Ctrl-C and a plea to end: the first one lets the work end cleanly and soon, a second one ends it at once."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stoppable() -> Iterator[threading.Event]:
    """Give an event that Ctrl-C (SIGINT) or SIGTERM sets while the block runs.

    The work looks at it between frames, so files that are being written vanish as they do after any failure. A
    second signal raises KeyboardInterrupt on the spot. Whatever fails once the event is set (a child process that
    heard the same Ctrl-C) has failed for that reason: it becomes `Stopped`. Outside the main thread, where Python
    takes no signals, the event is only given.
    """
    stop = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield stop
        return

    def asked(_number: int, _frame: FrameType | None) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()

    before = {number: signal.signal(number, asked) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    except Exception:
        if stop.is_set():
            from midfoot.footage import Stopped

            raise Stopped from None
        raise
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
