"""`midfoot inbox`, `worker`, `remeasure` on a workspace of their own."""

from __future__ import annotations

import json
import threading
from pathlib import Path

import pytest
import sqlalchemy as sa
from cli.line import said
from clips import text_file, write_clip
from desk_clips import receive
from sets import made_measurement

from midfoot import pipeline
from midfoot.desk import measuring
from midfoot.jobs import KINDS
from midfoot.jobs.worker import work_on
from midfoot.store import Workspace
from midfoot.store.tables import clips, jobs, lifters, measurements, review_edits, sets

KEPT = {"id": "e1", "kind": "keep", "part": "finding squat_dive", "reps": [], "at_s": []}
"""An edit as it stands in the log."""


def test_clips_and_words_come_in_and_are_listed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for k in (1, 2):
        write_clip(tmp_path / f"IMG_{k}.mov", size=(160 + 16 * k, 96))
    (tmp_path / "words.txt").write_text("IMG_2.mov bench 80kg x3\nIMG_1.mov squat 100kg x5, my knee hurts")
    desk = tmp_path / "desk"

    told = said(capsys, "inbox", "add", tmp_path / "IMG_1.mov", tmp_path / "IMG_2.mov", "--workspace", desk,
                "--lifter", "Anna Berg", "--text", tmp_path / "words.txt")  # fmt: skip
    again = said(capsys, "inbox", "add", tmp_path / "IMG_1.mov", "--workspace", desk)
    listed = said(capsys, "inbox", "list", "--workspace", desk, "--json")

    assert (told.status, told.err) == (0, "")
    assert "IMG_1.mov: set " in told.out
    assert "look it through and confirm" in told.out
    assert "was here already" in again.out
    rows = {row["files"][0]: row for row in json.loads(listed.out)}
    assert (rows["IMG_1.mov"]["lift"], rows["IMG_1.mov"]["load"]) == ("squat", "100 kg")
    assert (rows["IMG_2.mov"]["lift"], rows["IMG_2.mov"]["lifter"]) == ("bench", "Anna Berg")
    assert "Anna Berg" in said(capsys, "inbox", "list", "--workspace", desk).out
    with Workspace.open(desk) as opened, opened.read() as connection:
        assert connection.execute(sa.select(lifters.c.name)).scalars().all() == ["Anna Berg"]


def test_a_folder_with_views_of_one_set_and_something_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "sent"
    folder.mkdir()
    write_clip(folder / "side.mp4")
    write_clip(folder / "front.mp4", size=(192, 96))
    text_file(folder / "zz notes.txt")

    told = said(capsys, "inbox", "add", folder, "--one-set", "--lift", "squat", "--workspace", tmp_path / "desk")

    assert told.status == 1
    assert "zz notes.txt is a text and no video" in told.err
    assert "Traceback" not in told.err
    with Workspace.open(tmp_path / "desk") as opened, opened.read() as connection:
        assert connection.execute(sa.select(sets.c.lift)).scalars().all() == ["squat"]
        assert len(connection.execute(sa.select(clips.c.id)).all()) == 2


@pytest.mark.parametrize(
    ("argv", "says"),
    [(["inbox", "add", "nowhere.mp4"], "There is no file"), (["inbox", "list"], "is no workspace"),
     (["worker", "--workers", "0"], "expected 1 to 64"), (["worker"], "is no workspace"),
     (["remeasure"], "is no workspace")],
)  # fmt: skip
def test_what_cannot_be_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], argv: list[str], says: str
) -> None:
    told = said(capsys, *argv, "--workspace", tmp_path / "none")
    assert told.status != 0
    assert says in told.err
    assert len(told.err.strip().splitlines()) == 1


def test_only_what_another_version_measured_is_measured_again_and_edits_stay(
    workspace: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pipeline, "measure_clip", lambda request, **_: made_measurement(lift=request.asked.lift))
    monkeypatch.setattr("midfoot.jobs.measure.write_pictures", lambda *_: None)
    write_clip(tmp_path / "a.mp4")
    set_id, _ = receive(workspace, tmp_path / "a.mp4", job="measure")

    work_on(workspace, "here", KINDS, threading.Event(), until_idle=True)
    with workspace.write() as connection:
        connection.execute(review_edits.insert().values(set_id=set_id, n=1, edit_id="e1", edit=KEPT))
    none = said(capsys, "remeasure", "--workspace", workspace.path)
    monkeypatch.setitem(measuring.VERSIONS, "bar", "next")
    some = said(capsys, "remeasure", "--workspace", workspace.path)
    strange = said(capsys, "remeasure", "nosuchset", "--workspace", workspace.path)
    work_on(workspace, "here", KINDS, threading.Event(), until_idle=True)

    assert "Nothing to do" in none.out
    assert "1 of 1 measured clips" in some.out
    assert (strange.status, "There is no set nosuchset" in strange.err) == (2, True)
    with workspace.read() as connection:
        rows = connection.execute(sa.select(measurements.c.is_current, measurements.c.step_versions)).all()
        assert len(connection.execute(sa.select(review_edits.c.id)).all()) == 1
        assert {j.state for j in connection.execute(sa.select(jobs.c.state))} == {"done"}
    assert [(r.is_current, r.step_versions["bar"] == "next") for r in rows] == [(False, False), (True, True)]


def test_a_worker_works_until_nothing_waits(
    workspace: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In processes of its own; what could not be done is said in its sentence."""
    (tmp_path / "a.mp4").write_text("no video\n" * 60)
    receive(workspace, tmp_path / "a.mp4", job="look")

    told = said(capsys, "worker", "--workspace", workspace.path, "--workers", "1", "--until-done")

    assert told.status == 0
    assert "Not done (look): a.mp4 is not a video" in told.out
