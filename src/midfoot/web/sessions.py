"""Sessions on the server's side, one-use pairing links, and the password of the coach's network."""

from __future__ import annotations

import secrets
from datetime import timedelta

import sqlalchemy as sa
from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error
from itsdangerous import BadData, URLSafeTimedSerializer

from midfoot.store.columns import now
from midfoot.store.rows import set_setting, setting
from midfoot.store.signing import signing_keys, token_mark
from midfoot.store.tables import links, sessions
from midfoot.store.workspace import Workspace

SESSION_DAYS = 90
PAIR_SECONDS = 15 * 60
PAIR_SALT = "midfoot pairing link"
PAIR_SCOPE = "pair"
PASSWORD = "password_hash"
PASSWORD_LENGTH = 10
_HASHER = PasswordHasher()


def new_session(workspace: Workspace, who: str = "") -> str:
    """Begin a session and give its token, which itself is kept nowhere."""
    token, today = secrets.token_urlsafe(32), now()
    with workspace.write() as connection:
        connection.execute(sa.delete(sessions).where(sessions.c.expires_at < today))
        connection.execute(
            sa.insert(sessions).values(
                token_hash=token_mark(token), who=who[:80], expires_at=today + timedelta(days=SESSION_DAYS)
            )
        )
    return token


def session_stands(workspace: Workspace, token: str) -> bool:
    """Tell whether a session's token is known, not ended and not past its time."""
    with workspace.read() as connection:
        found = connection.execute(
            sa.select(sessions.c.id).where(
                sessions.c.token_hash == token_mark(token),
                sessions.c.revoked_at.is_(None),
                sessions.c.expires_at > now(),
            )
        ).first()
    return found is not None


def end_session(workspace: Workspace, token: str) -> None:
    """End one session."""
    with workspace.write() as connection:
        connection.execute(
            sa.update(sessions).where(sessions.c.token_hash == token_mark(token)).values(revoked_at=now())
        )


def end_other_sessions(workspace: Workspace, token: str) -> int:
    """End every session but this one; gives how many there were."""
    with workspace.write() as connection:
        ended = connection.execute(
            sa.update(sessions)
            .where(sessions.c.token_hash != token_mark(token), sessions.c.revoked_at.is_(None))
            .values(revoked_at=now())
        )
    return int(ended.rowcount)


def has_sessions(workspace: Workspace) -> bool:
    """Tell whether any browser is paired: the first run prints a pairing link by itself."""
    with workspace.read() as connection:
        found = connection.execute(
            sa.select(sessions.c.id).where(sessions.c.revoked_at.is_(None), sessions.c.expires_at > now()).limit(1)
        ).first()
    return found is not None


def new_pairing(workspace: Workspace) -> str:
    """Give a token that lets one browser in, once, within a quarter of an hour."""
    nonce = secrets.token_urlsafe(16)
    with workspace.write() as connection:
        connection.execute(
            sa.insert(links).values(
                token_hash=token_mark(nonce), scope=PAIR_SCOPE, max_uses=1,
                expires_at=now() + timedelta(seconds=PAIR_SECONDS),
            )
        )  # fmt: skip
        keys = signing_keys(connection)
    return str(URLSafeTimedSerializer(keys, salt=PAIR_SALT).dumps(nonce))


def use_pairing(workspace: Workspace, token: str) -> bool:
    """Use up a pairing token; False when it is forged, too old or was used before."""
    with workspace.write() as connection:
        try:
            nonce = URLSafeTimedSerializer(signing_keys(connection), salt=PAIR_SALT).loads(
                token, max_age=PAIR_SECONDS
            )
        except BadData:
            return False
        used = connection.execute(
            sa.update(links)
            .where(
                links.c.token_hash == token_mark(str(nonce)), links.c.scope == PAIR_SCOPE, links.c.uses < 1,
                links.c.revoked_at.is_(None), links.c.expires_at > now(),
            )
            .values(uses=1)
        )  # fmt: skip
    return int(used.rowcount) == 1


def set_password(workspace: Workspace, password: str) -> None:
    """Keep a password for the coach's network as an argon2 hash; "" takes it away.

    Raises
    ------
    ValueError
        When it is too short.
    """
    if password and len(password) < PASSWORD_LENGTH:
        raise ValueError(f"The password needs at least {PASSWORD_LENGTH} characters.")
    made = _HASHER.hash(password) if password else None
    with workspace.write() as connection:
        set_setting(connection, PASSWORD, made)


def has_password(workspace: Workspace) -> bool:
    """Tell whether a password is set."""
    with workspace.read() as connection:
        return bool(setting(connection, PASSWORD))


def password_fits(workspace: Workspace, password: str) -> bool:
    """Tell whether it is the password; one hashed by older parameters is hashed anew."""
    with workspace.read() as connection:
        kept = setting(connection, PASSWORD)
    if not kept:
        return False
    try:
        _HASHER.verify(str(kept), password)
    except Argon2Error:
        return False
    if _HASHER.check_needs_rehash(str(kept)):
        set_password(workspace, password)
    return True
