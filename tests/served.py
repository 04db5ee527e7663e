"""The real server on a free port, in a thread of this process, and a browser page that is let in."""

from __future__ import annotations

import json
import socket
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from desk_client import TOKEN

from midfoot.store.workspace import Workspace
from midfoot.web.security import COOKIE
from midfoot.web.serve import server_of

PATIENCE_S = 20.0


@contextmanager
def served(workspace: Workspace, *, intake_only: bool = False) -> Iterator[str]:
    """Serve a workspace; gives the address, without a slash at its end."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = server_of(workspace, port=port, token=TOKEN, intake_only=intake_only)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + PATIENCE_S
    while not server.started:
        if not thread.is_alive() or time.monotonic() > until:
            raise RuntimeError("the desk's server did not start")
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(PATIENCE_S)


def open_page(browser: Any, address: str, *, width: int = 1440, height: int = 900, **more: Any) -> Any:
    """Give a new page that is let in; `page.context.close()` ends it.

    What the page complains of is kept in `page.complaints`: errors of scripts, what the policy refused, and
    answers of 400 and more.
    """
    context = browser.new_context(viewport={"width": width, "height": height}, base_url=address, **more)
    context.add_cookies([{"name": COOKIE, "value": TOKEN, "url": address}])
    page = context.new_page()
    page.complaints = []
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on("console", lambda said: said.type == "error" and page.complaints.append(said.text))
    return page


def until(page: Any, holds: str, patience_s: float = 8.0) -> None:
    """Wait until a JavaScript expression holds; Playwright's own way evaluates strings: the policy refuses it."""
    page.evaluate(
        f"""new Promise((done, no) => {{ const end = performance.now() + {1000 * patience_s};
        const look = () => ({holds}) ? done() : performance.now() > end ? no(new Error(`waited for {{0}}`)) :
          setTimeout(look, 15); look(); }})""".replace("{0}", holds.replace("`", "'").replace("\\", ""))
    )


def answered(where: str, visitor: int, seen: dict[str, Any]) -> int:
    """Send one visitor's answer to an open set, as its page does; gives the status."""
    body = json.dumps({"token": f"visitor-{visitor:08d}-abcdef", "seen": [seen]}).encode()
    request = urllib.request.Request(where, body, {"content-type": "text/plain"})
    try:
        with urllib.request.urlopen(request) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        error.close()
        return error.code
