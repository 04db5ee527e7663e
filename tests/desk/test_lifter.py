"""A lifter over the weeks, from rows."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
import sqlalchemy as sa
from kept import DAY, NAME, OTHER, Filled, fill

from midfoot.desk.lifter import consents_of, countdown, course, everybody, measures_of, sets_of
from midfoot.desk.lifter_changes import changes_of
from midfoot.store import Workspace, tables


@pytest.fixture
def filled(workspace: Workspace) -> Filled:
    return fill(workspace)


def test_everybody_is_listed_who_sent_last_first(workspace: Workspace, filled: Filled) -> None:
    with workspace.write() as c:
        c.execute(tables.lifters.insert().values(name="Nobody Yet"))
    with workspace.read() as c:
        found = everybody(c)

    assert [(o.name, o.sets, o.open_changes, o.due_on) for o in found] == [
        (NAME, 2, 1, date(2031, 6, 14)), (OTHER, 1, 0, None), ("Nobody Yet", 0, 0, None),
    ]  # fmt: skip
    assert found[0].last_at == DAY + timedelta(days=21)


def test_sets_come_latest_first_with_what_was_measured(workspace: Workspace, filled: Filled) -> None:
    with workspace.write() as c:
        said = c.execute(sa.select(tables.sets.c.context).where(tables.sets.c.id == filled.sets[0])).scalar()
        c.execute(
            tables.sets.update().where(tables.sets.c.id == filled.sets[0]).values(context={**said, "rir": 2.0})
        )
        c.execute(
            tables.sets.insert().values(id="raw", lifter_id=filled.lifter, received_at=DAY - timedelta(days=1))
        )
    with workspace.read() as c:
        found = sets_of(c, filled.lifter)

    assert [(s.id, s.load_kg, s.reps, s.rpe) for s in found] == [
        (filled.sets[1], 105.0, 2, None), (filled.sets[0], 100.0, 2, 8.0), ("raw", None, None, None),
    ]  # fmt: skip


def test_a_measure_over_the_sets_is_one_query(workspace: Workspace, filled: Filled) -> None:
    asked: list[str] = []
    with workspace.read() as c:
        sa.event.listen(c.engine, "before_cursor_execute", lambda *a: asked.append(a[2]))
        found = course(c, filled.lifter, "squat", "path_departure_mm")

        assert len(asked) == 1
        assert [(p.set_id, p.at, p.load_kg, p.value, p.unit, p.view, p.apart) for p in found] == [
            (filled.sets[0], DAY, 100.0, 6.0, "mm", "side", ""),
            (filled.sets[1], DAY + timedelta(days=21), 105.0, 6.0, "mm", "side", ""),
        ]
        assert course(c, filled.lifter, "bench", "path_departure_mm") == ()
        assert course(c, filled.lifter, "squat", "squat_depth_mm") == ()
        assert course(c, filled.lifter, "squat", 'x"]; DROP TABLE sets; --') == ()
        assert measures_of(c, filled.lifter, "squat")["path_departure_mm"] == 2


def test_a_set_from_another_view_says_why_it_stands_apart(workspace: Workspace, filled: Filled) -> None:
    rows = tables.measurements
    with workspace.write() as c:
        numbers = c.execute(sa.select(rows.c.numbers).where(rows.c.clip_id == filled.clips[0])).scalar()
        numbers["view"] = {"class": "front", "yaw_deg": 88.0}
        c.execute(rows.update().where(rows.c.clip_id == filled.clips[0]).values(numbers=numbers))
    with workspace.read() as c:
        found = course(c, filled.lifter, "squat", "range_of_motion_mm")

    assert [p.apart for p in found] == ["filmed from the front and from the side", ""]


def test_changes_come_with_what_became_of_them(workspace: Workspace, filled: Filled) -> None:
    with workspace.write() as c:
        c.execute(tables.changes.insert().values(id="old", set_id=filled.sets[0],
                                                 lifter_id=filled.lifter, part_id="p", text="old",
                                                 state="held", opened_at=DAY))  # fmt: skip
        c.execute(tables.follow_ups.insert().values(change_id="change00000000z1", due_on=date(2031, 6, 7)))
    with workspace.read() as c:
        found = changes_of(c, filled.lifter)

    assert [(x.id, x.state, len(x.follow_ups), x.due_on) for x in found] == [
        ("change00000000z1", "open", 2, date(2031, 6, 7)), ("old", "held", 0, None),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("today", "days", "allows"),
    [
        (date(2031, 4, 26), 70, "one_change"),
        (date(2031, 4, 25), 71, ""),
        (date(2031, 6, 7), 28, "rules_first"),
        (date(2031, 6, 6), 29, "one_change"),
        (date(2031, 7, 5), 0, "rules_first"),
    ],
)
def test_days_until_the_competition(
    workspace: Workspace, filled: Filled, today: date, days: int, allows: str
) -> None:
    """Harbour Open on 5 July: 4 weeks before it only rules count, 10 weeks before it there is one change left."""
    with workspace.read() as c:
        card, said = countdown(c, filled.lifter, today), countdown(c, filled.other, today)

        assert card == said
        assert (card.days, card.allows, card.name) == (days, allows, "Harbour Open")
        assert countdown(c, filled.lifter, date(2031, 7, 6)) is None
        assert countdown(c, "nobody", today) is None


def test_consents_of_lifter_and_of_sets(workspace: Workspace, filled: Filled) -> None:
    with workspace.read() as c:
        assert {x["use"] for x in consents_of(c, filled.lifter)} == {
            "review",
            "public_page",
            "edition",
            "open_set",
        }
        assert [x["use"] for x in consents_of(c, filled.other)] == ["edition"]
