"""`midfoot backup`, `restore` and `check --deep` as typed: what is said, how they end."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cli.line import said
from kept import Filled, fill

from midfoot.desk.erase import erase_lifter
from midfoot.store import Workspace


@pytest.fixture
def filled(workspace: Workspace) -> Filled:
    return fill(workspace)


def test_there_and_back(
    workspace: Workspace, filled: Filled, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Backed up, erased, put back without whom was erased; the workspace that stood there lies aside."""
    where = ("--workspace", str(workspace.path))
    first = said(capsys, "backup", str(tmp_path / "b"), *where)
    erase_lifter(workspace, filled.lifter)
    second = said(capsys, "backup", str(tmp_path / "b"), *where, "--json")
    refused = said(capsys, "restore", str(tmp_path / "b"), *where)
    copy = sorted(p.name for p in (tmp_path / "b").iterdir() if p.name[0] == "2")[0]
    workspace.close()
    back = said(capsys, "restore", str(tmp_path / "b"), *where, "--at", copy, "--replace")

    assert (first.status, first.out.count("6 contents (6 new)")) == (0, 1)
    assert (second.status, json.loads(second.out)["new_contents"]) == (0, 0)
    assert (refused.status, "--replace" in refused.err) == (1, True)
    assert back.status == 0
    assert "1 lifter was erased after that copy was made" in back.out
    assert ".before-restore-" in back.out
    assert said(capsys, "check", "--deep", *where).status == 0


def test_a_copy_that_lacks_something_ends_with_1(
    workspace: Workspace, filled: Filled, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workspace.blobs.remove(filled.shared)

    told = said(capsys, "backup", str(tmp_path / "one.tar"), "--workspace", str(workspace.path))

    assert told.status == 1
    assert f"! Not copied: the content {filled.shared} is missing" in told.out
    assert (tmp_path / "one.tar").is_file()


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        (("backup", "B"), 1, "is no workspace; midfoot serve"),
        (("backup", "B", "--keep", "0"), 2, "--keep"),
        (("restore", "nothing.tar"), 1, "nothing.tar is not there"),
        (("check", "--deep"), 1, "is no workspace"),
    ],
)
def test_one_sentence_and_no_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], status: int, sentence: str
) -> None:
    told = said(capsys, *words, "--workspace", str(tmp_path / "none"))

    assert told.status == status
    assert sentence in told.err
    assert told.err.count("\n") == 1
    assert not (tmp_path / "none").exists()


def test_check_deep_names_what_is_wrong_and_cleans_what_is_left(
    workspace: Workspace, filled: Filled, capsys: pytest.CaptureFixture[str]
) -> None:
    where = ("--workspace", str(workspace.path))
    assert said(capsys, "check", "--deep", *where).status == 0
    workspace.review("0" * 16).mkdir()
    (workspace.blobs.root / "notes.txt").write_text("?")

    wrong = said(capsys, "check", "--deep", *where)
    rows = json.loads(said(capsys, "check", "--deep", "--json", *where).out)
    clean = said(capsys, "check", "--deep", "--clean", *where)

    assert wrong.status == 1
    assert "FAIL wrong      reviews/0000000000000000 belongs to nothing any more  -> midfoot check" in wrong.out
    assert "ok   left over  blobs/notes.txt is no content" in wrong.out
    assert [r["good"] for r in rows] == [True, False, True]
    assert clean.status == 0
