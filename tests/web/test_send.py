"""Sending a set by a link: the open protocol with a client not ours, what is refused, what a link reaches."""

from __future__ import annotations

import base64
import errno
import hashlib
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from clips import write_clip
from desk_client import client_of
from served import served
from starlette.testclient import TestClient
from tusclient.client import TusClient

from midfoot.desk import links
from midfoot.desk.handing_over import UPLOADS
from midfoot.desk.pace import LIMITS, Limit
from midfoot.store import Workspace
from midfoot.store.columns import now
from midfoot.store.tables import clips, consents, sets
from midfoot.store.tables import links as link_rows

SAID = {
    "lift": "squat",
    "load": "120 kg",
    "reps": "5",
    "rpe": "8",
    "question": "Is my depth good?",
    "pain": "none",
}
TUS = {"tus-resumable": "1.0.0"}


@pytest.fixture
def stranger(workspace: Workspace) -> TestClient:
    """A browser that is not paired with the desk."""
    return client_of(workspace, inside=False)


@pytest.fixture
def token(workspace: Workspace) -> str:
    return links.make(workspace, links.SEND)[1]


def sent(**more: Any) -> dict[str, Any]:
    return {"fields": SAID, "uses": ["review"], "mine": True, **more}


def metadata(**pairs: str) -> dict[str, str]:
    said = ",".join(f"{k} {base64.b64encode(v.encode()).decode()}" for k, v in pairs.items())
    return {**TUS, "upload-metadata": said}


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    path = tmp_path / "set.mp4"
    write_clip(path, times_s=[k / 30 for k in range(90)])
    return path


def test_a_client_that_is_not_ours_sends_a_clip_in_parts(workspace: Workspace, token: str, clip: Path) -> None:
    """tuspy, the protocol's own Python client: begun, left in the middle, gone on with, equal byte for byte."""
    set_id = client_of(workspace, inside=False).post(f"/send/{token}/sets", json=sent()).json()["set"]
    with served(workspace) as address, clip.open("rb") as stream:
        said = {"set": set_id, "filename": "my set.mp4", "view": "side"}
        first = TusClient(f"{address}/send/{token}/files").uploader(
            file_stream=stream, chunk_size=4096, metadata=said
        )
        first.upload_chunk()
        again = TusClient(f"{address}/send/{token}/files").uploader(
            file_stream=stream, chunk_size=4096, url=first.url
        )
        assert again.offset == 4096
        again.upload()
    with workspace.read() as connection:
        row = connection.execute(sa.select(clips)).one()
        set_row = connection.execute(sa.select(sets)).one()
    assert row.sha256 == hashlib.sha256(clip.read_bytes()).hexdigest()
    assert workspace.blobs.verify(row.sha256)
    assert (row.received_name, row.view_said, set_row.main_clip_id) == ("my set.mp4", "side", row.id)
    assert (set_row.lift, set_row.load_kg, set_row.source) == ("squat", 120.0, "intake")
    assert not list((workspace.path / "uploads").iterdir())


def test_the_nine_exchanges(stranger: TestClient, token: str, clip: Path) -> None:
    """The protocol's core, tus.io 1.0.0: able, begin, how far, go on, wrong place, wrong version, none, end."""
    set_id = stranger.post(f"/send/{token}/sets", json=sent()).json()["set"]
    where, data = f"/send/{token}/files", clip.read_bytes()
    able = stranger.options(where)
    assert (able.status_code, able.headers["tus-version"]) == (204, "1.0.0")
    assert "creation" in able.headers["tus-extension"]
    named = metadata(set=set_id, filename="a.mp4")
    made = stranger.post(where, headers={**named, "upload-length": str(len(data))})
    assert made.status_code == 201
    place = made.headers["location"]
    part = {**TUS, "content-type": "application/offset+octet-stream"}
    assert stranger.patch(place, content=data[:1000], headers={**part, "upload-offset": "0"}).status_code == 204
    far = stranger.head(place, headers=TUS)
    assert (far.headers["upload-offset"], far.headers["upload-length"]) == ("1000", str(len(data)))
    assert far.headers["cache-control"] == "no-store"
    assert stranger.patch(place, content=b"x", headers={**part, "upload-offset": "7"}).status_code == 409
    assert stranger.patch(place, content=b"x", headers={**part, "tus-resumable": "0.2.2"}).status_code == 412
    assert stranger.head(f"{where}/{'0' * 32}", headers=TUS).status_code == 404
    assert stranger.delete(place, headers=TUS).status_code == 204
    assert stranger.head(place, headers=TUS).status_code == 404


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"mine": False}, "permission"),
        ({"uses": []}, "look at the set"),
        ({"minor": True}, "guardian"),
        ({"minor": True, "guardian": "A. Parent", "uses": ["review", "public_page"]}, "under 18"),
        ({"uses": ["review", "everything"]}, "no use"),
        ({"fields": {**SAID, "load": "heavy"}}, "load"),
        ({"fields": {**SAID, "rpe": "12"}}, "rpe"),
    ],
)
def test_what_may_not_be_sent(
    workspace: Workspace, stranger: TestClient, token: str, more: dict[str, Any], words: str
) -> None:
    answer = stranger.post(f"/send/{token}/sets", json=sent(**more))
    assert answer.status_code == 422
    assert words in str(answer.json()["error"])
    with workspace.read() as connection:
        assert connection.execute(sa.select(sets.c.id)).all() == []


def test_consents_are_kept_with_their_words_and_giver(
    workspace: Workspace, stranger: TestClient, token: str
) -> None:
    stranger.post(
        f"/send/{token}/sets", json=sent(minor=True, guardian="A. Parent", uses=["review", "keep_original"])
    )
    with workspace.read() as connection:
        rows = connection.execute(sa.select(consents).order_by(consents.c.use)).all()
        context = connection.execute(sa.select(sets.c.context)).scalar_one()
    assert [(r.use, r.given_by, bool(r.wording)) for r in rows] == [
        ("keep_original", "guardian", True), ("review", "guardian", True),
    ]  # fmt: skip
    assert context["under_18"] is True


def test_red_flags_are_answered_at_once(stranger: TestClient, token: str) -> None:
    said = stranger.post(f"/send/{token}/words", json={"words": "my left leg goes numb after deadlifts"}).json()
    assert "seek medical help" in said["stop"]
    assert stranger.post(f"/send/{token}/words", json={"words": "my grip slips"}).json()["stop"] == ""


def test_dead_links(workspace: Workspace, stranger: TestClient, token: str) -> None:
    """Revoked, run out, forged, for something else: none of them opens anything, and a page under way stops."""
    assert stranger.get(f"/send/{token}").status_code == 200
    forged = token[:-4] + ("aaaa" if token[-4:] != "aaaa" else "bbbb")
    _, fetching = links.make(workspace, links.FETCH)
    for wrong in (forged, fetching, "x", token + "."):
        assert stranger.get(f"/send/{wrong}").status_code == 404
        assert stranger.post(f"/send/{wrong}/sets", json=sent()).status_code == 404
    old_id, old = links.make(workspace, links.SEND)
    with workspace.write() as connection:
        connection.execute(
            link_rows.update().where(link_rows.c.id == old_id).values(expires_at=now() - timedelta(seconds=1))
        )
    assert stranger.get(f"/send/{old}").status_code == 404
    links.revoke(workspace, next(x["id"] for x in links.listed(workspace) if x["stands"] and x["scope"] == "send"))
    gone = stranger.post(f"/send/{token}/sets", json=sent(), headers={"accept": "application/json"})
    assert gone.status_code == 404
    assert "taken back" in gone.json()["error"]["says"]


def test_a_link_reaches_only_what_came_by_it(workspace: Workspace, stranger: TestClient, clip: Path) -> None:
    mine, other = (links.make(workspace, links.SEND)[1] for _ in range(2))
    set_id = stranger.post(f"/send/{mine}/sets", json=sent()).json()["set"]
    assert stranger.get(f"/send/{mine}/sets/{set_id}").status_code == 200
    assert stranger.get(f"/send/{other}/sets/{set_id}").status_code == 404
    named = {**metadata(set=set_id, filename="a.mp4"), "upload-length": "10"}
    assert stranger.post(f"/send/{other}/files", headers=named).status_code == 403
    place = stranger.post(f"/send/{mine}/files", headers=named).headers["location"]
    stolen = place.replace(mine, other)
    assert stranger.head(stolen, headers=TUS).status_code == 404
    for inside in ("/", "/lifters", f"/sets/{set_id}", "/links", "/settings"):
        assert stranger.get(inside).status_code == 401


def test_what_is_no_video_is_named(stranger: TestClient, token: str) -> None:
    set_id = stranger.post(f"/send/{token}/sets", json=sent()).json()["set"]
    where, data = f"/send/{token}/files", b"%PDF-1.7 not a video at all"
    head = {**metadata(set=set_id, filename="plan.pdf"), "upload-length": str(len(data))}
    place = stranger.post(where, headers=head).headers["location"]
    part = {**TUS, "content-type": "application/offset+octet-stream", "upload-offset": "0"}
    answer = stranger.patch(place, content=data, headers=part)
    assert answer.status_code == 422
    assert "plan.pdf" in answer.json()["error"]["says"]


def test_a_link_is_not_used_without_end(
    workspace: Workspace, stranger: TestClient, token: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(LIMITS, "send", Limit(3, 100))
    answers = [stranger.post(f"/send/{token}/words", json={"words": "x"}).status_code for _ in range(5)]
    assert answers == [200, 200, 200, 429, 429]
    monkeypatch.setitem(LIMITS, "send", Limit(1000, 1000))
    made = [stranger.post(f"/send/{token}/sets", json=sent()).status_code for _ in range(links.MOST_SETS + 1)]
    assert made == [201] * links.MOST_SETS + [422]


def test_what_is_too_large_is_refused_and_leaves_nothing(
    stranger: TestClient, workspace: Workspace, token: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At once by what is said of it; by what comes where less was said. 2 MB stand for the real limit."""
    monkeypatch.setattr("midfoot.web.pages.send.LARGEST_BYTES", 2_000_000)
    set_id = stranger.post(f"/send/{token}/sets", json=sent()).json()["set"]
    where, named = f"/send/{token}/files", metadata(filename="set.mp4", set=set_id)
    got = stranger.post(where, headers={**named, "upload-length": "3000000000"})
    assert got.status_code == 413
    assert got.json()["error"] == {
        "says": "The file is larger than 0.002 GB.",
        "remedy": "Cut it to the set first.",
    }

    place = stranger.post(where, headers={**named, "upload-length": "1000"}).headers["location"]
    part = {**TUS, "content-type": "application/offset+octet-stream", "upload-offset": "0"}
    assert stranger.patch(place, content=b"x" * 2000, headers=part).status_code == 413
    assert stranger.delete(place, headers=TUS).status_code == 204
    assert not list((workspace.path / UPLOADS).glob("*"))


def test_a_full_disk_is_said_and_what_is_here_can_be_gone_on_with(
    stranger: TestClient, token: str, clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """507 of RFC 4918; once there is room the rest is sent from where it ended."""
    data = clip.read_bytes()
    set_id = stranger.post(f"/send/{token}/sets", json=sent()).json()["set"]
    named = metadata(filename="set.mp4", set=set_id)
    place = stranger.post(
        f"/send/{token}/files", headers={**named, "upload-length": str(len(data))}
    ).headers["location"]  # fmt: skip
    part = {**TUS, "content-type": "application/offset+octet-stream"}
    assert stranger.patch(place, content=data[:500], headers={**part, "upload-offset": "0"}).status_code == 204

    async def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("midfoot.web.tus.Uploads._run", full)
        got = stranger.patch(place, content=data[500:], headers={**part, "upload-offset": "500"})
    assert got.status_code == 507
    assert got.json()["error"]["remedy"] == "Try again later."

    assert stranger.head(place, headers=TUS).headers["upload-offset"] == "500"
    assert stranger.patch(place, content=data[500:], headers={**part, "upload-offset": "500"}).status_code == 204
