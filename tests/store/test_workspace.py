"""Opening a workspace, reading and writing from many threads and processes, holding it."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError, StatementError

from midfoot.store import StoreError, Workspace, tables
from midfoot.store import workspace as module


def test_a_workspace_is_made_once_and_opened_again(tmp_path: Path) -> None:
    with Workspace.create(tmp_path / "w") as made, made.write() as connection:
        connection.execute(tables.lifters.insert().values(id="a1", name="Ada"))

    with Workspace.open(tmp_path / "w") as again, again.read() as connection:
        assert connection.execute(sa.select(tables.lifters.c.name)).scalars().all() == ["Ada"]


def test_a_folder_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no workspace; midfoot serve"):
        Workspace.open(tmp_path / "nothing")
    assert not (tmp_path / "nothing").exists()
    (tmp_path / "tax.txt").write_text("private")
    with pytest.raises(StoreError, match=r"other things \(tax.txt\)"):
        Workspace.create(tmp_path)
    with pytest.raises(StoreError, match="another folder"):
        Workspace.create(tmp_path / "tax.txt" / "w")


def test_a_unit_of_writing_is_whole_or_nothing(workspace: Workspace) -> None:
    with pytest.raises(IntegrityError), workspace.write() as connection:
        connection.execute(tables.lifters.insert().values(id="a1", name="Ada"))
        connection.execute(tables.sets.insert().values(id="s1", lifter_id="nobody"))

    with workspace.read() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(tables.lifters)).scalar() == 0


def test_references_words_and_zones_are_held(workspace: Workspace) -> None:
    """Foreign keys are on in every connection, closed lists are closed, an instant without zone is refused."""
    with pytest.raises(IntegrityError, match="FOREIGN KEY"), workspace.write() as connection:
        connection.execute(tables.clips.insert().values(set_id="s0", sha256="0" * 64))
    with pytest.raises(IntegrityError, match="ck_sets_lift"), workspace.write() as connection:
        connection.execute(tables.sets.insert().values(lift="row"))
    with pytest.raises(StatementError, match="zone"), workspace.write() as connection:
        connection.execute(tables.audit.insert().values(what="x", at=datetime(2031, 5, 24)))


def test_instants_come_back_as_they_went_in_and_sort_as_time_does(workspace: Workspace) -> None:
    """10:00 in Tokyo is before 03:00 in London on that day: 01:00 UTC."""
    tokyo = datetime(2031, 5, 24, 10, tzinfo=timezone(timedelta(hours=9)))
    london = datetime(2031, 5, 24, 3, 0, 0, 250, tzinfo=UTC)
    with workspace.write() as connection:
        connection.execute(tables.audit.insert(), [{"what": "b", "at": london}, {"what": "a", "at": tokyo}])

    with workspace.read() as connection:
        rows = connection.execute(sa.select(tables.audit.c.what, tables.audit.c.at).order_by(tables.audit.c.at))
        assert [tuple(r) for r in rows] == [("a", tokyo), ("b", london)]


HAMMER = """
import sys
import sqlalchemy as sa
from midfoot.store import Workspace, tables
workspace = Workspace.open(sys.argv[1])
row = tables.settings.c
for _ in range(int(sys.argv[2])):
    with workspace.write() as connection:
        n = connection.execute(sa.select(row.value).where(row.key == "n")).scalar()
        connection.execute(tables.settings.update().where(row.key == "n").values(value=n + 1))
"""


def test_threads_and_processes_hammer_one_workspace_and_nobody_is_locked_out(workspace: Workspace) -> None:
    """Reading, adding one, writing back from 8 threads and 3 processes at once: no write fails, none is lost."""
    with workspace.write() as connection:
        connection.execute(tables.settings.insert().values(key="n", value=0))
    failed: list[BaseException] = []
    row = tables.settings.c

    def add() -> None:
        try:
            for _ in range(40):
                with workspace.write() as connection:
                    n = connection.execute(sa.select(row.value).where(row.key == "n")).scalar()
                    connection.execute(tables.settings.update().where(row.key == "n").values(value=n + 1))
                with workspace.read() as connection:
                    connection.execute(sa.select(row.value)).all()
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=add) for _ in range(8)]
    others = [
        subprocess.Popen(
            [sys.executable, "-c", HAMMER, str(workspace.path), "100"], stderr=subprocess.PIPE, text=True
        )
        for _ in range(3)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    said = [other.communicate()[1] for other in others]

    assert failed == []
    assert said == ["", "", ""]
    with workspace.read() as connection:
        assert connection.execute(sa.select(row.value)).scalar() == 8 * 40 + 3 * 100


def test_the_log_before_the_file_does_not_grow_without_end(workspace: Workspace) -> None:
    """Checkpoints are made by the workspace itself: SQLite's own are off."""
    text = "x" * 400_000
    for _ in range(40):
        with workspace.write() as connection:
            connection.execute(tables.audit.insert().values(what="x", detail=text))

    assert (workspace.path / "midfoot.sqlite3-wal").stat().st_size < 10_000_000
    assert (workspace.path / "midfoot.sqlite3").stat().st_size > 7_000_000


def test_two_programs_cannot_hold_one_workspace(workspace: Workspace) -> None:
    code = (
        "import sys; from midfoot.store import Workspace\nwith Workspace.open(sys.argv[1]).hold(): print('held')"
    )
    command = [sys.executable, "-c", code, str(workspace.path)]
    with workspace.hold():
        second = subprocess.run(command, capture_output=True, text=True, check=False)
    third = subprocess.run(command, capture_output=True, text=True, check=False)

    assert second.returncode != 0
    assert f"is served already (process {os.getpid()} since" in second.stderr
    assert third.stdout == "held\n"


def test_a_reader_that_stays_long_holds_no_writer_up(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While somebody reads, the log cannot be brought in: writers try now and then, not every time."""
    tried: list[bool] = []
    whole = module.checkpoint
    monkeypatch.setattr(module, "checkpoint", lambda *a: tried.append(whole(*a)) or tried[-1])
    monkeypatch.setattr(module, "CHECKPOINT_AGAIN_S", 3600.0)
    text = "x" * 2_000_000
    with workspace.read() as reader:
        reader.execute(sa.select(tables.audit)).all()
        with workspace.write() as connection:
            for _ in range(6):
                connection.execute(tables.audit.insert().values(what="x", detail=text))
        for _ in range(20):
            with workspace.write() as connection:
                connection.execute(tables.audit.insert().values(what="y"))
        assert tried == [False]

    workspace._next_checkpoint = 0.0
    with workspace.write() as connection:
        connection.execute(tables.audit.insert().values(what="z"))
    assert (workspace.path / "midfoot.sqlite3-wal").stat().st_size < 1_000_000


def test_nothing_deleted_stays_in_the_file(workspace: Workspace) -> None:
    with workspace.write() as connection:
        connection.execute(tables.lifters.insert(), [{"name": f"Secret Name {n}"} for n in range(200)])
        connection.execute(tables.lifters.delete())

    workspace.write_anew()

    for file in workspace.path.glob("midfoot.sqlite3*"):
        assert b"Secret Name" not in file.read_bytes()
