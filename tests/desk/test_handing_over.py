"""From a small public instance to the desk: fetched whole, confirmed, and only then deleted there."""

from __future__ import annotations

import hashlib
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from clips import write_clip
from instances import instance_and_desk, quiet
from served import served

from midfoot.desk import handing_over, links, submitting
from midfoot.desk.handing_over import HandingError, fetch, give_away, waiting
from midfoot.desk.submitting import Submission
from midfoot.records.context import Context
from midfoot.store import Workspace
from midfoot.store.tables import clips, consents, sets


@pytest.fixture(autouse=True)
def no_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(handing_over, "QUIET", timedelta(0))


@pytest.fixture
def both(tmp_path: Path) -> Iterator[tuple[Workspace, Workspace]]:
    with instance_and_desk(tmp_path) as (instance, desk):
        yield instance, desk


def sent(instance: Workspace, tmp_path: Path, count: int = 2) -> tuple[str, list[str]]:
    """A set of two clips that a lifter sent to the instance; gives its id and the clips' hashes."""
    token = links.make(instance, links.SEND)[1]
    link = links.opened(instance, links.SEND, token)
    said = Context(lift="deadlift", load_kg=180.0, question="Do I jerk the bar off the floor?", pain="left knee")
    set_id = submitting.submit(
        instance, link, Submission(context=said, uses=("review", "edition"), mine=True, minor=False)
    )
    link = links.opened(instance, links.SEND, token)
    hashes = []
    for k in range(count):
        clip = tmp_path / f"set-{k}.mp4"
        write_clip(clip, times_s=[i / 30 for i in range(40 + k)])
        hashes.append(hashlib.sha256(clip.read_bytes()).hexdigest())
        submitting.clip_came(instance, link, set_id, clip, clip.name, "side" if k == 0 else "front")
    return set_id, hashes


def rows(workspace: Workspace, table: sa.Table) -> list[Any]:
    with workspace.read() as connection:
        return list(connection.execute(sa.select(table)).all())


def test_a_set_comes_whole_and_goes_there(both: tuple[Workspace, Workspace], tmp_path: Path) -> None:
    instance, desk = both
    set_id, hashes = sent(instance, tmp_path)
    _, token = links.make(instance, links.FETCH)
    with served(instance, intake_only=True) as address:
        for inside in ("/", "/lifters", "/links", "/settings"):
            with pytest.raises(urllib.error.HTTPError, match=r"40[14]"):
                urllib.request.urlopen(address + inside)
        assert fetch(desk, tell=quiet, address=f"{address}/fetch/{token}") == 1
        assert fetch(desk, tell=quiet, address=f"{address}/fetch/{token}") == 0
    (row,) = rows(desk, sets)
    assert (row.id, row.lift, row.load_kg, row.source) == (set_id, "deadlift", 180.0, "intake")
    assert row.context["pain"] == "left knee"
    got = sorted(rows(desk, clips), key=lambda c: c.position)
    assert [c.sha256 for c in got] == hashes
    assert [c.view_said for c in got] == ["side", "front"]
    assert row.main_clip_id == got[0].id
    assert all(desk.blobs.verify(h) for h in hashes)
    assert {c.use for c in rows(desk, consents)} == {"review", "edition"}
    assert rows(instance, sets) == rows(instance, clips) == rows(instance, consents) == []
    assert not any(instance.blobs.has(h) for h in hashes)


def test_nothing_is_deleted_before_the_desk_has_it(both: tuple[Workspace, Workspace], tmp_path: Path) -> None:
    instance, desk = both
    set_id, hashes = sent(instance, tmp_path)
    with pytest.raises(HandingError, match="kept"):
        give_away(instance, set_id, hashes[:1])
    assert len(rows(instance, clips)) == 2
    instance.blobs.path(hashes[1]).write_bytes(b"damaged")
    _, token = links.make(instance, links.FETCH)
    with served(instance, intake_only=True) as address, pytest.raises(HandingError, match="damaged"):
        fetch(desk, tell=quiet, address=f"{address}/fetch/{token}")
    assert len(rows(instance, sets)) == 1, "a clip that arrived damaged keeps the set there"
    assert [c.sha256 for c in rows(desk, clips)] == hashes[:1]


def test_a_set_of_which_a_clip_is_on_its_way_waits(both: tuple[Workspace, Workspace], tmp_path: Path) -> None:
    from midfoot.web.tus import Uploads

    instance, _ = both
    set_id, _ = sent(instance, tmp_path, 1)
    assert [s["id"] for s in waiting(instance)] == [set_id]
    uploads = Uploads(instance.path / "uploads", 10**9)
    coming = uploads.create("link", 100, {"set": set_id})
    assert waiting(instance) == []
    uploads.forget(coming.id)
    assert [s["id"] for s in waiting(instance)] == [set_id]


@pytest.mark.parametrize(
    ("address", "words"),
    [("", "No intake instance"), ("ftp://x", "No intake instance"), ("http://127.0.0.1:9/fetch/x", "answer")],
)
def test_an_instance_that_is_not_there(both: tuple[Workspace, Workspace], address: str, words: str) -> None:
    with pytest.raises(HandingError, match=words):
        fetch(both[1], tell=quiet, address=address)


def test_a_fetching_link_that_was_taken_back(both: tuple[Workspace, Workspace], tmp_path: Path) -> None:
    instance, desk = both
    sent(instance, tmp_path, 1)
    link_id, token = links.make(instance, links.FETCH)
    links.revoke(instance, link_id)
    with served(instance, intake_only=True) as address, pytest.raises(HandingError, match="taken back"):
        fetch(desk, tell=quiet, address=f"{address}/fetch/{token}")
    assert len(rows(instance, sets)) == 1
