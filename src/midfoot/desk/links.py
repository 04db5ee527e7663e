"""Links for people without an account: signed, good for one thing, expiring, revocable; `pace` limits their use.

A link's token is readable by whoever has it and cannot be made by anybody else. What it is good for stands in its
row: a token whose row was revoked or is past its time opens nothing, at once.
"""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from attrs import frozen
from itsdangerous import BadData, URLSafeSerializer
from sqlalchemy.engine import Connection

from midfoot.store.columns import new_id, now
from midfoot.store.rows import audit
from midfoot.store.signing import signing_keys, token_mark
from midfoot.store.tables import lifters, links

if TYPE_CHECKING:
    from midfoot.store import Workspace

SEND, FETCH = "send", "fetch"
SCOPES = (SEND, FETCH)
SALT = "midfoot link to "
DAYS, MOST_DAYS = 14, 90
FETCH_DAYS = 400
"""A desk fetches for longer than a lifter sends; the link is taken back where it is no longer wanted."""
MOST_SETS = 20
"""One link takes so many sets."""


class LinkError(ValueError):
    """A link that opens nothing: the text says why and what would do."""


@frozen(kw_only=True)
class Link:
    """A link that stands.

    Attributes
    ----------
    id, scope : str
    lifter_id, lifter : str
        Whose it is; "" where it is nobody's in particular.
    expires_at : datetime
    sets : tuple of str
        Ids of the sets that came by it: it reaches these and no others.
    """

    id: str
    scope: str
    lifter_id: str
    lifter: str
    expires_at: datetime
    sets: tuple[str, ...] = ()


def make(workspace: Workspace, scope: str, *, lifter_id: str | None = None, days: int = DAYS) -> tuple[str, str]:
    """Make a link; gives its id and its token, which is kept nowhere.

    Raises
    ------
    LinkError
        When it would last too long, or there is no such lifter.
    """
    most = FETCH_DAYS if scope == FETCH else MOST_DAYS
    if scope not in SCOPES or not 1 <= days <= most:
        raise LinkError(f"A link is for {' or '.join(SCOPES)} and lasts 1 to {most} days.")
    nonce, link_id = secrets.token_urlsafe(16), new_id()
    with workspace.write() as connection:
        if (
            lifter_id
            and connection.execute(sa.select(lifters.c.id).where(lifters.c.id == lifter_id)).first() is None
        ):
            raise LinkError("There is no such lifter any more; choose another one.")
        connection.execute(
            links.insert().values(
                id=link_id, token_hash=token_mark(nonce), scope=scope, lifter_id=lifter_id, limits={"sets": []},
                expires_at=now() + timedelta(days=days), max_uses=MOST_SETS,
            )
        )  # fmt: skip
        audit(connection, "link_made", "link", link_id, {"scope": scope, "days": days})
        keys = signing_keys(connection)
    return link_id, str(URLSafeSerializer(keys, salt=SALT + scope).dumps([link_id, nonce]))


def opened(workspace: Workspace, scope: str, token: str) -> Link:
    """Give the link of a token.

    Raises
    ------
    LinkError
        When it is forged, revoked or past its time.
    """
    gone = LinkError("This link is not valid; ask your coach for a new one.")
    with workspace.write() as connection:
        keys = signing_keys(connection)
    try:
        link_id, nonce = URLSafeSerializer(keys, salt=SALT + scope).loads(token)
    except (BadData, ValueError, TypeError):
        raise gone from None
    with workspace.read() as connection:
        row = connection.execute(
            sa.select(links, lifters.c.shown_name, lifters.c.name)
            .join(lifters, lifters.c.id == links.c.lifter_id, isouter=True)
            .where(links.c.id == str(link_id), links.c.scope == scope)
        ).first()
    if row is None or not secrets.compare_digest(row.token_hash, token_mark(str(nonce))):
        raise gone
    if row.revoked_at is not None:
        raise LinkError("This link was taken back; ask your coach for a new one.")
    if row.expires_at <= now():
        raise LinkError("This link has run out; ask your coach for a new one.")
    return Link(
        id=row.id, scope=scope, lifter_id=row.lifter_id or "", lifter=row.shown_name or row.name or "",
        expires_at=row.expires_at, sets=tuple((row.limits or {}).get("sets", ())),
    )  # fmt: skip


def bind(connection: Connection, link: Link, set_id: str) -> None:
    """Let a link reach a set that came by it; the connection must be a writing one.

    Raises
    ------
    LinkError
        When so many came by it already.
    """
    row = connection.execute(sa.select(links.c.limits, links.c.max_uses).where(links.c.id == link.id)).one()
    there = list((row.limits or {}).get("sets", ()))
    if len(there) >= (row.max_uses or MOST_SETS):
        raise LinkError("This link has taken as many sets as it may; ask your coach for a new one.")
    connection.execute(
        links.update()
        .where(links.c.id == link.id)
        .values(limits={"sets": [*there, set_id]}, uses=links.c.uses + 1)
    )


def revoke(workspace: Workspace, link_id: str) -> None:
    """Take a link back; it opens nothing from now on."""
    with workspace.write() as connection:
        done = connection.execute(
            links.update().where(links.c.id == link_id, links.c.revoked_at.is_(None)).values(revoked_at=now())
        )
        if done.rowcount:
            audit(connection, "link_revoked", "link", link_id)


def listed(workspace: Workspace) -> list[dict[str, Any]]:
    """Give the links that were made, the newest first: whose, until when, whether they stand, what came.

    `there` is true for those on a public instance.
    """
    with workspace.read() as connection:
        rows = connection.execute(
            sa.select(links, lifters.c.name)
            .join(lifters, lifters.c.id == links.c.lifter_id, isouter=True)
            .where(links.c.scope.in_(SCOPES))
            .order_by(links.c.created_at.desc())
        ).all()
    return [
        {"id": r.id, "scope": r.scope, "lifter": r.name or "", "created_at": r.created_at,
         "expires_at": r.expires_at, "stands": r.revoked_at is None and r.expires_at > now(),
         "revoked": r.revoked_at is not None, "there": False, "sets": list((r.limits or {}).get("sets", ()))}
        for r in rows
    ]  # fmt: skip
