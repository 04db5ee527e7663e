"""A lifter's ZIP walked byte by byte: nothing of others, no path of the machine, no private note of the coach."""

from __future__ import annotations

import getpass
import io
import json
import re
import socket
import struct
import zipfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
import traces
from kept import NAME, OTHER, Filled, fill

from midfoot.desk import export_own, reviewing
from midfoot.desk.export import export
from midfoot.desk.reviewing import add_edits
from midfoot.records.review import Edit
from midfoot.reviewing import write_words
from midfoot.store import Workspace, tables
from midfoot.store.rows import append_edit

NOTE, REASON, HELD = "she looked tired, zqnote", "zqreason: not this week", "zqheld: he is a mean one"


def packed(workspace: Workspace, lifter_id: str) -> bytes:
    return b"".join(export(workspace, lifter_id).pieces())


def inside(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as whole:
        return {name: whole.read(name) for name in whole.namelist()}


def headers(data: bytes) -> Iterator[tuple[str, int, bytes, int]]:
    """Every entry of the central directory (APPNOTE 6.3.9, 4.3.12): name, system, extra field, comment."""
    end = data.rindex(b"PK\x05\x06")
    count, _, at, comment = struct.unpack("<HIIH", data[end + 10 : end + 22])
    assert comment == 0
    assert end + 22 == len(data), "nothing lies behind the end"
    for _ in range(count):
        assert data[at : at + 4] == b"PK\x01\x02"
        name, extra, said = struct.unpack("<HHH", data[at + 28 : at + 34])
        head = at + 46
        yield data[head : head + name].decode(), data[at + 5], data[head + name : head + name + extra], said
        at = head + name + extra + said


@pytest.fixture
def filled(workspace: Workspace) -> Filled:
    """With words of others, notes and reasons of the coach wherever they can stand."""
    made = fill(workspace)
    with workspace.write() as c:
        c.execute(tables.lifters.update().values(notes=NOTE))
        c.execute(tables.cases.update().values(reason=REASON))
        hers = tables.sets.c.id == made.sets[0]
        paste = f"{NAME}: squat 100 kg x 5\n\n{OTHER}: deadlift 140 kg x 3, my back hurts"
        c.execute(tables.sets.update().where(hers).values(pasted_text=paste))
        c.execute(tables.edition_segments.update().where(tables.edition_segments.c.set_id == made.sets[0])
                  .values(script={"words": f"after Ruthven, who is stronger than {NAME}"}))  # fmt: skip
        c.execute(tables.answers.insert().values(open_set_id=made.open_set, token_hash="e" * 64, state="refused",
                                                 body={"words": HELD}))  # fmt: skip
        c.execute(tables.answers.insert().values(open_set_id=made.open_set, token_hash="f" * 64, state="held",
                                                 body={"words": HELD}))  # fmt: skip
        c.execute(tables.answers.insert().values(open_set_id=made.open_set, token_hash="9" * 64, state="approved",
                                                 body={"words": f"moves like {OTHER}"}))  # fmt: skip
        for edit in (Edit(id="n2", kind="note", text=NOTE), Edit(id="u2", kind="undo", undoes="n2"),
                     Edit(id="d2", kind="drop", part="change:squat_bar_forward", reason=REASON)):  # fmt: skip
            append_edit(c, made.sets[0], edit)
    folder = workspace.review(made.sets[0])
    (folder / "heads.npz").write_bytes(b"where everybody's heads are")
    (folder / "thresholds.toml").write_text("# the coach's own floors")
    (folder / "page.html").write_text(f"<p>{NAME}, beside {OTHER.upper()}</p>")
    return made


def test_nothing_of_others_and_no_private_note(workspace: Workspace, filled: Filled) -> None:
    files = inside(packed(workspace, filled.lifter))
    document = json.loads(files["export.json"])
    for name, content in files.items():
        for word in (OTHER, OTHER.upper(), "Ruthven", "my back hurts", NOTE, REASON, HELD, "everybody's heads"):
            assert word.encode() not in content, (name, word)
    assert not [n for n in files if n.endswith(("heads.npz", "thresholds.toml"))]
    first, second = document["sets"]
    assert first["pasted_text"] == f"Name: {NAME}\nsquat 100 kg x 5"
    assert first["segments"][0]["script"]["words"] == f"after [another lifter], who is stronger than {NAME}"
    edits = [(e["edit"]["kind"], e["edit"].get("reason", "")) for e in first["edits"]]
    assert edits == [("keep", ""), ("drop", "")]
    assert first["cases"][0]["decision"] == "dropped"
    answers = second["open_sets"][0]
    assert [a["body"]["words"] for a in answers["answers"]] == ["moves like [another lifter]"]
    assert answers["not_approved"] == 3
    page = next(c for n, c in files.items() if n.endswith("page.html"))
    assert page.decode() == f"<p>{NAME}, beside [another lifter]</p>"


def test_the_coachs_own_workspace_is_as_it_was(workspace: Workspace, filled: Filled) -> None:
    """What is left out of the ZIP is not taken out of the desk."""
    before = {p: p.read_bytes() for p in workspace.review(filled.sets[0]).iterdir()}
    packed(workspace, filled.lifter)
    assert {p: p.read_bytes() for p in workspace.review(filled.sets[0]).iterdir()} == before
    with workspace.read() as c:
        assert c.execute(sa.select(tables.lifters.c.notes)).scalars().all() == [NOTE, NOTE]


def test_a_real_set_leaves_no_trace_of_the_machine(own_demo: Workspace, tmp_path: Path) -> None:
    """Measured, reviewed with a note and a reason, written out: every byte of the ZIP and of the files in it."""
    with own_demo.write() as c:
        set_id = c.execute(sa.select(tables.sets.c.id).where(tables.sets.c.lift == "squat")).scalar_one()
        for own, name in (("lifterzq00000001", NAME), ("lifterzq00000002", OTHER)):
            c.execute(tables.lifters.insert().values(id=own, name=name, shown_name=name.split()[0], notes=NOTE))
        c.execute(tables.sets.update().where(tables.sets.c.id == set_id).values(lifter_id="lifterzq00000001"))
        clip = c.execute(sa.select(tables.clips).where(tables.clips.c.set_id == set_id)).one()
    part = next(p.id for p in reviewing.reviewed(own_demo, set_id).review.parts if p.section in ("change", "seen"))
    add_edits(own_demo, set_id, [
        {"id": "n1", "kind": "note", "text": f"{NOTE}, unlike {OTHER}"},
        {"id": "d1", "kind": "drop", "part": part, "reason": REASON},
    ])  # fmt: skip
    folder = own_demo.review(set_id)
    folder.mkdir(parents=True, exist_ok=True)
    write_words(reviewing.reviewed(own_demo, set_id), folder)
    assert NOTE in (folder / "review.json").read_text("utf-8")
    assert REASON in (folder / "review.csv").read_text("utf-8")

    data = packed(own_demo, "lifterzq00000001")

    for name, system, extra, said in headers(data):
        assert (extra, said) == (b"", 0), f"{name} carries more than its name"
        assert system == 3
        assert not name.startswith("/")
        assert ".." not in name
    files = inside(data)
    assert {Path(n).suffix for n in files} >= {".json", ".csv", ".txt", ".npz", ".mp4"}
    machine = [str(own_demo.path), str(tmp_path), f"{Path.home()}/", "/tmp/pytest"]
    machine += [w for w in (socket.gethostname(), getpass.getuser()) if len(w) > 5]
    for name, content in files.items():
        if "/clips/" in name:
            assert content == own_demo.blobs.path(clip.sha256).read_bytes(), "the clip as it came"
            continue
        for word in (*machine, OTHER, NOTE, REASON):
            assert word.encode() not in content, (name, word)
        _walk(name, content, clip.sha256, tmp_path)


def _walk(name: str, content: bytes, own: str, folder: Path) -> None:
    """Hold one file against what other files that leave are held against; arrays by themselves."""
    if name.endswith(".npz"):
        with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
            for key in arrays.files:
                assert arrays[key].dtype.kind in "biufU", key
        return
    file = folder / Path(name).name
    file.write_bytes(content)
    said = [c.partition(": ")[2] for c in traces.complaints(file)]
    if file.suffix == ".json":  # rows point at each other by ids; as measured, the clip's own hash stands in it
        said = [c for c in said if not re.fullmatch(r"key (\w*(lifter|clip|set)_id|location_data|path)", c)]
    if file.name in ("measurement.json", "context.json"):
        document = json.loads(content)
        hashes = {f"hash {v}" for k, v in _pairs(document) if k.endswith("sha256")}
        said = [c for c in said if not re.fullmatch(r"key \w*sha256", c) and c not in hashes]
        if file.name == "measurement.json":
            assert document["clip"]["sha256"] == own
            assert "/" not in document["clip"].get("name", "")
    assert said == [], name


def _pairs(value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for k, v in value.items():
            yield str(k), v
            yield from _pairs(v)
    elif isinstance(value, list):
        for v in value:
            yield from _pairs(v)


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("squat 100 kg x 5, how is my depth?", "squat 100 kg x 5, how is my depth?"),
        ("Runa Holt: squat 100 kg", "Runa Holt: squat 100 kg"),
        ("Runa Holt: squat 100 kg\n\nTeo Aldana: bench 80 kg, shoulder hurts", "Name: Runa Holt\nsquat 100 kg"),
        ("Teo Aldana: bench 80 kg, shoulder hurts", export_own.NOT_HERS),
    ],
)
def test_of_a_message_about_several_only_her_part(text: str, kept: str) -> None:
    assert export_own.message_of(text, "Runa Holt", date(2031, 5, 24)).strip() == kept
