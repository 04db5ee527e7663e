"""The desk's publishing page: what stands in the way is named, a page goes out, is looked at, comes down."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import sqlalchemy as sa
from attrs import evolve
from desk_client import PAGE
from going_out import ADULT, know_heads, ready
from starlette.testclient import TestClient

from midfoot import covered
from midfoot.desk import publishing
from midfoot.records.review import Edit
from midfoot.store import Workspace
from midfoot.store.rows import append_edit
from midfoot.store.tables import consents, jobs


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Heads are known and nothing is encoded: pictures have tests of their own."""
    know_heads(monkeypatch)
    monkeypatch.setattr(covered, "write_video", lambda *a, **_: a[3].write_bytes(b"a video"))


@pytest.fixture
def set_id(workspace: Workspace, tmp_path: Path) -> str:
    return ready(workspace, tmp_path)


def put_out(workspace: Workspace, set_id: str, kind: str) -> str:
    built = publishing.build(workspace, set_id, kind, tell=lambda *_: None)
    with workspace.write() as connection:
        publishing.place(connection, workspace, built)
    return built.token


def test_what_stands_in_the_way_is_named_on_the_page(
    client: TestClient, workspace: Workspace, set_id: str
) -> None:
    with workspace.write() as connection:
        append_edit(connection, set_id, Edit(id="u", kind="undo", undoes="keep0"))
    page = client.get(f"/sets/{set_id}/publish", headers=PAGE).text
    assert "It cannot go out yet" in page
    assert "Not looked at yet: " in page
    assert "has not agreed to a public page" in page
    assert not re.search(r'data-publish="', page)
    refused = client.post(f"/sets/{set_id}/publish", json={"kind": "lifter"})
    assert refused.status_code == 409
    assert "Not looked at yet" in refused.json()["error"]["says"]


def test_publishing_is_work_of_its_own(client: TestClient, workspace: Workspace, set_id: str) -> None:
    answer = client.post(f"/sets/{set_id}/publish", json={"kind": "lifter"})
    assert answer.status_code == 202
    assert "waiting for its turn" in answer.json()["html"].lower()
    client.post(f"/sets/{set_id}/publish", json={"kind": "lifter"})
    with workspace.read() as connection:
        (job,) = connection.execute(sa.select(jobs)).all()
    assert (job.kind, job.payload) == ("publish", {"set_id": set_id, "kind": "lifter"})
    answer = client.post(f"/sets/{set_id}/publish/back", json={"kind": "lifter"})
    assert "It was not out" in answer.json()["said"]
    with workspace.read() as connection:
        assert connection.execute(sa.select(jobs.c.state)).scalar_one() == "cancelled"


def test_the_coach_may_have_all_but_the_lifter_and_the_bar_blurred(
    client: TestClient, workspace: Workspace, set_id: str
) -> None:
    client.post(f"/sets/{set_id}/publish", json={"kind": "lifter", "wide": True})
    with workspace.read() as connection:
        assert connection.execute(sa.select(jobs.c.payload)).scalar_one()["wide"] is True


def test_a_page_that_is_out_is_shown_with_its_message(
    client: TestClient, workspace: Workspace, set_id: str
) -> None:
    token = put_out(workspace, set_id, "lifter")
    page = client.get(f"/sets/{set_id}/publish", headers=PAGE).text
    assert f"/published/l/{token}/index.html" in page
    assert "Hello Runa Holt, I have gone through your squat" in page
    shown = client.get(f"/published/l/{token}/index.html", headers=PAGE)
    assert shown.status_code == 200
    assert "default-src 'none'" in shown.headers["content-security-policy"]
    assert "style-src 'self';" in shown.headers["content-security-policy"]
    assert client.get(f"/published/l/{token}/captions.vtt").text.startswith("WEBVTT")
    assert client.get(f"/published/l/{token}/..%2f..%2fmidfoot.sqlite3").status_code in (404, 422)
    assert "changed since" not in page
    kept = client.post(f"/sets/{set_id}/publish/message", json={"kind": "lifter", "text": "Have a look."})
    assert kept.status_code == 200
    assert "Have a look." in client.get(f"/sets/{set_id}/publish", headers=PAGE).text


def test_a_page_that_is_behind_its_review_says_so(client: TestClient, workspace: Workspace, set_id: str) -> None:
    put_out(workspace, set_id, "lifter")
    with workspace.write() as connection:
        append_edit(connection, set_id, Edit(id="own", kind="add", section="good", reps=(1,), at_s=(2.0,),
                                             text="The first one stood like a post."))  # fmt: skip
    assert "changed since" in client.get(f"/sets/{set_id}/publish", headers=PAGE).text


def test_consent_noted_and_taken_back(client: TestClient, workspace: Workspace, set_id: str) -> None:
    said = "Yes, you may show this one."
    noted = client.post(
        f"/sets/{set_id}/consents", json={"use": "public_page", "wording": said, "given_by": "lifter"}
    )
    assert noted.status_code == 201
    assert said in noted.json()["html"]
    with workspace.read() as connection:
        row = connection.execute(sa.select(consents)).one()
    assert (row.wording, row.given_by) == (said, "lifter")
    assert row.given_at is not None
    token = put_out(workspace, set_id, "public")
    answer = client.post(f"/sets/{set_id}/consents/back", json={"use": "public_page"}).json()
    assert (
        answer["said"]
        == "Taken back, and with it 1 page. Copies that somebody has downloaded cannot be called back."
    )
    assert "was taken back" in client.get(f"/published/p/{token}/index.html", headers=PAGE).text
    assert client.get(f"/published/p/{token}/set.mp4").status_code == 404
    assert client.post(f"/sets/{set_id}/consents", json={"use": "everything"}).status_code == 422


def test_a_lifter_said_to_be_a_minor_loses_the_public_page(workspace: Workspace, tmp_path: Path) -> None:
    set_id = ready(workspace, tmp_path, evolve(ADULT, age_years=None))
    with workspace.write() as connection:
        publishing_consent = consents.insert().values(set_id=set_id, use="public_page", wording="yes")
        connection.execute(publishing_consent)
    token = put_out(workspace, set_id, "public")
    from midfoot.store.tables import lifters

    with workspace.write() as connection:
        connection.execute(lifters.update().values(minor=True, guardian="Eva Holt"))
        lifter_id = connection.execute(sa.select(lifters.c.id)).scalar_one()
    assert publishing.enforce(workspace, lifter_id=lifter_id) == ("public",)
    assert not (workspace.published / "p" / token / "set.mp4").exists()


def test_consent_taken_back_on_the_lifters_page_takes_the_page_along(
    client: TestClient, workspace: Workspace, set_id: str
) -> None:
    client.post(f"/sets/{set_id}/consents", json={"use": "public_page"})
    token = put_out(workspace, set_id, "public")
    with workspace.read() as connection:
        row = connection.execute(sa.select(consents)).one()
    client.post(f"/lifters/{row.lifter_id}/consents/{row.id}/revoke")
    assert not (workspace.published / "p" / token / "set.mp4").exists()
    assert "taken back" in (workspace.published / "p" / token / "index.html").read_text("utf-8")


def test_strangers_get_nothing(stranger: TestClient, workspace: Workspace, set_id: str) -> None:
    token = put_out(workspace, set_id, "lifter")
    assert stranger.get(f"/published/l/{token}/index.html").status_code == 401
    assert stranger.post(f"/sets/{set_id}/publish", json={"kind": "lifter"}).status_code == 401


def test_a_set_that_is_not_there(client: TestClient) -> None:
    assert client.get("/sets/00ff/publish", headers=PAGE).status_code == 404
