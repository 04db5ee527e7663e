"""The demo's workspace, from a small clip and a set made from formulas: everything that it promises is in it."""

from __future__ import annotations

import threading
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import sqlalchemy as sa
from clips import write_clip
from desk_reviews import SAID, add_lifter, add_set, squat
from sets import made_measurement

from midfoot import pipeline
from midfoot.desk import demo, reviewing
from midfoot.desk.asked_changes import DUE_DAYS
from midfoot.desk.confirming import reading_of
from midfoot.jobs import look_child
from midfoot.outputs import write_numbers
from midfoot.records.context import Context
from midfoot.review.library import sentences
from midfoot.store import Workspace
from midfoot.store.columns import now
from midfoot.store.tables import clips, follow_ups, jobs, lifters, measurements, publications, sets


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
    assert len(set(people)) == len(people) == 6
    assert "no readable index" in broken.error
    assert reading.pasted is not None
    assert (pain.lift, pain.context_confirmed, reading.pasted.name) == ("squat", False, "Ines Falk")
    assert waiting.count("queued") == 2


def test_it_holds_what_was_asked_for() -> None:
    """Fourteen sets over weeks, two reviews that go out, and of each of their lifters a later set to judge by."""
    assert len(demo.KEPT) + len(demo.NEW) + 1 == 14
    assert max(k.days_ago for k in demo.KEPT) > 28
    out = [k for k in demo.KEPT if k.publish]
    assert len(out) == 2
    for one in out:
        later = [
            k for k in demo.KEPT if (k.lifter, k.name) == (one.lifter, one.name) and k.days_ago < one.days_ago
        ]
        assert any(one.days_ago - k.days_ago >= DUE_DAYS for k in later), one.lifter
    parts = [(k.name, k.reps) for k in demo.KEPT]
    assert len(set(parts)) == len(parts), "the same film twice is one set"


def test_what_the_coach_says_himself_is_said_once_and_left_out_where_he_has_no_words(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two cards wait for his words and he has one sentence: it answers the first, the other is dropped."""

    def card(part_id: str, *, needs_words: bool) -> object:
        part = SimpleNamespace(id=part_id, reps=(), at_s=(), needs_words=needs_words, wording_key="k")
        return SimpleNamespace(part=part)

    cards = [card("asked:question", needs_words=True), card("good:held", needs_words=False),
             card("asked:working_on_1", needs_words=True)]  # fmt: skip
    monkeypatch.setattr(demo, "opened", lambda *_: SimpleNamespace(groups=[SimpleNamespace(waiting=cards)]))

    edits = demo._looked_through(workspace, "00", ("It looks calm to me.",))

    assert [(e["part"], e["kind"], e.get("text")) for e in edits if e.get("length", "lifter") == "lifter"] == [
        ("asked:question", "reword", "It looks calm to me."), ("good:held", "keep", None),
        ("asked:working_on_1", "drop", None),
    ]  # fmt: skip
    said = [s for k in demo.KEPT for words in k.own_words for s in sentences(words)]
    assert len(set(said)) == len(said)


def test_a_review_is_put_back_to_the_day_on_which_it_went_out(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Out a day after the set came, its changes due two weeks later; the page itself is built elsewhere."""
    lifter = add_lifter(workspace, "Runa Tveit")
    set_id = add_set(workspace, squat(reps=5, short_mm=25.0), SAID, lifter_id=lifter)

    def publish(*_: object) -> None:
        with workspace.write() as connection:
            row = publications.insert().values(set_id=set_id, token=set_id, folder="l", kind="lifter")
            connection.execute(row)
        reviewing.published(workspace, set_id)

    monkeypatch.setattr(demo, "_work", publish)
    one = next(k for k in demo.KEPT if k.publish)
    demo._publish(workspace, set_id, one, threading.Event())

    assert reviewing.unseen(workspace, set_id) == ()
    with workspace.read() as connection:
        out = connection.execute(sa.select(publications.c.published_at)).scalar_one()
        due = connection.execute(sa.select(follow_ups.c.due_on)).scalars().all()
    assert abs(now() - out - timedelta(days=one.days_ago - 1)) < timedelta(minutes=1)
    assert due
    assert set(due) == {out.date() + timedelta(days=DUE_DAYS)}
