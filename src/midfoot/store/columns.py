"""Columns of the store: instants, JSON, ids and closed lists of words, the same on SQLite and PostgreSQL."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator, TypeEngine

LENGTH = len("2031-05-24T12:00:00.000000Z")


def new_id() -> str:
    """Give a new id: 16 hexadecimal digits from the system's randomness."""
    return secrets.token_hex(8)


def now() -> datetime:
    """Give this instant, with its zone (UTC)."""
    return datetime.now(UTC)


def as_text(instant: datetime) -> str:
    """Give an instant in UTC as text of one length: 2031-05-24T12:00:00.000000Z."""
    return instant.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


class Instant(TypeDecorator[datetime]):
    """An instant, always with a zone; UTC out. On SQLite text of one length, so that it sorts as time does."""

    impl = sa.String(LENGTH)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Text on SQLite, timestamp with time zone elsewhere."""
        kind = sa.String(LENGTH) if dialect.name == "sqlite" else sa.DateTime(timezone=True)
        return dialect.type_descriptor(kind)

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """Write it; an instant without a zone is misuse."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"an instant with a zone is expected, got {value.isoformat()} without one")
        value = value.astimezone(UTC)
        return as_text(value) if dialect.name == "sqlite" else value

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        """Read it."""
        if value is None:
            return None
        if isinstance(value, datetime):
            return value.astimezone(UTC)
        return datetime.fromisoformat(value)


def key() -> sa.Column[str]:
    """Give the column `id`: the table's key."""
    return sa.Column("id", sa.String(32), primary_key=True, default=new_id)


def to(target: str, name: str, *, null: bool = False, index: bool = True) -> sa.Column[str]:
    """Give a column that points at a row of another table, by the target `table.column`."""
    width = 64 if target.endswith("sha256") else 32
    return sa.Column(name, sa.String(width), sa.ForeignKey(target), nullable=null, index=index)


def words(
    name: str, *options: str, default: str | None = None, null: bool = True
) -> tuple[sa.Column[str], sa.CheckConstraint]:
    """Give a column that holds one of the words, with the check that holds it to them.

    Without a default it may be NULL as well, unless `null` says no.
    """
    listed = ", ".join(f"'{o}'" for o in options)
    check = sa.CheckConstraint(f"{name} IN ({listed})", name=name)
    column: sa.Column[str] = sa.Column(
        name, sa.String(24), nullable=null and default is None, default=default, server_default=default
    )
    return column, check


def text(name: str) -> sa.Column[str]:
    """Give a column of text that is never NULL: "" says nothing."""
    return sa.Column(name, sa.Text, nullable=False, default="", server_default="")


def flag(name: str, *, default: bool = False) -> sa.Column[bool]:
    """Give a column that is true or false."""
    return sa.Column(
        name, sa.Boolean, nullable=False, default=default, server_default=sa.true() if default else sa.false()
    )


def at(name: str, *, null: bool = True, stamped: bool = False) -> sa.Column[datetime]:
    """Give a column that holds an instant; `stamped` fills it in when the row is made."""
    return sa.Column(name, Instant, nullable=null and not stamped, default=now if stamped else None)


def json(name: str, *, null: bool = True) -> sa.Column[Any]:
    """Give a column of JSON."""
    return sa.Column(name, sa.JSON(none_as_null=True), nullable=null)
