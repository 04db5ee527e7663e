"""A job in its worker's hands: what it is asked to do, how it tells, and the unit in which it may write."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from attrs import define, field
from sqlalchemy.engine import Connection

from midfoot.jobs import queue
from midfoot.jobs.queue import Claimed, Lost
from midfoot.store.workspace import Workspace

BEAT_S = 2.0
"""Between two signs of life, and how soon a cancelled job is noticed."""
Finish = Callable[[Connection], Any]


@define(eq=False)
class Job:
    """What a kind's function gets.

    Attributes
    ----------
    workspace : Workspace
    claimed : Claimed
    stop : Event
        Set when the work is to end soon: cancelled, lost, or the worker is asked to end.
    """

    workspace: Workspace
    claimed: Claimed
    stop: threading.Event = field(factory=threading.Event)
    lost: bool = False
    _told: tuple[str, float] = ("", 0.0)
    _over: threading.Event = field(factory=threading.Event)

    @property
    def payload(self) -> dict[str, Any]:
        """What was asked for."""
        return dict(self.claimed.payload)

    def progress(self, step: str, share: float) -> None:
        """Tell what is being done and which share of it is done, 0..1; may be called as often as one likes."""
        self._told = (step, share)

    @contextmanager
    def unit(self) -> Iterator[Connection]:
        """Give a connection for a unit of writing; nothing is kept when the job is not this worker's any more.

        Raises
        ------
        Lost
            Then.
        """
        with self.workspace.write() as connection:
            queue.hold(connection, self.claimed.id, self.claimed.fence)
            yield connection

    def beating(self) -> threading.Thread:
        """Begin to give signs of life on a thread; `end_beating` ends it."""
        thread = threading.Thread(target=self._beat, daemon=True, name=f"beat {self.claimed.id}")
        thread.start()
        return thread

    def end_beating(self, thread: threading.Thread) -> None:
        """End the signs of life."""
        self._over.set()
        thread.join()

    def _beat(self) -> None:
        said: tuple[str, float] | None = None
        last = time.monotonic()
        while not self._over.wait(0.25 if said != self._told else BEAT_S / 4):
            changed = said != self._told
            if time.monotonic() - last < (0.4 if changed else BEAT_S):
                continue
            last, said = time.monotonic(), self._told
            try:
                with self.workspace.write() as connection:
                    queue.beat(connection, self.claimed.id, self.claimed.fence, said[1], said[0])
            except Lost:
                self.lost = True
                self.stop.set()
                return
            except OSError:
                continue  # the disk is full or the database is held: the next beat tries again
