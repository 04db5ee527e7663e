"""The real job `measure` on real clips: once for the same inputs, again for others, whole after any SIGKILL."""

from __future__ import annotations

import os
import signal
import threading
import time
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from clips import write_clip
from desk_clips import receive
from desk_reviews import SAID, add_lifter, add_set, squat
from desk_sets import put_measured
from sets import made_measurement

from midfoot import body, pipeline
from midfoot.desk import measuring, reviewing
from midfoot.jobs import KINDS, Supervisor, enqueue
from midfoot.jobs.worker import work_on
from midfoot.records.context import Context
from midfoot.records.review import Edit
from midfoot.store import Workspace, context_to_json, read_measurement
from midfoot.store.rows import append_edit
from midfoot.store.tables import cases, clips, follow_ups, jobs, lifters, measurements, repairs, sets

ONLY = {"measure": KINDS["measure"]}


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[pipeline.Request]:
    """The pipeline is replaced by a set made from formulas; what was asked is noted."""
    requests: list[pipeline.Request] = []

    def note(request: pipeline.Request, **_: object):
        requests.append(request)
        return made_measurement(lift=request.asked.lift)

    monkeypatch.setattr(pipeline, "measure_clip", note)
    monkeypatch.setattr("midfoot.jobs.measure.write_pictures", lambda *_: None)
    return requests


def ask(workspace: Workspace, clip_id: str) -> None:
    with workspace.write() as connection:
        enqueue(connection, "measure", f"measure:{clip_id}", {"clip_id": clip_id})


def work(workspace: Workspace) -> None:
    work_on(workspace, "here", ONLY, threading.Event(), until_idle=True)


def rows(workspace: Workspace, clip_id: str) -> list:
    with workspace.read() as connection:
        return list(connection.execute(sa.select(measurements).where(measurements.c.clip_id == clip_id)))


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    write_clip(tmp_path / "IMG_1.MOV")
    return tmp_path / "IMG_1.MOV"


def test_the_same_asked_twice_is_measured_once_and_a_repair_measures_anew(
    workspace: Workspace, clip: Path, asked: list[pipeline.Request]
) -> None:
    _, clip_id = receive(workspace, clip, job="measure")
    work(workspace)
    ask(workspace, clip_id)
    work(workspace)
    assert len(asked) == 1
    with workspace.write() as connection:
        connection.execute(
            repairs.insert().values(
                clip_id=clip_id, n=1, kind="bar_at", body={"x_px": 10.0, "y_px": 20.0, "at_s": 0.5}
            )
        )
    ask(workspace, clip_id)
    work(workspace)

    assert [r.bar_at is None for r in asked] == [True, False]
    found = rows(workspace, clip_id)
    assert [(r.is_current, r.repairs_to) for r in found] == [(False, 0), (True, 1)]
    for row in found:
        kept = read_measurement(workspace.path / row.folder)
        assert kept.data.clip.name == "IMG_1.MOV", "the file's hash is no name for people"
    with workspace.read() as connection:
        assert connection.execute(sa.select(sets.c.state)).scalars().all() == ["ready"]
    assert found[1].summary["lift"] == "squat"


@pytest.mark.parametrize(
    ("said", "again"),
    [(Context(rpe=9.0), False), (Context(pain="knee", question="why?"), False), (Context(load_kg=90.0), True),
     (Context(plate_mm=400.0), True), (Context(depth_offset_mm=10.0), True)],
)  # fmt: skip
def test_what_only_changes_words_is_not_measured_again(
    workspace: Workspace, clip: Path, asked: list[pipeline.Request], said: Context, again: bool
) -> None:
    from midfoot.store import context_to_json

    _, clip_id = receive(workspace, clip, context=Context(), job="measure")
    work(workspace)
    with workspace.write() as connection:
        connection.execute(sets.update().values(context=context_to_json(said)))
    ask(workspace, clip_id)
    work(workspace)

    assert len(asked) == 1 + again
    current = [r for r in rows(workspace, clip_id) if r.is_current]
    assert len(current) == 1


def test_what_changes_while_it_is_measured_is_measured_again(
    workspace: Workspace, clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, clip_id = receive(workspace, clip, load_kg=100.0, job="measure")
    loads: list[float | None] = []

    def change(request: pipeline.Request, **_: object):
        loads.append(request.asked.load_kg)
        with workspace.write() as connection:
            connection.execute(sets.update().values(load_kg=120.0))
        return made_measurement()

    monkeypatch.setattr(pipeline, "measure_clip", change)
    monkeypatch.setattr("midfoot.jobs.measure.write_pictures", lambda *_: None)
    work(workspace)

    assert loads == [100.0, 120.0]
    assert [r.is_current for r in rows(workspace, clip_id)] == [True]


def test_a_second_clip_of_the_set_is_joined_to_the_first(
    workspace: Workspace, clip: Path, tmp_path: Path, asked: list[pipeline.Request]
) -> None:
    """Whichever is measured last, the measured view's summary takes the other in."""
    set_id, first = receive(workspace, clip, job="measure")
    write_clip(tmp_path / "front.mp4", size=(192, 96))
    _, second = receive(workspace, tmp_path / "front.mp4", set_id=set_id, job="measure")
    work(workspace)

    main, other = rows(workspace, first), rows(workspace, second)
    assert (len(main), len(other)) == (1, 1)
    assert main[0].summary["joined"] == 1
    assert "joined" not in other[0].summary


def test_a_lifter_known_from_before_lends_his_depth_offset_and_stature(
    workspace: Workspace, clip: Path, asked: list[pipeline.Request]
) -> None:
    with workspace.write() as connection:
        connection.execute(
            lifters.insert().values(
                id="l1", name="Runa", stature_m=1.7, depth_marks={"offset_mm": 22.0, "offset_sd_mm": 9.0}
            )
        )
    receive(workspace, clip, lifter_id="l1", job="measure")
    work(workspace)

    assert asked[0].asked.stature_m == 1.7
    assert (asked[0].context.depth_offset_mm, asked[0].context.depth_offset_sd_mm) == (22.0, 9.0)


def test_a_clip_that_cannot_be_measured_says_so_by_its_own_name(workspace: Workspace, tmp_path: Path) -> None:
    (tmp_path / "holiday.mp4").write_text("no video at all\n" * 40)
    receive(workspace, tmp_path / "holiday.mp4", job="measure")
    work(workspace)

    with workspace.read() as connection:
        job = connection.execute(sa.select(jobs)).one()
        said = connection.execute(sa.select(clips.c.error)).scalar()
        assert connection.execute(sa.select(sets.c.state)).scalar() == "failed"
    assert job.error == said == "holiday.mp4 is not a video that can be read; send the phone's own file."


@pytest.mark.footage
def test_a_worker_killed_while_it_measures_leaves_one_measurement(workspace: Workspace, clip: Path) -> None:
    """The whole pipeline on a real file, SIGKILL at several moments: one row and one whole folder in the end."""
    if any(row.needed and row.state != "good" for row in body.listing()):
        pytest.skip("the pose network's files are not at hand (midfoot models fetch)")
    _, clip_id = receive(workspace, clip, job="measure")
    crew = Supervisor(workspace, 1, ONLY)
    crew.start()
    try:
        for wait_s in (0.05, 1.8):
            _until(lambda: _state(workspace) in ("running", "done"))
            time.sleep(wait_s)
            for pid in crew.pids():
                os.kill(pid, signal.SIGKILL)
        _until(lambda: _state(workspace) == "done", 90)
    finally:
        crew.stop()

    found = rows(workspace, clip_id)
    assert [r.is_current for r in found] == [True]
    folder = workspace.path / found[0].folder
    assert read_measurement(folder).data.clip.frames == 45
    assert [p.name for p in folder.parent.iterdir()] == [found[0].input_key]
    assert measuring.is_whole(folder)


@pytest.mark.footage
def test_the_bundled_sets_stand_ready(workspace: Workspace) -> None:
    _, clip_id = put_measured(workspace, "squat")

    found = rows(workspace, clip_id)[0]
    assert found.summary["reps"] == 5
    assert 0 < found.summary["judged"]["can"] <= found.summary["judged"]["of"]


def _state(workspace: Workspace) -> str:
    with workspace.read() as connection:
        return str(connection.execute(sa.select(jobs.c.state)).scalar())


def _until(true, within_s: float = 30.0) -> None:
    end = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)


def test_what_is_found_is_noted_and_a_set_that_answers_an_open_change_is_found(
    workspace: Workspace, clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Weeks after a review asked for two changes the lifter's next set is measured: both are answered by it, and
    what is seen in it stands in the archive's rows."""
    monkeypatch.setattr(pipeline, "measure_clip", lambda *_, **__: squat(reps=5, forward_mm=8.0))
    monkeypatch.setattr("midfoot.jobs.measure.write_pictures", lambda *_: None)
    lifter = add_lifter(workspace)
    first = add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=lifter)
    with workspace.write() as connection:
        for k, name in enumerate(("squat_bar_forward", "squat_soft_lockout")):
            append_edit(connection, first, Edit(id=f"k{k}", kind="keep", part=f"change:{name}"))
    reviewing.published(workspace, first, on=date(2031, 5, 2))
    set_id, _ = receive(workspace, clip, job="measure")
    with workspace.write() as connection:
        connection.execute(
            sets.update().where(sets.c.id == set_id).values(
                lifter_id=lifter, load_kg=100.0, received_at=datetime(2031, 5, 20, tzinfo=UTC),
                context=context_to_json(SAID), context_confirmed=True,
            )
        )  # fmt: skip
    work(workspace)

    with workspace.read() as connection:
        found = connection.execute(sa.select(follow_ups).where(follow_ups.c.set_id == set_id)).all()
        judged = connection.execute(
            sa.select(measurements.c.judged, measurements.c.view).where(measurements.c.judged.is_not(None))
        ).one()
        noted = set(connection.execute(sa.select(cases.c.finding).where(cases.c.set_id == set_id)).scalars())
    assert {(f.verdict, f.done_at) for f in found} == {("held", None)}
    assert len(found) == 2
    assert {"squat_bar_forward", "squat_soft_lockout"} <= set(judged.judged.split())
    assert judged.view == "side"
    assert "squat_soft_lockout" not in noted
