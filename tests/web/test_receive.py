"""Bringing clips in over HTTP: whole or not at all, the same once, the message read, the coach's word kept."""

from __future__ import annotations

import tracemalloc
from collections.abc import AsyncIterator
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from anyio.from_thread import start_blocking_portal
from clips import write_clip
from desk_client import PAGE
from starlette.testclient import TestClient

from midfoot.store import StoreError, Workspace
from midfoot.store.tables import clips, jobs, lifters, sets
from midfoot.web.bodies import write_body
from midfoot.web.inbox_rows import context_of
from midfoot.web.problems import Problem

MESSAGE = "Runa here. Squat 140 kg x 5, RPE 8.5. Left knee hurts a bit. Do I tip forward? Zzyzx."


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A short real video."""
    path = tmp_path_factory.mktemp("clip") / "set.mp4"
    write_clip(path, times_s=np.arange(6) / 30, size=(64, 48), pictures=[np.full((48, 64, 3), 90, np.uint8)] * 6)
    return path.read_bytes()


def put(client: TestClient, name: str, body: bytes) -> dict[str, object]:
    got = client.put("/inbox/clips", params={"name": name}, content=body)
    assert got.status_code == 200, got.text
    return dict(got.json())


def parts(workspace: Workspace) -> list[Path]:
    """Files that were begun and not finished."""
    return list((workspace.path / "blobs" / "parts").glob("*"))


def test_a_clip_comes_in_byte_for_byte_and_is_looked_at(
    client: TestClient, workspace: Workspace, clip: bytes
) -> None:
    got = put(client, "IMG_1 squat.mov", clip)

    with workspace.read() as connection:
        row = connection.execute(sa.select(clips)).one()
        work = connection.execute(sa.select(jobs.c.kind)).scalars().all()
    assert workspace.blobs.path(row.sha256).read_bytes() == clip
    assert (row.id, row.set_id, row.received_name) == (got["clip"], got["set"], "IMG_1 squat.mov")
    assert work == ["look"]
    assert parts(workspace) == []
    assert "Squat" in client.get(f"/inbox/rows/{got['set']}").text


def test_the_same_clip_is_taken_once(client: TestClient, workspace: Workspace, clip: bytes) -> None:
    first, second = put(client, "a.mp4", clip), put(client, "b.mp4", clip)

    assert second == {"set": first["set"], "clip": first["clip"], "already": True}
    with workspace.read() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(sets)).scalar_one() == 1


@pytest.mark.parametrize("body", [b"", b"Squat 140 kg x 5, it felt heavy. " * 50, b"%PDF-1.7" + b"0" * 900])
def test_what_is_no_video_is_refused_and_leaves_nothing(
    client: TestClient, workspace: Workspace, body: bytes
) -> None:
    """Empty, a text, a PDF: one sentence with a remedy, no row, no file."""
    got = client.put("/inbox/clips", params={"name": "set.mp4"}, content=body)

    assert got.status_code == 422
    assert set(got.json()["error"]) == {"says", "remedy"}
    assert parts(workspace) == []
    with workspace.read() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(clips)).scalar_one() == 0


def test_what_breaks_off_leaves_nothing(client: TestClient, workspace: Workspace, clip: bytes) -> None:
    """Fewer bytes than were told: RFC 9110 calls such a message incomplete (section 8.6, from memory)."""
    got = client.put(
        "/inbox/clips", params={"name": "set.mp4"}, content=iter([clip[:100]]),
        headers={"content-length": str(len(clip))},
    )  # fmt: skip

    assert got.status_code == 400
    assert "broke off" in got.json()["error"]["says"]
    assert parts(workspace) == []


def test_a_file_larger_than_any_set_is_refused_at_once(client: TestClient) -> None:
    got = client.put(
        "/inbox/clips", params={"name": "set.mp4"}, content=iter([b"x"]), headers={"content-length": "30000000000"}
    )

    assert got.status_code == 413


@pytest.mark.parametrize("told", [True, False])
def test_what_is_too_large_is_refused_and_leaves_nothing(
    client: TestClient, workspace: Workspace, monkeypatch: pytest.MonkeyPatch, told: bool
) -> None:
    """A limit of 2 MB stands for the real one; 3 GB are sent by `lab.big_files`."""
    monkeypatch.setattr("midfoot.desk.intake_kind.LARGEST_BYTES", 2_000_000)
    got = client.put(
        "/inbox/clips", params={"name": "long.mov"}, content=(bytes(100_000) for _ in range(30)),
        headers={"content-length": "3000000"} if told else {},
    )  # fmt: skip

    assert got.status_code == 413
    assert got.json()["error"]["remedy"] == "Cut it to the set first."
    assert parts(workspace) == []


def test_memory_does_not_grow_with_a_body(tmp_path: Path) -> None:
    """40 MB in pieces as a server hands them over.

    The portal brings its own thread: where a browser was driven before, this one has a running loop.
    """

    class Sent:
        async def stream(self) -> AsyncIterator[bytes]:
            for _ in range(640):
                yield bytes(65_536)

    tracemalloc.start()
    try:
        told = Problem(413, "too large", "")
        with start_blocking_portal() as portal:
            count = portal.call(write_body, Sent(), tmp_path / "part", 10**9, told)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()

    assert count == (tmp_path / "part").stat().st_size == 640 * 65_536
    assert most < 8_000_000


def test_a_file_of_zeros_is_refused_in_words(client: TestClient, workspace: Workspace) -> None:
    """What a transfer that only reserved the room leaves behind."""
    got = client.put("/inbox/clips", params={"name": "set.mov"}, content=bytes(3_000_000))

    assert got.status_code == 422
    assert "nothing but zeros" in got.json()["error"]["says"]
    assert parts(workspace) == []
    assert not list((workspace.path / "blobs").glob("??/*/*"))


def test_a_full_disk_is_said_before_anything_is_written(
    client: TestClient, workspace: Workspace, clip: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise StoreError("/x: the disk has 12 MB left and 3200 MB are needed; free some room, then try again.")

    monkeypatch.setattr("midfoot.store.blobs.Blobs.make_room", full)
    got = client.put("/inbox/clips", params={"name": "set.mp4"}, content=clip)

    assert got.status_code == 507
    assert got.json()["error"]["remedy"] == "Free some room, then try again."
    assert parts(workspace) == []


def test_a_message_is_read_shown_and_confirmed(client: TestClient, workspace: Workspace, clip: bytes) -> None:
    """What each field was read from, and what was not understood, stand there; the coach's correction is kept."""
    set_id = str(put(client, "a.mp4", clip)["set"])
    assert client.post("/inbox/text", json={"sets": [set_id], "text": MESSAGE}).status_code == 200

    row = client.get(f"/inbox/rows/{set_id}").text
    for words in ("Zzyzx", "Left knee hurts", "140 kg", 'value="8.5"', "Pain:"):
        assert words in row, words
    fields = {"lifter": "Runa", "lift": "squat", "load": "315 lb", "reps": "4", "rpe": "8.5", "pain": "left knee"}
    assert client.post(f"/sets/{set_id}/context", json={"fields": fields}).status_code == 200

    with workspace.read() as connection:
        kept = connection.execute(sa.select(sets)).one()
        assert connection.execute(sa.select(lifters.c.name)).scalar_one() == "Runa"
    said = context_of(kept.context)
    assert kept.context_confirmed
    assert kept.load_kg == pytest.approx(142.88, abs=0.01)  # 315 lb at 0.45359237 kg (NIST SP 811)
    assert (said.reps, said.pain, said.load_unit, said.question) == (4, "left knee", "lb", None)
    assert "Confirm" not in client.get(f"/inbox/rows/{set_id}").text


@pytest.mark.parametrize(
    ("fields", "part"),
    [({"lift": ""}, "lift was not said"), ({"lift": "squat", "rpe": "12"}, "rpe"),
     ({"lift": "squat", "load": "x"}, "x"),
     ({"lift": "squat", "competition_date": "soon"}, "day")],
)  # fmt: skip
def test_a_field_that_makes_no_sense_is_named(
    client: TestClient, workspace: Workspace, clip: bytes, fields: dict[str, str], part: str
) -> None:
    set_id = put(client, "a.mp4", clip)["set"]

    got = client.post(f"/sets/{set_id}/context", json={"fields": fields})

    assert got.status_code == 422
    assert part in got.json()["error"]["says"] + got.json()["error"]["remedy"]
    with workspace.read() as connection:
        assert not connection.execute(sa.select(sets.c.context_confirmed)).scalar_one()


def test_another_view_joins_a_set(client: TestClient, workspace: Workspace, clip: bytes) -> None:
    first = put(client, "a.mp4", clip)
    second = put(client, "b.mp4", clip + b"\0" * 8)

    assert client.post(f"/clips/{second['clip']}/join", json={"set": first["set"]}).status_code == 200

    with workspace.read() as connection:
        found = set(connection.execute(sa.select(clips.c.set_id)).scalars())
    assert found == {first["set"]}
    assert str(second["set"]) not in client.get("/", headers=PAGE).text
    assert client.post(f"/clips/{second['clip']}/join", json={"set": "0123456789abcdef"}).status_code == 422
