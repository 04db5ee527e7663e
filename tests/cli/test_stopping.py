"""Ctrl-C: the first lets the work end cleanly, the second ends it at once; nothing is left half-written."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from cli.line import environment, said
from clips import write_clip
from sets import made_measurement

from midfoot import outputs, pipeline
from midfoot.cli.app import STOPPED
from midfoot.cli.stopping import stoppable
from midfoot.footage import Stopped, heeding
from midfoot.records.clip import Frame


def test_the_first_signal_sets_the_event_and_the_second_raises() -> None:
    """SIGINT and SIGTERM alike; the handlers that were there before are back afterwards."""
    before = signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM)

    with pytest.raises(KeyboardInterrupt), stoppable() as stop:
        assert not stop.is_set()
        signal.raise_signal(signal.SIGTERM)
        assert stop.is_set()
        signal.raise_signal(signal.SIGINT)

    assert (signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM)) == before


def test_what_fails_after_the_signal_has_failed_for_it() -> None:
    """A child process that heard the same Ctrl-C is no other failure; before the signal an error is itself."""
    with pytest.raises(Stopped), stoppable():
        signal.raise_signal(signal.SIGINT)
        raise RuntimeError("pip was interrupted")
    with pytest.raises(RuntimeError, match="really"), stoppable():
        raise RuntimeError("really")


def test_outside_the_main_thread_there_is_only_the_event() -> None:
    """Python takes signals in the main thread alone."""
    events = []

    def other() -> None:
        with stoppable() as stop:
            events.append(stop.is_set())

    thread = threading.Thread(target=other)
    thread.start()
    thread.join()

    assert events == [False]


def test_frames_end_before_the_next_one() -> None:
    """Wherever frames are taken from a clip."""
    stop = threading.Event()
    source = heeding((Frame(i, i / 30, None, lambda: None) for i in range(5)), stop)  # type: ignore[arg-type, return-value]

    assert next(source).index == 0
    stop.set()
    with pytest.raises(Stopped):
        next(source)


@pytest.fixture
def clip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A clip whose numbers are there at once; as long and as large as the made set."""
    write_clip(tmp_path / "set.mp4", times_s=np.arange(240) / 30, size=(640, 480))
    monkeypatch.setattr(pipeline, "measure_clip", lambda *_, **__: made_measurement())
    return tmp_path / "set.mp4"


def test_stopped_while_encoding(
    clip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Numbers, stills and report are whole and stay; of the video there is nothing."""
    write = outputs.publish.write_video

    def stopped_on_the_way(measurement, frames, path, *, progress):
        def counted(t_s: float) -> None:
            progress(t_s)
            if t_s > 0.3:
                signal.raise_signal(signal.SIGINT)

        return write(measurement, frames, path, progress=counted)

    monkeypatch.setattr(outputs.publish, "write_video", stopped_on_the_way)

    stopped = said(capsys, "measure", clip, "--lift", "squat", "--out", tmp_path / "out")

    assert stopped.status == 1
    assert stopped.one_sentence() == STOPPED
    left = sorted(p.name for p in (tmp_path / "out").iterdir())
    assert left == ["body.npz", "measurement.json", "report.html", "stills"]
    assert "annotated.mp4" not in (tmp_path / "out" / "report.html").read_text()


def test_stopped_while_drawing_stills(
    clip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The still in hand is finished, no report is written."""
    draw = outputs.publish.still_picture

    def stopped(*given):
        signal.raise_signal(signal.SIGINT)
        return draw(*given)

    monkeypatch.setattr(outputs.publish, "still_picture", stopped)

    assert said(capsys, "measure", clip, "--lift", "squat", "--out", tmp_path / "out").status == 1
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["body.npz", "measurement.json", "stills"]
    assert all(p.read_bytes()[:2] == b"\xff\xd8" for p in (tmp_path / "out" / "stills").iterdir())


def test_stopped_twice(
    clip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A step that does not look at the event is cut short by the second Ctrl-C, with the same sentence."""

    def deaf(*_: object, **__: object) -> None:
        signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGINT)
        pytest.fail("went on")

    monkeypatch.setattr(pipeline, "measure_clip", deaf)

    stopped = said(capsys, "measure", clip, "--lift", "squat", "--out", tmp_path / "out")

    assert (stopped.status, stopped.one_sentence()) == (1, STOPPED)
    assert not (tmp_path / "out").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="signals to another process are different there")
def test_ctrl_c_as_a_program_of_its_own(tmp_path: Path) -> None:
    """While pip, slow to answer, is asked for the pose files: exit 1, the sentence, no folder, and soon."""
    write_clip(tmp_path / "set.mp4")
    slow = tmp_path / "slow"
    slow.mkdir()
    begun = slow / "begun"
    # stands in for pip in the child: says that it was asked, then waits
    (slow / "pip.py").write_text(f"import pathlib, time\npathlib.Path({str(begun)!r}).touch()\ntime.sleep(60)\n")
    env = environment(MIDFOOT_MODELS=str(tmp_path / "models"))
    env["PYTHONPATH"] = f"{slow}{os.pathsep}{env['PYTHONPATH']}"
    child = subprocess.Popen(
        [sys.executable, "-m", "midfoot", "measure", str(tmp_path / "set.mp4"), "--lift", "squat", "--out",
         str(tmp_path / "out")],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env, start_new_session=True,
    )  # fmt: skip
    try:
        deadline = time.monotonic() + 120
        while not begun.exists() and child.poll() is None and time.monotonic() < deadline:
            time.sleep(0.05)
        os.killpg(child.pid, signal.SIGINT)  # as a terminal does: to the whole group
        _, err = child.communicate(timeout=60)
    finally:
        if child.poll() is None:
            os.killpg(child.pid, signal.SIGKILL)

    assert err == f"midfoot: {STOPPED}\n"
    assert child.returncode == 1
    assert not (tmp_path / "out").exists()
