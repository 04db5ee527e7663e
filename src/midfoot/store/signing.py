"""Keys with which this workspace signs links, and marks by which tokens are known without being kept."""

from __future__ import annotations

import hashlib
import secrets

from sqlalchemy.engine import Connection

from midfoot.store.rows import set_setting, setting

KEYS = "secret_keys"
"""Signing keys, the newest last: an older one still reads what it signed until it is taken out of the list."""


def token_mark(token: str) -> str:
    """Give what is kept of a token: who reads the database cannot use it."""
    return hashlib.sha256(token.encode()).hexdigest()


def signing_keys(connection: Connection) -> list[str]:
    """Give the keys of this workspace, made at the first call; the connection must be a writing one."""
    keys = setting(connection, KEYS, [])
    if not keys:
        keys = [secrets.token_hex(32)]
        set_setting(connection, KEYS, keys)
    return [str(k) for k in keys]
