"""The database's tables: migrations make what tables.py says, old schemas come up, newer ones are refused."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from midfoot.store import StoreError, Workspace
from midfoot.store.tables import metadata
from midfoot.store.upgrade import HEAD, REVISIONS, revision_of

VERSIONS = Path(__file__).parents[2] / "src" / "midfoot" / "store" / "migrations" / "versions"


def schema_of(connection: sa.Connection) -> dict[str, list[str]]:
    """Every table and index as its sorted clauses, so that only the order of clauses may differ."""
    rows = connection.exec_driver_sql(
        "SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' AND name <> 'alembic_version'"
    )
    return {
        name: sorted(
            part.strip(" )") for part in re.split(r",(?![^()]*\))", " ".join(sql.replace('"', "").split()))
        )
        for name, sql in rows
        if sql
    }


def test_migrations_make_what_the_tables_say(tmp_path: Path) -> None:
    """Names, columns, defaults, checks, keys and partial indices are the same by both ways."""
    straight = sa.create_engine("sqlite://")
    metadata.create_all(straight)

    with Workspace.create(tmp_path / "w") as workspace, workspace.read() as migrated, straight.connect() as made:
        assert schema_of(migrated) == schema_of(made)
        assert revision_of(workspace.engine) == HEAD
    straight.dispose()


def test_every_migration_is_listed_in_order() -> None:
    """The list of revisions and the files are the same, and each follows the one before it."""
    files = sorted(VERSIONS.glob("m*.py"))
    texts = [f.read_text() for f in files]

    assert [f.name[1:5] for f in files] == list(REVISIONS)
    assert [re.search(r'^revision = "(.*)"', t, re.M)[1] for t in texts] == list(REVISIONS)
    assert [re.search(r"^down_revision = (.*)", t, re.M)[1].strip('"') for t in texts] == [
        "None", *REVISIONS[:-1],
    ]  # fmt: skip


def test_every_constraint_has_a_name() -> None:
    """SQLite cannot drop a constraint without one."""
    for table in metadata.tables.values():
        assert all(c.name for c in table.constraints), table.name


def test_a_newer_workspace_is_refused(tmp_path: Path) -> None:
    """One sentence with the remedy; nothing is written."""
    Workspace.create(tmp_path / "w").close()
    file = tmp_path / "w" / "midfoot.sqlite3"
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
        raw.commit()
    before = file.read_bytes()

    with pytest.raises(StoreError, match=r"newer midfoot.*9999.*install") as said:
        Workspace.open(tmp_path / "w")

    assert str(said.value).count(". ") == 0
    assert file.read_bytes() == before


def test_a_foreign_database_is_refused(tmp_path: Path) -> None:
    """A SQLite file of somebody else is not filled with tables."""
    (tmp_path / "w").mkdir()
    with closing(sqlite3.connect(tmp_path / "w" / "midfoot.sqlite3")) as raw:
        raw.execute("CREATE TABLE birds (name TEXT)")
        raw.commit()

    with pytest.raises(StoreError, match="no database of midfoot"):
        Workspace.open(tmp_path / "w")


def test_a_damaged_database_is_refused(tmp_path: Path) -> None:
    """Bytes that are no database: one sentence."""
    (tmp_path / "w").mkdir()
    (tmp_path / "w" / "midfoot.sqlite3").write_bytes(b"no database at all, but long enough to be read" * 100)

    with pytest.raises(StoreError, match=r"damaged.*midfoot restore"):
        Workspace.open(tmp_path / "w")
