"""`midfoot demo`: every bundled set is measured and reviewed in its own folder, and it is said where to look."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cli.line import said
from sets import made_measurement

from midfoot import outputs, pipeline, review_pictures
from midfoot.desk import demo as desk_demo
from midfoot.footage import FootageError
from midfoot.pipeline import Request
from midfoot.records.base import LIFTS
from midfoot.store import Workspace


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Request]:
    """Measuring and drawing are replaced; what was asked is noted."""
    requests: list[Request] = []

    def note(request: Request, **_: Any) -> Any:
        assert request.clip.exists()
        requests.append(request)
        return made_measurement(lift=request.asked.lift)

    monkeypatch.setattr(pipeline, "measure_clip", note)
    monkeypatch.setattr(outputs, "write_pictures", lambda *_, **__: None)
    monkeypatch.setattr(review_pictures, "write_pages", lambda *_, **__: [])
    monkeypatch.setattr(desk_demo, "fill", lambda _, measured, **__: [f"{len(measured)} sets came"])
    return requests


def test_every_bundled_set(asked: list[Request], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One a lift, with what its lifter said; numbers in its own folder; the pages named at the end."""
    told = said(capsys, "demo", "--out", tmp_path / "demo")

    assert (told.status, told.err) == (0, "")
    assert sorted(r.asked.lift for r in asked) == sorted(LIFTS)
    assert all(r.asked.load_kg and r.asked.reps for r in asked)
    for lift in LIFTS:
        assert (tmp_path / "demo" / lift / "measurement.json").exists()
        assert (tmp_path / "demo" / lift / "review.json").exists()
        for page in ("report", "coach", "review"):
            assert f"  {tmp_path}/demo/{lift}/{page}.html" in told.out.splitlines()
    assert told.out.index("Look at:") > told.out.index("rep 2")
    assert "! 3 sets came" in told.out
    assert f"midfoot demo --serve --out {tmp_path}/demo" in told.out


def test_a_filled_workspace_is_opened_without_measuring_again(
    asked: list[Request], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[Any] = []
    monkeypatch.setattr("midfoot.cli.serve.serve", lambda **given: opened.append(given) or 0)

    for _ in range(2):
        assert said(capsys, "demo", "--out", tmp_path / "demo", "--serve", "--port", "9000").status == 0

    assert opened == [{"workspace": tmp_path / "demo" / "workspace", "port": 9000}] * 2
    assert len(asked) == len(LIFTS)


def test_a_workspace_of_ones_own_is_never_made_anew(
    asked: list[Request], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Workspace.create(tmp_path / "demo" / "workspace").close()

    refused = said(capsys, "demo", "--out", tmp_path / "demo")

    assert refused.status == 1
    assert "is a workspace of your own" in refused.one_sentence()


def test_a_failure_is_one_sentence_and_leaves_no_empty_folder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As with any clip."""

    def refuse(*_: Any, **__: Any) -> None:
        raise FootageError("The clip cannot be read; send it again.")

    monkeypatch.setattr(pipeline, "measure_clip", refuse)

    failed = said(capsys, "demo", "--out", tmp_path / "demo")

    assert failed.status == 1
    assert failed.one_sentence() == "The clip cannot be read; send it again."
    assert not (tmp_path / "demo").exists()
