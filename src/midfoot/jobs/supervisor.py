"""Starts worker processes, replaces those that died, takes back what they had, and ends them."""

from __future__ import annotations

import os
import secrets
import shutil
import signal
import threading
import time
from collections.abc import Collection, Mapping
from contextlib import suppress
from datetime import datetime
from multiprocessing import get_context
from multiprocessing.context import SpawnProcess
from pathlib import Path

from attrs import define, field

from midfoot.jobs import queue
from midfoot.jobs.kinds import KINDS, Kind
from midfoot.jobs.queue import Silent, Taken
from midfoot.jobs.settling import gave_up
from midfoot.jobs.worker import main
from midfoot.store.workspace import Workspace

TICK_S = 0.3
PATIENCE_S = 10.0
"""A job whose lease is over is watched for so long on a clock that nobody sets; only one that gives no sign of
life meanwhile is taken. So a computer that slept, or a clock put forward, takes nothing from a living worker."""
LOOK_S = 2.0
"""Between two looks for jobs whose lease is over."""
LEAVE_S = 15.0
"""For workers to end cleanly before they are killed."""
QUICK_S = 3.0
"""A worker that dies sooner than that is started again only after a while."""


def default_workers() -> int:
    """Give how many workers a machine takes: each keeps about two processors busy."""
    return max(1, (os.cpu_count() or 2) // 2)


@define(eq=False)
class Patience:
    """Remembers since when each silent job has given no sign of life, on a monotonic clock."""

    since: dict[tuple[str, int, datetime | None], float] = field(factory=dict)

    def ripe(self, found: tuple[Silent, ...], at_s: float) -> list[Silent]:
        """Give those of `found` that have been silent for `PATIENCE_S` now; forget all others."""
        keys = {(s.id, s.fence, s.heartbeat_at): s for s in found}
        self.since = {key: self.since.get(key, at_s) for key in keys}
        return [s for key, s in keys.items() if at_s - self.since[key] >= PATIENCE_S]


@define(eq=False)
class _Worker:
    name: str
    process: SpawnProcess
    started_s: float


@define(eq=False)
class Supervisor:
    """Keeps `workers` processes at work on a workspace. Start it, and stop it in the end.

    Attributes
    ----------
    workspace : Workspace
    workers : int
    kinds : mapping of Kind
    """

    workspace: Workspace
    workers: int = 1
    kinds: Mapping[str, Kind] = field(factory=lambda: KINDS)
    _running: list[_Worker] = field(factory=list)
    _thread: threading.Thread | None = None
    _leave: threading.Event = field(factory=threading.Event)
    _wait_until_s: float = 0.0
    _looked_s: float = 0.0
    _patience: Patience = field(factory=Patience)

    def start(self) -> None:
        """Start the workers and watch over them on a thread."""
        self._thread = threading.Thread(target=self._watch, daemon=True, name="jobs")
        self._thread.start()

    def stop(self, within_s: float = LEAVE_S) -> None:
        """Ask all workers to end, wait, kill the rest; what they had goes back into the queue."""
        self._leave.set()
        if self._thread is not None:
            self._thread.join()
        for worker in self._running:
            if worker.process.is_alive():
                worker.process.terminate()
        until = time.monotonic() + within_s
        for worker in self._running:
            worker.process.join(max(0.0, until - time.monotonic()))
            if worker.process.is_alive():
                worker.process.kill()
                worker.process.join()
            self._bury(worker)
        self._running.clear()

    def pids(self) -> list[int]:
        """Give the process numbers of the workers that are alive."""
        return [w.process.pid for w in list(self._running) if w.process.pid is not None and w.process.is_alive()]

    def pids_of(self, names: Collection[str]) -> list[int]:
        """Give the process numbers of the workers of these names that are alive."""
        return [
            w.process.pid for w in list(self._running)
            if w.name in names and w.process.pid is not None and w.process.is_alive()
        ]  # fmt: skip

    def _watch(self) -> None:
        while not self._leave.is_set():
            self._tick()
            self._leave.wait(TICK_S)

    def _tick(self) -> None:
        at_s = time.monotonic()
        for worker in [w for w in self._running if not w.process.is_alive()]:
            self._running.remove(worker)
            self._bury(worker)
            if at_s - worker.started_s < QUICK_S and worker.process.exitcode not in (0, -9):
                self._wait_until_s = at_s + 2 * QUICK_S
        if at_s >= self._wait_until_s:
            while len(self._running) < self.workers:
                self._running.append(self._hire())
        if at_s - self._looked_s >= LOOK_S:
            self._looked_s = at_s
            self._take_back(at_s)

    def _hire(self) -> _Worker:
        name = f"{os.getpid()}-{secrets.token_hex(4)}"
        process = get_context("spawn").Process(
            target=main, args=(str(self.workspace.path), name, dict(self.kinds)), name=f"worker {name}"
        )
        process.start()
        return _Worker(name, process, time.monotonic())

    def _bury(self, worker: _Worker) -> None:
        """Take back at once what a worker had that is known to be gone."""
        worker.process.join()
        over: list[Taken] = []
        with suppress(OSError), self.workspace.write() as connection:
            killed = worker.process.exitcode == -signal.SIGKILL
            over = queue.give_back(connection, worker=worker.name, killed=killed)
            for taken in over:
                if taken.error:
                    gave_up(connection, taken.kind, taken.payload, taken.error)
        for taken in over:
            self._sweep(taken)

    def _sweep(self, taken: Taken) -> None:
        """Take away what a given-up job left half-made; one that goes on does it itself."""
        clip_id = taken.payload.get("clip_id")
        if taken.error and isinstance(clip_id, str):
            for left in self.workspace.measured(clip_id, "").glob(".making-*"):
                shutil.rmtree(left, ignore_errors=True)

    def _take_back(self, at_s: float) -> None:
        """Take back what was left by workers of other programs, which nobody here can ask."""
        with suppress(OSError):
            with self.workspace.read() as connection:
                found = queue.silent(connection)
            ripe = self._patience.ripe(found, at_s)
            if not ripe:
                return
            with self.workspace.write() as connection:
                for taken in queue.give_back(connection, ripe):
                    if taken.error:
                        gave_up(connection, taken.kind, taken.payload, taken.error)


def work(workspace: Workspace | Path | str, workers: int = 1, *, stop: threading.Event | None = None,
         kinds: Mapping[str, Kind] = KINDS) -> None:  # fmt: skip
    """Work on a workspace's jobs until `stop` is set; without it, until the process is ended."""
    opened = workspace if isinstance(workspace, Workspace) else Workspace.open(workspace)
    stop = stop or threading.Event()
    supervisor = Supervisor(opened, workers, kinds)
    supervisor.start()
    try:
        stop.wait()
    finally:
        supervisor.stop()
        if not isinstance(workspace, Workspace):
            opened.close()
