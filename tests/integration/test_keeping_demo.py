"""Copying, looking through, exporting and erasing a workspace that was really measured."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest
import sqlalchemy as sa

from midfoot.desk.erase import erase_lifter
from midfoot.desk.export import export_to
from midfoot.desk.reviewing import add_edits
from midfoot.store import Workspace, tables
from midfoot.store.backup import back_up
from midfoot.store.deep import look_through
from midfoot.store.restore import restore


@pytest.mark.footage
def test_there_and_back_and_gone(own_demo: Workspace, tmp_path: Path) -> None:
    """A measured workspace is sound, comes back sound, gives a lifter's file and loses every byte of it."""
    with own_demo.write() as c:
        own, clip = c.execute(
            sa.select(tables.sets.c.id, tables.sets.c.main_clip_id).order_by(tables.sets.c.id)
        ).first()
        c.execute(tables.lifters.insert().values(id="lifterzq00000001", name="Zebedea Quillfeather"))
        c.execute(tables.sets.update().where(tables.sets.c.id == own).values(lifter_id="lifterzq00000001"))
        row = c.execute(sa.select(tables.clips).where(tables.clips.c.id == clip)).one()
    add_edits(own_demo, own, [{"id": "n1", "kind": "note", "text": "Zebedea Quillfeather asked twice"}])
    hers = [own, clip, row.sha256, row.proxy_sha256, row.times_sha256, row.frame_sha256, "Zebedea Quillfeather"]
    assert all(hers)

    assert look_through(own_demo) == []
    assert back_up(own_demo, tmp_path / "b").bad == ()
    restore(tmp_path / "b", tmp_path / "again")
    with Workspace.open(tmp_path / "again") as again:
        assert look_through(again) == []
    export_to(own_demo, "lifterzq00000001", tmp_path / "hers.zip")
    with zipfile.ZipFile(tmp_path / "hers.zip") as packed:
        document = json.loads(packed.read("export.json"))
        assert len(packed.read(document["sets"][0]["clips"][0]["file"])) == own_demo.blobs.size(row.sha256)
        assert b"range_of_motion_mm" in packed.read("measures.csv")
    erase_lifter(own_demo, "lifterzq00000001")

    assert look_through(own_demo) == []
    found = [
        (path.name, needle)
        for path in own_demo.path.rglob("*")
        for needle in hers
        if needle in path.as_posix() or (path.is_file() and needle.encode() in path.read_bytes())
    ]
    assert found == []
