"""The set that the coach looks at is measured before those that only wait."""

from __future__ import annotations

import sqlalchemy as sa
from desk_rows import put_job, put_set
from starlette.testclient import TestClient

from midfoot.jobs import KINDS, queue
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
