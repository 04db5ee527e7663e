"""Settings: what is kept, own files that are taken only when they hold, who is let in."""

from __future__ import annotations

from pathlib import Path

import pytest
import sqlalchemy as sa
from desk_client import PAGE, client_of
from desk_rows import put_set
from starlette.testclient import TestClient

from midfoot import web
from midfoot.desk.measuring import inputs_of
from midfoot.publish import look
from midfoot.records.context import Competition, Context
from midfoot.store import Workspace
from midfoot.store.rows import setting
from midfoot.store.tables import sessions
from midfoot.web import own_files
from midfoot.web import sessions as doors
from midfoot.web.security import COOKIE


def test_lines_are_kept_and_sign_the_messages(client: TestClient, workspace: Workspace) -> None:
    with workspace.write() as connection:
        put_set(connection, waiting="refilm")

    client.post("/settings", data={"coach_name": "Ada", "hello": "Hi", "rules": "", "watch": "yes"})

    assert "\nAda</textarea>" in client.get("/", headers=PAGE).text
    assert ">Hi, thank you for the squat" in client.get("/", headers=PAGE).text
    with workspace.read() as connection:
        assert setting(connection, "watch") is True


@pytest.mark.parametrize("wrong", [{"rules": "no-such-book"}, {"public_address": "example"}])
def test_what_cannot_be_is_refused_and_nothing_is_kept(
    client: TestClient, workspace: Workspace, wrong: dict[str, str]
) -> None:
    got = client.post("/settings", data={"coach_name": "Ada"} | wrong)

    assert got.status_code == 422
    with workspace.read() as connection:
        assert setting(connection, "coach_name") is None


@pytest.mark.parametrize("back", ["https://evil.example/", "//evil.example", ""])
def test_the_unit_leads_back_into_the_desk_only(client: TestClient, back: str) -> None:
    got = client.post("/settings/unit", data={"unit": "lb", "back": back})

    assert got.headers["location"] == "/"
    assert client.post("/settings/unit", data={"unit": "stone"}).status_code == 422


@pytest.mark.parametrize("file", own_files.FILES, ids=lambda f: f.id)
def test_what_comes_with_midfoot_is_taken_as_ones_own(client: TestClient, file: own_files.OwnFile) -> None:
    """Every bundled text passes its own check and is shown back."""
    text = own_files.bundled(file)

    got = client.post(f"/settings/files/{file.id}", data={"text": text}, headers=PAGE)

    assert got.status_code == 200
    assert "Kept" in got.text


@pytest.mark.parametrize(
    ("file_id", "text", "part"),
    [
        ("wording", "[squat_bar_forward\n", "TOML"),
        ("wording", '[squat_bar_forward.shout]\nlifter = ["x"]\n', "shout"),
        ("vocabulary-squat", "[brace_late]\nnonsense = 1\n", "nonsense"),
        ("vocabulary-squat", '[brace_late]\nkey = "a"\n', "taken by"),
        ("thresholds", "[no_such_limit]\nfloor = 1\n", "no_such_limit"),
    ],
)
def test_an_own_file_that_does_not_hold_is_refused_and_the_old_one_stays(
    client: TestClient, workspace: Workspace, file_id: str, text: str, part: str
) -> None:
    """What was typed is shown again, with a sentence that names the place and no path of a trial folder."""
    file = own_files.file_of(file_id)
    assert file is not None
    before = own_files.bundled(file)
    own_files.keep(workspace.library, file, before)

    got = client.post(f"/settings/files/{file_id}", data={"text": text}, headers=PAGE)

    assert got.status_code == 422
    assert part in got.text
    assert "/tmp" not in got.text.replace(str(workspace.path), "")
    assert own_files.own(workspace.library, file) == before
    client.post(f"/settings/files/{file_id}", data={"text": ""})
    assert not (workspace.library / file.path).exists()


def test_a_new_password_ends_other_sessions(client: TestClient, workspace: Workspace) -> None:
    stranger = client_of(workspace, inside=False)
    stranger.cookies.set(COOKIE, doors.new_session(workspace), domain="127.0.0.1")
    assert stranger.get("/help").status_code == 200

    assert client.post("/settings/password", data={"password": "short"}).status_code == 422
    assert client.post("/settings/password", data={"password": "long enough now"}).status_code == 303

    assert stranger.get("/help").status_code == 401
    assert doors.password_fits(workspace, "long enough now")
    client.post("/settings/password", data={"remove": "yes"})
    assert not doors.has_password(workspace)
    with workspace.read() as connection:
        assert connection.execute(sa.select(sessions.c.revoked_at)).scalar_one() is not None


def test_work_is_listed(client: TestClient, workspace: Workspace) -> None:
    from desk_rows import put_job

    assert "Nothing is under way" in client.get("/jobs", headers=PAGE).text
    with workspace.write() as connection:
        set_id, clip_id = put_set(connection, state="measuring", load_kg=102.0582)  # 225 lb
        put_job(connection, clip_id, "running", message="following the bar", progress=0.3)
        _, other = put_set(connection, state="failed")
        put_job(connection, other, "failed", error="The clip holds no video; send the phone's own file.")

    text = client.get("/jobs", headers=PAGE).text

    assert "following the bar" in text
    assert f"/sets/{set_id}" in text
    assert "The clip holds no video" in text
    assert "102.06 kg" in text
    client.post("/settings/unit", data={"unit": "lb"})
    assert "225 lb" in client.get("/jobs", headers=PAGE).text


def test_the_usual_rules_count_unless_a_competition_names_others(client: TestClient, workspace: Workspace) -> None:
    """What is measured next is held against them, and is another measurement than before."""
    with workspace.write() as connection:
        _, plain = put_set(connection)
        own = Context(competition=Competition(rules="ipf-2022"))
        _, named = put_set(connection, context=own)
    with workspace.read() as connection:
        before = inputs_of(connection, workspace, plain)

    client.post("/settings", data={"rules": "ipf-2022"})

    with workspace.read() as connection:
        after, other = inputs_of(connection, workspace, plain), inputs_of(connection, workspace, named)
    assert before is not None
    assert after is not None
    assert other is not None
    assert (before.request.rules, after.request.rules, other.request.rules) == (None, "ipf-2022", None)
    assert before.key != after.key


@pytest.mark.parametrize(("days", "status"), [("30", 303), ("0", 422), ("soon", 422)])
def test_how_long_things_stay(client: TestClient, workspace: Workspace, days: str, status: int) -> None:
    assert client.post("/settings", data={"keep_unused_days": days}).status_code == status

    with workspace.read() as connection:
        assert setting(connection, "keep_unused_days") == (30 if status == 303 else None)


def test_the_pages_have_the_colours_of_what_is_published() -> None:
    """The desk's light theme is the one of publish/look.py."""
    css = (Path(web.__file__).parent / "static" / "css" / "desk.css").read_text("utf-8")

    for name, colour in (("paper", look.PAPER), ("ink", look.INK), ("soft", look.SOFT_TEXT), ("card", look.CARD),
                         ("grid", look.GRID), ("strong", look.GRID_STRONG), ("bar", look.BAR)):  # fmt: skip
        assert f"--{name}: light-dark({look.css(colour)}," in css, name
    assert f"--evidence: {look.css(look.EVIDENCE)};" in css
