"""Takes in a workspace: kept once, their sound gone with them, videos made by the worker's own function."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
import traces
from sets import made_measurement
from shown_sets import add_shown, varying
from tests.publish.test_take_video import tone

from midfoot.desk import takes, takes_video
from midfoot.desk.takes import TakesError
from midfoot.store import Workspace
from midfoot.store.tables import blobs
from midfoot.store.tables import takes as rows

TIMES = varying(60)
EVENTS: list[dict[str, Any]] = [
    {"kind": "seek", "at_s": 0.0, "t_s": 0.3},
    {"kind": "play", "at_s": 0.4, "t_s": 0.3, "rate": 0.5},
    {"kind": "mark", "at_s": 1.0, "t_s": 0.6, "rate": 0.5,
     "mark": {"id": "v1", "meaning": "where", "at_s": 0.6, "rep": 1, "points_px": [[200, 100]]}},
]  # fmt: skip


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[Workspace, str]]:
    with Workspace.create(tmp_path / "workspace") as workspace:
        set_id, _ = add_shown(workspace, made_measurement(), TIMES)
        yield workspace, set_id


def record(workspace: Workspace, set_id: str, tmp_path: Path, seconds: float, **more: Any) -> str:
    take = takes.add(workspace, set_id, name=more.pop("name", ""), duration_s=seconds, events=EVENTS, **more)
    sha256 = workspace.blobs.put(tone(tmp_path / f"{take}.ogg", seconds, 300.0 + seconds))
    takes.keep_sound(workspace, take, sha256, "audio/ogg")
    return take


def test_a_take_sent_twice_is_kept_once(desk: tuple[Workspace, str], tmp_path: Path) -> None:
    workspace, set_id = desk
    first = takes.add(workspace, set_id, name="a1", duration_s=2.0, events=EVENTS)
    assert takes.add(workspace, set_id, name="a1", duration_s=2.0, events=EVENTS) == first
    assert takes.state(workspace, set_id)["without_sound"] == [{"id": first, "n": 1}]


def test_deleting_a_take_deletes_its_sound_and_what_it_replaced_stands_again(
    desk: tuple[Workspace, str], tmp_path: Path
) -> None:
    workspace, set_id = desk
    ground = record(workspace, set_id, tmp_path, 3.0)
    again = record(workspace, set_id, tmp_path, 1.0, again=(1.0, 2.0))
    assert [w["take"] for w in takes.state(workspace, set_id)["whole"]] == [ground, again, ground]
    with workspace.read() as connection:
        sha256 = connection.execute(sa.select(rows.c.audio_sha256).where(rows.c.id == again)).scalar_one()
    path = workspace.blobs.path(sha256)
    assert path.is_file()

    takes.delete(workspace, again)

    assert not path.exists()
    assert [w["take"] for w in takes.state(workspace, set_id)["whole"]] == [ground]
    with workspace.read() as connection:
        row = connection.execute(sa.select(rows).where(rows.c.id == again)).one()
        assert row.audio_sha256 is None
        assert row.events == []
        assert connection.execute(sa.select(blobs.c.gone_at).where(blobs.c.sha256 == sha256)).scalar() is not None
    takes.delete(workspace, ground)
    assert takes.state(workspace, set_id)["takes"] == []


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"events": [{"kind": "dance", "at_s": 0, "t_s": 0}]}, "event 1"),
        ({"events": [{"kind": "play", "at_s": 0, "t_s": 0, "secret": 1}]}, "event 1"),
        ({"events": list(reversed(EVENTS))}, "in order"),
        ({"duration_s": -1.0}, "duration_s"),
        ({"again": (0.0, 1.0)}, "no voice-over yet"),
    ],
)
def test_what_is_no_take_is_refused(desk: tuple[Workspace, str], more: dict[str, Any], words: str) -> None:
    workspace, set_id = desk
    with pytest.raises(TakesError, match=words):
        takes.add(workspace, set_id, **{"name": "x", "duration_s": 2.0, "events": EVENTS, **more})
    assert takes.state(workspace, set_id)["takes"] == []


def test_a_file_without_sound_is_refused(desk: tuple[Workspace, str]) -> None:
    workspace, set_id = desk
    take = takes.add(workspace, set_id, name="x", duration_s=2.0, events=EVENTS)
    with pytest.raises(TakesError, match="no sound"):
        takes.keep_sound(workspace, take, workspace.blobs.put([b"not a recording"]), "audio/ogg")


@pytest.mark.footage
def test_the_videos_are_made_once_and_again_after_a_new_take(desk: tuple[Workspace, str], tmp_path: Path) -> None:
    workspace, set_id = desk
    record(workspace, set_id, tmp_path, 2.0)
    told: list[tuple[str, float]] = []
    files = takes_video.make(workspace, set_id, tell=lambda *a: told.append(a))
    folder = workspace.review(set_id)
    assert all((folder / name).stat().st_size > 0 for name in files)
    assert [c for name in files for c in traces.complaints(folder / name)] == []
    assert told[-1][0] == "making the video"
    before = {name: (folder / name).stat().st_mtime_ns for name in files}
    takes_video.make(workspace, set_id, tell=lambda *_: None)
    assert {name: (folder / name).stat().st_mtime_ns for name in files} == before
    record(workspace, set_id, tmp_path, 1.0, again=(0.5, 1.0))
    takes_video.make(workspace, set_id, tell=lambda *_: None)
    after = {name: (folder / name).stat().st_mtime_ns for name in files}
    assert all(after[name] != before[name] for name in files)
    assert np.isfinite(takes.state(workspace, set_id)["length_s"])
    with Workspace.create(tmp_path / "other") as other, pytest.raises(Exception, match=r"no|nothing"):
        takes_video.make(other, "00", tell=lambda *_: None)
