"""Connections to the database, SQLite done right; PostgreSQL by URL with the same tables.

On SQLite a unit of writing begins with BEGIN IMMEDIATE: a deferred one that reads first and then writes fails at
once when another writer came in between, whatever the timeout. Checkpoints are not left to SQLite's own habit
(after a commit, beside other writers): versions before 3.51.3 can then damage the file in a rare race. They are
made here by a kind that holds the writer's lock.
"""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import OperationalError

from midfoot.store.files import StoreError

BUSY_MS = 5000
PATIENCE_S = 60.0
WAL_MB = 8
WRITES = "midfoot_writes"
PRAGMAS = (
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=NORMAL",
    f"PRAGMA busy_timeout={BUSY_MS}",
    "PRAGMA foreign_keys=ON",
    "PRAGMA wal_autocheckpoint=0",
    "PRAGMA secure_delete=ON",
)
_dumps: Callable[[Any], str] = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode


def engine_for(where: Path | str) -> Engine:
    """Give an engine for a SQLite file, or for a database by its URL.

    Parameters
    ----------
    where : Path or str
        The file, or a URL such as `postgresql+psycopg://...`.
    """
    if isinstance(where, str):
        return sa.create_engine(where, json_serializer=_dumps, pool_pre_ping=True)
    url = sa.URL.create("sqlite+pysqlite", database=str(where))
    engine = sa.create_engine(
        url, json_serializer=_dumps, pool_size=8, max_overflow=-1, connect_args={"timeout": BUSY_MS / 1000}
    )
    sa.event.listen(engine, "connect", _on_connect)
    sa.event.listen(engine, "begin", _on_begin)
    return engine


def begin_write(engine: Engine, *, foreign_keys: bool = True) -> Connection:
    """Give a connection that may write, its transaction begun; who asks closes it.

    Without `foreign_keys` SQLite does not hold references in it (a table that is made anew would drop what points
    at it), and the connection is not used again.

    Raises
    ------
    StoreError
        When another program holds the writer's lock for a minute, or the disk is full.
    """
    until = time.monotonic() + PATIENCE_S
    while True:
        connection = engine.connect().execution_options(**{WRITES: True})
        try:
            if not foreign_keys and engine.dialect.name == "sqlite":
                raw: Any = connection.connection.driver_connection
                raw.execute("PRAGMA foreign_keys=OFF")
                connection.detach()
            connection.begin()
            return connection
        except OperationalError as error:
            connection.close()
            if not is_busy(error) or time.monotonic() > until:
                raise
        except BaseException:
            connection.close()
            raise


def is_busy(error: OperationalError) -> bool:
    """Tell whether the database is only held by somebody else."""
    return getattr(error.orig, "sqlite_errorname", "").startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))


def plainly(error: OperationalError, where: str) -> StoreError | None:
    """Give the sentence for what stands in the way on the machine; None when the fault is in the program."""
    name = str(getattr(error.orig, "sqlite_errorname", ""))
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return StoreError(f"{where} is held by another program; end that one, then try again.")
    if name.startswith("SQLITE_FULL"):
        return StoreError(f"{where}: the disk is full; free some room, then try again.")
    if name.startswith(("SQLITE_READONLY", "SQLITE_PERM")):
        return StoreError(f"{where} cannot be written to; give it back its write permission.")
    if name.startswith("SQLITE_CANTOPEN"):
        return StoreError(f"{where} cannot be opened; see whether the folder is there and may be written to.")
    if name.startswith("SQLITE_IOERR"):
        return StoreError(f"{where}: the disk does not answer; see to the disk, then run midfoot check --deep.")
    return None


def checkpoint(engine: Engine, file: Path) -> bool:
    """Bring what stands in the write-ahead log into the file once it has grown.

    To be called in the writer's turn. False when readers hold it up.
    """
    try:
        if file.with_name(file.name + "-wal").stat().st_size < WAL_MB * 1_000_000:
            return True
    except FileNotFoundError:
        return True
    raw = engine.raw_connection()
    try:
        cursor = raw.cursor()
        cursor.execute("PRAGMA busy_timeout=50")  # readers that hold it up are waited for next time
        busy = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        cursor.execute(f"PRAGMA busy_timeout={BUSY_MS}")
        return not busy
    finally:
        raw.close()


def _on_connect(raw: Any, _record: Any) -> None:
    raw.isolation_level = None  # this module begins transactions, not the driver
    cursor = raw.cursor()
    until = time.monotonic() + PATIENCE_S
    for pragma in PRAGMAS:
        while True:
            try:
                cursor.execute(pragma)
                break
            except sqlite3.OperationalError as error:
                # a new file is turned to the log by whoever comes first; SQLite does not wait for that by itself
                if "SQLITE_BUSY" not in error.sqlite_errorname or time.monotonic() > until:
                    raise
                time.sleep(0.02)
    cursor.close()


def _on_begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
