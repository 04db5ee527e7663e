"""The set that the coach looks at is measured before those that only wait."""

from __future__ import annotations

import sqlalchemy as sa
from desk_rows import put_job, put_set
from starlette.testclient import TestClient

from midfoot.jobs import KINDS, queue
from midfoot.jobs.look import _then as then
from midfoot.store import Workspace
from midfoot.store.tables import jobs


def test_opening_a_set_puts_its_work_first(workspace: Workspace, client: TestClient) -> None:
    with workspace.write() as connection:
        made = [put_set(connection, state="measuring", hours_ago=9 - k) for k in range(3)]
        waiting = [put_job(connection, clip_id, "queued") for _, clip_id in made]

    assert client.get(f"/sets/{made[2][0]}").status_code == 200

    with workspace.write() as connection:
        order = [queue.claim(connection, "one", list(KINDS)) for _ in range(3)]
        assert connection.execute(sa.select(jobs.c.state)).scalars().all() == ["running"] * 3
    assert next(o.id for o in order if o is not None) == waiting[2]


def test_opened_while_its_file_is_looked_at_it_is_measured_before_the_others(
    workspace: Workspace, client: TestClient
) -> None:
    with workspace.write() as connection:
        others = [put_set(connection, state="measuring", hours_ago=9 - k) for k in range(3)]
        for _, clip_id in others:
            put_job(connection, clip_id, "queued")
        set_id, clip_id = put_set(connection, state="measuring", lift="squat")
        look = queue.enqueue(connection, "look", f"look:{clip_id}", {"clip_id": clip_id})
        connection.execute(jobs.update().where(jobs.c.id == look).values(state="running"))

    assert client.get(f"/sets/{set_id}").status_code == 200

    with workspace.write() as connection:
        then(connection, clip_id, look)
        first = queue.claim(connection, "one", ["measure"])
    assert first is not None
    assert first.key == f"measure:{clip_id}"
