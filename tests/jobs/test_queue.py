"""The queue against a model of it: whatever happens in whichever order, no job is lost, doubled or done twice."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, invariant, multiple, precondition, rule

from midfoot.jobs import Kind, queue
from midfoot.jobs.queue import LEASE_S, Claimed, Lost
from midfoot.store.tables import jobs, metadata

START = datetime(2031, 5, 24, 12, tzinfo=UTC)
KINDS = {"near": Kind("near", "x:y", priority=5, max_attempts=2), "far": Kind("far", "x:y", max_attempts=3)}
WORKERS = ("one", "two", "three")


@pytest.fixture
def connection():
    engine = sa.create_engine("sqlite://")
    metadata.create_all(engine)
    with engine.connect() as opened:
        yield opened
    engine.dispose()


class Queue(RuleBasedStateMachine):
    """Model: state, fence and attempt of every job, and which results were taken."""

    claims = Bundle("claims")
    ids = Bundle("ids")

    def __init__(self) -> None:
        super().__init__()
        self.engine = sa.create_engine("sqlite://")
        metadata.create_all(self.engine)
        self.connection = self.engine.connect()
        self.at = START
        self.made = START
        self.states: dict[str, str] = {}
        self.fences: dict[str, int] = {}
        self.taken: dict[str, int] = {}
        self.retried: dict[str, int] = {}
        self.keys: dict[str, tuple[str, str]] = {}

    def teardown(self) -> None:
        self.connection.close()
        self.engine.dispose()

    def row(self, job_id: str):
        return self.connection.execute(sa.select(jobs).where(jobs.c.id == job_id)).one()

    def mine(self, claim: Claimed) -> bool:
        return self.states[claim.id] == "running" and self.fences[claim.id] == claim.fence

    @rule(target=ids, kind=st.sampled_from(list(KINDS)), key=st.sampled_from("abc"))
    def enqueue(self, kind: str, key: str):
        there = [i for i, k in self.keys.items() if k == (kind, key) and self.states[i] in queue.LIVE]
        job_id = queue.enqueue(self.connection, kind, key, {"k": key}, kinds=KINDS)
        if there:
            assert job_id == there[0]
        else:
            assert job_id not in self.states
            self.states[job_id], self.fences[job_id], self.keys[job_id] = "queued", 0, (kind, key)
        return job_id

    @rule(target=claims, worker=st.sampled_from(WORKERS), only=st.sampled_from(["near", "far", "all"]))
    def claim(self, worker: str, only: str):
        kinds = list(KINDS) if only == "all" else [only]
        expected = queue.waiting(self.connection, kinds, self.at)
        claim = queue.claim(self.connection, worker, kinds, self.at)
        assert (claim is not None) == expected
        if claim is None:
            return multiple()
        assert self.states[claim.id] == "queued"
        assert claim.kind in kinds
        assert claim.fence == self.fences[claim.id] + 1
        nearer = [i for i, s in self.states.items() if s == "queued" and self.keys[i][0] == "near"]
        ready = [i for i in nearer if self.row(i).not_before is None or self.row(i).not_before <= self.at]
        assert claim.kind == "near" or "near" not in kinds or not ready
        self.states[claim.id], self.fences[claim.id] = "running", claim.fence
        return claim

    @rule(claim=claims, share=st.floats(-1, 2))
    def beat(self, claim: Claimed, share: float) -> None:
        if not self.mine(claim):
            with pytest.raises(Lost):
                queue.beat(self.connection, claim.id, claim.fence, share, "on it", self.at)
            return
        queue.beat(self.connection, claim.id, claim.fence, share, "on it", self.at)
        assert 0 <= self.row(claim.id).progress <= 1

    @rule(claim=claims)
    def finish(self, claim: Claimed) -> None:
        if not self.mine(claim):
            with pytest.raises(Lost):
                queue.hold(self.connection, claim.id, claim.fence)
            with pytest.raises(Lost):
                queue.finish(self.connection, claim.id, claim.fence, at=self.at)
            return
        queue.hold(self.connection, claim.id, claim.fence)
        queue.finish(self.connection, claim.id, claim.fence, {"by": claim.fence}, at=self.at)
        self.states[claim.id] = "done"
        self.taken[claim.id] = self.taken.get(claim.id, 0) + 1

    @rule(claim=claims, again=st.booleans())
    def fail(self, claim: Claimed, again: bool) -> None:
        if not self.mine(claim):
            with pytest.raises(Lost):
                queue.fail(self.connection, claim.id, claim.fence, "It broke.", again=again, at=self.at)
            return
        row = self.row(claim.id)
        state = queue.fail(self.connection, claim.id, claim.fence, "It broke.", again=again, at=self.at)
        assert state == ("queued" if again and row.attempt < row.max_attempts else "failed")
        self.states[claim.id] = state

    @rule(claim=claims)
    def release(self, claim: Claimed) -> None:
        if not self.mine(claim):
            with pytest.raises(Lost):
                queue.release(self.connection, claim.id, claim.fence)
            return
        before = self.row(claim.id).attempt
        queue.release(self.connection, claim.id, claim.fence)
        assert self.row(claim.id).attempt == before - 1
        self.states[claim.id] = "queued"

    @rule(job_id=ids)
    def cancel(self, job_id: str) -> None:
        live = self.states[job_id] in queue.LIVE
        assert queue.cancel(self.connection, job_id, self.at) == live
        if live:
            self.states[job_id] = "cancelled"

    @rule(job_id=ids)
    def retry(self, job_id: str) -> None:
        got = queue.retry(self.connection, job_id)
        if self.states[job_id] not in ("failed", "cancelled"):
            assert got is None
        elif got == job_id:
            self.states[job_id] = "queued"
        else:
            assert got is not None
            assert self.states[got] in queue.LIVE
            assert self.keys[got] == self.keys[job_id]

    @rule(worker=st.sampled_from(WORKERS), killed=st.booleans())
    def worker_dies(self, worker: str, killed: bool) -> None:
        had = {i for i, s in self.states.items() if s == "running" and self.row(i).worker == worker}
        self._took(queue.give_back(self.connection, worker=worker, killed=killed, at=self.at), had, killed)

    @rule(seconds=st.sampled_from([0.5, 3, LEASE_S + 1, 200]))
    def time_passes(self, seconds: float) -> None:
        self.at += timedelta(seconds=seconds)

    @rule()
    @precondition(lambda self: "running" in self.states.values())
    def leases_end(self) -> None:
        found = queue.silent(self.connection, self.at)
        over = {i for i, s in self.states.items() if s == "running" and self.row(i).lease_until <= self.at}
        assert {s.id for s in found} == over
        self._took(queue.give_back(self.connection, found, at=self.at), over)

    def _took(self, taken, expected: set[str], killed: bool = False) -> None:
        assert {t.id for t in taken} == expected
        for one in taken:
            row = self.row(one.id)
            used_up = row.attempt >= row.max_attempts * (queue.KILLED_FACTOR if killed else 1)
            assert row.state == ("failed" if used_up else "queued")
            assert bool(one.error) == used_up
            self.states[one.id] = row.state

    @invariant()
    def rows_are_as_the_model_says(self) -> None:
        rows = self.connection.execute(sa.select(jobs)).all()
        assert {r.id: r.state for r in rows} == self.states
        assert {r.id: r.fence for r in rows} == self.fences
        live = [(r.kind, r.key) for r in rows if r.state in queue.LIVE]
        assert len(live) == len(set(live))
        for row in rows:
            assert row.attempt <= row.max_attempts * queue.KILLED_FACTOR
            assert (row.state == "running") <= (row.worker is not None and row.lease_until is not None)
            assert (row.state in ("done", "failed", "cancelled")) == (row.finished_at is not None)
            assert (row.state == "done") == (self.taken.get(row.id, 0) == 1)
            assert row.state != "failed" or row.error


Queue.TestCase.settings = settings(max_examples=30, stateful_step_count=40, deadline=None, derandomize=True)
TestQueue = Queue.TestCase


def test_the_oldest_goes_first_within_a_priority_and_a_hurried_one_before_all(connection: sa.Connection) -> None:
    made = [queue.enqueue(connection, "far", f"far:{k}", kinds=KINDS) for k in range(4)]
    first = queue.enqueue(connection, "near", "near:0", kinds=KINDS)
    assert queue.hurry(connection, ["far:2", "far:9"]) == 1

    order = [queue.claim(connection, "one", list(KINDS)).id for _ in range(5)]  # type: ignore[union-attr]

    assert order == [made[2], first, made[0], made[1], made[3]]
    assert queue.claim(connection, "one", list(KINDS)) is None


def test_asking_again_with_more_hurry_moves_the_one_that_waits(connection: sa.Connection) -> None:
    slow = queue.enqueue(connection, "far", "a", kinds=KINDS)
    again = queue.enqueue(connection, "far", "a", priority=80, kinds=KINDS)
    queue.enqueue(connection, "near", "b", kinds=KINDS)

    claim = queue.claim(connection, "one", list(KINDS))

    assert claim is not None
    assert claim.id == slow == again


def test_a_clock_put_back_by_hours_is_noticed(connection: sa.Connection) -> None:
    """A lease that ends farther ahead than leases last was written by another time."""
    queue.enqueue(connection, "far", "a", kinds=KINDS)
    claim = queue.claim(connection, "one", list(KINDS), START)
    assert claim is not None

    assert queue.silent(connection, START + timedelta(seconds=5)) == ()
    assert [s.id for s in queue.silent(connection, START - timedelta(hours=3))] == [claim.id]


def test_a_sign_of_life_saves_a_job_from_being_taken(connection: sa.Connection) -> None:
    queue.enqueue(connection, "far", "a", kinds=KINDS)
    claim = queue.claim(connection, "one", list(KINDS), START)
    assert claim is not None
    late = START + timedelta(seconds=LEASE_S + 5)
    found = queue.silent(connection, late)
    queue.beat(connection, claim.id, claim.fence, at=late)

    assert queue.give_back(connection, found, at=late) == []
