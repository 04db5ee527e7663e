"""A program that is killed while it takes clips in, writes rows, copies or upgrades leaves nothing half-done."""

from __future__ import annotations

import os
import random
import sqlite3
import subprocess
import sys
import time
from contextlib import closing, suppress
from pathlib import Path

import pytest
import sqlalchemy as sa
from kept import fill

from midfoot.store import Workspace, tables
from midfoot.store.backup import back_up, copies_in
from midfoot.store.deep import look_through
from midfoot.store.restore import restore
from midfoot.store.retention import collect

TAKES_IN = """
import os, sys
from midfoot.store import Workspace, tables
from midfoot.store.rows import note_blob
workspace = Workspace.open(sys.argv[1])
print("ready", flush=True)
while True:
    content = os.urandom(700_000)
    sha256 = workspace.blobs.put([content[i:i + 50_000] for i in range(0, 700_000, 50_000)])
    with workspace.write() as c:
        note_blob(c, sha256, 700_000)
        own = c.execute(tables.sets.insert().values()).inserted_primary_key[0]
        c.execute(tables.clips.insert().values(set_id=own, sha256=sha256, received_name="whole"))
"""
COPIES = """
import sys
from pathlib import Path
from midfoot.store import Workspace
from midfoot.store.backup import back_up
workspace = Workspace.open(sys.argv[1])
print("ready", flush=True)
while True:
    back_up(workspace, Path(sys.argv[2]), keep=2)
"""
MARKS = """
import os, signal, sys
from pathlib import Path
from midfoot.store import Workspace
from midfoot.store.backup import MARKER, back_up
rename = Path.replace
def killed(old, new):
    if new.name == MARKER:
        os.kill(os.getpid(), signal.SIGKILL)
    return rename(old, new)
Path.replace = killed
workspace = Workspace.open(sys.argv[1])
print("ready", flush=True)
back_up(workspace, Path(sys.argv[2]))
"""
UPGRADES = """
import sys
from midfoot.store import Workspace
print("ready", flush=True)
Workspace.open(sys.argv[1])
"""


def killed_after(code: str, *args: object, wait_s: float) -> None:
    """Run a program and kill it, with no chance to tidy up, so long after it said that it is ready."""
    with subprocess.Popen(
        [sys.executable, "-c", code, *map(str, args)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"ready\n"
        with suppress(subprocess.TimeoutExpired):
            child.wait(wait_s)  # unless it kills itself
        child.kill()


def test_killed_while_clips_come_in(workspace: Workspace) -> None:
    """Three times at random: every row has its clip and its content whole; what was half in is cleared away."""
    rng = random.Random(7)
    before = -1
    for _ in range(3):
        killed_after(TAKES_IN, workspace.path, wait_s=rng.uniform(0.05, 0.4))
        assert [t for t in look_through(workspace) if t.kind == "wrong"] == []
        with workspace.read() as c:
            clips = c.execute(sa.select(sa.func.count()).select_from(tables.clips)).scalar()
            assert clips == c.execute(sa.select(sa.func.count()).select_from(tables.sets)).scalar()
            assert clips >= before
            before = clips

    for path in (p for p in workspace.blobs.root.rglob("*") if p.is_file()):
        os.utime(path, (time.time() - 7200,) * 2)
    collect(workspace)

    assert look_through(workspace) == []
    assert not [p for p in (workspace.blobs.root / "parts").rglob("*") if p.is_file()]


def test_killed_while_it_copies(workspace: Workspace, tmp_path: Path) -> None:
    """Every copy that is there can be put back; the next one clears away what was begun."""
    fill(workspace)
    back_up(workspace, tmp_path / "b")
    rng = random.Random(3)
    for n in range(2):
        killed_after(COPIES, workspace.path, tmp_path / "b", wait_s=rng.uniform(0.02, 0.3))
        for copy in copies_in(tmp_path / "b"):
            assert restore(tmp_path / "b", tmp_path / f"again-{n}-{copy.name}", at=copy.name).contents == 6

    back_up(workspace, tmp_path / "b", keep=2)

    assert not list((tmp_path / "b").glob(".*"))
    assert not (tmp_path / "b" / "blobs" / "parts").exists()


def test_killed_while_it_marks_a_folder_as_one_of_backups(workspace: Workspace, tmp_path: Path) -> None:
    """With the first copy and with a later one: it hinders no copy, and the next one clears it away."""
    fill(workspace)
    first, later = tmp_path / "first", tmp_path / "later"
    back_up(workspace, later)
    for folder in (first, later):
        killed_after(MARKS, workspace.path, folder, wait_s=3.0)
        assert len(list(folder.glob(".midfoot-backups-*.json"))) == 1

        assert back_up(workspace, folder).contents == 6
        assert not list(folder.glob(".*"))


@pytest.mark.parametrize("wait_s", [0.3])
def test_killed_while_it_upgrades(tmp_path: Path, wait_s: float) -> None:
    """The schema is the old one or today's, never between; opening it again finishes the work."""
    folder = tmp_path / "w"
    folder.mkdir()
    dump = Path(__file__).parents[1] / "data" / "schemas" / "0001.sql"
    with closing(sqlite3.connect(folder / "midfoot.sqlite3")) as raw:
        raw.executescript(dump.read_text())

    killed_after(UPGRADES, folder, wait_s=wait_s)

    with Workspace.open(folder) as workspace, workspace.read() as c:
        assert len(c.execute(sa.select(tables.clips.c.times_sha256)).all()) == 3
        assert c.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
