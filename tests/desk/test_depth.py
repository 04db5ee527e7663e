"""The depth offset of a lifter: kept from marks, carried into the next request, taken back with them."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
from attrs import evolve
from sets import made_measurement
from shown_sets import add_shown

from midfoot.desk.depth import keep_offset
from midfoot.desk.measuring import inputs_of
from midfoot.desk.repair_rows import add_repair, undo_repair
from midfoot.outputs import write_numbers
from midfoot.records.measures import Measure
from midfoot.store import Workspace, tables

MARKS = {"crease": {"x_px": 300, "y_px": 250}, "knee_top": {"x_px": 250, "y_px": 240}, "at_s": 0.5}
TIMES = np.arange(36) * 0.034


def folder_with(path: Path, offset_mm: float | None) -> Path:
    """A measured folder whose set measure says the offset: sd 3 of its own, 4 of the clip."""
    made = made_measurement()
    row = (
        () if offset_mm is None else (Measure("depth_offset_mm", offset_mm, "mm", 3.0, 4.0, "measured", "marks"),)
    )
    path.mkdir(parents=True)
    write_numbers(evolve(made, measured=evolve(made.measured, whole=(*made.measured.whole, *row))), path)
    return path


def kept(workspace: Workspace) -> Any:
    with workspace.read() as c:
        return c.execute(sa.select(tables.lifters.c.depth_marks)).scalar()


@pytest.fixture
def two(workspace: Workspace) -> tuple[Workspace, list[tuple[str, str]]]:
    """A lifter with two squats."""
    with workspace.write() as c:
        c.execute(tables.lifters.insert().values(id="aa01", name="Runa Tideway"))
    return workspace, [add_shown(workspace, None, TIMES, lifter_id="aa01") for _ in range(2)]


def test_marks_of_one_clip_calibrate_the_next(two: Any, tmp_path: Path) -> None:
    workspace, [(first, clip), (_, later)] = two
    with workspace.write() as c:
        add_repair(c, clip, "depth", MARKS)
        keep_offset(c, first, clip, folder_with(tmp_path / "a", 24.0))

    marks = kept(workspace)
    assert (marks["offset_mm"], marks["offset_sd_mm"], marks["clip_id"]) == (24.0, 5.0, clip)
    with workspace.read() as c:
        context = inputs_of(c, workspace, later).request.context
    assert (context.depth_offset_mm, context.depth_offset_sd_mm) == (24.0, 5.0)


def test_marks_taken_back_count_no_more(two: Any, tmp_path: Path) -> None:
    workspace, [(first, clip), _] = two
    with workspace.write() as c:
        add_repair(c, clip, "depth", MARKS)
        keep_offset(c, first, clip, folder_with(tmp_path / "a", 24.0))
        undo_repair(c, clip, 1)
        keep_offset(c, first, clip, folder_with(tmp_path / "b", None))

    assert kept(workspace) is None


def test_the_marks_made_last_count_whichever_is_measured_last(two: Any, tmp_path: Path) -> None:
    workspace, [(first, clip), (second, other)] = two
    a, b = folder_with(tmp_path / "a", 24.0), folder_with(tmp_path / "b", 18.0)
    with workspace.write() as c:
        add_repair(c, clip, "depth", MARKS)
        add_repair(c, other, "depth", MARKS)
        late = tables.repairs.c.clip_id == other
        at = c.execute(sa.select(tables.repairs.c.at).where(late)).scalar()
        c.execute(tables.repairs.update().where(late).values(at=at + timedelta(minutes=5)))
        keep_offset(c, second, other, b)
        keep_offset(c, first, clip, a)

    assert kept(workspace)["offset_mm"] == 18.0
