"""Nothing of an erased lifter is left: every file and every table is searched for name, ids and hashes."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from kept import DAY, NAME, OTHER, Filled, fill

from midfoot.desk.erase import EraseError, erase_lifter, erase_set, mark_of
from midfoot.desk.keeping import put_back, retire
from midfoot.store import StoreError, Workspace, tables
from midfoot.store.backup import back_up, copies_in
from midfoot.store.deep import look_through

NOW = timedelta(0)


@pytest.fixture
def filled(workspace: Workspace) -> Filled:
    return fill(workspace)


def needles_of(workspace: Workspace, filled: Filled) -> list[str]:
    """The name, its halves, and every id and unshared hash of hers, asked of the rows one by one."""
    found = [NAME, "Zebedea", "Quillfeather", filled.lifter, *filled.sets, *filled.clips[:2],
             *filled.own, filled.open_set, "opentoken", "ztokenl", "ztokenp", "change00000000z1",
             "take000000000z01"]  # fmt: skip
    with workspace.read() as c:
        for table, column in (("measurements", "clip_id"), ("repairs", "clip_id"), ("review_edits", "set_id"),
                              ("consents", "lifter_id"), ("follow_ups", "set_id"), ("takes", "set_id"),
                              ("publications", "set_id"), ("edition_segments", "set_id"),
                              ("answers", "open_set_id"), ("links", "lifter_id")):  # fmt: skip
            t = tables.metadata.tables[table]
            hers = [filled.lifter, *filled.sets, *filled.clips[:2], filled.open_set]
            ids = list(c.execute(sa.select(t.c.id).where(t.c[column].in_(hers))).scalars())
            assert ids, table
            found += ids
    return found


def where(root: Path, needles: list[str]) -> list[tuple[str, str]]:
    """Every file whose name or bytes hold a needle, looked at byte by byte."""
    out = []
    for path in root.rglob("*"):
        content = path.read_bytes() if path.is_file() else b""
        out += [
            (path.relative_to(root).as_posix(), n)
            for n in needles
            if n.encode() in content or n in path.relative_to(root).as_posix()
        ]
    return out


def in_rows(workspace: Workspace, needles: list[str]) -> list[tuple[str, str]]:
    """Every row of every table, read with the standard library, that holds a needle."""
    out = []
    with closing(sqlite3.connect(workspace.path / "midfoot.sqlite3")) as raw:
        for (table,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
            for row in raw.execute(f"SELECT * FROM {table}"):
                out += [(table, n) for n in needles if n in repr(row)]
    return out


def test_nothing_of_her_is_left_and_everything_of_his(workspace: Workspace, filled: Filled) -> None:
    (workspace.inbox / "again.mp4").write_bytes(b"her second clip")
    (workspace.log / "desk.log").write_text(f"measuring {filled.clips[0]}\nmeasuring {filled.clips[2]}\n")
    (workspace.path / "midfoot.before-upgrade-from-0001.sqlite3").write_text(NAME)
    needles = needles_of(workspace, filled)
    assert {n for _, n in in_rows(workspace, needles)} >= set(needles) - {"Quillfeather"}

    done = erase_lifter(workspace, filled.lifter)

    assert in_rows(workspace, needles) == []
    assert where(workspace.path, needles) == []
    assert (done.sets, done.contents, done.mentions, done.editions) == (2, 4, (), (filled.edition,))
    assert not list(workspace.inbox.iterdir())
    assert (workspace.log / "desk.log").read_text() == f"measuring {filled.clips[2]}\n"
    assert look_through(workspace) == []
    assert workspace.blobs.has(filled.shared)
    assert (workspace.published / "l" / "rtokenl" / "index.html").read_text() == f"<p>{OTHER}</p>"
    assert (workspace.review(filled.other_set) / "script.txt").is_file()
    with workspace.read() as c:
        counts = {
            n: c.execute(sa.select(sa.func.count()).select_from(t)).scalar()
            for n, t in tables.metadata.tables.items()
        }
        line = c.execute(sa.select(tables.audit).where(tables.audit.c.what == "lifter_erased")).one()
        edition = c.execute(sa.select(tables.editions)).one()
    assert counts == {
        "lifters": 1, "blobs": 2, "sets": 1, "clips": 1, "measurements": 1, "repairs": 0, "review_edits": 1,
        "cases": 0, "changes": 0, "follow_ups": 0, "consents": 1, "takes": 0, "publications": 1, "editions": 1,
        "edition_segments": 2, "open_sets": 0, "answers": 0, "links": 0, "sessions": 1, "settings": 1, "jobs": 1,
        "audit": 2,
    }  # fmt: skip
    assert (line.subject_id, line.who, line.detail["sets"]) == (mark_of(filled.lifter), "coach", 2)
    assert edition.state == "preparing"


def test_her_name_goes_from_what_others_wrote_and_is_told_where_it_cannot(
    workspace: Workspace, filled: Filled
) -> None:
    """In rows it is replaced, in the coach's own files it is named. A first name stays outside her editions."""
    (workspace.library / "words.toml").write_text(f'greeting = "Hello {NAME}"\n')
    with workspace.write() as c:
        c.execute(tables.sets.update().where(tables.sets.c.id == filled.other_set)
                  .values(pasted_text=f"{NAME.lower()} told me; Zeb-like"))  # fmt: skip
        c.execute(tables.editions.update().values(title="Zeb and Ruthven, zebras"))
        c.execute(tables.audit.insert().values(what="noted", detail={"said": [f"of {NAME}"]}))

    done = erase_lifter(workspace, filled.lifter)

    assert done.mentions == ("library/words.toml",)
    with workspace.read() as c:
        assert c.execute(sa.select(tables.sets.c.pasted_text)).scalar() == "[erased] told me; Zeb-like"
        assert c.execute(sa.select(tables.editions.c.title)).scalar() == "[erased] and Ruthven, zebras"
        noted = sa.select(tables.audit.c.detail).where(tables.audit.c.what == "noted")
        assert c.execute(noted).scalar() == {"said": ["of [erased]"]}


@pytest.mark.parametrize("name", ["Zoë Quill", 'O\'Brien "Bo" Li', "100% Ann_Lee"])
def test_names_with_signs_go_too(workspace: Workspace, filled: Filled, name: str) -> None:
    """Letters with marks in either case, quotes that JSON escapes, signs that mean something to LIKE."""
    with workspace.write() as c:
        c.execute(tables.lifters.update().where(tables.lifters.c.id == filled.lifter).values(name=name))
        his = tables.sets.update().where(tables.sets.c.id == filled.other_set)
        c.execute(his.values(pasted_text=f"so says {name.upper()}", context=None))
        c.execute(tables.sets.insert().values(id="his", context={"question": f"and {name}?"}))

    erase_lifter(workspace, filled.lifter)

    with workspace.read() as c:
        rows = dict(c.execute(sa.select(tables.sets.c.pasted_text, tables.sets.c.context)).all())
    assert rows == {"so says [erased]": None, "": {"question": "and [erased]?"}}


def test_what_has_no_reference_is_found_too(workspace: Workspace, filled: Filled) -> None:
    """A note kept under a set's id, a link by which others sent sets too, a file still on its way."""
    with workspace.write() as c:
        c.execute(tables.settings.insert().values(key=f"note of {filled.sets[0]}", value=["late"]))
        c.execute(tables.settings.insert().values(key="pinned", value=[filled.sets[0], filled.other_set]))
        c.execute(tables.links.insert().values(id="everybodys", token_hash="e" * 64, scope="send",
                                               limits={"sets": [filled.sets[1], filled.other_set]}))  # fmt: skip
    (workspace.path / "uploads").mkdir()
    for name, of in (("hers", filled.sets[0]), ("his", filled.other_set)):
        (workspace.path / "uploads" / f"{name}.json").write_text(f'{{"metadata": {{"set": "{of}"}}}}')
        (workspace.path / "uploads" / f"{name}.part").write_bytes(b"half a clip")
    needles = needles_of(workspace, filled)

    erase_lifter(workspace, filled.lifter)

    assert where(workspace.path, needles) == []
    assert sorted(p.name for p in (workspace.path / "uploads").iterdir()) == ["his.json", "his.part"]
    with workspace.read() as c:
        assert c.execute(sa.select(tables.links.c.limits)).scalar() == {"sets": [filled.other_set]}
        pinned = sa.select(tables.settings.c.value).where(tables.settings.c.key == "pinned")
        assert c.execute(pinned).scalar() == [filled.other_set]


def test_a_name_that_two_lifters_have_stays_where_it_may_be_the_others(
    workspace: Workspace, filled: Filled
) -> None:
    with workspace.write() as c:
        c.execute(tables.lifters.insert().values(id="twin", name=NAME))
        c.execute(tables.sets.insert().values(id="twinset", lifter_id="twin", pasted_text=f"{NAME} here"))

    erase_lifter(workspace, filled.lifter)

    with workspace.read() as c:
        text = sa.select(tables.sets.c.pasted_text).where(tables.sets.c.id == "twinset")
        assert c.execute(text).scalar() == f"{NAME} here"


def test_jobs_on_her_sets_are_called_off(workspace: Workspace, filled: Filled) -> None:
    with workspace.write() as c:
        c.execute(tables.jobs.insert(), [
            {"kind": "measure", "key": filled.clips[1], "state": "queued", "payload": {"clip": filled.clips[1]}},
            {"kind": "measure", "key": filled.clips[2], "state": "queued", "payload": {"clip": filled.clips[2]}},
        ])  # fmt: skip

    erase_lifter(workspace, filled.lifter)

    with workspace.read() as c:
        rows = c.execute(sa.select(tables.jobs.c.key, tables.jobs.c.state)).all()
        assert {tuple(r) for r in rows} == {(filled.clips[2], "done"), (filled.clips[2], "queued")}


def test_who_is_not_there_cannot_be_erased(workspace: Workspace, filled: Filled) -> None:
    erase_lifter(workspace, filled.lifter)
    with pytest.raises(EraseError, match="no such lifter"):
        erase_lifter(workspace, filled.lifter)
    with pytest.raises(EraseError, match="no such set"):
        erase_set(workspace, filled.sets[0])


def test_one_set_goes_and_the_rest_of_her_stays(workspace: Workspace, filled: Filled) -> None:
    erase_set(workspace, filled.sets[0])

    with workspace.read() as c:
        assert set(c.execute(sa.select(tables.sets.c.id)).scalars()) == {filled.sets[1], filled.other_set}
        assert len(c.execute(sa.select(tables.lifters)).all()) == 2
        assert c.execute(sa.select(tables.changes)).all() == []
    assert where(workspace.path, [filled.sets[0], filled.clips[0], "ztokenl"]) == []
    assert workspace.blobs.has(filled.own[0])
    assert look_through(workspace) == []


def test_a_file_that_cannot_be_removed_is_named_and_everything_else_goes(
    workspace: Workspace, filled: Filled, monkeypatch: pytest.MonkeyPatch
) -> None:
    from midfoot.desk import erase_files

    whole = erase_files.shutil.rmtree

    def stuck(path: Path, **kw: object) -> None:
        if "reviews" in str(path):
            raise PermissionError(13, "Permission denied", str(path))
        whole(path, **kw)

    monkeypatch.setattr(erase_files.shutil, "rmtree", stuck)
    with pytest.raises(StoreError, match=r"reviews.*permission denied.*check --deep --clean"):
        erase_set(workspace, filled.sets[0])
    monkeypatch.undo()

    assert [t.what for t in look_through(workspace) if t.kind == "wrong"] == [
        f"reviews/{filled.sets[0]} belongs to nothing any more"
    ]
    retire(workspace, DAY)
    assert [t for t in look_through(workspace) if t.kind == "wrong"] == []


def test_a_page_that_stays_public_is_named(
    workspace: Workspace, filled: Filled, monkeypatch: pytest.MonkeyPatch
) -> None:
    from midfoot.desk import publishing

    monkeypatch.setattr(publishing.shutil, "rmtree", lambda *_, **__: None)
    with pytest.raises(StoreError, match=r"published/./ztoken. cannot be taken away.*by hand"):
        erase_set(workspace, filled.sets[0])


def test_a_copy_from_before_is_put_back_without_her(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    back_up(workspace, tmp_path / "b")
    needles = needles_of(workspace, filled)
    erase_lifter(workspace, filled.lifter)
    back_up(workspace, tmp_path / "b")

    done = put_back(tmp_path / "b", tmp_path / "again", at=copies_in(tmp_path / "b")[0].name)

    assert done.erased_again == 1
    assert where(tmp_path / "again", needles) == []
    with Workspace.open(tmp_path / "again") as again, again.read() as c:
        assert c.execute(sa.select(tables.lifters.c.name)).scalars().all() == [OTHER]


def test_an_original_that_only_an_unused_set_kept_goes_with_it(workspace: Workspace, filled: Filled) -> None:
    """Found by the laws of keeping: her clip, sent again a year later and never used, goes with that set."""
    with workspace.write() as c:
        c.execute(tables.sets.insert().values(id="again", received_at=DAY + timedelta(days=352)))
        c.execute(tables.clips.insert().values(id="again", set_id="again", sha256=filled.shared))

    done = retire(workspace, DAY + timedelta(days=502), after=NOW)

    assert (done.sets, workspace.blobs.has(filled.shared)) == (1, False)


def test_a_clock_that_is_wrong_for_a_day_deletes_nothing(workspace: Workspace, filled: Filled) -> None:
    """Years ahead by mistake, then right again; what is really due goes at the second look, a day later."""
    with workspace.write() as c:
        c.execute(tables.sets.insert().values(id="unused", received_at=DAY))
    years = DAY + timedelta(days=9999)
    assert retire(workspace, years) == retire(workspace, years + timedelta(hours=1))
    assert retire(workspace, DAY + timedelta(days=1)).sets == 0
    assert retire(workspace, years).sets == 0
    assert workspace.blobs.has(filled.shared)

    assert retire(workspace, DAY + timedelta(days=91)).sets == 0
    assert retire(workspace, DAY + timedelta(days=91, hours=17)).sets == 0
    assert retire(workspace, DAY + timedelta(days=91, hours=20)).sets == 1
    assert look_through(workspace) == []


def test_what_is_due_goes_by_the_rule(workspace: Workspace, filled: Filled) -> None:
    with workspace.write() as c:
        c.execute(tables.sets.insert().values(id="unused", received_at=DAY))

    assert retire(workspace, DAY + timedelta(days=89), after=NOW).sets == 0
    assert retire(workspace, DAY + timedelta(days=91), after=NOW).sets == 1
    later = retire(workspace, DAY + timedelta(days=400), after=NOW)

    assert (later.sets, later.originals) == (0, 2)
    assert not workspace.blobs.has(filled.shared)
    assert look_through(workspace) == []
    with workspace.read() as c:
        said = set(c.execute(sa.select(tables.audit.c.what)).scalars())
    assert {"set_unused", "originals_deleted"} <= said
