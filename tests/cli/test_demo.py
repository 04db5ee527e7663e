"""`midfoot demo`: every bundled set is measured and reviewed in its own folder, and it is said where to look."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cli.line import said
from sets import made_measurement

from midfoot import outputs, pipeline, review_pictures
from midfoot.footage import FootageError
from midfoot.pipeline import Request
from midfoot.records.base import LIFTS


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
