"""`midfoot compare` on two measured folders."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from attrs import evolve
from cli.line import said
from cli.test_review import folder_of
from review.made import measured

from midfoot.records.context import Context
from midfoot.records.measures import Measure

LIKE = Context(safeties="pins", rpe=8.0)


@pytest.fixture
def sets(tmp_path: Path) -> tuple[Path, Path]:
    """The same set twice: what was foretold cannot have come true."""
    one = measured("squat", ("squat_bar_forward",), LIKE)
    forward = tuple(Measure("path_forward_mm", 12.0 * n, "mm", 1.3, 0.1, "measured", "plate") for n in (1, 2))
    rows = tuple((*row, m) for row, m in zip(one.measured.reps, forward, strict=True))
    one = evolve(one, measured=evolve(one.measured, reps=rows))
    return folder_of(one, tmp_path / "before"), folder_of(one, tmp_path / "after")


def test_two_sets_are_compared_and_the_prediction_fails(
    sets: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """Table, page and numbers; nothing outside the page."""
    said(capsys, "review", sets[0], "--no-video")

    told = said(capsys, "compare", *sets)

    assert told.status == 0, told.err
    assert "The bar goes forward out of the bottom”: not held" in told.out
    assert "0 of" in told.out
    page = (sets[1] / "compare.html").read_text()
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]+"', "", page)
    assert "<script" not in page
    found = json.loads((sets[1] / "compare.json").read_text())
    assert found["schema"] == "midfoot/comparison/1"
    assert {r["verdict"] for r in found["rows"] if r["change"]} == {"no_real_change"}


def test_json_goes_where_it_is_asked(
    sets: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = said(capsys, "compare", *sets, "--out", tmp_path / "here", "--json")

    assert json.loads(told.out) == json.loads((tmp_path / "here" / "compare.json").read_text())
    assert not (sets[1] / "compare.html").exists()


def test_what_cannot_be_compared(
    sets: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another lift: wrong use. No measured folder: could not do it. One sentence with the remedy."""
    other = folder_of(measured("bench", (), LIKE), tmp_path / "bench")
    lifts = said(capsys, "compare", sets[0], other)
    missing = said(capsys, "compare", sets[0], tmp_path / "nowhere")

    assert (lifts.status, missing.status) == (2, 1)
    assert "two sets of one lift" in lifts.one_sentence()
    assert "midfoot measure" in missing.one_sentence()


def test_sets_seen_from_elsewhere_are_refused_in_words(
    sets: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = measured("squat", ("squat_bar_forward",), LIKE)
    view = evolve(one.data.view, view_class="rear_oblique")
    other = folder_of(evolve(one, data=evolve(one.data, view=view)), tmp_path / "rear")

    told = said(capsys, "compare", sets[0], other)

    assert told.status == 0
    assert "! One set is filmed from the side, the other from the rear oblique" in told.out
    assert "cannot tell (the sets are not filmed from a like view)" in told.out
