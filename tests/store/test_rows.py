"""Edits, audit and settings as rows: what goes in comes out, in order, once."""

from __future__ import annotations

import threading

import pytest
import sqlalchemy as sa

from midfoot.records.review import Edit
from midfoot.store import Workspace, tables
from midfoot.store.rows import EditClash, append_edit, audit, edits_of, note_blob, set_setting, setting


@pytest.fixture(autouse=True)
def two_sets(workspace: Workspace) -> None:
    with workspace.write() as connection:
        connection.execute(tables.sets.insert(), [{"id": "s1"}, {"id": "s2"}])


def note(name: str, text: str = "seen") -> Edit:
    return Edit(id=name, kind="note", text=text)


def test_edits_come_back_in_order_and_each_set_has_its_own(workspace: Workspace) -> None:
    with workspace.write() as connection:
        numbers = [append_edit(connection, "s1", note(n)) for n in ("b", "a", "c")]
        append_edit(connection, "s2", note("a", "of the other set"))

    with workspace.read() as connection:
        assert numbers == [1, 2, 3]
        assert edits_of(connection, "s1") == (note("b"), note("a"), note("c"))
        assert edits_of(connection, "s2") == (note("a", "of the other set"),)


def test_an_edit_sent_twice_is_kept_once_and_one_that_differs_is_refused(workspace: Workspace) -> None:
    with workspace.write() as connection:
        assert [append_edit(connection, "s1", note("a")) for _ in range(2)] == [1, 1]
    with pytest.raises(EditClash, match="something else"), workspace.write() as connection:
        append_edit(connection, "s1", note("a", "other words"))

    with workspace.read() as connection:
        assert edits_of(connection, "s1") == (note("a"),)


def test_two_tabs_lose_no_edit(workspace: Workspace) -> None:
    """Four threads add 25 edits each to one review: 100 edits, numbered 1 to 100."""

    def add(tab: int) -> None:
        for i in range(25):
            with workspace.write() as connection:
                append_edit(connection, "s1", note(f"{tab}-{i}"))

    threads = [threading.Thread(target=add, args=(tab,)) for tab in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    with workspace.read() as connection:
        rows = connection.execute(sa.select(tables.review_edits.c.n).order_by(tables.review_edits.c.n)).scalars()
        assert list(rows) == list(range(1, 101))
        assert {e.id for e in edits_of(connection, "s1")} == {f"{t}-{i}" for t in range(4) for i in range(25)}


def test_settings_audit_and_contents_are_noted(workspace: Workspace) -> None:
    with workspace.write() as connection:
        set_setting(connection, "units", {"load": "lb"})
        set_setting(connection, "units", {"load": "kg"})
        audit(connection, "published", "set", "s1", {"kind": "lifter"})
        for _ in range(2):
            note_blob(connection, "0" * 64, 3, "video/mp4")

    with workspace.read() as connection:
        assert setting(connection, "units") == {"load": "kg"}
        assert setting(connection, "nothing", 7) == 7
        line = connection.execute(sa.select(tables.audit)).mappings().one()
        assert (line["what"], line["subject_id"], line["detail"]) == ("published", "s1", {"kind": "lifter"})
        assert connection.execute(sa.select(tables.blobs.c.media_type)).scalars().all() == ["video/mp4"]
