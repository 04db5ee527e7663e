"""`midfoot review` on a measured folder: words, edits that are kept, and what can be wrong with them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from attrs import evolve
from cli.line import said
from review.made import FAULTS, measured
from sets import made_measurement

from midfoot.records.context import Context
from midfoot.records.measures import Measurement
from midfoot.store import context_to_json, review_schema, to_json, validate_review

SAFE = Context(safeties="pins", rpe=8.0, lifter="Runa", question="Does the bar drift?", sha256="0" * 64)


def folder_of(measurement: Measurement, folder: Path) -> Path:
    """Write a measured folder as the main job does."""
    folder.mkdir(exist_ok=True)
    (folder / "measurement.json").write_text(json.dumps(to_json(measurement)))
    body = measurement.data.body
    words = np.array(["hidden", "inferred", "seen"])[body.state]
    np.savez(folder / "body.npz", t_s=body.t_s, xy_px=body.xy_px, sd_px=body.sd_px, status=words)
    (folder / "context.json").write_text(json.dumps(context_to_json(measurement.context)))
    return folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A squat with two faults."""
    return folder_of(measured("squat", ("squat_bar_forward", "squat_hips_first"), SAFE), tmp_path / "set")


def document(folder: Path) -> dict[str, object]:
    return dict(json.loads((folder / "review.json").read_text()))


def test_a_review_is_drafted_and_obeys_its_schema(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The schema is itself one (JSON Schema 2020-12, by the jsonschema library)."""
    told = said(capsys, "review", folder, "--no-video")

    assert told.status == 0, told.err
    jsonschema.Draft202012Validator.check_schema(review_schema())
    found = document(folder)
    validate_review(found)
    assert "what to change" in told.out
    assert "nothing goes out unread" in told.out
    assert "150" not in (folder / "script.txt").read_text()
    rows = list(csv.reader((folder / "review.csv").read_text().splitlines()))
    assert len({len(r) for r in rows}) == 1
    assert not any("Does the bar drift" in cell for row in rows for cell in row)


def test_json_is_what_is_written(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = said(capsys, "review", folder, "--no-video", "--json")

    assert json.loads(told.out) == document(folder)


def test_edits_are_kept_over_a_rebuild_and_never_doubled(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Given once, they stand; given again, nothing changes; another one under the same id is refused."""
    edits = tmp_path / "edits.json"
    row = {"id": "1", "kind": "reword", "part": "change:squat_bar_forward", "text": "It runs away.",
           "reps": [2], "at_s": [6.2]}  # fmt: skip
    edits.write_text(json.dumps({"edits": [row]}))

    first = said(capsys, "review", folder, "--no-video", "--edits", edits)
    again = said(capsys, "review", folder, "--no-video", "--edits", edits)
    rebuilt = said(capsys, "review", folder, "--no-video")

    assert first.status == again.status == rebuilt.status == 0
    found = document(folder)
    assert len(found["edits"]) == 1  # type: ignore[arg-type]
    assert "It runs away." in rebuilt.out
    edits.write_text(json.dumps([{**row, "text": "Otherwise."}]))
    other = said(capsys, "review", folder, "--no-video", "--edits", edits)
    assert other.status == 2
    assert "id of its own" in other.one_sentence()


def test_the_last_review_is_not_repeated(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And a rebuild of the new one stays as it was."""
    second = folder_of(measured("squat", ("squat_bar_forward",), SAFE), tmp_path / "next")
    said(capsys, "review", folder, "--no-video")

    told = said(capsys, "review", second, "--no-video", "--last", folder)
    before = set(document(folder)["said"])  # type: ignore[call-overload]
    now = document(second)
    said(capsys, "review", second, "--no-video")

    assert told.status == 0
    assert not before & set(now["said"])  # type: ignore[call-overload]
    assert document(second)["said"] == now["said"]


def test_own_wording_comes_first(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "mine.toml").write_text('[squat_bar_forward.claim]\nlifter = "Off it goes on {reps}."\n')

    told = said(capsys, "review", folder, "--no-video", "--library", tmp_path / "own")

    assert "Off it goes on rep 2." in told.out


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_every_fault_can_be_reviewed(lift: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = folder_of(measured(lift, FAULTS[lift][:3]), tmp_path / lift)

    assert said(capsys, "review", where, "--no-video").status == 0
    validate_review(document(where))


def test_bad_edits(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Missing, no JSON, no list, an unknown kind, an unknown key, an undo of nothing: one sentence, exit 2."""
    edits = tmp_path / "edits.json"
    missing = said(capsys, "review", folder, "--edits", edits)
    assert missing.status == 2
    assert "edits.json" in missing.one_sentence()
    for text, says in (
        ("{", "not JSON"),
        ("3", "expected a list"),
        ('[{"id": "1", "kind": "improve"}]', "improve"),
        ('[{"id": "1", "kind": "keep", "part": "x", "colour": 1}]', "colour"),
        ('[{"id": "1", "kind": "undo", "undoes": "0"}]', "no earlier edit"),
        ('[{"id": "1", "kind": "drop", "part": "x"}]', "reason"),
    ):
        edits.write_text(text)
        told = said(capsys, "review", folder, "--edits", edits)
        assert told.status == 2, text
        assert says in told.one_sentence()


def test_no_measured_folder_or_damage(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A sentence with the remedy, exit 1; a damaged review is not written over."""
    for where in (tmp_path / "nowhere", tmp_path):
        told = said(capsys, "review", where)
        assert told.status == 1
        assert "midfoot measure" in told.one_sentence()
    (folder / "review.json").write_text("{")
    told = said(capsys, "review", folder)
    assert told.status == 1
    assert "move it away" in told.one_sentence()
    assert (folder / "review.json").read_text() == "{"
    (folder / "review.json").unlink()
    spoiled = json.loads((folder / "measurement.json").read_text())
    del spoiled["view"]["class"]
    (folder / "measurement.json").write_text(json.dumps(spoiled))
    told = said(capsys, "review", folder)
    assert told.status == 1
    assert "measurement.json cannot be read" in told.one_sentence()


def test_another_clip_of_the_set_is_joined_or_refused(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same set from elsewhere joins; another lift does not."""
    also = folder_of(measured("squat", (), SAFE), tmp_path / "front")
    other = folder_of(measured("bench", (), SAFE), tmp_path / "other")

    assert said(capsys, "review", folder, "--no-video", "--also", also).status == 0
    assert document(folder)["provenance"]["also"] == ["../front"]  # type: ignore[index]
    assert said(capsys, "review", folder, "--no-video").status == 0
    assert document(folder)["provenance"]["also"] == ["../front"]  # type: ignore[index]
    validate_review(document(folder))
    also.rename(tmp_path / "away")
    gone = said(capsys, "review", folder, "--no-video")
    assert gone.status != 0
    assert "--also" in gone.err
    told = said(capsys, "review", folder, "--also", other)
    assert told.status == 2
    assert "two clips of one set" in told.one_sentence()


def test_a_wording_is_kept_from_now_on(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The coach's words of this set come back for another one, with its own reps and size."""
    own, edits = tmp_path / "own", tmp_path / "edits.json"
    own.mkdir()
    row = {"id": "1", "kind": "reword", "part": "change:squat_bar_forward", "reps": [2], "at_s": [6.2],
           "text": "It wandered off on rep 2, by 2 to 3.5 cm."}  # fmt: skip
    edits.write_text(json.dumps([row]))
    said(capsys, "review", folder, "--no-video", "--edits", edits, "--library", own,
         "--keep-wording", "change:squat_bar_forward")  # fmt: skip
    one = measured("squat", ("squat_bar_forward",), SAFE)
    found = evolve(one.found, findings=(evolve(one.found.findings[0], reps=(1, 2), at_s=(2.5, 6.2)),))
    other = folder_of(evolve(one, found=found), tmp_path / "next")

    told = said(capsys, "review", other, "--no-video", "--library", own)
    wrong = said(capsys, "review", folder, "--library", own, "--keep-wording", "change:nothing_like_it")
    nowhere = said(capsys, "review", folder, "--keep-wording", "change:squat_bar_forward")

    assert "It wandered off on reps 1 and 2, by up to 3.5 cm." in told.out  # of several reps: the largest
    assert (wrong.status, nowhere.status) == (2, 2)
    assert "change:squat_bar_forward" in wrong.one_sentence()
    assert "--library" in nowhere.one_sentence()


def test_the_coach_s_view_has_what_the_lifter_s_has_not(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Unit and sd in the open, what was held back, private notes; none of it in the lifter's page."""
    edits = tmp_path / "edits.json"
    edits.write_text(json.dumps([{"id": "1", "kind": "note", "text": "Ask about the shoes."}]))
    said(capsys, "review", folder, "--no-video", "--edits", edits)

    coach, lifter = (folder / "coach.html").read_text(), (folder / "review.html").read_text()

    assert "27 mm, sd 3" in coach
    assert "Ask about the shoes." in coach
    assert "Ask about the shoes." not in lifter
    assert "nothing goes out unread" in coach


def test_what_the_coach_saw_is_added_with_its_cue(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By the vocabulary's id at a rep and a moment; again, it is not doubled; same standing as a measured one."""
    for _ in range(2):
        told = said(capsys, "review", folder, "--no-video", "--observe", "breath_lost@2:6.1",
                    "--observe", "braced_well@1:1.0")  # fmt: skip

    assert told.status == 0, told.err
    found = document(folder)
    own = [p for p in found["parts"] if p["by"] == "coach"]  # type: ignore[attr-defined]
    assert [(p["section"], p["about"], p["status"]) for p in own] == [
        ("good", "braced_well", "kept"), ("change", "breath_lost", "kept"),
    ]  # fmt: skip
    assert "Keep the air" in own[1]["try_text"]
    assert "Keep the air" in (folder / "script.txt").read_text() + (folder / "review.html").read_text()
    for text, says in (("breath_lost", "REP:SECONDS"), ("breath_lost@x:1", "REP:SECONDS"), ("magic@1:2", "magic")):
        wrong = said(capsys, "review", folder, "--observe", text)
        assert wrong.status == 2
        assert says in wrong.one_sentence()


def test_a_set_in_which_nothing_was_seen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """There is no rep to speak of: the review stands, says how to film, and the script says what it lacks."""
    where = folder_of(made_measurement(seen=False), tmp_path / "nothing")

    told = said(capsys, "review", where, "--no-video")

    assert told.status == 0, told.err
    validate_review(document(where))
    assert "! " in told.out
    assert "to film next" in told.out


def test_context_replaces_what_stands_beside_the_measurement(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With pain there is no advice on weight, and what was written of it is nowhere but in the coach's folder."""
    toml = tmp_path / "said.toml"
    toml.write_text('lift = "squat"\nload = "100 kg"\nrpe = 8\nsafeties = "pins"\npain = "tingling thumb"\n')

    told = said(capsys, "review", folder, "--no-video", "--context", toml)

    assert "or less" not in told.out
    assert "clinician" in told.out
    for file in ("review.html", "script.txt", "review.vtt", "review.csv", "coach.html"):
        assert "tingling" not in (folder / file).read_text()


def test_measured_again_the_edits_hold_or_the_coach_is_asked(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The finding moved to the other rep: the words stay, and the coach is asked here and on his page."""
    edits = tmp_path / "edits.json"
    row = {"id": "1", "kind": "reword", "part": "change:squat_bar_forward", "text": "It runs away.",
           "reps": [2], "at_s": [6.2]}  # fmt: skip
    edits.write_text(json.dumps([row]))
    said(capsys, "review", folder, "--no-video", "--edits", edits)
    one = measured("squat", ("squat_bar_forward",), SAFE)
    moved = evolve(one.found, findings=(evolve(one.found.findings[0], reps=(1,), at_s=(2.5,)),))
    folder_of(evolve(one, found=moved), folder)

    told = said(capsys, "review", folder, "--no-video")

    assert "It runs away." in told.out
    assert "? You reworded this where it stood on rep 2" in told.out
    assert "it stands on rep 1" in (folder / "coach.html").read_text()


def test_bad_library(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = said(capsys, "review", folder, "--library", tmp_path / "none")

    assert told.status == 2
    assert "--library" in told.one_sentence()
