"""A lifter's ZIP: everything of theirs and nothing of anybody else, valid, made with constant memory."""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
import tracemalloc
import zipfile
from pathlib import Path

import jsonschema
import pytest
import sqlalchemy as sa
from kept import NAME, OTHER, Filled, fill

from midfoot.desk.export import ExportError, export, export_schema, export_to
from midfoot.desk.packing import Export
from midfoot.store import Workspace, schema, tables
from midfoot.store.retention import forget_original


@pytest.fixture
def filled(workspace: Workspace) -> Filled:
    made = fill(workspace)
    with workspace.write() as c:
        c.execute(tables.answers.update().values(state="approved"))
    return made


def read(done: Export) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(b"".join(done.pieces())))


def test_everything_of_hers_is_in_it(workspace: Workspace, filled: Filled) -> None:
    with read(export(workspace, filled.lifter)) as packed:
        assert packed.testzip() is None
        names = set(packed.namelist())
        document = json.loads(packed.read("export.json"))
        one = "sets/2031-05-24 squat set0000000000z01"
        assert packed.read(f"{one}/clips/1 zebedea.mp4") == b"one clip that both of them sent"
        assert packed.read(f"{one}/takes/1.audio") == b"her voice? no: the coach's"
        assert packed.read(f"{one}/review/script.txt").decode() == f"Hello {NAME}"
        measured = json.loads(packed.read(f"{one}/measured/1/measurement.json"))
        rows = list(csv.DictReader(io.StringIO(packed.read("measures.csv").decode("utf-8-sig"))))
        sets = list(csv.DictReader(io.StringIO(packed.read("sets.csv").decode("utf-8-sig"))))
        everything = b"".join(packed.read(n) for n in names)

    jsonschema.Draft202012Validator(schema()).validate(measured)
    jsonschema.Draft202012Validator(export_schema()).validate(document)
    assert {n for n in names if n.startswith("sets/")} == set(document["files"])
    assert [(s["load_kg"], s["completed_reps"]) for s in sets] == [("100.0", "2"), ("105.0", "2")]
    first = [
        r for r in rows if r["set"] == filled.sets[0] and r["rep"] == "2" and r["measure"] == "path_departure_mm"
    ]
    assert [(r["value"], r["unit"], r["sd"], r["status"]) for r in first] == [("12.0", "mm", "1.3", "measured")]
    assert document["lifter"]["notes"] == ""
    assert document["sets"][0]["context"]["pain"] == "left knee, a little"
    assert [e["edit"]["kind"] for e in document["sets"][0]["edits"]] == ["keep"]
    assert document["sets"][1]["open_sets"][0]["answers"][0]["body"] == {"words": "Zebedea leans forward"}
    assert {c["use"] for c in document["consents"]} == {"review", "public_page", "edition", "open_set"}
    for foreign in (OTHER, filled.other, filled.other_set, filled.clips[2], "a" * 64, "b" * 64):
        assert foreign.encode() not in everything


def test_every_row_that_points_at_her_is_in_it(workspace: Workspace, filled: Filled) -> None:
    """Every id that erasing would find, but for links, which are the coach's keys, and his notes."""
    from midfoot.desk.erase_plan import plan_of

    with workspace.read() as c:
        plan = plan_of(c, {"lifters": {filled.lifter}, "sets": set(filled.sets)})
        rows = c.execute(sa.select(tables.review_edits.c.id, tables.review_edits.c.edit)).all()
        plan.ids["review_edits"] -= {own for own, edit in rows if edit["kind"] == "note"}
        assert plan.ids["review_edits"]
    with read(export(workspace, filled.lifter)) as packed:
        text = packed.read("export.json").decode()

    for table, ids in plan.ids.items():
        for one in ids:
            assert (f'"{one}"' in text) == (table != "links"), table


def test_an_original_whose_time_was_up_is_said_to_be_missing(workspace: Workspace, filled: Filled) -> None:
    with workspace.read() as c:
        now = c.execute(sa.select(tables.sets.c.received_at)).scalars().first()
    forget_original(workspace, filled.own[0], now)

    done = export(workspace, filled.lifter)

    assert done.missing == ("the original zebedea.mp4",)
    with read(done) as packed:
        assert json.loads(packed.read("export.json"))["sets"][1]["clips"][0]["file"] is None


def test_names_as_they_were_received_do_no_harm(workspace: Workspace, filled: Filled) -> None:
    """No way out of the folder, no formula in a table."""
    with workspace.write() as c:
        c.execute(tables.clips.update().values(received_name="../../..\\etc/=cmd|' /C calc'!A0.mp4"))
        c.execute(tables.sets.update().values(variation="=HYPERLINK(1)"))

    with read(export(workspace, filled.lifter)) as packed:
        names = packed.namelist()
        sets = packed.read("sets.csv").decode("utf-8-sig")

    assert not [n for n in names if ".." in n or n.startswith("/") or "\\" in n]
    assert "'=HYPERLINK(1)" in sets


def test_who_is_not_there_has_no_export(workspace: Workspace) -> None:
    with pytest.raises(ExportError, match="no such lifter"):
        export(workspace, "nobody")


def test_memory_does_not_grow_with_the_clips(workspace: Workspace, filled: Filled, tmp_path: Path) -> None:
    """A clip of 60 MB (sparse) in pieces: less than 6 MB held, and another program reads the ZIP."""
    big = tmp_path / "big.mp4"
    with big.open("wb") as file:
        file.truncate(60_000_000)
    sha256 = workspace.blobs.put(big)
    with workspace.write() as c:
        c.execute(tables.blobs.insert().values(sha256=sha256, bytes=60_000_000))
        c.execute(tables.clips.insert().values(set_id=filled.sets[0], sha256=sha256, received_name="big.mp4",
                                               position=1))  # fmt: skip
    done = export(workspace, filled.lifter)
    size = 0
    tracemalloc.start()
    try:
        with (tmp_path / "out.zip").open("wb") as out:
            for piece in done.pieces():
                size += len(piece)
                out.write(piece)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()

    assert size > 60_000_000
    assert peak < 6_000_000
    if shutil.which("unzip"):
        subprocess.run(["unzip", "-tq", str(tmp_path / "out.zip")], check=True, capture_output=True)


def test_written_to_a_file_it_is_whole_or_not_there(
    workspace: Workspace, filled: Filled, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    export_to(workspace, filled.lifter, tmp_path / "hers.zip")
    assert zipfile.ZipFile(tmp_path / "hers.zip").testzip() is None
    assert (tmp_path / "hers.zip").stat().st_mode & 0o077 == 0

    def broken(_: Export):
        yield b"PK"
        raise KeyboardInterrupt

    monkeypatch.setattr(Export, "pieces", broken)
    with pytest.raises(KeyboardInterrupt):
        export_to(workspace, filled.lifter, tmp_path / "again.zip")
    assert not (tmp_path / "again.zip").exists()
