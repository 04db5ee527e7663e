"""The coach's settings: one row of JSON for each key."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from midfoot.store.tables import settings


def preference(connection: Connection, key: str, default: Any = None) -> Any:
    """Give a setting's value, the default when it was never set."""
    found = connection.execute(sa.select(settings.c.value).where(settings.c.key == key)).first()
    return default if found is None or found[0] is None else found[0]


def set_preference(connection: Connection, key: str, value: Any) -> None:
    """Keep a setting; None forgets it."""
    connection.execute(sa.delete(settings).where(settings.c.key == key))
    if value is not None:
        connection.execute(sa.insert(settings).values(key=key, value=value))
