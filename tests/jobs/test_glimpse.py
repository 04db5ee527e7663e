"""What follows when a stranger's clip was looked at: a first look, told to the sender, before the measuring."""

from __future__ import annotations

import threading

import pytest
import sqlalchemy as sa
from desk_sets import put_received

from midfoot.desk import links
from midfoot.desk.submitting import said_of
from midfoot.jobs import KINDS, enqueue, glimpse
from midfoot.jobs.worker import work_on
from midfoot.store import Workspace
from midfoot.store.tables import clips, jobs, sets


def kinds(workspace: Workspace) -> list[str]:
    with workspace.read() as connection:
        waiting = sa.select(jobs.c.kind).where(jobs.c.state == "queued").order_by(jobs.c.priority.desc())
        return list(connection.execute(waiting).scalars())


@pytest.mark.parametrize("source", ["intake", "drop"])
def test_asked_for_where_somebody_waits_for_it(workspace: Workspace, source: str) -> None:
    """At the desk the measuring follows at once, and nobody is told anything before."""
    _, clip_id = put_received(workspace, "squat")
    with workspace.write() as connection:
        connection.execute(sets.update().values(source=source))
        enqueue(connection, "look", f"look:{clip_id}", {"clip_id": clip_id})
    work_on(workspace, "here", {"look": KINDS["look"]}, threading.Event(), until_idle=True)
    assert kinds(workspace) == (["glimpse", "measure"] if source == "intake" else ["measure"])


@pytest.mark.footage
def test_the_sender_is_told_with_its_doubt(workspace: Workspace) -> None:
    set_id, clip_id = put_received(workspace, "squat", source="intake")
    with workspace.write() as connection:
        glimpse.ask(connection, clip_id)
    work_on(workspace, "here", {"glimpse": KINDS["glimpse"]}, threading.Event(), until_idle=True)
    with workspace.read() as connection:
        assert connection.execute(sa.select(jobs.c.state)).scalars().all() == ["done"]
        assert connection.execute(sa.select(clips.c.probe)).scalar_one()["times_sha256"], "what was known stays"
    token = links.make(workspace, links.SEND)[1]
    link = links.opened(workspace, links.SEND, token)
    with workspace.write() as connection:
        links.bind(connection, link, set_id)
    (told,) = said_of(workspace, links.opened(workspace, links.SEND, token), set_id)["clips"]
    assert told["first"]["view"] == "It seems to be filmed from the side."
    assert 0 < told["first"]["can"] < told["first"]["of"]
    assert (told["measured"], told["can"], told["told"]) == (False, None, [])
