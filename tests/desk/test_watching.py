"""The watched folder takes what has stopped growing, once, with the words beside it, and touches nothing."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from clips import write_clip

from midfoot.desk import daily, watching
from midfoot.desk.daily import Daily
from midfoot.desk.watching import REFUSED, STILL_S, Watcher
from midfoot.store import StoreError, Workspace
from midfoot.store.columns import now
from midfoot.store.rows import set_setting, setting
from midfoot.store.tables import clips, sets


def names(workspace: Workspace) -> list[str]:
    with workspace.read() as connection:
        return sorted(connection.execute(sa.select(clips.c.received_name)).scalars())


def test_a_file_that_still_grows_waits(workspace: Workspace) -> None:
    watcher, file = Watcher(workspace), workspace.inbox / "anna" / "a.mov"
    file.parent.mkdir()
    write_clip(file)
    whole = file.read_bytes()
    file.write_bytes(whole[:2000])

    assert watcher.look(0.0) == []
    assert watcher.look(STILL_S - 1) == []
    file.write_bytes(whole)
    assert watcher.look(STILL_S + 0.5) == []
    assert names(workspace) == []
    assert len(watcher.look(2 * STILL_S + 1)) == 1
    assert watcher.look(3 * STILL_S) == []
    assert names(workspace) == ["a.mov"]
    assert file.read_bytes() == whole


def test_words_beside_a_clip_go_with_it_whichever_comes_first(workspace: Workspace) -> None:
    watcher = Watcher(workspace)
    (workspace.inbox / "a.txt").write_text("Squat 140kg x 5 @8")
    for at in (0.0, 5.0):
        watcher.look(at)
    write_clip(workspace.inbox / "a.mp4")
    write_clip(workspace.inbox / "b.mp4", size=(176, 96))
    for at in (6.0, 12.0, 18.0):
        watcher.look(at)
    (workspace.inbox / "b.txt").write_text("bench 80kg x 3")
    for at in (20.0, 26.0):
        watcher.look(at)

    with workspace.read() as connection:
        found = connection.execute(sa.select(sets.c.lift, sets.c.load_kg, sets.c.source)).all()
    assert sorted(found) == [("bench", 80.0, "watch"), ("squat", 140.0, "watch")]


def test_a_restart_takes_nothing_twice_and_refusals_are_told(workspace: Workspace) -> None:
    write_clip(workspace.inbox / "a.mp4")
    (workspace.inbox / "page.pdf").write_bytes(b"%PDF-1.7" + bytes(50))
    (workspace.inbox / "b.mp4.part").write_bytes(b"half")
    (workspace.inbox / ".hidden.mp4").write_bytes(b"half")
    for watcher in (Watcher(workspace), Watcher(workspace)):
        for at in (0.0, 5.0, 10.0):
            watcher.look(at)

    assert names(workspace) == ["a.mp4"]
    with workspace.read() as connection:
        assert setting(connection, REFUSED) == ["page.pdf is a PDF and no video; send the clip itself."]


def test_a_full_disk_waits_and_loses_nothing(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    write_clip(workspace.inbox / "a.mp4")
    watcher = Watcher(workspace)
    with monkeypatch.context() as full:
        full.setattr(watching, "take_clip", _full)
        watcher.look(0.0)
        watcher.look(5.0)
    with workspace.read() as connection:
        assert setting(connection, REFUSED) == ["the disk is full; free some room, then try again."]
    assert watcher.look(10.0) == []
    assert len(watcher.look(5.0 + watching.AGAIN_S)) == 1


def _full(*_: object, **__: object) -> None:
    raise StoreError("the disk is full; free some room, then try again.")


def test_watching_can_be_switched_off(workspace: Workspace) -> None:
    write_clip(workspace.inbox / "a.mp4")
    with workspace.write() as connection:
        set_setting(connection, "watch", False)
    watcher = Watcher(workspace)
    assert [watcher.look(at) for at in (0.0, 5.0, 10.0)] == [[], [], []]


def test_it_runs_on_a_thread(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watching, "EVERY_S", 0.02)
    monkeypatch.setattr(watching, "STILL_S", 0.1)
    monkeypatch.setattr(daily, "FIRST_S", 0.02)
    write_clip(workspace.inbox / "a.mp4")
    watcher, cleaner = Watcher(workspace), Daily(workspace)
    watcher.start()
    cleaner.start()
    for _ in range(200):
        with workspace.read() as connection:
            done = setting(connection, daily.LAST)
        if names(workspace) and done:
            break
        watcher._over.wait(0.05)
    watcher.stop()
    cleaner.stop()
    assert names(workspace) == ["a.mp4"]
    assert done


def test_the_daily_work_is_done_once_a_day_also_after_the_clock_went_back(workspace: Workspace) -> None:
    cleaner, at = Daily(workspace), now()
    hours = [0, 1, 19, 21, 22, -50]
    assert [cleaner.look(at + timedelta(hours=h)) for h in hours] == [True, False, False, True, False, True]


def test_it_needs_no_folder(workspace: Workspace) -> None:
    assert Watcher(workspace, Path("/nowhere/at/all")).look(0.0) == []
