"""What goes when: contents nobody points at, unused submissions after 90 days, originals after a year."""

from __future__ import annotations

import os
import time
from datetime import timedelta

import pytest
import sqlalchemy as sa
from kept import DAY, Filled, fill

from midfoot.store import StoreError, Workspace, tables
from midfoot.store.retention import collect, due, forget_original, original, pointers
from midfoot.store.rows import note_blob, set_setting


@pytest.fixture
def filled(workspace: Workspace) -> Filled:
    return fill(workspace)


def age(workspace: Workspace) -> None:
    """Make every file two hours old."""
    for sha256 in workspace.blobs.all():
        os.utime(workspace.blobs.path(sha256), (time.time() - 7200,) * 2)


def test_every_column_that_points_at_a_content_is_known() -> None:
    assert {f"{c.table.name}.{c.name}" for c in pointers()} == {
        "clips.sha256", "clips.frame_sha256", "clips.proxy_sha256", "clips.times_sha256", "takes.audio_sha256",
    }  # fmt: skip


def test_only_what_nobody_points_at_is_collected_and_only_once_it_lay_a_while(
    workspace: Workspace, filled: Filled
) -> None:
    with_row, without = workspace.blobs.put([b"a row, no pointer"]), workspace.blobs.put([b"no row"])
    with workspace.write() as c:
        note_blob(c, with_row, 17)
        c.execute(
            tables.blobs.update().where(tables.blobs.c.sha256 == with_row).values(created_at=DAY.replace(2020))
        )
    kept = {*filled.own, filled.shared}

    assert collect(workspace).contents == 0
    assert {with_row, without} < set(workspace.blobs.all())
    age(workspace)
    fresh = workspace.blobs.put([b"no row"])
    assert fresh == without
    assert collect(workspace).contents == 1
    age(workspace)
    assert collect(workspace).contents == 1

    assert kept < set(workspace.blobs.all())
    assert not workspace.blobs.has(with_row)
    with workspace.read() as c:
        assert c.execute(sa.select(tables.blobs.c.sha256).where(tables.blobs.c.sha256 == with_row)).first() is None


def test_unfinished_files_are_cleared_away(workspace: Workspace) -> None:
    old, young = workspace.blobs.part(), workspace.blobs.part()
    os.utime(old, (time.time() - 7200,) * 2)

    collect(workspace)

    assert (old.exists(), young.exists()) == (False, True)


def test_what_is_put_again_while_it_is_removed_stays(workspace: Workspace) -> None:
    sha256 = workspace.blobs.put([b"abc"])
    before = time.time() - 3600

    assert workspace.blobs.remove(sha256, unless_put_since=before) == 0
    assert workspace.blobs.verify(sha256)


def test_a_submission_that_nobody_used_goes_after_90_days(workspace: Workspace) -> None:
    with workspace.write() as c:
        for i, picked in enumerate(("none", "review", "edition")):
            c.execute(tables.sets.insert().values(id=f"s{i}", received_at=DAY, picked=picked))
        c.execute(tables.sets.insert().values(id="kept", received_at=DAY))
        c.execute(tables.consents.insert().values(set_id="kept", use="keep_original"))
        c.execute(tables.sets.insert().values(id="late", received_at=DAY + timedelta(days=1)))
        c.execute(tables.sets.insert().values(id="reference", received_at=DAY))
        c.execute(
            tables.sets.update().where(tables.sets.c.id == "s1").values(accepted_reference_set_id="reference")
        )

    with workspace.read() as c:
        assert due(c, DAY + timedelta(days=90)) == []
        found = due(c, DAY + timedelta(days=90, seconds=1))
        assert [(d.kind, d.id, d.since) for d in found] == [("set", "s0", DAY + timedelta(days=90))]


def test_originals_go_a_year_after_their_last_set_and_the_row_says_when(
    workspace: Workspace, filled: Filled
) -> None:
    """The shared clip's last set came a day, her second clip 21 days after the first: 366 and 386 days."""
    with workspace.read() as c:
        assert due(c, DAY + timedelta(days=366)) == []
        assert [d.id for d in due(c, DAY + timedelta(days=367))] == [filled.shared]
        assert [d.id for d in due(c, DAY + timedelta(days=387))] == [filled.shared, filled.own[0]]
        assert original(workspace, c, filled.clips[0]).read_bytes() == b"one clip that both of them sent"

    assert forget_original(workspace, filled.shared, DAY + timedelta(days=367)) == 31

    with workspace.read() as c:
        with pytest.raises(StoreError, match="deleted on 2032-05-25"):
            original(workspace, c, filled.clips[0])
        assert [d.id for d in due(c, DAY + timedelta(days=368))] == []
    workspace.blobs.put([b"one clip that both of them sent"])
    with workspace.write() as c:
        note_blob(c, filled.shared, 31)
        assert original(workspace, c, filled.clips[0]).is_file()


def test_the_coachs_own_times_count_and_nonsense_does_not(workspace: Workspace, filled: Filled) -> None:
    with workspace.write() as c:
        c.execute(tables.sets.insert().values(id="s0", received_at=DAY))
        set_setting(c, "keep_unused_days", 30)
        set_setting(c, "keep_originals_months", 24)
    with workspace.read() as c:
        assert [d.id for d in due(c, DAY + timedelta(days=31))] == ["s0"]
        assert filled.shared not in [d.id for d in due(c, DAY + timedelta(days=731))]
        assert filled.shared in [d.id for d in due(c, DAY + timedelta(days=732))]
    with workspace.write() as c:
        set_setting(c, "keep_unused_days", "soon")
        set_setting(c, "keep_originals_months", -1)
    with workspace.read() as c:
        assert due(c, DAY + timedelta(days=90)) == []
        assert filled.shared in [d.id for d in due(c, DAY + timedelta(days=367))]


@pytest.mark.parametrize("way", ["consent of the set", "consent of the lifter", "until", "without end"])
def test_an_original_that_is_to_be_kept_stays(workspace: Workspace, filled: Filled, way: str) -> None:
    late = DAY + timedelta(days=4000)
    blob = tables.blobs.update().where(tables.blobs.c.sha256 == filled.own[0])
    with workspace.write() as c:
        match way:
            case "consent of the set":
                c.execute(tables.consents.insert().values(set_id=filled.sets[1], use="keep_original"))
            case "consent of the lifter":
                c.execute(tables.consents.insert().values(lifter_id=filled.lifter, use="keep_original"))
            case "until":
                c.execute(blob.values(kept_until=late + timedelta(days=1), keep_reason="a course"))
            case _:
                c.execute(blob.values(keep_reason="a course"))

    with workspace.read() as c:
        assert filled.own[0] not in [d.id for d in due(c, late)]
        if way.startswith("consent"):
            c.rollback()
    with workspace.write() as c:
        c.execute(tables.consents.update().values(revoked_at=DAY))
        c.execute(blob.values(kept_until=late, keep_reason="a course"))
    with workspace.read() as c:
        assert filled.own[0] in [d.id for d in due(c, late + timedelta(days=1))]


def test_a_clip_that_is_missing_is_named(workspace: Workspace, filled: Filled) -> None:
    workspace.blobs.remove(filled.shared)
    with workspace.read() as c:
        with pytest.raises(StoreError, match=r"missing.*midfoot restore"):
            original(workspace, c, filled.clips[0])
        with pytest.raises(StoreError, match="no clip nothing"):
            original(workspace, c, "nothing")
