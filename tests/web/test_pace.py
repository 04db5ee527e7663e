"""Strangers who ask too often: 429, a sentence, Retry-After; by link and by address, and nothing of it on disk."""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from collections.abc import Iterator
from email.message import Message
from pathlib import Path
from typing import Any

import pytest
from served import served

from midfoot.desk import links, posted
from midfoot.desk.pace import LIMITS, WINDOW_S, Limit
from midfoot.desk.posted import FILES, Posted
from midfoot.store import Workspace

OPEN = "open-set-token-0123456789"


@pytest.fixture
def address(workspace: Workspace, tmp_path: Path) -> Iterator[str]:
    """An instance on which a set is open."""
    import hashlib

    for name in FILES:
        (tmp_path / name).write_bytes(name.encode())
    contents = {n: hashlib.sha256(n.encode()).hexdigest() for n in FILES}
    page = Posted(token=OPEN, lift="squat", closes_at=None, contents=contents)
    posted.post(workspace, page, {n: tmp_path / n for n in FILES})
    with served(workspace, intake_only=True) as address:
        yield address


def asked(where: str, body: Any = None, *, of: str = "", method: str | None = None) -> tuple[int, Message, Any]:
    """Ask as a server in front hands it on; `of` is the address that it says it answers for."""
    head = {"content-type": "application/json", **({"x-forwarded-for": of} if of else {})}
    data = None if body is None else json.dumps(body).encode()
    try:
        with urllib.request.urlopen(urllib.request.Request(where, data, head, method=method)) as answer:
            return int(answer.status), answer.headers, answer.read()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.headers, json.loads(error.read())


def answer_of(n: int) -> dict[str, Any]:
    return {"token": f"visitor-{n:08d}-abcdef", "seen": [{"words": "the bar drifts forward"}]}


def test_answers_by_address(workspace: Workspace, address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(LIMITS, "answer", Limit(100, 3))
    where = f"{address}/open/{OPEN}/answers"
    got = [asked(where, answer_of(n), of="203.0.113.7") for n in range(5)]
    assert [status for status, _, _ in got] == [201, 201, 201, 429, 429]
    _, headers, said = got[-1]
    assert 1 <= int(headers["retry-after"]) <= WINDOW_S
    assert said["error"]["says"] == "Too much came from here within the hour."
    assert said["error"]["remedy"].startswith("Wait 60 minutes")
    assert headers["access-control-allow-origin"] == "*", "the page lies elsewhere and shows the sentence"
    assert asked(where, answer_of(9), of="203.0.113.8")[0] == 201, "others may"
    assert asked(where, answer_of(10), of="203.0.113.200, 203.0.113.7")[0] == 429, "what he adds is not believed"
    everything = b"".join(p.read_bytes() for p in workspace.path.rglob("*") if p.is_file())
    assert b"203.0.113" not in everything
    assert len(posted.answers_of(workspace, OPEN)) == 4


def test_answers_by_page_and_from_this_machine(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A server in front that does not say whom it answers for leaves the page's own pace."""
    monkeypatch.setitem(LIMITS, "answer", Limit(4, 2))
    where = f"{address}/open/{OPEN}/answers"
    assert [asked(where, answer_of(n))[0] for n in range(6)] == [201, 201, 201, 201, 429, 429]


def test_sending_by_link_and_by_address(
    workspace: Workspace, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(LIMITS, "send", Limit(2, 3))
    one, other = (f"{address}/send/{links.make(workspace, links.SEND)[1]}" for _ in range(2))
    said = {"words": "my grip slips"}
    assert [asked(f"{one}/words", said, of="203.0.113.7")[0] for _ in range(3)] == [200, 200, 429]
    assert [asked(f"{other}/words", said, of="203.0.113.7")[0] for _ in range(2)] == [200, 429]
    assert asked(f"{other}/words", said, of="203.0.113.9")[0] == 200
    assert asked(one, of="203.0.113.7")[0] == 200, "a page is only read"
    status, headers, problem = asked(f"{one}/files", of="203.0.113.7", method="POST")
    assert (status, problem["error"]["says"]) == (429, "Too much came from here within the hour.")
    assert headers["retry-after"].isdecimal()


def test_parts_of_a_long_clip_have_a_pace_of_their_own() -> None:
    """4 GB, the most that a link takes, in parts of 4 MB, six of them: within the hour."""
    from midfoot.desk.submitting import MOST_CLIPS
    from midfoot.web.pages.send import LARGEST_BYTES

    assert LIMITS["part"].by_link * 4 * 1024 * 1024 > 3 * LARGEST_BYTES
    assert LIMITS["send"].by_link > 10 * links.MOST_SETS + MOST_CLIPS


def test_who_tries_links_is_slowed(workspace: Workspace, address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Forged ones cannot be guessed; this keeps the server free of them. The others' links go on."""
    monkeypatch.setitem(LIMITS, "wrong", Limit(10**9, 3))
    token = links.make(workspace, links.SEND)[1]
    tried = [asked(f"{address}/{s}/wrong{k}{p}", of="203.0.113.7")[0] for k, (s, p) in enumerate(
        (("send", ""), ("fetch", "/sets"), ("send", ""), ("send", ""), ("fetch", "/sets")))]  # fmt: skip
    assert tried == [404, 404, 404, 429, 429]
    assert asked(f"{address}/send/{token}", of="203.0.113.8")[0] == 200


def test_a_browser_gets_a_page(workspace: Workspace, address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(LIMITS, "wrong", Limit(10**9, 1))
    head = {"accept": "text/html", "x-forwarded-for": "203.0.113.7"}
    request = urllib.request.Request(f"{address}/send/x", headers=head)
    assert asked(f"{address}/send/x", of="203.0.113.7")[0] == 404
    with pytest.raises(urllib.error.HTTPError) as found:
        urllib.request.urlopen(request)
    with found.value as error:
        assert (error.code, error.headers["retry-after"].isdecimal()) == (429, True)
        assert b"Too much came from here" in error.read()
