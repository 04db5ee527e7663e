"""The archive over all sets: counted by hand, whatever the order and the unit; a threshold taken and undone."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
import sqlalchemy as sa
from desk_archive import fill
from desk_reviews import add_lifter, add_set, squat

from midfoot.desk import reviewing
from midfoot.desk.agreement import FEWEST_CASES, Share, wrong_at
from midfoot.desk.archive import Filters, case_rows, overview
from midfoot.desk.archive_time import over_time, periods_of
from midfoot.desk.cases import OWN_WORDS
from midfoot.desk.gathering import gather
from midfoot.desk.own_floors import own_floor
from midfoot.desk.suggesting import NOT_OF_SIZE, Suggestion, SuggestionError, suggestions, take, taken, undo
from midfoot.findings import defaults
from midfoot.findings.look import CLEAR_SDS, LIKELY_SHARE
from midfoot.store import Workspace
from midfoot.store.tables import audit, cases, clips, measurements, sets
from midfoot.web.pages.review import QUICK_REASONS

FORWARD = "squat_bar_forward"
DRIFT = defaults()["forward_drift"]


def put(
    workspace: Workspace, size: float, decision: str, *, reason: str = "", day: int = 1, view: str = "side",
    finding: str = FORWARD, judged: str | None = FORWARD, load_kg: float = 100.0, confidence: str = "sure",
    sd: float = 1.0, times: float = 1.0, lift: str = "squat",
) -> str:  # fmt: skip
    """A measured set with one case."""
    with workspace.write() as connection:
        if connection.execute(sa.text("SELECT count(*) FROM blobs")).scalar() == 0:
            connection.execute(sa.text("INSERT INTO blobs (sha256, bytes, created_at) VALUES (:s, 1, :t)"),
                               {"s": "a" * 64, "t": "2031-05-01T00:00:00.000000Z"})  # fmt: skip
        at = datetime(2031, 1 + day // 28, 1 + day % 28, 12, tzinfo=UTC)
        made = connection.execute(sets.insert().values(lift=lift, load_kg=load_kg, received_at=at))
        set_id = str(made.inserted_primary_key[0])
        clip = connection.execute(clips.insert().values(set_id=set_id, sha256="a" * 64)).inserted_primary_key[0]
        connection.execute(sets.update().where(sets.c.id == set_id).values(main_clip_id=clip))
        connection.execute(
            measurements.insert().values(clip_id=clip, input_key="k", folder="nowhere", judged=judged, view=view)
        )
        if size:
            connection.execute(
                cases.insert().values(
                    set_id=set_id, part_id=f"change:{finding}", finding=finding, threshold="forward_drift",
                    unit="mm", size=size, sd=sd, times_floor=times, confidence=confidence, view=view,
                    decision=decision, reason=reason, rep=2, at_s=3.5,
                )
            )  # fmt: skip
    return set_id


def over(workspace: Workspace, **more: Any) -> dict[str, Any]:
    with workspace.read() as connection:
        return {f.finding: f for f in overview(connection, Filters(**more)).found}


def suggested(workspace: Workspace) -> Suggestion:
    with workspace.read() as connection:
        return suggestions(connection, workspace, FORWARD)[0]


def test_where_it_could_not_be_judged_a_set_does_not_count(workspace: Workspace) -> None:
    """Seen in 2 of the 3 in which it could be; a hint is no sighting; one from the front is none of them."""
    put(workspace, 30.0, "kept")
    put(workspace, 22.0, "dropped", reason="not now")
    put(workspace, 10.0, "open", confidence="hint")
    put(workspace, 0.0, "", judged="squat_knees_in", view="front")
    found = over(workspace)

    assert found[FORWARD].seen == Share(2, 3)
    assert (found[FORWARD].hints, found[FORWARD].open) == (1, 0)
    assert found[FORWARD].agreed == Share(1, 2)
    assert found["squat_knees_in"].seen == Share(0, 1)
    assert found["squat_knees_in"].agreed.value is None
    assert set(over(workspace, view="front")) == {"squat_knees_in"}


def test_accepted_and_not_looked_at_say_nothing_of_agreement(workspace: Workspace) -> None:
    """Kept or reworded of kept, reworded and dropped: 2 of 3."""
    for decision in ("kept", "reworded", "dropped", "accepted", "open"):
        put(workspace, 30.0, decision)

    assert over(workspace)[FORWARD].agreed == Share(2, 3)
    assert over(workspace)[FORWARD].seen == Share(5, 5)


def test_filters_look_at_what_they_say(workspace: Workspace) -> None:
    """By load, day, lift, view and what was done; days and loads with their ends."""
    first = put(workspace, 30.0, "kept", day=0, load_kg=100.0)
    second = put(workspace, 31.0, "dropped", day=9, load_kg=140.0, view="front_oblique")
    with workspace.read() as connection:

        def of(**more: Any) -> list[str]:
            return [r.set_id for r in case_rows(connection, Filters(**more))]

        assert of() == [second, first]
        assert of(least_kg=100.0, most_kg=120.0) == [first]
        assert of(since=date(2031, 1, 10)) == of(since=date(2031, 1, 2), until=date(2031, 1, 10)) == [second]
        assert of(until=date(2031, 1, 1)) == [first]
        assert of(view="front_oblique") == of(did="dropped") == [second]
        assert of(did="judged", lift="squat") == [second, first]
        assert of(lift="bench") == []
        assert [r.set_id for r in case_rows(connection, Filters(), start=1, limit=1)] == [first]


def test_counts_are_those_of_going_through_every_row(workspace: Workspace) -> None:
    """Four hundred sets by chance: every count as plain Python finds it, with a filter and without."""
    fill(workspace)
    for filters in (Filters(), Filters(lift="bench"), Filters(least_kg=90.0, most_kg=150.0, view="side")):
        with workspace.read() as connection:
            found = overview(connection, filters)
            rows = [r for r in case_rows(connection, filters) if r.by == "measured"]
            of = {s.id: s for s in connection.execute(sa.select(sets))}
            clip_of = {s.main_clip_id: s for s in of.values()}
            judged = [
                m.judged.split() for m in connection.execute(sa.select(measurements))
                if (s := clip_of[m.clip_id]) and (not filters.lift or s.lift == filters.lift)
                and (filters.least_kg is None or filters.least_kg <= s.load_kg <= (filters.most_kg or 0))
                and filters.view in ("", m.view)
            ]  # fmt: skip
        assert found.measured == len(judged)
        assert found.not_noted == 0
        for one in found.found:
            mine = [r for r in rows if r.finding == one.finding]
            assert one.seen == Share(
                sum(r.confidence != "hint" for r in mine), sum(one.finding in j for j in judged)
            )
            for did in ("kept", "reworded", "dropped", "accepted"):
                assert getattr(one, did) == sum(r.decision == did for r in mine)
            assert one.hints == sum(r.confidence == "hint" for r in mine)


def test_time_is_told_by_month_and_by_longer_stretches_where_months_are_many(workspace: Workspace) -> None:
    """Nothing is lost in joining; the last quarter of a year is named by its months."""
    months = [(date(2029 + k // 12, k % 12 + 1, 1), 1, 2) for k in range(20)]
    joined = periods_of(months)

    assert [p.name for p in periods_of(months[:2])] == ["Jan 2029", "Feb 2029"]
    assert joined[3].name == "Oct-Dec 2029"
    assert sum(p.agreed.of for p in joined) == 40
    assert len(periods_of([(date(2000 + k, 5, 1), 1, 1) for k in range(9)] * 4)) == 9
    put(workspace, 30.0, "kept", day=2)
    put(workspace, 30.0, "dropped", day=3)
    put(workspace, 30.0, "reworded", day=40)
    with workspace.read() as connection:
        assert [(p.name, p.agreed) for p in over_time(connection, Filters(finding=FORWARD))] == [
            ("Jan 2031", Share(1, 2)), ("Feb 2031", Share(1, 1)),
        ]  # fmt: skip


def test_a_threshold_is_suggested_from_enough_cases_of_both_kinds(workspace: Workspace) -> None:
    """Dropped to 20 mm, kept from 24: a draft says it from 22 on. What was dropped for another reason is no case;
    an oblique case of twice the size is one of its half."""
    for k in range(FEWEST_CASES):
        put(workspace, 13.0 + k, "dropped", reason="not sure enough", day=k)
        put(workspace, 24.0 + k, "kept", day=k)
    for reason in NOT_OF_SIZE:
        put(workspace, 60.0, "dropped", reason=reason)
    put(workspace, 48.0, "reworded", view="front_oblique", times=2.0)
    found = suggested(workspace)

    assert (found.proposal.kept, found.proposal.dropped, found.left_out) == (9, 8, 2)
    assert found.new == pytest.approx(22.0 / LIKELY_SHARE, abs=0.5)
    assert 20.0 < found.new * LIKELY_SHARE <= 24.0
    assert found.floor == DRIFT.floor
    assert found.proposal.wrong_now == wrong_at(DRIFT.floor * LIKELY_SHARE, [24.0], [13.0 + k for k in range(8)])
    assert not any(e.wrong for e in found.evidence)
    assert len(found.evidence) == 17
    assert {t for t, _ in found.shared} == {"deadlift_bar_leaves"}


def test_too_few_cases_say_how_many_more(workspace: Workspace) -> None:
    """Six kept and two dropped: two and six more."""
    for k in range(6):
        put(workspace, 30.0 + k, "kept")
    for k in range(2):
        put(workspace, 14.0 + k, "dropped")
    found = suggested(workspace)

    assert (found.new, found.proposal.why) == (None, "few")
    assert (found.proposal.more_kept, found.proposal.more_dropped) == (2, 6)


def test_nothing_that_clips_cannot_tell_is_suggested(workspace: Workspace) -> None:
    """Cases that part at 22 mm, from clips that tell 30 mm: no draft would say it below 30."""
    for k in range(FEWEST_CASES):
        put(workspace, 13.0 + k, "dropped", sd=30.0 / CLEAR_SDS)
        put(workspace, 40.0 + k, "kept", sd=30.0 / CLEAR_SDS)
    for size in (24.0, 25.0, 26.0, 27.0):
        put(workspace, size, "kept", sd=30.0 / CLEAR_SDS)
    found = suggested(workspace)

    assert found.least == pytest.approx(30.0)
    assert found.new is not None
    assert found.new * LIKELY_SHARE >= 30.0


def test_taken_it_counts_from_the_next_draft_on_and_can_be_undone(workspace: Workspace) -> None:
    """Written into the file, named in the audit without a name of anybody; taken back the file is what it was."""
    ready = add_set(workspace, squat(reps=5, forward_mm=22.0), lifter_id=add_lifter(workspace))
    said = [c.part.id for g in reviewing.opened(workspace, ready).groups for c in g.cards]
    assert f"change:{FORWARD}" in said
    for k in range(FEWEST_CASES):
        put(workspace, 20.0 + k, "dropped", day=k)
        put(workspace, 40.0 + k, "kept", day=k)
    new = suggested(workspace).new
    assert new is not None

    with pytest.raises(SuggestionError, match="not suggested any more"):
        take(workspace, FORWARD, "forward_drift", 99.0)
    line = take(workspace, FORWARD, "forward_drift", new)
    assert own_floor(workspace.library, "forward_drift") == new
    said = [c.part.id for g in reviewing.opened(workspace, ready).groups for c in g.cards]
    assert f"change:{FORWARD}" not in said
    with workspace.read() as connection:
        told = connection.execute(sa.select(audit).where(audit.c.id == line)).one()
        assert [t.in_force for t in taken(connection, workspace, FORWARD)] == [True]
    assert told.detail["floor"] == new
    assert told.detail["before"] is None
    assert (suggested(workspace).new, suggested(workspace).proposal.why) == (None, "as_good")

    undo(workspace, line)
    assert own_floor(workspace.library, "forward_drift") is None
    with pytest.raises(SuggestionError, match="something else by now"):
        undo(workspace, line)
    with workspace.read() as connection:
        assert [t.in_force for t in taken(connection, workspace, FORWARD)] == [False]


def test_a_line_of_the_rulebook_is_not_moved(workspace: Workspace) -> None:
    """Depth has no threshold that a coach's drops could move."""
    with workspace.read() as connection:
        assert suggestions(connection, workspace, "squat_depth_near_rule") == ()
        assert suggestions(connection, workspace, OWN_WORDS) == ()


def test_reasons_that_are_none_of_size_are_those_of_the_buttons() -> None:
    """What the review offers as a reason is what the archive leaves out."""
    assert set(NOT_OF_SIZE) <= set(QUICK_REASONS)


def test_sets_measured_before_are_taken_in_once(workspace: Workspace) -> None:
    """Findings and decisions of a set that an earlier version measured; one that cannot be read is passed over."""
    set_id = add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=add_lifter(workspace))
    put(workspace, 0.0, "", judged=None)
    with workspace.read() as connection:
        assert overview(connection, Filters()).not_noted == 2
    told: list[float] = []

    assert gather(workspace, tell=lambda _words, share: told.append(share)) == 1
    assert gather(workspace) == 0
    found = over(workspace)
    assert found[FORWARD].seen == Share(1, 1)
    assert found["squat_soft_lockout"].open == 1
    assert "squat_knees_in" not in found
    assert len(told) == 2
    with workspace.read() as connection:
        assert {r.set_id for r in case_rows(connection, Filters())} == {set_id}
