"""Bringing a database up to the tables of today: one migration after the other, each whole or not at all."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import DatabaseError, OperationalError

from midfoot.store.engine import begin_write, plainly
from midfoot.store.files import StoreError
from midfoot.store.locks import hold_file

REVISIONS = ("0001", "0002", "0003", "0004", "0005", "0006")
"""Every schema there ever was, in order; the last one is today's."""
HEAD = REVISIONS[-1]


def bring_up(engine: Engine, file: Path | None) -> None:
    """Make or upgrade the tables; nothing happens when they are today's.

    Parameters
    ----------
    engine : Engine
    file : Path or None
        The SQLite file, copied aside before an upgrade; None for another database, whose keeper makes copies.

    Raises
    ------
    StoreError
        When the database is of a newer midfoot, is none of midfoot's, or cannot be read or upgraded.
    """
    try:
        found = revision_of(engine)
        if found == HEAD:
            return
        where = str(file or engine.url.render_as_string())
        if found is not None and found not in REVISIONS:
            raise StoreError(
                f"{where} was written by a newer midfoot (schema {found}, this one knows {HEAD}); "
                "install that version, or open another workspace."
            )
        if file is None:
            upgrade(engine, HEAD)
            return
        with hold_file(file.with_name("upgrade.lock"), "", wait=True):
            found = revision_of(engine)  # another program may have done it meanwhile
            if found not in (None, HEAD):
                copy_aside(file, str(found))
            upgrade(engine, HEAD)
    except OperationalError as error:
        raise plainly(error, str(file or engine.url)) or error from error
    except DatabaseError as error:
        raise StoreError(
            f"{file or engine.url} is no database of midfoot or is damaged ({error.orig}); "
            "put a backup back with midfoot restore."
        ) from error


def revision_of(engine: Engine) -> str | None:
    """Give the schema's revision; None for an empty database.

    Raises
    ------
    StoreError
        When it holds tables that are not midfoot's.
    """
    with engine.connect() as connection:
        names = set(sa.inspect(connection).get_table_names())
        if not names:
            return None
        found = None
        if "alembic_version" in names:
            found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    if found is None and names - {"alembic_version"}:
        raise StoreError(f"{engine.url.database} is no database of midfoot; give another workspace.")
    return None if found is None else str(found)


def copy_aside(file: Path, revision: str) -> Path:
    """Copy a database beside itself before it is upgraded, consistent whoever writes to it meanwhile."""
    copy = file.with_name(f"{file.stem}.before-upgrade-from-{revision}{file.suffix}")
    beside = copy.with_name(f".{copy.name}")
    beside.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(file)) as old, closing(sqlite3.connect(beside)) as new:
            old.backup(new)
        beside.replace(copy)
    except sqlite3.OperationalError as error:
        raise StoreError(
            f"{copy} cannot be written ({error}), and without a copy nothing is upgraded; free some room."
        ) from error
    finally:
        beside.unlink(missing_ok=True)
    return copy


def upgrade(engine: Engine, to: str) -> None:
    """Run the migrations up to a revision in one transaction; SQLite checks every reference afterwards."""
    from alembic import command
    from alembic.config import Config

    connection = begin_write(engine, foreign_keys=False)
    try:
        config = Config()
        config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
        config.set_main_option("path_separator", "os")
        config.attributes["connection"] = connection
        command.upgrade(config, to)
        check_references(connection)
        connection.commit()
    finally:
        connection.close()


def check_references(connection: Connection) -> None:
    """Refuse an upgrade that left a reference pointing at nothing (SQLite; others hold it all the time)."""
    if connection.dialect.name != "sqlite":
        return
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    if broken:
        raise StoreError(
            f"the upgrade would leave a row of {broken[0][0]} pointing at nothing in {broken[0][2]}; nothing was "
            "changed; run midfoot check --deep with the version that wrote this workspace."
        )
