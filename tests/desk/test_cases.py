"""What is noted of every finding: at measuring, at every edit, measured again, and by another threshold."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa
from desk_reviews import add_lifter, add_set, measure, squat

from midfoot.desk import reviewing
from midfoot.desk.cases import Decision, cases_of, decisions_of
from midfoot.desk.own_floors import limits_of, set_floor
from midfoot.findings import defaults
from midfoot.records.review import Edit
from midfoot.reviewing import prepared
from midfoot.store import Workspace
from midfoot.store.tables import cases

LOCKOUT, FORWARD = "change:squat_soft_lockout", "change:squat_bar_forward"


@pytest.fixture
def set_id(workspace: Workspace) -> str:
    """Five reps; four run forward by 47 mm, the last ends 25 mm short."""
    return add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=add_lifter(workspace))


def rows(workspace: Workspace) -> dict[str, Any]:
    with workspace.read() as connection:
        return {r.part_id: r for r in connection.execute(sa.select(cases))}


def edit(workspace: Workspace, set_id: str, kind: str, part: str, n: int = 0, **more: object) -> None:
    found = reviewing.opened(workspace, set_id)
    shown = next(c.part for g in found.groups for c in g.cards if c.part.id == part)
    reviewing.add_edits(
        workspace, set_id,
        [{"id": f"{kind}{n}", "kind": kind, "part": part, "reps": list(shown.reps), "at_s": list(shown.at_s),
          "saw": shown.wording_key, **more}],
    )  # fmt: skip


def test_the_last_decision_that_holds_is_the_one() -> None:
    """Reworded is kept in other words; a drop after it is a drop; what was undone never was."""
    keep = Edit(id="a", kind="keep", part="p")
    reword = Edit(id="b", kind="reword", part="p", text="new", length="on_air")
    drop = Edit(id="c", kind="drop", part="p", reason="not now")
    accept = Edit(id="d", kind="accept", part="q", until=date(2031, 6, 1), up_to_kg=90.0)

    assert decisions_of([keep]) == {"p": Decision(decision="kept")}
    assert decisions_of([keep, reword]) == decisions_of([reword]) == {"p": Decision(decision="reworded")}
    assert decisions_of([reword, drop])["p"] == Decision(decision="dropped", reason="not now")
    assert decisions_of([keep, drop, Edit(id="u", kind="undo", undoes="c")]) == {"p": Decision(decision="kept")}
    assert decisions_of([accept])["q"].up_to_kg == 90.0
    assert (
        decisions_of([Edit(id="m", kind="mark", part="p", meaning="where", at_s=(1.0,), points_px=((1, 2),))])
        == {}
    )


def test_a_finding_knows_the_threshold_it_was_held_against() -> None:
    """Size, sd and rep as the finding has them; the floor of thresholds.toml, in this view."""
    found = prepared(squat(reps=5, short_mm=25.0))
    by_part = {c.part_id: c for c in cases_of(found, defaults())}
    short, forward = by_part[LOCKOUT], by_part[FORWARD]

    assert (short.threshold, short.unit, short.size, short.rep) == ("lockout_shortfall", "mm", 25.0, 5)
    assert (forward.threshold, forward.size) == ("forward_drift", pytest.approx(46.0))
    assert forward.floor == defaults()["forward_drift"].floor * forward.times_floor
    assert short.at_s is not None


def test_every_edit_is_noted_with_the_figures_of_that_day(workspace: Workspace, set_id: str) -> None:
    """Kept, then reworded, then dropped with its reason; undone it stands as nobody looked at it."""
    edit(workspace, set_id, "drop", LOCKOUT, reason="not sure enough")
    edit(workspace, set_id, "keep", FORWARD)
    first = rows(workspace)
    edit(workspace, set_id, "reword", FORWARD, text="It went forward.")
    second = rows(workspace)
    reviewing.undo(workspace, set_id)
    reviewing.undo(workspace, set_id)
    third = rows(workspace)

    assert (first[LOCKOUT].decision, first[LOCKOUT].reason, first[LOCKOUT].size) == (
        "dropped", "not sure enough", 25.0
    )  # fmt: skip
    assert first[FORWARD].decision == "kept"
    assert first[FORWARD].decided_at is not None
    assert second[FORWARD].decision == "reworded"
    assert (third[FORWARD].decision, third[FORWARD].decided_at) == ("open", None)
    assert third[LOCKOUT].decision == "dropped"


def test_measured_again_what_was_decided_keeps_its_figures(workspace: Workspace, set_id: str) -> None:
    """The dropped shortfall was 25 mm when it was dropped; the undecided drift is what it is now; gone is gone."""
    edit(workspace, set_id, "drop", LOCKOUT, reason="not now")
    measure(workspace, set_id, squat(reps=5, short_mm=0.0, forward_mm=31.0), key="k2")
    reviewing.observe(workspace, set_id, rep=2, at_s=4.0, words="The elbows drop.")
    again = rows(workspace)
    own = next(r for r in again.values() if r.by == "coach")

    assert (again[LOCKOUT].size, again[LOCKOUT].raised) == (25.0, False)
    assert (again[FORWARD].size, again[FORWARD].raised) == (pytest.approx(30.0), True)
    assert (own.decision, own.finding, own.title, own.at_s) == ("added", "own_words", "The elbows drop.", 4.0)
    reviewing.undo(workspace, set_id)
    assert not any(r.by == "coach" for r in rows(workspace).values())


def test_another_threshold_counts_from_the_next_draft_on(workspace: Workspace, set_id: str) -> None:
    """A floor over the size takes it out of the next draft; the row of what was decided stays; a review that went
    out keeps the thresholds of its day."""
    assert any(c.part.id == LOCKOUT for g in reviewing.opened(workspace, set_id).groups for c in g.cards)
    edit(workspace, set_id, "keep", FORWARD)
    set_floor(workspace.library, "lockout_shortfall", 60.0)
    later = add_set(workspace, squat(reps=5, short_mm=25.0), day=9, name="b")

    for one in (set_id, later):
        shown = [c.part.id for g in reviewing.opened(workspace, one).groups for c in g.cards]
        assert LOCKOUT not in shown
        assert FORWARD in shown
    edit(workspace, set_id, "keep", FORWARD, 1)
    assert rows(workspace)[FORWARD].decision == "kept"
    assert LOCKOUT not in rows(workspace)

    reviewing.published(workspace, set_id)
    set_floor(workspace.library, "lockout_shortfall", None)
    assert limits_of(workspace, set_id)[0]["lockout_shortfall"].floor == 60.0
    assert limits_of(workspace, later)[0]["lockout_shortfall"].floor == defaults()["lockout_shortfall"].floor
    assert LOCKOUT in [c.part.id for g in reviewing.opened(workspace, later).groups for c in g.cards]


def test_a_file_that_breaks_the_form_is_said_and_left_out(workspace: Workspace, set_id: str) -> None:
    """The review opens all the same, with midfoot's own thresholds."""
    (workspace.library / "thresholds.toml").write_text("[nothing_of_the_kind]\nfloor = 3\n")
    found = reviewing.opened(workspace, set_id)

    assert any("thresholds are left out" in p and "nothing_of_the_kind" in p for p in found.sources.problems)
    assert any(c.part.id == LOCKOUT for g in found.groups for c in g.cards)
