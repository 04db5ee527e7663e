"""Where a review's frames come from, and that stills, overlays, page, print and video are written whole."""

from __future__ import annotations

import hashlib
import threading
from pathlib import Path

import av
import numpy as np
import pytest
from attrs import evolve
from clips import write_clip
from review.made import measured

from midfoot import footage, review
from midfoot.records.context import Context
from midfoot.records.measures import Measurement, Step
from midfoot.records.review import Script
from midfoot.review_pictures import reading_of, source_of, write_pages
from midfoot.reviewing import Reviewed
from midfoot.store import StoreError


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eight seconds at ten frames a second, as wide as the made set says."""
    path = tmp_path_factory.mktemp("clip") / "made.mp4"
    grey = np.full((480, 640, 3), 120, np.uint8)
    write_clip(path, times_s=np.arange(80) / 10, size=(640, 480), pictures=[grey] * 80)
    return path


def of_clip(clip: Path, **parameters: object) -> Measurement:
    """The made set as if it had been measured from this clip."""
    one = measured("squat", ("squat_bar_forward",), Context(safeties="pins", rpe=8.0))
    info = evolve(one.data.clip, name=clip.name, sha256=hashlib.sha256(clip.read_bytes()).hexdigest())
    return evolve(one, data=evolve(one.data, clip=info), steps=(Step("footage", "1", parameters),))


def done_of(one: Measurement) -> Reviewed:
    found = review.apply(review.draft_of(one, review.load_library()), ())
    script = review.script_of(found, review.moment_words(one))
    short = Script(lines=script.lines[:3], words=40, seconds=9.0)
    return Reviewed(measurement=one, review=found, script=short, edits=(), before=())


def test_the_clip_is_known_by_its_hash(clip: Path, tmp_path: Path) -> None:
    """Named, beside the folder, or not there; another file of that name is not taken for it."""
    one = of_clip(clip)
    folder = tmp_path / "set"
    folder.mkdir()

    assert source_of(folder, one, None) is None
    (folder / "annotated.mp4").write_bytes(clip.read_bytes())
    assert source_of(folder, one, None) is None  # it carries the coach's figures
    named = source_of(folder, one, clip)
    assert named is not None
    assert named.path == clip
    (tmp_path / clip.name).write_bytes(b"another")
    assert source_of(folder, one, None) is None
    (tmp_path / clip.name).write_bytes(clip.read_bytes())
    beside = source_of(folder, one, None)
    assert beside is not None
    assert beside.path == tmp_path / clip.name
    with pytest.raises(StoreError, match="not the clip that was measured"):
        source_of(folder, evolve(one, data=evolve(one.data, clip=evolve(one.data.clip, sha256="1" * 64))), clip)
    with pytest.raises(StoreError, match="no clip"):
        source_of(folder, one, tmp_path / "none.mp4")


def test_the_clip_is_read_as_it_was_measured(clip: Path) -> None:
    """Part, mirror and speed stand in the measurement's provenance."""
    reading = reading_of(of_clip(clip, from_s=1.5, to_s=6.0, mirrored=True, real_speed=2.0))

    assert (reading.from_s, reading.to_s, reading.mirrored, reading.real_speed) == (1.5, 6.0, True, 2.0)
    assert reading_of(of_clip(clip)).real_speed == 1.0


@pytest.mark.footage
def test_everything_is_written_from_the_clip(clip: Path, tmp_path: Path) -> None:
    """Stills, overlays in the clip's size, page, print, video as long as the script; nothing half-written."""
    one = of_clip(clip)
    source = source_of(tmp_path, one, clip)
    assert source is not None
    told: list[str] = []

    files = write_pages(done_of(one), tmp_path, source, tell=lambda step, _share: told.append(step))

    assert {"review.html", "review.pdf", "review.vtt", "review.srt", "review.mp4", "coach.html"} <= set(files)
    stills = sorted(p.name for p in (tmp_path / "review").iterdir())
    assert "change-squat-bar-forward-rep02.jpg" in stills
    assert "change-squat-bar-forward-rep02-overlay.png" in stills
    assert 'src="review.mp4"' in (tmp_path / "review.html").read_text()
    with av.open(str(tmp_path / "review.mp4")) as video:
        assert float(video.duration / av.time_base) == pytest.approx(9.0, abs=0.6)
    with av.open(str(tmp_path / "review" / "change-squat-bar-forward-rep02-overlay.png")) as picture:
        stream = picture.streams.video[0]
        assert (stream.width, stream.height) == (640, 480)
    assert set(told) == {"drawing stills", "encoding the video"}
    assert [p for p in tmp_path.rglob(".*")] == []


def test_without_frames_the_words_are_written_alone(clip: Path, tmp_path: Path) -> None:
    """And a video of an earlier review goes: it would speak of other things."""
    (tmp_path / "review.mp4").write_bytes(b"old")

    files = write_pages(done_of(of_clip(clip)), tmp_path, None, tell=lambda *_: None)

    assert "review.html" in files
    assert not (tmp_path / "review.mp4").exists()
    assert not (tmp_path / "review").exists()


def test_stopping_leaves_whole_files_only(clip: Path, tmp_path: Path) -> None:
    stop = threading.Event()
    stop.set()
    one = of_clip(clip)

    with pytest.raises(footage.Stopped):
        write_pages(done_of(one), tmp_path, source_of(tmp_path, one, clip), tell=lambda *_: None, stop=stop)

    assert [p for p in tmp_path.rglob(".*")] == []
    assert not (tmp_path / "review.mp4").exists()
