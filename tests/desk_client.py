"""A client that is let into the desk, in-process, as its own pages would ask."""

from __future__ import annotations

from typing import Any

from starlette.testclient import TestClient

from midfoot.store.workspace import Workspace
from midfoot.web import create_app
from midfoot.web.security import COOKIE

BASE = "http://127.0.0.1:8421"
TOKEN = "session-for-tests"
SAME = {"sec-fetch-site": "same-origin", "origin": BASE}
PAGE = {"accept": "text/html"}


def client_of(workspace: Workspace, *, inside: bool = True, **more: Any) -> TestClient:
    """Give a client of the desk on this workspace; `inside` false leaves it a stranger."""
    client = TestClient(
        create_app(workspace, token=TOKEN, **more), base_url=BASE, headers=SAME, follow_redirects=False,
        raise_server_exceptions=False,
    )  # fmt: skip
    if inside:
        client.cookies.set(COOKIE, TOKEN)
    return client
