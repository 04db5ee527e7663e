"""The database's tables: migrations make what tables.py says, old schemas come up, newer ones are refused."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from midfoot.store import StoreError, Workspace
from midfoot.store.tables import metadata
from midfoot.store.upgrade import HEAD, REVISIONS, revision_of

SCHEMAS = Path(__file__).parents[1] / "data" / "schemas"
VERSIONS = Path(__file__).parents[2] / "src" / "midfoot" / "store" / "migrations" / "versions"


def plain(sql: str) -> str:
    """One line without quotes; a table made anew has its defaults in brackets, which means the same."""
    return re.sub(r"DEFAULT \(([^()]*)\)", r"DEFAULT \1", " ".join(sql.replace('"', "").split()))


def schema_of(connection: sa.Connection) -> dict[str, list[str]]:
    """Every table and index as its sorted clauses, so that only the order of clauses may differ."""
    rows = connection.exec_driver_sql(
        "SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' AND name <> 'alembic_version'"
    )
    return {
        name: sorted(part.strip(" )") for part in re.split(r",(?![^()]*\))", plain(sql)))
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


@pytest.mark.parametrize("old", REVISIONS)
def test_a_workspace_of_every_earlier_schema_comes_up(tmp_path: Path, old: str) -> None:
    """Filled databases as each schema wrote them (tests/data/schemas) keep every row and lose no reference."""
    folder = tmp_path / "w"
    folder.mkdir()
    with closing(sqlite3.connect(folder / "midfoot.sqlite3")) as raw:
        raw.executescript((SCHEMAS / f"{old}.sql").read_text())
        rows = {n: raw.execute(f"SELECT count(*) FROM {n}").fetchone()[0] for n in metadata.tables if _has(raw, n)}
    straight = sa.create_engine("sqlite://")
    metadata.create_all(straight)

    with Workspace.open(folder) as workspace, workspace.read() as came, straight.connect() as made:
        assert revision_of(workspace.engine) == HEAD
        assert schema_of(came) == schema_of(made)
        assert came.exec_driver_sql("PRAGMA foreign_key_check").all() == []
        for table in metadata.sorted_tables:
            assert len(came.execute(sa.select(table)).all()) == rows.get(table.name, 0)
            assert rows.get(table.name, 1) > 0
    straight.dispose()
    copy = folder / f"midfoot.before-upgrade-from-{old}.sqlite3"
    assert copy.exists() == (old != HEAD)
    if old != HEAD:
        with closing(sqlite3.connect(copy)) as raw:
            assert raw.execute("SELECT version_num FROM alembic_version").fetchone() == (old,)
            assert raw.execute("SELECT count(*) FROM sets").fetchone() == (rows["sets"],)


def test_times_of_frames_that_only_the_probe_named_are_pointed_at(tmp_path: Path) -> None:
    """Before 0004 they stood in the probe's JSON alone and a cleaning would have taken them."""
    folder = tmp_path / "w"
    folder.mkdir()
    with closing(sqlite3.connect(folder / "midfoot.sqlite3")) as raw:
        raw.executescript((SCHEMAS / "0003.sql").read_text())
        known = raw.execute("SELECT sha256 FROM blobs LIMIT 1").fetchone()[0]
        for clip, times in (("clip000000000z01", known), ("clip000000000z02", "0" * 64)):
            raw.execute("UPDATE clips SET probe = ? WHERE id = ?", (f'{{"times_sha256": "{times}"}}', clip))
        raw.commit()

    with Workspace.open(folder) as workspace, workspace.read() as c:
        clips = metadata.tables["clips"]
        rows = dict(c.execute(sa.select(clips.c.id, clips.c.times_sha256)).all())
    assert rows == {"clip000000000z01": known, "clip000000000z02": None, "clip000000000r01": None}


def test_an_upgrade_that_fails_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A reference that points at nothing is found before anything is kept; the next try does it all."""
    folder = tmp_path / "w"
    folder.mkdir()
    with closing(sqlite3.connect(folder / "midfoot.sqlite3")) as raw:
        raw.executescript((SCHEMAS / "0001.sql").read_text())
        raw.execute("UPDATE clips SET set_id = 'nobody' WHERE id = 'clip000000000z01'")
        raw.commit()

    for _ in range(2):
        with pytest.raises(StoreError, match=r"a row of clips pointing at nothing in sets; nothing was changed"):
            Workspace.open(folder)
    with closing(sqlite3.connect(folder / "midfoot.sqlite3")) as raw:
        assert raw.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
        raw.execute("UPDATE clips SET set_id = 'set0000000000z01' WHERE id = 'clip000000000z01'")
        raw.commit()
    Workspace.open(folder).close()


def test_two_programs_open_an_old_workspace_at_once(tmp_path: Path) -> None:
    """Both find it upgraded, neither fails."""
    folder = tmp_path / "w"
    folder.mkdir()
    with closing(sqlite3.connect(folder / "midfoot.sqlite3")) as raw:
        raw.executescript((SCHEMAS / "0001.sql").read_text())
    code = "import sys; from midfoot.store import Workspace; Workspace.open(sys.argv[1]).close()"

    both = [
        subprocess.Popen([sys.executable, "-c", code, str(folder)], stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]

    assert [(p.communicate()[1], p.returncode) for p in both] == [("", 0)] * 2


def test_two_programs_make_one_workspace_at_once(tmp_path: Path) -> None:
    """SQLite refuses at once, and does not wait, when two turn a new file to its log in the same moment."""
    code = (
        "import sys, time; from midfoot.store.workspace import Workspace; import alembic.command\n"
        "print('ready', flush=True); sys.stdin.readline(); Workspace.create(sys.argv[1]).close()"
    )
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "w")], stdin=subprocess.PIPE,
                         stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for _ in range(3)
    ]  # fmt: skip
    for one in both:
        assert one.stdout.readline() == "ready\n"
    for one in both:
        one.stdin.write("go\n")
        one.stdin.flush()

    assert [(p.communicate()[1], p.returncode) for p in both] == [("", 0)] * 3
    with Workspace.open(tmp_path / "w") as workspace:
        assert revision_of(workspace.engine) == HEAD


def _has(raw: sqlite3.Connection, name: str) -> bool:
    return raw.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (name,)).fetchone() is not None


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
