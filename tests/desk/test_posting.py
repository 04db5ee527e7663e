"""Open sets on a small public instance: the page goes up, answers come home, and only then they go there."""

from __future__ import annotations

import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from desk_client import client_of
from instances import instance_and_desk, quiet
from served import answered, served

from midfoot.desk import links, open_set, posted, posting
from midfoot.desk.fetching import Fetcher, fetch_all
from midfoot.desk.instance import FROM, HandingError, trouble
from midfoot.desk.posted import FILES
from midfoot.store import Workspace
from midfoot.store.columns import now
from midfoot.store.rows import set_setting
from midfoot.store.tables import jobs, lifters, open_sets, sets

TOKEN = "open-set-token-0123456789"
CLIP = bytes(range(256)) * 4000


@pytest.fixture
def both(tmp_path: Path) -> Iterator[tuple[Workspace, Workspace]]:
    """Instance and desk; at the desk one set is open and its page is built."""
    with instance_and_desk(tmp_path) as (instance, desk):
        with desk.write() as connection:
            connection.execute(sets.insert().values(id="5e7", lift="squat", source="cli", received_at=now()))
            connection.execute(
                open_sets.insert().values(id="09e", set_id="5e7", token=TOKEN, state="open", opens_at=now())
            )
        folder = desk.published / posting.PLACE / TOKEN
        folder.mkdir(parents=True)
        for name in FILES:
            (folder / name).write_bytes(CLIP if name == "clip.mp4" else f"<p>{name}</p>".encode())
        yield instance, desk


@pytest.fixture
def address(both: tuple[Workspace, Workspace]) -> Iterator[str]:
    """The instance, as strangers reach it."""
    with served(both[0], intake_only=True) as address:
        yield address


@pytest.fixture
def fetching(both: tuple[Workspace, Workspace], address: str) -> str:
    return f"{address}/fetch/{links.make(both[0], links.FETCH)[1]}"


def get(address: str, start: int | None = None) -> bytes:
    head = {} if start is None else {"range": f"bytes={start}-"}
    with urllib.request.urlopen(urllib.request.Request(address, headers=head)) as answer:
        return bytes(answer.read())


def say(address: str, visitor: int, words: str = "the bar drifts forward", **more: Any) -> int:
    """One visitor's answer; gives the status."""
    return answered(f"{address}/open/{TOKEN}/answers", visitor, {"words": words, **more})


def dead(address: str) -> bool:
    with pytest.raises(urllib.error.HTTPError) as found:
        get(address)
    found.value.close()
    return found.value.code == 404


def test_page_goes_up_and_answers_come_home(
    both: tuple[Workspace, Workspace], address: str, fetching: str
) -> None:
    instance, desk = both
    assert dead(f"{address}/open/{TOKEN}/")
    done = fetch_all(desk, tell=quiet, address=fetching)
    assert (done.open_sets.up, done.open_sets.answers, done.open_sets.down) == (1, 0, 0)
    assert get(f"{address}/open/{TOKEN}/") == b"<p>index.html</p>"
    assert get(f"{address}/open/{TOKEN}/clip.mp4", 1000) == CLIP[1000:], "a browser seeks in it"
    assert fetch_all(desk, tell=quiet, address=fetching).open_sets.up == 0, "what stands there is not sent again"

    assert [say(address, n) for n in range(5)] == [201] * 5
    assert say(address, 0, "another word") == 201, "the first answer stands"
    assert say(address, 9, "she is so fat") == 422
    assert say(address, 9, "") == 422
    kept = "".join(p.read_text() for p in (instance.path / "open" / TOKEN / "answers").iterdir())
    assert "visitor-" not in kept
    assert "127.0.0.1" not in kept
    assert "another word" not in kept

    assert fetch_all(desk, tell=quiet, address=fetching).open_sets.answers == 5
    held = open_set.held(desk, "09e")["held"]
    assert [a["seen"][0]["words"] for a in held] == ["the bar drifts forward"] * 5
    assert posted.answers_of(instance, TOKEN) == []
    assert say(address, 0, "once more") == 201
    assert fetch_all(desk, tell=quiet, address=fetching).open_sets.answers == 0, "one answer a visitor, also later"
    assert len(open_set.held(desk, "09e")["held"]) == 5


def test_nothing_goes_before_the_desk_has_it(
    both: tuple[Workspace, Workspace], address: str, fetching: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    instance, desk = both
    fetch_all(desk, tell=quiet, address=fetching)
    say(address, 1)
    asked = posting.ask

    def breaks_off(address: str, body: Any = None, **more: Any) -> dict[str, Any]:
        if address.endswith("/arrived"):
            raise HandingError("The intake instance does not answer; try again later.")
        return asked(address, body, **more)

    with monkeypatch.context() as patch:
        patch.setattr(posting, "ask", breaks_off)
        with pytest.raises(HandingError):
            fetch_all(desk, tell=quiet, address=fetching)
    assert len(posted.answers_of(instance, TOKEN)) == 1
    with desk.write() as connection:
        set_setting(connection, FROM, fetching)
        assert "does not answer" in trouble(connection)
    assert fetch_all(desk, tell=quiet, address=fetching).open_sets.answers == 0, "it was here already"
    assert posted.answers_of(instance, TOKEN) == []
    assert len(open_set.held(desk, "09e")["held"]) == 1
    with desk.read() as connection:
        assert trouble(connection) == "", "the inbox says nothing of it any more"


def test_what_no_desk_came_for_goes(both: tuple[Workspace, Workspace], address: str, fetching: str) -> None:
    """As sets that nobody used: after ninety days, at the second look that finds it so, answers too."""
    instance, desk = both
    fetch_all(desk, tell=quiet, address=fetching)
    say(address, 1)
    assert posted.expire(instance, now() + timedelta(days=89)) == 0
    assert posted.expire(instance, now() + timedelta(days=91)) == 0, "a clock may be wrong for a day"
    assert posted.expire(instance, now()) == 0
    assert [posted.expire(instance, now() + timedelta(days=91 + k)) for k in range(2)] == [0, 1]
    assert dead(f"{address}/open/{TOKEN}/")


def test_closing_takes_the_last_answers_and_the_page(
    both: tuple[Workspace, Workspace], address: str, fetching: str
) -> None:
    instance, desk = both
    with desk.write() as connection:
        set_setting(connection, FROM, fetching)
    fetch_all(desk, tell=quiet)
    say(address, 1)
    open_set.close(desk, "09e")
    with desk.read() as connection:
        assert connection.execute(sa.select(jobs.c.kind)).scalars().all() == ["fetch"], (
            "the instance hears at once"
        )
    assert say(address, 2) == 201, "it has not heard yet"
    done = fetch_all(desk, tell=quiet).open_sets
    assert (done.answers, done.down) == (1, 1), "what came after the desk had closed does not count"
    assert dead(f"{address}/open/{TOKEN}/")
    assert say(address, 3) == 422
    assert not (instance.path / "open" / TOKEN).exists()


@pytest.mark.parametrize("how", ["withdrawn", "erased"])
def test_what_was_taken_back_is_gone_there(
    both: tuple[Workspace, Workspace], address: str, fetching: str, how: str
) -> None:
    instance, desk = both
    fetch_all(desk, tell=quiet, address=fetching)
    say(address, 1)
    with desk.write() as connection:
        if how == "withdrawn":
            connection.execute(open_sets.update().values(state="withdrawn"))
        else:
            connection.execute(open_sets.delete())
    done = fetch_all(desk, tell=quiet, address=fetching).open_sets
    assert (done.answers, done.up, done.down) == (0, 0, 1)
    assert dead(f"{address}/open/{TOKEN}/")
    assert not any((instance.path / "open").iterdir())


def test_past_its_time_it_takes_nothing(both: tuple[Workspace, Workspace], address: str, fetching: str) -> None:
    _, desk = both
    with desk.write() as connection:
        connection.execute(open_sets.update().values(closes_at=now() - timedelta(seconds=1)))
    fetch_all(desk, tell=quiet, address=fetching)
    assert say(address, 1) == 422
    assert dead(f"{address}/open/{TOKEN}/")


def test_only_the_fetching_link_puts_up_and_takes_down(
    both: tuple[Workspace, Workspace], address: str, fetching: str
) -> None:
    instance, desk = both
    fetch_all(desk, tell=quiet, address=fetching)
    say(address, 1)
    other = links.make(instance, links.SEND)[1]
    for token in (other, "forged", fetching.rsplit("/", 1)[1][:-2] + "xx"):
        for path in (f"open/{TOKEN}/answers", "open"):
            assert dead(f"{address}/fetch/{token}/{path}")
        request = urllib.request.Request(f"{address}/fetch/{token}/open/{TOKEN}", method="DELETE")
        with pytest.raises(urllib.error.HTTPError) as found:
            urllib.request.urlopen(request)
        found.value.close()
    assert len(posted.answers_of(instance, TOKEN)) == 1
    for path in ("../open.json", "open.json", "..%2Fopen.json", "answers"):
        with pytest.raises(urllib.error.HTTPError) as found:
            get(f"{address}/open/{TOKEN}/{path}")
        found.value.close()


def test_links_for_lifters_are_made_where_they_are_opened(
    both: tuple[Workspace, Workspace], address: str, fetching: str
) -> None:
    """From the desk's page: the address is the instance's, opens there, is listed and taken back there."""
    instance, desk = both
    with desk.write() as connection:
        set_setting(connection, FROM, fetching)
        connection.execute(lifters.insert().values(id="ab12", name="Runa Tideway", shown_name="Runa"))
    with client_of(desk) as coach:
        made = coach.post("/links", json={"lifter": "ab12", "days": 7}).json()
        assert made["address"].startswith(f"{address}/send/")
        assert b"Hello Runa" in get(made["address"])
        (row,) = (r for r in links.listed(instance) if r["scope"] == links.SEND)
        assert (row["id"], row["lifter"]) == (made["id"], "Runa Tideway")
        assert made["id"] in coach.get("/links").text
        assert coach.post(f"/links/{made['id']}/revoke?there=true").status_code == 200
    assert dead(made["address"])
    assert links.opened(instance, links.FETCH, fetching.rsplit("/", 1)[1]).scope == links.FETCH


def test_the_desk_asks_by_itself(
    both: tuple[Workspace, Workspace], address: str, fetching: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every few minutes while it is open; here every twentieth of a second."""
    _, desk = both
    monkeypatch.setattr("midfoot.desk.fetching.FIRST_S", 0.05)
    monkeypatch.setattr("midfoot.desk.fetching.EVERY_S", 0.05)
    with desk.write() as connection:
        set_setting(connection, FROM, fetching)
    fetcher = Fetcher(desk)
    fetcher.start()
    until = time.monotonic() + 20
    while say(address, 1) != 201 and time.monotonic() < until:
        time.sleep(0.05)
    while not open_set.held(desk, "09e")["held"] and time.monotonic() < until:
        time.sleep(0.05)
    fetcher.stop()
    assert len(open_set.held(desk, "09e")["held"]) == 1
    with desk.read() as connection:
        assert connection.execute(sa.select(jobs.c.id)).all() == [], "no list of work is filled with it"
