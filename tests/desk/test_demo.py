"""The demo's workspace, from a small clip and a set made from formulas: everything that it promises is in it."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from clips import write_clip
from sets import made_measurement

from midfoot import pipeline
from midfoot.desk import demo
from midfoot.desk.confirming import reading_of
from midfoot.jobs import look_child
from midfoot.outputs import write_numbers
from midfoot.records.context import Context
from midfoot.store import Workspace
from midfoot.store.columns import now
from midfoot.store.tables import clips, jobs, lifters, measurements, sets


def test_it_is_filled_and_made_again_starts_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The bundled set is measured once, by whoever made the folder; the older one here; what is new waits."""
    clip, folder = tmp_path / "squat.mp4", tmp_path / "squat"
    write_clip(clip, times_s=np.arange(240) / 30)
    folder.mkdir()
    write_numbers(made_measurement(), folder)
    asked: list[pipeline.Request] = []

    def measure(request: pipeline.Request, **_: object):
        asked.append(request)
        return made_measurement()

    monkeypatch.setattr(pipeline, "measure_clip", measure)
    monkeypatch.setattr("midfoot.jobs.measure.write_pictures", lambda *_: None)
    # the look itself is real; its own process, which costs a second a clip, is tested where it belongs
    monkeypatch.setattr("midfoot.jobs.look.looked", lambda clip, out, *_: look_child.look(clip, out))
    said = Context(lift="squat", load_kg=80.0, reps=5, rpe=8.0, safeties="pins", question="Is it the legs?")
    with demo.fresh(tmp_path / "workspace") as workspace:
        assert demo.fill(workspace, {"squat": (clip, folder, said)}, publish=False) == []
        _is_whole(workspace, asked)
    with demo.fresh(tmp_path / "workspace") as again, again.read() as connection:
        assert connection.execute(sa.select(sets.c.id)).all() == []


def _is_whole(workspace: Workspace, asked: list[pipeline.Request]) -> None:
    with workspace.read() as connection:
        rows = connection.execute(sa.select(sets).order_by(sets.c.received_at)).all()
        people = connection.execute(sa.select(lifters.c.name)).scalars().all()
        broken = connection.execute(sa.select(clips).where(clips.c.received_name == demo.BROKEN)).one()
        pain = next(r for r in rows if "knee" in r.pasted_text)
        reading = reading_of(connection, pain.id)
        waiting = connection.execute(sa.select(jobs.c.state).where(jobs.c.kind == "measure")).scalars().all()
        assert len(connection.execute(sa.select(measurements.c.id)).all()) == 2

    assert [r.asked.load_kg for r in asked] == [75.0]
    assert [(r.lift, r.state, r.load_kg) for r in rows[:1]] == [("squat", "ready", 75.0)]
    assert now() - rows[0].received_at > timedelta(days=20)
    assert people == ["Runa Tveit"], "who sent the new ones is for the coach to confirm"
    assert "no readable index" in broken.error
    assert reading.pasted is not None
    assert (pain.lift, pain.context_confirmed, reading.pasted.name) == ("squat", False, "Ines Falk")
    assert waiting.count("queued") == 2
