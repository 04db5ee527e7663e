"""One worker process: takes jobs one by one, gives signs of life, writes results under its fencing number."""

from __future__ import annotations

import importlib
import os
import resource
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import datetime
from multiprocessing import parent_process
from pathlib import Path

from midfoot.jobs import queue
from midfoot.jobs.failures import sentence
from midfoot.jobs.job import Finish, Job
from midfoot.jobs.kinds import Kind
from midfoot.jobs.queue import Lost
from midfoot.jobs.settling import gave_up
from midfoot.store.workspace import Workspace

IDLE_S = 0.4
MOST_MEMORY_MB = 700
"""A worker that holds more after a job ends and a fresh one takes its place."""
GRACE_S = 20.0
"""For the work to end cleanly once the program that started the worker is gone."""
LONGEST_S = 900.0
"""Between two attempts at what is tried without end."""
NICE = 5
"""Pages answer before films are measured."""


def main(path: str, name: str, kinds: Mapping[str, Kind]) -> None:
    """Work until asked to end (SIGTERM), or until the process that started this one is gone.

    Parameters
    ----------
    path : of the workspace.
    name : of this worker, as it stands in the rows of its jobs.
    kinds : that it knows.
    """
    leaving = threading.Event()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to the whole group; the supervisor decides
    signal.signal(signal.SIGTERM, lambda *_: leaving.set())
    with suppress(OSError):
        os.nice(NICE)
    threading.Thread(target=_leave_with_parent, args=(leaving,), daemon=True).start()
    with Workspace.open(path) as workspace:
        work_on(workspace, name, kinds, leaving)


def work_on(
    workspace: Workspace,
    name: str,
    kinds: Mapping[str, Kind],
    leaving: threading.Event,
    *,
    until_idle: bool = False,
) -> int:
    """Do jobs until `leaving` is set, with `until_idle` until none is left; gives how many were taken."""
    count = 0
    while not leaving.is_set():
        claimed = None
        with suppress(OSError), workspace.read() as connection:
            ready = queue.waiting(connection, kinds)
        if ready:
            with suppress(OSError), workspace.write() as connection:
                claimed = queue.claim(connection, name, kinds)
        if claimed is None:
            if until_idle and not ready:
                break
            leaving.wait(IDLE_S)
            continue
        count += 1
        do(Job(workspace, claimed), kinds[claimed.kind], leaving)
        if held_mb() > MOST_MEMORY_MB and not until_idle:
            break
    return count


def do(job: Job, kind: Kind, leaving: threading.Event) -> None:
    """Do one job and record how it ended."""
    ended = threading.Event()
    threading.Thread(target=_stop_when, args=(leaving, ended, job.stop), daemon=True).start()
    thread = job.beating()
    try:
        try:
            finish = function_of(kind)(job)
            with job.unit() as connection:
                result = finish(connection) if finish is not None else None
                queue.finish(connection, job.claimed.id, job.claimed.fence, result)
        finally:
            ended.set()
            job.end_beating(thread)
    except Lost:
        return
    except Exception as error:
        _ended_badly(job, kind, error, leaving)


def _ended_badly(job: Job, kind: Kind, error: Exception, leaving: threading.Event) -> None:
    claimed, said, again = job.claimed, *sentence(error)
    with suppress(Lost, OSError), job.workspace.write() as connection:
        if leaving.is_set():
            queue.release(connection, claimed.id, claimed.fence)
            return
        how = {"again": True, "longest_s": LONGEST_S} if kind.without_end else {"again": again}
        if queue.fail(connection, claimed.id, claimed.fence, said, **how) == "failed":
            gave_up(connection, claimed.kind, claimed.payload, said)
    if again:
        trace = "".join(traceback.format_exception(error))
        log(job.workspace, f"{claimed.kind} {claimed.key}, attempt {claimed.attempt}\n{trace}")


def function_of(kind: Kind) -> Callable[[Job], Finish | None]:
    """Import a kind's function."""
    module, _, name = kind.target.partition(":")
    found: Callable[[Job], Finish | None] = getattr(importlib.import_module(module), name)
    return found


def log(workspace: Workspace, text: str) -> None:
    """Add to the workspace's log of errors; a log that cannot be written is no failure."""
    with suppress(OSError):
        workspace.log.mkdir(exist_ok=True)
        with (workspace.log / "errors.log").open("a", encoding="utf-8") as file:
            file.write(f"{datetime.now().astimezone().isoformat(timespec='seconds')} {text}\n")


def held_mb() -> float:
    """Give the memory that this process holds now, MB; the most it ever held where the system does not say."""
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
    except (OSError, IndexError, ValueError):
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        return most / 1e6 if sys.platform == "darwin" else most / 1e3


def _stop_when(leaving: threading.Event, ended: threading.Event, stop: threading.Event) -> None:
    while not ended.wait(0.2):
        if leaving.is_set():
            stop.set()
            return


def _leave_with_parent(leaving: threading.Event) -> None:
    parent = parent_process()
    if parent is None:
        return
    parent.join()
    leaving.set()
    threading.Event().wait(GRACE_S)
    os._exit(1)  # whatever still hangs: its job's lease runs out
