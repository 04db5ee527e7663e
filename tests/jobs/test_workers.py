"""Workers in processes of their own, killed at random moments: nothing lost, nothing finished twice."""

from __future__ import annotations

import os
import random
import signal
import threading
import time
from collections import Counter
from collections.abc import Callable

import cheap_jobs
import pytest
import sqlalchemy as sa

from midfoot.jobs import Supervisor, cancel, enqueue, queue, retry, supervisor
from midfoot.jobs.worker import work_on
from midfoot.store import Workspace
from midfoot.store.tables import audit, jobs


def add(workspace: Workspace, kind: str, key: str, **payload: object) -> str:
    with workspace.write() as connection:
        return enqueue(connection, kind, key, payload, kinds=cheap_jobs.KINDS)


def row(workspace: Workspace, job_id: str):
    with workspace.read() as connection:
        return connection.execute(sa.select(jobs).where(jobs.c.id == job_id)).one()


def states(workspace: Workspace) -> Counter[str]:
    with workspace.read() as connection:
        return Counter(connection.execute(sa.select(jobs.c.state)).scalars())


def until(true: Callable[[], bool], within_s: float = 30.0) -> None:
    end = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.02)


@pytest.fixture
def hired(workspace: Workspace):
    running: list[Supervisor] = []

    def hire(workers: int = 1) -> Supervisor:
        running.append(Supervisor(workspace, workers, cheap_jobs.KINDS))
        running[-1].start()
        return running[-1]

    yield hire
    for one in running:
        one.stop()


def made(workspace: Workspace, what: str) -> Counter[str]:
    file = workspace.log / what
    return Counter(file.read_text().split()) if file.exists() else Counter()


def test_a_worker_killed_at_random_moments_loses_nothing_and_repeats_nothing_finished(
    workspace: Workspace, hired, monkeypatch: pytest.MonkeyPatch
) -> None:
    """20 jobs, two workers racing for them, one of them killed (SIGKILL) again and again while jobs run."""
    monkeypatch.setattr(queue, "BACK_OFF_S", (0.05,))
    keys = [f"k{n:02}" for n in range(20)]
    for key in keys:
        add(workspace, "make", key, step_s=0.03)
    chance = random.Random(5)
    crew = hired(2)
    killed = 0
    while states(workspace)["done"] < len(keys):
        until(lambda: states(workspace)["running"] > 0 or states(workspace)["done"] == len(keys))
        time.sleep(chance.uniform(0.0, 0.2))
        pids = crew.pids()
        if pids and killed < 10:
            os.kill(chance.choice(pids), signal.SIGKILL)
            killed += 1
        assert states(workspace)["failed"] == 0

    assert killed >= 5
    with workspace.read() as connection:
        rows = Counter(connection.execute(sa.select(audit.c.subject_id).where(audit.c.what == "made")).scalars())
        results = connection.execute(sa.select(jobs.c.result)).scalars().all()
    assert rows == dict.fromkeys(keys, 1)
    assert all(r == {"lines": 5} for r in results)
    assert max(made(workspace, "made").values()) == 1, "a file that was whole was made again"
    assert sum(made(workspace, "begun").values()) > len(keys), "no kill met a job at work: the test shows nothing"
    assert sorted(p.stem for p in workspace.library.glob("[!.]*.txt")) == keys


def test_cancelling_a_running_job_stops_its_work_and_refuses_its_result(workspace: Workspace, hired) -> None:
    job_id = add(workspace, "linger", "a")
    hired(1)
    until(lambda: (workspace.library / "lingering").exists())

    with workspace.write() as connection:
        assert cancel(connection, job_id)

    until(lambda: (workspace.library / "stopped").exists(), 8)
    time.sleep(0.3)
    assert row(workspace, job_id).state == "cancelled"
    after = add(workspace, "make", "b")
    until(lambda: row(workspace, after).state == "done")


def test_a_job_that_keeps_killing_its_worker_is_given_up_with_a_sentence(
    workspace: Workspace, hired, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queue, "BACK_OFF_S", (0.05,))
    monkeypatch.setattr(queue, "KILLED_FACTOR", 1)
    job_id = add(workspace, "crash", "a")
    hired(1)
    until(lambda: row(workspace, job_id).state == "failed")

    found = row(workspace, job_id)
    assert "ended 2 times without a word" in found.error
    assert "try again" in found.error
    with workspace.write() as connection:
        assert retry(connection, job_id) == job_id


def test_workers_asked_to_end_put_their_job_back_uncounted(workspace: Workspace) -> None:
    job_id = add(workspace, "linger", "a")
    crew = Supervisor(workspace, 1, cheap_jobs.KINDS)
    crew.start()
    until(lambda: (workspace.library / "lingering").exists())
    pids = crew.pids()

    crew.stop()

    found = row(workspace, job_id)
    assert (found.state, found.attempt, found.worker) == ("queued", 0, None)
    for pid in pids:
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)


@pytest.mark.parametrize(
    ("kind", "says", "tries"),
    [("full", "The disk is full; free some room", 1), ("odd", "Something in midfoot went wrong (KeyError", 2)],
)
def test_a_failure_is_told_in_one_sentence_with_the_remedy(
    workspace: Workspace, kind: str, says: str, tries: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk waits for the coach; what nobody thought of is tried again, its trace is logged."""
    monkeypatch.setattr(queue, "BACK_OFF_S", (0.0,))
    job_id = add(workspace, kind, "a")

    taken = work_on(workspace, "here", cheap_jobs.KINDS, threading.Event(), until_idle=True)

    found = row(workspace, job_id)
    assert (found.state, taken) == ("failed", tries)
    assert found.error.startswith(says)
    assert "Try again" in found.error
    assert "\n" not in found.error
    assert (workspace.log / "errors.log").exists() == (kind == "odd")


def test_a_job_of_a_worker_that_nobody_can_ask_is_taken_when_it_stays_silent(
    workspace: Workspace, hired, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its machine is gone: the lease ends, nothing is heard for a while, and another worker does the job."""
    monkeypatch.setattr(queue, "LEASE_S", 0.2)
    monkeypatch.setattr(supervisor, "PATIENCE_S", 0.5)
    monkeypatch.setattr(supervisor, "LOOK_S", 0.2)
    job_id = add(workspace, "make", "a")
    with workspace.write() as connection:
        lost = queue.claim(connection, "far away", list(cheap_jobs.KINDS))
    assert lost is not None
    hired(1)

    until(lambda: row(workspace, job_id).state == "done")

    with pytest.raises(queue.Lost), workspace.write() as connection:
        queue.finish(connection, lost.id, lost.fence, "late")
    assert row(workspace, job_id).result == {"lines": 5}
