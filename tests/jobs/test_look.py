"""The first look at an upload: what it finds, and what an upload that means harm, or is none, can do: nothing."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import av
import numpy as np
import pytest
import sqlalchemy as sa
from clips import (
    clip_without_index,
    empty_file,
    set_display_matrix,
    sound_file,
    square_frame,
    text_file,
    write_clip,
)
from desk_clips import receive

from midfoot.footage import FootageError, Stopped
from midfoot.footage.proxy import shown_times_s
from midfoot.jobs import KINDS, look
from midfoot.jobs.worker import work_on
from midfoot.store import Workspace
from midfoot.store.tables import clips, jobs, sets

ONLY = {"look": KINDS["look"]}


def looked(folder: Path, clip: Path, **more: object) -> dict:
    folder.mkdir(exist_ok=True)
    return look.looked(clip, folder, "sent.mov", lambda *_: None, threading.Event(), **more)  # type: ignore[arg-type]


def test_a_clip_gets_a_frame_a_proxy_and_its_facts_and_is_measured_next(
    workspace: Workspace, tmp_path: Path
) -> None:
    file = tmp_path / "IMG 0001.MOV"
    times = write_clip(tmp_path / "made.mp4", size=(320, 240))
    set_display_matrix(tmp_path / "made.mp4", 0, 1, -1, 0)
    (tmp_path / "made.mp4").rename(file)
    set_id, clip_id = receive(workspace, file, job="look")

    work_on(workspace, "here", ONLY, threading.Event(), until_idle=True)

    with workspace.read() as connection:
        clip = connection.execute(sa.select(clips).where(clips.c.id == clip_id)).one()
        waiting = connection.execute(sa.select(jobs).where(jobs.c.kind == "measure")).one()
        state = connection.execute(sa.select(sets.c.state).where(sets.c.id == set_id)).scalar()
    assert (clip.width_px, clip.height_px, clip.error) == (240, 320, "")
    assert clip.duration_s == pytest.approx(1.5, abs=0.01)
    assert (waiting.state, waiting.key, state) == ("queued", f"measure:{clip_id}", "measuring")
    assert shown_times_s(workspace.blobs.path(clip.proxy_sha256)) == pytest.approx(times - times[0], abs=1e-4)
    with av.open(str(workspace.blobs.path(clip.frame_sha256)), format="mjpeg") as frame:
        assert (frame.streams.video[0].width, frame.streams.video[0].height) == (240, 320)
    assert not list((workspace.blobs.root / "parts").iterdir())


def test_a_set_whose_lift_nobody_said_waits(workspace: Workspace, tmp_path: Path) -> None:
    write_clip(tmp_path / "a.mp4")
    set_id, _ = receive(workspace, tmp_path / "a.mp4", lift=None, job="look")

    work_on(workspace, "here", ONLY, threading.Event(), until_idle=True)

    with workspace.read() as connection:
        assert connection.execute(sa.select(jobs.c.id).where(jobs.c.kind == "measure")).first() is None
        assert connection.execute(sa.select(sets.c.state).where(sets.c.id == set_id)).scalar() == "new"


@pytest.mark.parametrize(
    ("make", "says"),
    [(text_file, "is not a video"), (empty_file, "is empty"), (sound_file, "only sound"),
     (clip_without_index, "no readable index")],
)  # fmt: skip
def test_what_is_no_video_is_named_as_it_was_sent_and_nothing_is_lost(
    workspace: Workspace, tmp_path: Path, make, says: str
) -> None:
    file = tmp_path / "what I sent.mp4"
    make(file)
    set_id, clip_id = receive(workspace, file, job="look")

    work_on(workspace, "here", ONLY, threading.Event(), until_idle=True)

    with workspace.read() as connection:
        clip = connection.execute(sa.select(clips).where(clips.c.id == clip_id)).one()
        job = connection.execute(sa.select(jobs)).one()
        state = connection.execute(sa.select(sets.c.state).where(sets.c.id == set_id)).scalar()
    assert (job.state, state) == ("failed", "failed")
    assert says in job.error
    assert job.error == clip.error
    assert clip.sha256 not in job.error
    if says != "only sound":
        assert "what I sent.mp4" in job.error
    assert workspace.blobs.path(clip.sha256).read_bytes() == file.read_bytes()


@pytest.mark.parametrize(
    ("most_s", "limits"),
    [(0.4, {}), (60, {"MIDFOOT_LOOK_CPU_S": "0"}), (60, {"MIDFOOT_LOOK_MEMORY_MB": "6"})],
    ids=["time", "processor", "memory"],
)
def test_a_file_that_takes_too_much_is_ended(tmp_path: Path, most_s: float, limits: dict[str, str]) -> None:
    """Limits far below what an ordinary clip needs stand in for a file made to hang or to swell."""
    size = (1920, 1080)
    write_clip(tmp_path / "a.mp4", size=size, pictures=[square_frame(size, 8 + i, 24) for i in range(90)],
               times_s=np.arange(90) / 30)  # fmt: skip

    began = time.monotonic()
    with pytest.raises(FootageError, match=r"^sent\.mov could not be read within|No frame of sent\.mov"):
        looked(tmp_path / "out", tmp_path / "a.mp4", most_s=most_s, env={**os.environ, **limits})
    assert time.monotonic() - began < 20


def test_a_look_is_stopped_at_once(tmp_path: Path) -> None:
    write_clip(tmp_path / "a.mp4")
    stop = threading.Event()
    stop.set()
    (tmp_path / "out").mkdir()

    with pytest.raises(Stopped):
        look.looked(tmp_path / "a.mp4", tmp_path / "out", "a", lambda *_: None, stop)
