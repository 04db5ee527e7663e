"""Who is answered, who is let in, where writes may come from.

Outside checks: the header names and values are those of the W3C Content Security Policy Level 3 and Fetch Metadata
drafts and of RFC 6265 (cookies) and RFC 6454 (Origin), written here from memory.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from desk_client import BASE, PAGE, client_of
from itsdangerous import URLSafeTimedSerializer
from starlette.testclient import TestClient

from midfoot.store.columns import now
from midfoot.store.tables import links, sessions
from midfoot.store.workspace import Workspace
from midfoot.web import sessions as doors
from midfoot.web.security import COOKIE, Door


def test_a_pairing_link_lets_in_once(stranger: TestClient, workspace: Workspace) -> None:
    """The first browser gets a cookie that scripts cannot read; a second one is told how to get a new link."""
    token = doors.new_pairing(workspace)

    first = stranger.get("/pair", params={"token": token})

    assert (first.status_code, first.headers["location"]) == (303, "/")
    cookie = first.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert stranger.get("/help", headers=PAGE).status_code == 200
    again = client_of(workspace, inside=False).get("/pair", params={"token": token})
    assert again.status_code == 401
    assert "midfoot serve --pair" in again.json()["error"]["remedy"]


def test_the_link_in_the_same_browser_leads_in(stranger: TestClient, workspace: Workspace) -> None:
    """Who is in already and presses the old link sees the inbox, not an error."""
    token = doors.new_pairing(workspace)
    stranger.get("/pair", params={"token": token})

    assert stranger.get("/pair", params={"token": token}).headers["location"] == "/"


def test_forged_old_and_revoked_links_are_refused(stranger: TestClient, workspace: Workspace) -> None:
    """A token signed by another key, one past its time, one whose row is revoked."""
    good = doors.new_pairing(workspace)
    forged = URLSafeTimedSerializer("another key", salt=doors.PAIR_SALT).dumps("x")
    with workspace.write() as connection:
        connection.execute(sa.update(links).values(expires_at=now() - timedelta(seconds=1)))
    other = doors.new_pairing(workspace)
    with workspace.write() as connection:
        connection.execute(sa.update(links).values(revoked_at=now()))

    got = [stranger.get("/pair", params={"token": t}).status_code for t in ("", "nonsense", forged, good, other)]

    assert got == [401] * 5


def test_tokens_are_not_kept_as_they_are(stranger: TestClient, workspace: Workspace) -> None:
    """Neither the session's token nor the nonce stands in the database."""
    stranger.get("/pair", params={"token": doors.new_pairing(workspace)})
    token = stranger.cookies[COOKIE]
    with workspace.read() as connection:
        kept = [str(row) for table in (sessions, links) for row in connection.execute(sa.select(table))]

    assert len(kept) == 2
    assert not any(token in row for row in kept)


def test_an_ended_or_old_session_is_out(stranger: TestClient, workspace: Workspace) -> None:
    """Ending it, or its time passing, shuts the door at once."""
    for change in ({"revoked_at": now()}, {"expires_at": now() - timedelta(days=1)}):
        stranger.cookies.set(COOKIE, doors.new_session(workspace), domain="127.0.0.1")
        assert stranger.get("/help").status_code == 200
        with workspace.write() as connection:
            connection.execute(sa.update(sessions).values(**change))

        assert stranger.get("/help").status_code == 401
        stranger.cookies.clear()


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8421", "192.168.1.7", "127.0.0.1.evil.example", ""]
)
def test_other_host_names_are_refused(client: TestClient, host: str) -> None:
    """A page elsewhere that points its own name at this machine gets nothing, session or not."""
    got = client.get("/help", headers={"host": host})

    assert got.status_code == 400
    assert "127.0.0.1" in got.json()["error"]["remedy"]


@pytest.mark.parametrize("host", ["127.0.0.1:9", "localhost", "LOCALHOST:8421", "[::1]:8421"])
def test_own_host_names_are_answered(client: TestClient, host: str) -> None:
    assert client.get("/help", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
        {"origin": "http://evil.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
        {"sec-fetch-site": "same-origin", "origin": "http://evil.example"},
        {},
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_writes_from_elsewhere_are_refused(client: TestClient, method: str, headers: dict[str, str]) -> None:
    """By Sec-Fetch-Site or Origin; a request that says neither is refused as well."""
    del client.headers["sec-fetch-site"], client.headers["origin"]

    got = client.request(method, "/leave", headers=headers)

    assert got.status_code == 403
    assert client.get("/help").status_code == 200


@pytest.mark.parametrize("headers", [{"origin": BASE}, {"sec-fetch-site": "same-origin"}])
def test_own_writes_are_taken(stranger: TestClient, workspace: Workspace, headers: dict[str, str]) -> None:
    del stranger.headers["sec-fetch-site"], stranger.headers["origin"]
    stranger.cookies.set(COOKIE, doors.new_session(workspace), domain="127.0.0.1")

    assert stranger.post("/leave", headers=headers).status_code == 303
    with workspace.read() as connection:
        assert connection.execute(sa.select(sessions.c.revoked_at)).scalar_one() is not None


@pytest.mark.parametrize("path", ["/", "/help", "/nowhere", "/static/css/desk.css", "/pair"])
@pytest.mark.parametrize("who", ["client", "stranger"])
def test_every_answer_carries_the_policy(request: pytest.FixtureRequest, who: str, path: str) -> None:
    """Pages, refusals and files alike; no inline script or style is allowed by it, and nobody may frame it."""
    headers = request.getfixturevalue(who).get(path, headers=PAGE).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))

    assert policy["default-src"] == "'none'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"


def test_templates_and_scripts_keep_to_the_policy() -> None:
    """No inline style or script, no handler attribute and no address elsewhere in any template or script."""
    import midfoot.web as web

    root = Path(web.__file__).parent
    forbidden = (
        " style=", "<style", " onclick=", " onload=", "javascript:", 'src="http', 'href="http', "url(http",
        'from "http', 'import("http',
    )  # fmt: skip
    for file in [*root.rglob("*.j2"), *root.rglob("*.js"), *root.rglob("*.css")]:
        text = file.read_text(encoding="utf-8")
        found = [word for word in forbidden if word in text]
        assert found == [], file.name
        if file.suffix == ".j2":
            assert "<script>" not in text, file.name


def test_without_a_password_there_is_no_login(stranger: TestClient) -> None:
    assert stranger.get("/login").status_code == 404


def test_the_password_opens_the_desk_and_guessing_is_slow(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """argon2 keeps it; five wrong ones in a minute shut the form for everybody."""
    from midfoot.web.pages import pairing

    monkeypatch.setattr(pairing, "_failed", [])
    doors.set_password(workspace, "a long enough one")
    client = client_of(workspace, inside=False, door=Door(hosts=("127.0.0.1", "desk.lan"), password=True))
    with workspace.read() as connection:
        assert str(doors.setting(connection, doors.PASSWORD)).startswith("$argon2id$")
    assert client.get("/login", headers=PAGE | {"host": "desk.lan"}).status_code == 200

    assert client.post("/login", data={"password": "wrong"}).status_code == 401
    assert client.post("/login", data={"password": "a long enough one"}).headers["location"] == "/"
    for _ in range(4):
        client.post("/login", data={"password": "wrong"})
    assert client.post("/login", data={"password": "a long enough one"}).status_code == 429


def test_a_short_password_is_refused(workspace: Workspace) -> None:
    with pytest.raises(ValueError, match="at least 10"):
        doors.set_password(workspace, "short")


def test_a_failure_inside_is_a_sentence(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """No traceback, no name of a file or a library; a full disk is said as such."""
    from midfoot.web.pages import help_page

    def fails(*_: object, **__: object) -> None:
        raise RuntimeError("secret inner words in /some/path.py")

    monkeypatch.setattr("midfoot.web.render.Pages.unit", lambda self: fails())
    got = client.get("/help", headers={"accept": "application/json"})
    assert help_page.router is not None

    assert got.status_code == 500
    assert set(got.json()["error"]) == {"says", "remedy"}
    assert "secret" not in got.text
    assert "Traceback" not in got.text
