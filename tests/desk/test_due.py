"""From a published review to the next: what is due, what to ask for, the set that answers, the verdict said first.

The records are those measured from the bundled squat; the later set is the same one with a part of the fault taken
away, so that what the figures must say is known.
"""

from __future__ import annotations

import json
import math
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from attrs import evolve
from desk_reviews import SAID, add_lifter, add_set, squat
from desk_sets import put_measured

from midfoot.desk import reviewing
from midfoot.desk.due import due_of, match, window_of
from midfoot.desk.lifter_changes import changes_of
from midfoot.desk.overruling import FollowUpError, say_verdict
from midfoot.desk.review_sources import sources_of
from midfoot.records.measures import Measurement
from midfoot.store import Workspace, to_json
from midfoot.store.columns import now
from midfoot.store.tables import changes, clips, follow_ups, lifters, measurements, sets

OUT = now().date() - timedelta(days=20)
LATER = now().date() + timedelta(days=1)


def looked_through(workspace: Workspace, set_id: str) -> None:
    """A coach who keeps the draft and answers himself what no measurement answers."""
    edits: list[dict[str, Any]] = []
    for k, part in enumerate(c.part for g in reviewing.opened(workspace, set_id).groups for c in g.waiting):
        seen = {"part": part.id, "reps": list(part.reps), "at_s": list(part.at_s)}
        if part.needs_words:
            said = {"kind": "reword", "text": "As I see it, yes.", **seen}
            edits += [{"id": f"w{k}{length}", "length": length, **said} for length in ("lifter", "on_air")]
        else:
            edits.append({"id": f"k{k}", "kind": "keep", "saw": part.wording_key, **seen})
    reviewing.add_edits(workspace, set_id, edits)
    assert reviewing.unseen(workspace, set_id) == ()


def published(workspace: Workspace, set_id: str, on: date) -> None:
    looked_through(workspace, set_id)
    reviewing.published(workspace, set_id, on=on)


@pytest.fixture
def first(workspace: Workspace) -> str:
    """The bundled squat, three weeks old, its review published."""
    set_id, _ = put_measured(workspace, "squat", days_ago=21.0, lifter="Runa Tveit")
    published(workspace, set_id, OUT)
    return set_id


def rows(workspace: Workspace, table: sa.Table) -> list[Any]:
    with workspace.read() as connection:
        return list(connection.execute(sa.select(table)))


def less(found: Measurement, measure: str, share: float) -> Measurement:
    """The same set with so much of every difference to its best rep taken away from a measure."""
    best = found.measured.best_rep or 1
    at = next(k for k, r in enumerate(found.data.reps.reps) if r.n == best)
    base = found.measured.of(at, measure)
    assert base is not None
    assert base.value is not None
    made = tuple(
        tuple(
            evolve(m, value=base.value + (1 - share) * (m.value - base.value))
            if m.id == measure and m.value is not None else m
            for m in row
        )
        for row in found.measured.reps
    )  # fmt: skip
    return evolve(found, measured=evolve(found.measured, reps=made))


def again(workspace: Workspace, first: str, share: float, measure: str, **more: Any) -> str:
    """The next set of the same lifter, filmed alike, with so much less of a fault."""
    set_id, clip_id = put_measured(workspace, "squat", days_ago=1.0, lifter="Runa Tveit", **more)
    before = sources_of(workspace, first).measurement
    with workspace.read() as connection:
        folder = connection.execute(
            sa.select(measurements.c.folder).where(measurements.c.clip_id == clip_id)
        ).scalar_one()
    write(less(before, measure, share), workspace.path / folder)
    return set_id


def write(measurement: Measurement, folder: Path) -> None:
    (folder / "measurement.json").write_text(json.dumps(to_json(measurement)))


def predicted(workspace: Workspace, first: str) -> Any:
    """A change of the first review that foretells a measure held against another rep."""
    return next(
        r for r in rows(workspace, changes)
        if r.set_id == first and (r.prediction or {}).get("measure") and r.prediction.get("against_rep")
    )  # fmt: skip


def test_the_whole_way_of_a_change_that_held(workspace: Workspace, first: str) -> None:
    """Due, asked for, answered by a set of which nearly all of the fault is gone, said first, closed, on the page
    of the lifter; nothing is due any more of what was answered."""
    change = predicted(workspace, first)
    with workspace.read() as connection:
        due = due_of(connection, [first], LATER)[first]
    assert change.text in due.texts
    assert any(due.foretold)
    assert due.on == OUT + timedelta(days=14)
    assert (due.later, due.asked_at) == (None, None)

    later = again(workspace, first, 0.97, change.prediction["measure"])
    found = {v.change_id: v for v in match(workspace, later)}
    told = found[change.id]
    assert (told.verdict, told.by, told.alike) == ("held", "measured", True)
    assert told.figures is not None
    assert told.figures["found"] == pytest.approx(2 * told.figures["foretold"], rel=0.15)  # half was foretold
    with workspace.read() as connection:
        due = due_of(connection, [first], LATER)[first]
    assert due.later == later
    assert "held" in due.verdicts
    assert match(workspace, later) == tuple(found.values())
    assert len([r for r in rows(workspace, follow_ups) if r.set_id == later]) == len(found)

    opened = reviewing.opened(workspace, later)
    assert opened.groups[0].section == "since"
    assert any(c.part.about == told.about for c in opened.groups[0].cards)
    published(workspace, later, date.today())
    state = {r.id: r for r in rows(workspace, changes)}[change.id]
    assert (state.state, state.closed_at is not None) == ("held", True)
    with workspace.read() as connection:
        lifter_id = connection.execute(sa.select(lifters.c.id)).scalar_one()
        of = {c.id: c for c in changes_of(connection, lifter_id)}[change.id]
        still = due_of(connection, [first], LATER)
    assert change.text not in (still[first].texts if first in still else ())
    look = next(f for f in of.follow_ups if f.set_id == later)
    assert (look.verdict, look.by, look.overruled) == ("held", "measured", "")
    assert look.done_at is not None
    assert "where" in look.why
    assert "foretold" in look.why


def test_the_same_set_again_shows_that_nothing_came_of_it(workspace: Workspace, first: str) -> None:
    """Nothing less of it: not held where that is clear, else not to be told; never held."""
    change = predicted(workspace, first)
    later = again(workspace, first, 0.0, change.prediction["measure"])
    told = {v.change_id: v for v in match(workspace, later)}[change.id]

    assert told.figures is not None
    assert told.figures["found"] == pytest.approx(0.0, abs=1e-9)
    spread = math.hypot(told.figures["found_sd"], told.figures["foretold_sd"])
    clear = told.figures["foretold"] > 1.96 * spread  # two-sided 95 % of the normal law
    assert told.verdict == ("not_held" if clear else "cannot_tell")


def test_a_set_too_unlike_answers_nothing(workspace: Workspace, first: str) -> None:
    """Another load, an effort more than a point apart, another lifter, or not confirmed yet: the message stays."""
    change = predicted(workspace, first)
    measure = change.prediction["measure"]
    later = again(workspace, first, 0.9, measure)
    with workspace.write() as connection:
        row = connection.execute(sa.select(sets).where(sets.c.id == later)).one()
        connection.execute(sets.update().where(sets.c.id == later).values(context_confirmed=False))
    assert match(workspace, later) == ()
    with workspace.write() as connection:
        said = {**row.context, "load_kg": row.load_kg * 0.8}
        values = {"context": said, "load_kg": row.load_kg * 0.8, "context_confirmed": True}
        connection.execute(sets.update().where(sets.c.id == later).values(**values))
    assert match(workspace, later) == ()
    with workspace.write() as connection:
        values = {"context": {**row.context, "rpe": 9.5}, "load_kg": row.load_kg}
        connection.execute(sets.update().where(sets.c.id == later).values(**values))
    assert match(workspace, later) == ()
    with workspace.write() as connection:
        values = {"context": row.context, "lifter_id": None}
        connection.execute(sets.update().where(sets.c.id == later).values(**values))
    assert match(workspace, later) == ()
    with workspace.write() as connection:
        connection.execute(sets.update().where(sets.c.id == later).values(lifter_id=row.lifter_id))
    assert change.id in {v.change_id for v in match(workspace, later)}
    assert rows(workspace, clips)


def test_against_the_figures_only_with_a_reason_which_is_kept(workspace: Workspace) -> None:
    """What the figures said stands beside the coach's word, on the lifter's page too, and comes back with it."""
    lifter = add_lifter(workspace)
    one = add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=lifter)
    looked_through(workspace, one)
    reviewing.published(workspace, one, on=date(2031, 5, 2))
    later = add_set(workspace, squat(reps=5, forward_mm=8.0), lifter_id=lifter, day=20, name="b")
    told = next(v for v in match(workspace, later) if v.verdict == "held")

    with pytest.raises(FollowUpError, match="figures say that it held; say in a few words"):
        say_verdict(workspace, later, told.change_id, "not_held", "  ")
    say_verdict(workspace, later, told.change_id, "held")
    say_verdict(workspace, later, told.change_id, "not_held", "the pins caught it")
    looked_through(workspace, later)
    reviewing.published(workspace, later, on=date(2031, 5, 21))
    with workspace.read() as connection:
        of = {c.id: c for c in changes_of(connection, lifter)}[told.change_id]
    look = next(f for f in of.follow_ups if f.set_id == later)
    assert (of.state, look.verdict, look.by, look.why) == ("not_held", "not_held", "coach", "the pins caught it")
    assert "where" in look.overruled

    say_verdict(workspace, later, told.change_id, "")
    back = next(v for v in reviewing.opened(workspace, later).verdicts if v.change_id == told.change_id)
    assert (back.verdict, back.by) == ("held", "measured")


def test_measured_again_a_set_may_answer_otherwise_and_the_coach_s_word_stays(workspace: Workspace) -> None:
    """The figures' row is written anew; what he said himself is not touched."""
    lifter = add_lifter(workspace)
    one = add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=lifter)
    looked_through(workspace, one)
    reviewing.published(workspace, one, on=date(2031, 5, 2))
    later = add_set(workspace, squat(reps=5, forward_mm=8.0), lifter_id=lifter, day=20, name="b")
    held = {v.change_id for v in match(workspace, later) if v.verdict == "held"}
    assert len(held) == 2
    mine = min(held)
    say_verdict(workspace, later, mine, "not_held", "seen live")
    with workspace.write() as connection:
        connection.execute(sets.update().where(sets.c.id == later).values(context_confirmed=True))
    match(workspace, later)

    kept = {r.change_id: r for r in rows(workspace, follow_ups) if r.set_id == later}
    assert kept[mine].verdict == "not_held"
    assert kept[mine].detail["measured"]["verdict"] == "held"
    assert {kept[c].verdict for c in held - {mine}} == {"held"}
    assert SAID.load_kg == 100.0


def test_what_is_asked_for_can_be_put_on_a_bar() -> None:
    """A tenth to either side, rounded inward to half kilos or whole pounds; efforts end at 10."""
    kg = window_of("side", 82.5, "kg", 8.0)
    lb = window_of("unknown", 225 * 0.45359237, "lb", 9.5)

    assert kg.loads == (74.5, 90.5)  # 74.25 to 90.75
    assert (kg.efforts, kg.missing) == ((7.0, 9.0), ())
    assert lb.loads == (203.0, 247.0)  # 202.5 to 247.5
    assert (lb.efforts, lb.view) == ((8.5, 10.0), "")
    assert window_of("side", None, "kg", None).missing == ("its load", "how hard it was")
