"""Cheap kinds of jobs for the tests of queue and workers; worker processes import this module."""

from __future__ import annotations

import errno
import os
import time

import sqlalchemy as sa

from midfoot.jobs import Kind
from midfoot.jobs.job import Job
from midfoot.store import StoreError, write_whole
from midfoot.store.tables import audit

KINDS = {
    name: Kind(name, f"cheap_jobs:{name}", max_attempts=attempts)
    for name, attempts in (("make", 50), ("linger", 3), ("crash", 2), ("full", 3), ("odd", 2))
}


def make(job: Job):
    """Write a file whole, slowly, unless it is there; note every time that it was begun and made."""
    folder = job.workspace.path / "library"
    file = folder / f"{job.claimed.key}.txt"
    _note(job, "begun")
    if not file.exists():
        with write_whole(file) as beside:
            for step in range(5):
                job.progress("writing", step / 5)
                time.sleep(job.payload.get("step_s", 0.02))
                with beside.open("a") as out:
                    out.write(f"{step}\n")
        _note(job, "made")
        time.sleep(job.payload.get("step_s", 0.02))

    def finish(connection: sa.Connection):
        connection.execute(audit.insert().values(what="made", subject_kind="test", subject_id=job.claimed.key))
        return {"lines": len(file.read_text().split())}

    return finish


def linger(job: Job) -> None:
    """Wait until told to stop; take the telling as a failure, as the stages do."""
    (job.workspace.path / "library" / "lingering").write_text(str(os.getpid()))
    job.progress("lingering", 0.5)
    if job.stop.wait(20):
        (job.workspace.path / "library" / "stopped").write_text("yes")
        raise RuntimeError("stopped")


def crash(job: Job) -> None:
    """End the process without a word, as the system does when memory runs out."""
    os.kill(os.getpid(), 9)


def full(job: Job) -> None:
    """Meet a full disk."""
    raise StoreError("the place: the disk is full; free some room.") from OSError(errno.ENOSPC, "no space")


def odd(job: Job) -> None:
    """Fail as a programming error does."""
    raise KeyError("nobody thought of this")


def _note(job: Job, what: str) -> None:
    with (job.workspace.path / "log" / what).open("a") as file:
        file.write(job.claimed.key + "\n")
