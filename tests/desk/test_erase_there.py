"""Erasing at the desk reaches the public instance: at once, or as work that stays open until it is done."""

from __future__ import annotations

import hashlib
import json
import threading
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from clips import write_clip
from desk_client import client_of
from instances import instance_and_desk, quiet
from served import answered, served

from midfoot.desk import erase_there, handing_over, links, posting, submitting
from midfoot.desk.erase import erase_lifter, erase_set
from midfoot.desk.fetching import fetch_all
from midfoot.desk.instance import FROM, HandingError
from midfoot.desk.posted import FILES
from midfoot.desk.submitting import Submission, SubmitError
from midfoot.jobs.kinds import KINDS
from midfoot.jobs.worker import work_on
from midfoot.records.context import Context
from midfoot.store import Workspace
from midfoot.store.columns import now
from midfoot.store.rows import set_setting
from midfoot.store.tables import audit, clips, jobs, lifters, open_sets, publications, sets
from midfoot.store.tables import links as link_rows
from midfoot.web.tus import Uploads

NAME, OTHER, TOKEN = "Zebedea Quillfeather", "Teo Aldana", "open-set-token-0123456789"
HERS, HIS = "ab12", "cd34"
NOBODY_THERE = "http://127.0.0.1:9/fetch/token"


@pytest.fixture(autouse=True)
def no_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(handing_over, "QUIET", timedelta(0))


@pytest.fixture
def both(tmp_path: Path) -> Iterator[tuple[Workspace, Workspace]]:
    """Instance and desk; at the desk two lifters, and a set of hers that is open."""
    with instance_and_desk(tmp_path) as (instance, desk):
        with desk.write() as connection:
            for own, name in ((HERS, NAME), (HIS, OTHER)):
                connection.execute(lifters.insert().values(id=own, name=name, shown_name=name.split()[0]))
            connection.execute(sets.insert().values(id="5e7", lift="squat", source="cli", lifter_id=HERS))
            connection.execute(
                open_sets.insert().values(id="09e", set_id="5e7", token=TOKEN, state="open", opens_at=now())
            )
            connection.execute(
                publications.insert().values(
                    set_id="5e7", kind="public", token=TOKEN, folder=f"published/o/{TOKEN}"
                )
            )
        folder = desk.published / posting.PLACE / TOKEN
        folder.mkdir(parents=True)
        for name in FILES:
            (folder / name).write_bytes(f"<p>{name} of her open set</p>".encode())
        yield instance, desk


def reach(desk: Workspace, address: str) -> None:
    with desk.write() as connection:
        set_setting(connection, FROM, address)


def fetching(instance: Workspace, address: str) -> str:
    return f"{address}/fetch/{links.make(instance, links.FETCH)[1]}"


def linked(desk: Workspace, lifter_id: str) -> tuple[str, str]:
    """Have the desk make a link there, as its page does; gives its id and its token."""
    with client_of(desk) as coach:
        made = coach.post("/links", json={"lifter": lifter_id, "days": 7}).json()
    return made["id"], made["address"].rsplit("/", 1)[1]


def sent(instance: Workspace, token: str, folder: Path, *names: str) -> tuple[str, list[str]]:
    """A set sent by a link with clips of these names; gives its id and the clips' hashes."""
    link = links.opened(instance, links.SEND, token)
    said = Context(lift="squat", load_kg=100.0, question=f"what of {token[:6]}?")
    set_id = submitting.submit(instance, link, Submission(context=said, uses=("review",), mine=True, minor=False))
    link = links.opened(instance, links.SEND, token)
    hashes = []
    for k, name in enumerate(names):
        write_clip(folder / name, times_s=[i / 30 for i in range(30 + k + len(name))])
        hashes.append(hashlib.sha256((folder / name).read_bytes()).hexdigest())
        submitting.clip_came(instance, link, set_id, folder / name, name, "side")
    return set_id, hashes


def status(address: str, method: str = "GET") -> int:
    try:
        with urllib.request.urlopen(urllib.request.Request(address, method=method)) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        error.close()
        return error.code


def where(root: Path, needles: list[str]) -> list[tuple[str, str]]:
    """Every file whose name or bytes hold a needle, looked at byte by byte."""
    found = [(p.relative_to(root).as_posix(), p.read_bytes() if p.is_file() else b"") for p in root.rglob("*")]
    return [(name, n) for name, content in found for n in needles if n in name or n.encode() in content]


def work(desk: Workspace) -> Any:
    with desk.read() as connection:
        return connection.execute(sa.select(jobs).where(jobs.c.kind == erase_there.KIND)).one()


def erase(desk: Workspace) -> str:
    """Erase her on the desk's page; gives what the page says."""
    with client_of(desk) as coach:
        answer = coach.post(f"/lifters/{HERS}/erase", data={"typed_name": NAME})
    assert answer.status_code == 200
    return " ".join(answer.text.split())


def page_of(desk: Workspace, path: str) -> str:
    with client_of(desk) as coach:
        return " ".join(coach.get(path).text.split())


def test_nothing_of_her_is_left_there_and_everything_of_his(
    both: tuple[Workspace, Workspace], tmp_path: Path
) -> None:
    """Links, name, set, clips, a file still on its way, the page of her open set and answers to it."""
    instance, desk = both
    with served(instance, intake_only=True) as address:
        reach(desk, fetching(instance, address))
        (her_link, her_token), (_, his_token) = linked(desk, HERS), linked(desk, HIS)
        her_set, hers = sent(instance, her_token, tmp_path, "side.mp4", "in front.mp4")
        his_set, his = sent(instance, his_token, tmp_path, "his own.mp4")
        coming = Uploads(instance.path / "uploads", 10**9).create(her_link, 100, {"set": her_set})
        posting.keep_in_step(desk, tell=quiet)
        assert [answered(f"{address}/open/{TOKEN}/answers", n, {"words": "heels come up"}) for n in range(3)] == [
            201
        ] * 3
        needles = [NAME, NAME.split()[1], her_link, her_set, *hers, TOKEN, "heels come up", coming.id]
        assert {n for _, n in where(instance.path, needles)} >= set(needles), "the search sees what is there"

        said = erase(desk)

        assert "Erased there too: 1 link, 1 set, 2 clips, 1 page, 3 answers." in said
        assert where(instance.path, needles) == []
        assert (status(f"{address}/send/{her_token}"), status(f"{address}/open/{TOKEN}/")) == (404, 404)
        assert status(f"{address}/send/{her_token}/files/{coming.id}", "DELETE") == 404
        assert status(f"{address}/send/{his_token}") == 200
        assert fetch_all(desk, tell=quiet).sets == 1
    with desk.read() as connection:
        assert connection.execute(sa.select(sets.c.id)).scalars().all() == [his_set]
        assert connection.execute(sa.select(lifters.c.name)).scalars().all() == [OTHER]
        assert connection.execute(sa.select(clips.c.sha256)).scalars().all() == his
    assert (work(desk).state, work(desk).payload) == ("done", {})
    assert "1 link, 1 set, 2 clips" in page_of(desk, "/jobs")
    assert where(desk.path, [NAME, her_link, her_set, TOKEN]) == []


def test_where_it_cannot_be_reached_it_stays_open_until_it_is_done(
    both: tuple[Workspace, Workspace], tmp_path: Path
) -> None:
    """The desk says so on three pages, keeps no name for it, tries again, and fetches nothing before."""
    instance, desk = both
    with served(instance, intake_only=True) as address:
        reach(desk, fetching(instance, address))
        her_link, her_token = linked(desk, HERS)
    her_set, _ = sent(instance, her_token, tmp_path, "side.mp4")
    reach(desk, NOBODY_THERE)

    assert "Not erased there yet. The intake instance does not answer" in erase(desk)

    assert "is not erased at the public instance yet" in page_of(desk, "/lifters")
    assert "Erasing at the public instance" in page_of(desk, "/jobs")
    assert "to be tried again: The intake instance does not answer" in page_of(desk, "/jobs")
    assert where(desk.path, [NAME, NAME.split()[1]]) == [], "what waits is kept without a name"
    mine = {erase_there.KIND: KINDS[erase_there.KIND]}
    for attempt in (1, 2, 3, 4, 5):
        assert work_on(desk, "w", mine, threading.Event(), until_idle=True) == 1
        row = work(desk)
        assert (row.state, row.attempt) == ("queued", attempt)
        assert "does not answer" in row.error
        assert row.not_before > now()
        with desk.write() as connection:
            connection.execute(jobs.update().values(not_before=None))
    with pytest.raises(HandingError, match="before anything comes"):
        fetch_all(desk, tell=quiet)
    assert "before anything comes" in page_of(desk, "/")

    with served(instance, intake_only=True) as address:
        reach(desk, fetching(instance, address))
        assert work_on(desk, "w", mine, threading.Event(), until_idle=True) == 1
        assert (work(desk).state, work(desk).payload) == ("done", {})
        assert work(desk).result["gone"] == {
            "lifters": 1, "links": 1, "sets": 1, "clips": 1, "pages": 0, "answers": 0,
        }  # fmt: skip
        assert fetch_all(desk, tell=quiet).sets == 0
    assert where(instance.path, [NAME, her_link, her_set]) == []
    assert "public instance" not in page_of(desk, "/lifters")


def test_a_fetch_does_what_is_open_first(both: tuple[Workspace, Workspace], tmp_path: Path) -> None:
    """Else a set that waits there would bring her back."""
    instance, desk = both
    with served(instance, intake_only=True) as address:
        base = fetching(instance, address)
        reach(desk, base)
        _, her_token = linked(desk, HERS)
        sent(instance, her_token, tmp_path, "side.mp4")
        reach(desk, NOBODY_THERE)
        erase_lifter(desk, HERS)
        assert fetch_all(desk, tell=quiet, address=base).sets == 0
        with desk.read() as connection:
            assert connection.execute(sa.select(lifters.c.name)).scalars().all() == [OTHER]
        assert work(desk).state == "queued", "the instance that is set has not done it"
        reach(desk, base)
        assert fetch_all(desk, tell=quiet).sets == 0
    assert work(desk).state == "done"


def test_whoever_is_erased_while_a_clip_is_on_its_way_does_not_come_back(
    both: tuple[Workspace, Workspace], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    instance, desk = both
    fetched = handing_over.download

    def meanwhile(address: str, to: Path, sha256: str) -> None:
        fetched(address, to, sha256)
        erase_lifter(desk, HERS)

    with served(instance, intake_only=True) as address:
        reach(desk, fetching(instance, address))
        _, her_token = linked(desk, HERS)
        _, (sha256,) = sent(instance, her_token, tmp_path, "side.mp4")
        monkeypatch.setattr(handing_over, "download", meanwhile)
        with pytest.raises(HandingError, match="erased while"):
            fetch_all(desk, tell=quiet)
        assert fetch_all(desk, tell=quiet).sets == 0
    with desk.read() as connection:
        assert connection.execute(sa.select(lifters.c.name)).scalars().all() == [OTHER]
        assert connection.execute(sa.select(clips.c.id)).all() == []
    assert not desk.blobs.has(sha256)
    assert not instance.blobs.has(sha256)


def test_of_two_with_one_name_only_what_is_known_to_be_hers_goes(
    both: tuple[Workspace, Workspace], tmp_path: Path
) -> None:
    """The instance knows names only: there both are one, and the desk knows which links it had made for whom."""
    instance, desk = both
    with desk.write() as connection:
        connection.execute(lifters.insert().values(id="ef56", name=NAME, shown_name="Zebedea"))
    with served(instance, intake_only=True) as address:
        reach(desk, fetching(instance, address))
        (her_link, her_token), (other_link, other_token) = linked(desk, HERS), linked(desk, "ef56")
        sent(instance, her_token, tmp_path, "side.mp4")
        kept, _ = sent(instance, other_token, tmp_path, "the other one.mp4")
        erase(desk)
    with instance.read() as connection:
        assert connection.execute(sa.select(sets.c.id)).scalars().all() == [kept]
        assert connection.execute(sa.select(lifters.c.name)).scalars().all() == [NAME]
        there = connection.execute(sa.select(link_rows.c.id).where(link_rows.c.scope == links.SEND))
        assert there.scalars().all() == [other_link]
        assert her_link != other_link


def test_one_set_that_is_erased_goes_there_too(both: tuple[Workspace, Workspace]) -> None:
    """Its open page, though the lifter stays."""
    instance, desk = both
    with served(instance, intake_only=True) as address:
        reach(desk, fetching(instance, address))
        posting.keep_in_step(desk, tell=quiet)
        erase_set(desk, "5e7")
        mine = {erase_there.KIND: KINDS[erase_there.KIND]}
        with desk.write() as connection:
            connection.execute(jobs.update().values(not_before=None))
        assert work_on(desk, "w", mine, threading.Event(), until_idle=True) == 1
        assert status(f"{address}/open/{TOKEN}/") == 404
    assert work(desk).result["gone"]["pages"] == 1
    assert where(instance.path, [TOKEN, "her open set"]) == []


def test_a_name_that_she_had_before_is_found_there_too(both: tuple[Workspace, Workspace], tmp_path: Path) -> None:
    """The instance still knows her by it: what comes from there is hers, and all of it is erased."""
    instance, desk = both
    with served(instance, intake_only=True) as address:
        reach(desk, fetching(instance, address))
        _, token = linked(desk, HERS)
        set_id, _ = sent(instance, token, tmp_path, "side.mp4")
        with instance.write() as connection:  # a set that came by no link of this desk
            own = connection.execute(sa.select(lifters.c.id)).scalar_one()
            connection.execute(sets.insert().values(id="0dd", lift="squat", source="cli", lifter_id=own))
        with desk.write() as connection:
            connection.execute(audit.delete())  # and the desk does not know any more for whom its link was
        with client_of(desk) as coach:
            coach.post(f"/lifters/{HERS}", data={"name": "Zoe Marriedname"})
        assert fetch_all(desk, tell=quiet).sets == 1
        with desk.read() as connection:
            assert set(connection.execute(sa.select(lifters.c.id)).scalars()) == {HERS, HIS}
            assert connection.execute(sa.select(sets.c.lifter_id).where(sets.c.id == set_id)).scalar() == HERS
        with client_of(desk) as coach:
            coach.post(f"/lifters/{HERS}/erase", data={"typed_name": "Zoe Marriedname"})
    assert where(instance.path, [NAME, set_id]) == []
    with instance.read() as connection:
        assert connection.execute(sa.select(sets.c.id)).scalars().all() == []
    assert where(desk.path, [NAME, "Marriedname", set_id]) == []


def test_a_desk_without_an_instance_asks_nobody(both: tuple[Workspace, Workspace]) -> None:
    _, desk = both
    assert "public instance" not in erase(desk)
    with desk.read() as connection:
        assert connection.execute(sa.select(jobs.c.id)).all() == []


def test_only_the_fetching_link_erases_and_not_itself(both: tuple[Workspace, Workspace], tmp_path: Path) -> None:
    instance, _ = both
    own_id, own = links.make(instance, links.FETCH)
    link_id, token = links.make(instance, links.SEND)
    set_id, _ = sent(instance, token, tmp_path, "side.mp4")
    body = json.dumps({"links": [own_id, link_id], "sets": [set_id]}).encode()
    with served(instance, intake_only=True) as address:
        for wrong in (token, "forged"):
            request = urllib.request.Request(f"{address}/fetch/{wrong}/erase", body, method="POST")
            with pytest.raises(urllib.error.HTTPError) as found:
                urllib.request.urlopen(request)
            found.value.close()
            assert found.value.code == 404
        head = {"content-type": "application/json"}
        with urllib.request.urlopen(urllib.request.Request(f"{address}/fetch/{own}/erase", body, head)) as answer:
            assert json.loads(answer.read())["gone"]["sets"] == 1
        assert links.opened(instance, links.FETCH, own).id == own_id


def test_a_clip_that_arrives_after_it_is_not_kept(both: tuple[Workspace, Workspace], tmp_path: Path) -> None:
    """Its sender's page was open already."""
    instance, _ = both
    _, token = links.make(instance, links.SEND)
    set_id, _ = sent(instance, token, tmp_path)
    link = links.opened(instance, links.SEND, token)
    erase_set(instance, set_id)
    write_clip(tmp_path / "late.mp4", times_s=[i / 30 for i in range(45)])
    sha256 = hashlib.sha256((tmp_path / "late.mp4").read_bytes()).hexdigest()
    with pytest.raises(SubmitError, match="not here any more"):
        submitting.clip_came(instance, link, set_id, tmp_path / "late.mp4", "late.mp4", "side")
    assert not instance.blobs.has(sha256)
