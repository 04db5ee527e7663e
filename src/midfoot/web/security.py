"""The door: which hosts are answered, where writes may come from, who is let in, and what a page may load."""

from __future__ import annotations

import hmac
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from anyio import to_thread
from attrs import frozen
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from midfoot.web.errors import answer, said_of
from midfoot.web.sessions import session_stands

if TYPE_CHECKING:
    from midfoot.store import Workspace

COOKIE = "midfoot_session"
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
OPEN_PATHS = ("/static/", "/pair", "/login")
"""Answered without a session: what the page of a stranger needs."""
LINKED_PATHS = ("/send/", "/fetch/", "/open/")
"""Opened by a link of their own, which their routes check; no cookie counts there, so any program may send."""
CSP = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; "
    "connect-src 'self'; font-src 'self'; frame-src 'self'; worker-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": CSP,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(self)",
}
"""Laid under every answer; a route that says otherwise for its own answer keeps its word."""


def preview_policy(style_hashes: tuple[str, ...] = ()) -> str:
    """Give the policy of a page made to be published, shown inside the desk: its own styles, no script.

    `style_hashes` are `sha256-...` of its style blocks; without them any inline style of that page is taken.
    """
    styles = " ".join(f"'{h}'" for h in style_hashes) or "'unsafe-inline'"
    return (
        f"default-src 'none'; style-src {styles}; img-src 'self' data:; media-src 'self' data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'self'"
    )


@frozen(kw_only=True)
class Door:
    """How one gets in.

    Attributes
    ----------
    hosts : tuple of str
        Host names that are answered, without port; anything else is refused (a page elsewhere could otherwise
        point its own name at this machine).
    password : bool
        Whether a password opens the desk (on the coach's network); else only a pairing link does.
    secure : bool
        Whether the desk is reached over https, so that the cookie is never sent otherwise.
    """

    hosts: tuple[str, ...] = ("127.0.0.1", "localhost", "[::1]")
    password: bool = False
    secure: bool = False


def host_of(header: str) -> str:
    """Give the name in a Host header, lower case, without its port."""
    name = header.strip().lower()
    if name.startswith("["):
        return name.partition("]")[0] + "]"
    return name.partition(":")[0]


def from_here(headers: Headers) -> bool:
    """Tell whether a request that changes something was sent by one of the desk's own pages.

    Browsers say so by Sec-Fetch-Site, older ones by Origin; a request that says neither is not taken.
    """
    site = headers.get("sec-fetch-site")
    if site is not None and site != "same-origin":
        return False
    origin = headers.get("origin")
    if origin is None:
        return site == "same-origin"
    return urlsplit(origin).netloc.lower() == headers.get("host", "").lower()


def session_token(headers: Headers) -> str:
    """Give the session's token from the cookies, "" when there is none."""
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return found.value if found else ""


class Guard:
    """Pure ASGI: checks every request before any route sees it and lays the headers under every answer."""

    def __init__(self, app: ASGIApp, *, workspace: Workspace, door: Door, token: str | None = None) -> None:
        self.app, self._workspace, self._door, self._token = app, workspace, door, token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse with a sentence."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault(
                    "cache-control", "no-cache" if scope["path"].startswith("/static/") else "no-store"
                )
            await send(message)

        request = Request(scope)
        try:
            refusal = await self._refusal(scope, request)
        except Exception as error:
            refusal = (500, *said_of(error))
        if refusal:
            await answer(request, *refusal)(scope, receive, dressed)
            return
        await self.app(scope, receive, dressed)

    async def _refusal(self, scope: Scope, request: Request) -> tuple[int, str, str] | None:
        """Give status, sentence and remedy of what stands against the request; None lets it through."""
        headers = request.headers
        if host_of(headers.get("host", "")) not in self._door.hosts:
            return (
                400,
                "The desk does not answer to this name.",
                f"Open it as http://{self._door.hosts[0]} instead.",
            )
        linked = scope["path"].startswith(LINKED_PATHS)
        if scope["method"] not in SAFE and not linked and not from_here(headers):
            return (
                403,
                "This change was not sent by one of the desk's own pages.",
                "Open the desk itself and try again there.",
            )
        path: str = scope["path"]
        if linked or path.startswith("/static/"):
            return None
        token = session_token(headers)
        if token and await self._stands(token):
            scope["midfoot.session"] = token
            return None
        if path.startswith(OPEN_PATHS):
            return None
        if self._door.password:
            return 401, "The desk is locked.", "Open /login and give the password set under Settings."
        return (
            401,
            "This browser is not paired with the desk.",
            "Open the pairing link that `midfoot serve` prints; `midfoot serve --pair` prints a new one.",
        )

    async def _stands(self, token: str) -> bool:
        if self._token is not None and hmac.compare_digest(token, self._token):
            return True
        return await to_thread.run_sync(session_stands, self._workspace, token)
