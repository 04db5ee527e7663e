"""Looking a whole workspace through: every planted fault is named with its remedy, a sound one has none."""

from __future__ import annotations

import json
import os
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa
from kept import DAY, Filled, fill

from midfoot.store import Workspace, tables
from midfoot.store.deep import counted, look_through
from midfoot.store.retention import collect, forget_original


@pytest.fixture
def filled(workspace: Workspace) -> Filled:
    return fill(workspace)


def bare(workspace: Workspace, *statements: str) -> None:
    """Change rows behind the constraints' back."""
    with workspace.engine.connect() as connection:
        connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")
        connection.detach()
        for statement in statements:
            connection.exec_driver_sql(statement)
        connection.commit()


def test_a_sound_workspace_has_no_trouble(workspace: Workspace, filled: Filled) -> None:
    assert look_through(workspace) == []
    assert counted(workspace) == {"lifters": 2, "sets": 3, "contents": 6, "bytes": 99}


def damage(path: Path) -> None:
    path.chmod(0o644)
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def measured(workspace: Workspace, filled: Filled) -> Path:
    return workspace.measured(filled.clips[0], "f" * 64)


def other_clip(workspace: Workspace, filled: Filled) -> None:
    file = measured(workspace, filled) / "measurement.json"
    document = json.loads(file.read_text())
    document["clip"]["sha256"] = "1" * 64
    file.write_text(json.dumps(document))


FAULTS: dict[str, tuple[Callable[[Workspace, Filled], object], str]] = {
    "a bit of a content": (lambda w, f: damage(w.blobs.path(f.own[0])), "its bytes have changed"),
    "a content's length": (
        lambda w, f: (w.blobs.path(f.own[0]).chmod(0o644), w.blobs.path(f.own[0]).write_bytes(b"x")),
        "has 1 bytes",
    ),
    "a content": (lambda w, f: w.blobs.remove(f.shared), "is missing"),
    "a reference": (
        lambda w, f: bare(w, f"UPDATE clips SET set_id = 'nobody' WHERE id = '{f.clips[2]}'"),
        "of clips points at nothing in sets",
    ),
    "the main clip": (
        lambda w, f: bare(w, f"UPDATE sets SET main_clip_id = '{f.clips[0]}' WHERE id = '{f.other_set}'"),
        "not one of its clips",
    ),
    "what was said": (
        lambda w, f: bare(w, f"""UPDATE sets SET context = '{{"schema": "x"}}' WHERE id = '{f.other_set}'"""),
        "what was said of set",
    ),
    "text that is no JSON": (
        lambda w, f: bare(w, "UPDATE editions SET created_at = 'yesterday'"), "a row of editions cannot be read",
    ),
    "an edit": (lambda w, f: bare(w, "DELETE FROM review_edits WHERE edit_id = 'e1'"), "leap from 0 to 2"),
    "words of an edit": (
        lambda w, f: bare(w, "UPDATE review_edits SET edit = '{}' WHERE edit_id = 'e2'"), "edit 2 of set",
    ),
    "a measured folder": (lambda w, f: shutil.rmtree(measured(w, f)), "is not a folder"),
    "the body's file": (lambda w, f: (measured(w, f) / "body.npz").unlink(), "body.npz is missing"),
    "a measurement's text": (
        lambda w, f: (measured(w, f) / "measurement.json").write_text('{"schema": "midfoot/measurement/1"}'),
        "breaks the schema",
    ),
    "a measurement of another clip": (other_clip, "of another clip"),
    "a folder outside": (
        lambda w, f: bare(w, f"UPDATE measurements SET folder = '../../etc' WHERE clip_id = '{f.clips[0]}'"),
        "outside measured/",
    ),
    "a page": (lambda w, f: (w.published / "l" / "ztokenl" / "index.html").unlink(), "page published/l/ztokenl"),
    "a page nobody knows": (lambda w, f: (w.published / "p" / "x").mkdir(), "nobody knows of it"),
    "a review of nobody": (lambda w, f: w.review("0" * 16).mkdir(), "belongs to nothing"),
    "sound of a deleted take": (
        lambda w, f: bare(w, f"UPDATE takes SET deleted_at = '{DAY:%Y-%m-%dT%H:%M:%S.%fZ}'"), "its sound is still",
    ),
    "an original whose time was up": (
        lambda w, f: (forget_original(w, f.shared, DAY), w.blobs.put([b"one clip that both of them sent"])),
        "deleted by the rule and still lies here",
    ),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_named_with_its_remedy(workspace: Workspace, filled: Filled, fault: str) -> None:
    plant, words = FAULTS[fault]
    plant(workspace, filled)

    found = [t for t in look_through(workspace) if t.kind == "wrong"]

    assert any(words in t.what for t in found), found
    assert len(found) <= 2
    assert all(t.remedy for t in found)


def test_what_is_left_over_is_told_apart_and_cleaned(workspace: Workspace, filled: Filled) -> None:
    no_row = workspace.blobs.put([b"no row"])
    old = workspace.measured(filled.clips[0], "e" * 64)
    old.mkdir(parents=True)
    long_ago = time.time() - 3 * 86_400
    os.utime(old, (long_ago,) * 2)
    os.utime(workspace.blobs.path(no_row), (long_ago,) * 2)
    workspace.review("0" * 16).mkdir()
    (workspace.blobs.root / "ab").mkdir()
    (workspace.blobs.root / "ab" / "notes.txt").write_text("?")

    found = look_through(workspace)

    assert {t.what.split()[-1] for t in found if t.kind == "left_over"} == {"row", "measurement", "workspace"}
    collect(workspace)
    assert [t.what for t in look_through(workspace)] == ["blobs/ab/notes.txt is no content of this workspace"]


def test_without_contents_only_their_hashes_are_not_read(workspace: Workspace, filled: Filled) -> None:
    damage(workspace.blobs.path(filled.own[0]))

    assert look_through(workspace, contents=False) == []
    workspace.blobs.remove(filled.own[0])
    assert len(look_through(workspace, contents=False)) == 1


def test_looking_through_changes_nothing(workspace: Workspace, filled: Filled) -> None:
    workspace.review("0" * 16).mkdir()
    before = sorted(p.as_posix() for p in workspace.path.rglob("*"))

    look_through(workspace)

    assert sorted(p.as_posix() for p in workspace.path.rglob("*")) == before
    with workspace.read() as c:
        assert c.execute(sa.select(sa.func.count()).select_from(tables.sets)).scalar() == 3
