"""Backup and restore: consistent, each content once, verified, whole or not at all."""

from __future__ import annotations

import json
import os
import sqlite3
import tarfile
import threading
from collections import namedtuple
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from kept import Filled, fill

from midfoot.store import StoreError, Workspace, tables
from midfoot.store import backup as module
from midfoot.store.backup import back_up, copies_in
from midfoot.store.deep import look_through
from midfoot.store.restore import restore


@pytest.fixture
def filled(workspace: Workspace) -> Filled:
    return fill(workspace)


def files_of(root: Path) -> dict[str, bytes]:
    """Every file of a workspace's folders by its name."""
    return {
        p.relative_to(root).as_posix(): p.read_bytes()
        for name in ("blobs", "measured", "reviews", "published", "library", "inbox")
        for p in (root / name).rglob("*")
        if p.is_file()
    }


def rows_of(workspace: Workspace) -> dict[str, list[tuple]]:
    with workspace.read() as c:
        return {n: sorted(map(repr, c.execute(sa.select(t)).all())) for n, t in tables.metadata.tables.items()}


@pytest.mark.parametrize("name", ["backups", "one.tar"])
def test_what_is_restored_is_what_was_there(
    workspace: Workspace, filled: Filled, tmp_path: Path, name: str
) -> None:
    """Every row of every table and every byte of every folder, by a folder of copies and by one file."""
    done = back_up(workspace, tmp_path / name)

    put = restore(tmp_path / name, tmp_path / "again")

    assert (done.contents, done.bad, put.contents, put.aside, put.erased) == (6, (), 6, None, ())
    assert files_of(tmp_path / "again") == files_of(workspace.path)
    with Workspace.open(tmp_path / "again") as again:
        assert rows_of(again) == rows_of(workspace)
        assert look_through(again) == []
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(["workspace", "again", name])
    assert not any(p.name.startswith(".") for p in tmp_path.rglob("*"))


def test_a_second_copy_takes_only_what_is_new(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    first = back_up(workspace, tmp_path / "b")
    (workspace.review(filled.other_set) / "script.txt").write_text("Hello again")
    new = workspace.blobs.put([b"a new clip"])
    with workspace.write() as c:
        c.execute(tables.blobs.insert().values(sha256=new, bytes=10))
        c.execute(tables.clips.insert().values(set_id=filled.other_set, sha256=new))
    second = back_up(workspace, tmp_path / "b")

    assert (first.new_contents, second.new_contents, second.contents) == (6, 1, 7)
    assert second.bytes < first.bytes
    one, two = copies_in(tmp_path / "b")
    same = "files/measured/clip000000000z01/" + "f" * 64 + "/measurement.json"
    assert (one / same).stat().st_ino == (two / same).stat().st_ino
    put = restore(tmp_path / "b", tmp_path / "old", at=one.name)
    assert put.contents == 6
    assert (tmp_path / "old" / "reviews" / filled.other_set / "script.txt").read_text() == "Hello Ruthven Oakapple"
    restore(tmp_path / "b", tmp_path / "new")
    assert (tmp_path / "new" / "reviews" / filled.other_set / "script.txt").read_text() == "Hello again"


def test_old_copies_go_and_take_their_contents_along(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    back_up(workspace, tmp_path / "b", keep=2)
    with workspace.write() as c:
        c.execute(tables.takes.update().values(audio_sha256=None))
        c.execute(tables.blobs.delete().where(tables.blobs.c.sha256 == filled.own[3]))
    for _ in range(2):
        assert (tmp_path / "b" / "blobs" / filled.own[3][:2] / filled.own[3][2:4] / filled.own[3]).is_file()
        back_up(workspace, tmp_path / "b", keep=2)

    assert len(copies_in(tmp_path / "b")) == 2
    assert not list((tmp_path / "b" / "blobs").rglob(filled.own[3]))
    restore(tmp_path / "b", tmp_path / "again")


def test_a_copy_is_one_moment_while_others_write(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    """Two rows are always written together: no copy holds one of them alone, none is damaged."""
    stop = threading.Event()

    def write() -> None:
        n = 0
        while not stop.is_set():
            n += 1
            with workspace.write() as c:
                for key in ("left", "right"):
                    c.execute(tables.audit.insert().values(what=key, detail=n))

    thread = threading.Thread(target=write)
    thread.start()
    try:
        copies = [back_up(workspace, tmp_path / "b") for _ in range(4)]
    finally:
        stop.set()
        thread.join()

    for copy in copies:
        with closing(sqlite3.connect(copy.path / "midfoot.sqlite3")) as raw:
            counts = dict(raw.execute("SELECT what, count(*) FROM audit GROUP BY what"))
            assert counts.get("left") == counts.get("right")
            assert raw.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert counts["left"] > 0


def test_a_workspace_with_a_lost_content_is_still_copied_and_says_so(
    workspace: Workspace, filled: Filled, tmp_path: Path
) -> None:
    workspace.blobs.remove(filled.own[0])
    path = workspace.blobs.path(filled.own[1])
    path.chmod(0o644)
    path.write_bytes(b"a frbme")

    for name in ("b", "one.tar"):
        done = back_up(workspace, tmp_path / name)
        assert sorted(done.bad) == sorted([
            f"the content {filled.own[0]} is missing in the workspace",
            f"the content {filled.own[1]} is damaged in the workspace",
        ])  # fmt: skip
        put = restore(tmp_path / name, tmp_path / f"again-{name}")
        assert sorted(put.bad) == sorted(done.bad)
        assert (tmp_path / f"again-{name}" / "midfoot.sqlite3").is_file()


def test_a_good_copy_outlives_damage_in_the_workspace(
    workspace: Workspace, filled: Filled, tmp_path: Path
) -> None:
    """Damage that came after the first copy does not reach the content that was copied then."""
    back_up(workspace, tmp_path / "b")
    path = workspace.blobs.path(filled.own[1])
    path.chmod(0o644)
    path.write_bytes(b"a frbme")
    back_up(workspace, tmp_path / "b")

    restore(tmp_path / "b", tmp_path / "again")

    assert Workspace.open(tmp_path / "again").blobs.verify(filled.own[1])


def test_a_damaged_database_is_not_copied_over_a_good_backup(
    workspace: Workspace, filled: Filled, tmp_path: Path
) -> None:
    back_up(workspace, tmp_path / "b")
    workspace.close()
    file = workspace.path / "midfoot.sqlite3"
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        root = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = 'ix_clips_sha256'").fetchone()[0]
    data = bytearray(file.read_bytes())
    data[(root - 1) * 4096 + 3 : (root - 1) * 4096 + 5] = b"\0\0"  # an index that has lost its entries
    file.write_bytes(data)

    with pytest.raises(StoreError, match=r"is damaged.*midfoot restore"):
        back_up(workspace, tmp_path / "b")

    assert len(copies_in(tmp_path / "b")) == 1
    assert not list((tmp_path / "b").glob(".*"))


@pytest.mark.parametrize("where", ["database", "content", "file", "manifest", "lost content", "lost file"])
@pytest.mark.parametrize("form", ["folder", "tar"])
def test_a_damaged_copy_is_refused_and_nothing_changes(
    workspace: Workspace, filled: Filled, tmp_path: Path, where: str, form: str
) -> None:
    done = back_up(workspace, tmp_path / "b")
    content = tmp_path / "b" / "blobs" / filled.shared[:2] / filled.shared[2:4] / filled.shared
    place = {
        "database": done.path / "midfoot.sqlite3", "manifest": done.path / "manifest.json",
        "content": content, "lost content": content,
        "file": done.path / "files" / "library" / "words.toml", 
        "lost file": done.path / "files" / "library" / "words.toml",
    }[where]  # fmt: skip
    place.chmod(0o644)
    if where.startswith("lost"):
        place.unlink()
    else:
        data = bytearray(place.read_bytes())
        data[len(data) // 2] ^= 0xFF
        place.write_bytes(data)
    source = tmp_path / "b"
    if form == "tar":
        source = tmp_path / "one.tar"
        with tarfile.open(source, "w") as tar:
            for name in ("manifest.json", "midfoot.sqlite3", "files"):
                tar.add(done.path / name, name)
            tar.add(tmp_path / "b" / "blobs", "blobs")
    (tmp_path / "again").mkdir()

    with pytest.raises(StoreError, match=r"damaged|missing|no manifest") as said:
        restore(source, tmp_path / "again")

    assert "\n" not in str(said.value)
    assert list((tmp_path / "again").iterdir()) == []
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_a_file_cut_short_is_refused(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    back_up(workspace, tmp_path / "one.tar")
    data = (tmp_path / "one.tar").read_bytes()
    for cut in (0, 100, len(data) // 3, len(data) - 20_000):
        (tmp_path / "cut.tar").write_bytes(data[:cut])
        with pytest.raises(StoreError):
            restore(tmp_path / "cut.tar", tmp_path / "again")
        assert not (tmp_path / "again").exists()


def test_a_tar_that_leads_outside_is_refused(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    done = back_up(workspace, tmp_path / "b")
    found = json.loads((done.path / "manifest.json").read_text())
    (tmp_path / "evil").write_text("x")
    found["files"].append({"path": "../../evil", "bytes": 1, "sha256": "2" * 64, "changed_ns": 0})
    (done.path / "manifest.json").write_text(json.dumps(found))

    with pytest.raises(StoreError, match="outside of itself"):
        restore(tmp_path / "b", tmp_path / "again")


def test_a_place_that_is_taken_is_refused_or_moved_aside(
    workspace: Workspace, filled: Filled, tmp_path: Path
) -> None:
    back_up(workspace, tmp_path / "b")
    with workspace.write() as c:
        c.execute(tables.lifters.insert().values(name="Came Later"))
    with pytest.raises(StoreError, match=r"there already; .*--replace"):
        restore(tmp_path / "b", workspace.path)
    with workspace.hold(), pytest.raises(StoreError, match=r"is served \(process \d+ since"):
        restore(tmp_path / "b", workspace.path, replace=True)
    workspace.close()

    put = restore(tmp_path / "b", workspace.path, replace=True)

    def names(path: Path) -> set[str]:
        with Workspace.open(path) as opened, opened.read() as c:
            return set(c.execute(sa.select(tables.lifters.c.name)).scalars())

    assert "Came Later" not in names(workspace.path)
    assert put.aside is not None
    assert "Came Later" in names(put.aside)


@pytest.mark.parametrize("name", ["in the workspace", "a file", "other things", "an old tar"])
def test_a_place_that_will_not_do_is_refused(workspace: Workspace, tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "taxes.txt").write_text("x")
    (tmp_path / "old.tar").write_text("x")
    place, words = {
        "in the workspace": (workspace.path / "backup", "outside it"),
        "a file": (tmp_path / "file", "is a file"),
        "other things": (tmp_path / "full", "holds other things"),
        "an old tar": (tmp_path / "old.tar", "there already"),
    }[name]

    with pytest.raises(StoreError, match=words):
        back_up(workspace, place)

    assert (tmp_path / "full" / "taxes.txt").read_text() == "x"
    assert (tmp_path / "old.tar").read_text() == "x"


def test_a_full_disk_leaves_the_copies_before_as_they_were(
    workspace: Workspace, filled: Filled, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = back_up(workspace, tmp_path / "b")
    kept = {p: p.stat().st_size for p in (tmp_path / "b").rglob("*") if p.is_file()}
    (workspace.library / "new.toml").write_text("x = 1\n")
    whole = module.hashed_copy

    def full(source: Path, target: Path) -> tuple[str, int]:
        if source.name == "new.toml":
            target.write_text("ha")
            raise OSError(28, "No space left on device", str(target))
        return whole(source, target)

    monkeypatch.setattr(module, "hashed_copy", full)
    with pytest.raises(StoreError, match="the disk is full; free some room"):
        back_up(workspace, tmp_path / "b")
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr("shutil.disk_usage", lambda _: usage(1, 1, 0))
    with pytest.raises(StoreError, match="0 MB left"):
        back_up(workspace, tmp_path / "one.tar")

    assert {p: p.stat().st_size for p in (tmp_path / "b").rglob("*") if p.is_file()} == kept
    assert copies_in(tmp_path / "b") == [first.path]
    assert not (tmp_path / "one.tar").exists()


def test_a_lifter_erased_while_contents_are_copied_is_not_in_the_copy(
    workspace: Workspace, filled: Filled, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The database is copied anew when a content went because nobody points at it any more."""
    whole, erased = module._copy_content, []

    def going(source: Path, store: object, sha256: str) -> str:
        if not erased:
            erased.append(filled.own[3])
            with workspace.write() as c:
                c.execute(tables.takes.delete())
                c.execute(tables.blobs.delete().where(tables.blobs.c.sha256 == filled.own[3]))
            workspace.blobs.remove(filled.own[3])
        return whole(source, store, sha256)

    monkeypatch.setattr(module, "_copy_content", going)
    done = back_up(workspace, tmp_path / "b")

    assert (done.bad, done.contents) == ((), 5)
    with closing(sqlite3.connect(done.path / "midfoot.sqlite3")) as raw:
        assert raw.execute("SELECT count(*) FROM takes").fetchone() == (0,)


def test_ids_of_erased_lifters_go_along(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    """A copy from before the erasing is told of it by the later one."""
    back_up(workspace, tmp_path / "b")
    with workspace.write() as c:
        c.execute(tables.audit.insert().values(what="lifter_erased", subject_kind="lifter", subject_id="gone1"))
    back_up(workspace, tmp_path / "b")

    put = restore(tmp_path / "b", tmp_path / "again", at=copies_in(tmp_path / "b")[0].name)

    assert put.erased == ("gone1",)


def test_an_old_copy_comes_back_with_todays_tables(tmp_path: Path) -> None:
    """A copy made with the first schema is brought up when it is put back."""
    old = tmp_path / "b" / "2031-05-24T183000.000000Z"
    (old / "files").mkdir(parents=True)
    dump = Path(__file__).parents[1] / "data" / "schemas" / "0001.sql"
    with closing(sqlite3.connect(old / "midfoot.sqlite3")) as raw:
        raw.executescript(dump.read_text())
        raw.execute("DELETE FROM clips WHERE 0")
    made = module.Made(old / "midfoot.sqlite3", (), "0001")
    (old / "manifest.json").write_text(json.dumps(module.manifest_of(made, [], ())))
    (tmp_path / "b" / "midfoot-backups.json").write_text('{"erased": []}')

    put = restore(tmp_path / "b", tmp_path / "again")

    with Workspace.open(put.path) as again, again.read() as c:
        assert len(c.execute(sa.select(tables.lifters)).all()) == 2


def test_a_second_backup_to_one_folder_waits_its_turn(workspace: Workspace, tmp_path: Path) -> None:
    from midfoot.store.locks import hold_file

    back_up(workspace, tmp_path / "b")
    with hold_file(tmp_path / "b" / "backup.lock", ""), pytest.raises(StoreError, match="another backup"):
        back_up(workspace, tmp_path / "b")


def test_what_a_copy_holds_is_for_the_coach_alone(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    """Nobody else on the machine may read a workspace or its copies."""
    os.umask(os.umask(0o022))
    back_up(workspace, tmp_path / "b")
    back_up(workspace, tmp_path / "one.tar")
    made = Workspace.create(tmp_path / "new")
    made.close()

    assert (tmp_path / "b").stat().st_mode & 0o077 == 0
    assert (tmp_path / "one.tar").stat().st_mode & 0o077 == 0
    assert (tmp_path / "new").stat().st_mode & 0o077 == 0
