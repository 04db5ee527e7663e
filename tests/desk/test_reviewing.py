"""The review of a set in a workspace: drafted, edited, measured again, held back until read, followed up."""

from __future__ import annotations

import json
import threading
from datetime import date

import pytest
import sqlalchemy as sa
from attrs import evolve
from desk_reviews import SAID, add_lifter, add_set, measure, squat

from midfoot.desk import reviewing
from midfoot.desk.overruling import say_verdict
from midfoot.desk.review_cards import Card
from midfoot.desk.review_sources import NoReviewError
from midfoot.own_words import assign_key, forget_wording, keep_wording, words_of
from midfoot.records.context import Competition
from midfoot.records.review import Edit
from midfoot.review import EditError
from midfoot.reviewing import write_words
from midfoot.store import Workspace
from midfoot.store.tables import changes, follow_ups, publications, sets

LOCKOUT = "change:squat_soft_lockout"
FORWARD = "change:squat_bar_forward"


@pytest.fixture
def lifter(workspace: Workspace) -> str:
    return add_lifter(workspace)


@pytest.fixture
def set_id(workspace: Workspace, lifter: str) -> str:
    """Five reps; four run forward by 47 mm, the last ends 25 mm short."""
    return add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=lifter)


def card(found: reviewing.OneReview, part: str) -> Card:
    return next(c for c in (*(c for g in found.groups for c in g.cards), *found.spare) if c.part.id == part)


def edit(found: reviewing.OneReview, kind: str, part: str, **more: object) -> dict[str, object]:
    """An edit as the page sends it: bound to what its card shows."""
    shown = card(found, part).part
    return {"id": f"{kind}-{part}-{more.pop('n', 0)}", "kind": kind, "part": part, "reps": list(shown.reps),
            "at_s": list(shown.at_s), "saw": shown.wording_key, **more}  # fmt: skip


def test_a_card_shows_the_claim_with_what_proves_it(workspace: Workspace, set_id: str) -> None:
    """Size with unit and sd, what the clip can tell, what the lifter reads, causes, change with its prediction."""
    one = card(reviewing.opened(workspace, set_id), LOCKOUT)

    assert [n for n, _ in one.places] == [5]
    assert one.size == "25.0 mm, sd 0.8, on rep 5"
    assert one.resolution.endswith("mm")
    assert one.read_as.endswith("cm")
    assert one.confidence == "sure"
    assert one.changes[0].proposed
    assert "sd" in one.changes[0].foretold
    assert [c[1] for c in one.evidence[0].cells] == ["0.0", "0.0", "0.0", "0.0", "25.0"]


def test_nothing_goes_out_unread_and_the_names_are_said(workspace: Workspace, set_id: str) -> None:
    """Every part kept one by one or as a paragraph; a question without words of the coach stands in the way."""
    found = reviewing.opened(workspace, set_id)
    assert len(reviewing.unseen(workspace, set_id)) == sum(len(g.cards) for g in found.groups)

    for group in found.groups:
        found = reviewing.add_edits(workspace, set_id, reviewing.keep_all(found, group.section))
    assert reviewing.unseen(workspace, set_id) == ()

    found = reviewing.undo(workspace, set_id)
    assert reviewing.unseen(workspace, set_id) == tuple(c.name for c in found.groups[-1].cards)
    assert reviewing.redo(workspace, set_id).unseen == ()


def test_a_question_that_nothing_answers_waits_for_the_coach(workspace: Workspace) -> None:
    said = evolve(SAID, question="Should I buy other shoes or a belt for my birthday?")
    set_id = add_set(workspace, squat(), said)
    found = reviewing.opened(workspace, set_id)
    part = "asked:question"
    assert card(found, part).part.needs_words

    kept = reviewing.add_edits(workspace, set_id, [edit(found, "keep", part)])
    assert any("no words" in name for name in kept.unseen)
    told = reviewing.add_edits(workspace, set_id, [edit(kept, "reword", part, text="Shoes first.")])
    assert not any("shoes" in name for name in told.unseen)


def test_an_edit_is_kept_with_its_page_gone_and_sent_twice(workspace: Workspace, set_id: str) -> None:
    """The same row again changes nothing; an edit of a part that is not there is refused, all of it."""
    found = reviewing.opened(workspace, set_id)
    row = edit(found, "reword", LOCKOUT, text="You stop short.")

    first = reviewing.add_edits(workspace, set_id, [row])
    again = reviewing.add_edits(workspace, set_id, [row])
    assert first.version == again.version == 1
    assert card(again, LOCKOUT).part.text == "You stop short."

    good = edit(again, "drop", FORWARD, reason="seen live, it is the belt")
    with pytest.raises(EditError, match="no part"):
        reviewing.add_edits(workspace, set_id, [good, {"id": "x", "kind": "keep", "part": "change:gone"}])
    assert reviewing.opened(workspace, set_id).version == 1


def test_two_tabs_on_one_review_lose_no_edit(workspace: Workspace, set_id: str) -> None:
    """Six tabs with eight edits each, at once: 48 rows, each once."""
    found = reviewing.opened(workspace, set_id)

    def tab(name: int) -> None:
        for k in range(8):
            row = {"id": f"{name}-{k}", "kind": "note", "part": LOCKOUT, "text": f"{name}-{k}"}
            reviewing.add_edits(workspace, set_id, [row])

    threads = [threading.Thread(target=tab, args=(n,)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    after = reviewing.opened(workspace, set_id)
    assert after.version == found.version + 48
    assert sorted(card(after, LOCKOUT).notes) == sorted(f"{n}-{k}" for n in range(6) for k in range(8))


def test_what_the_draft_left_out_can_be_taken_up(workspace: Workspace) -> None:
    """So little in three reps stands not out of the scatter: a hint, with its reason, that may be taken up."""
    set_id = add_set(workspace, squat(reps=3, forward_mm=22.0, short_mm=25.0))
    found = reviewing.opened(workspace, set_id)
    assert card(found, FORWARD).state == "spare"
    assert "hint" in card(found, FORWARD).state_words

    taken = reviewing.add_edits(workspace, set_id, [edit(found, "keep", FORWARD)])

    assert FORWARD in {c.part.id for g in taken.groups for c in g.cards if g.section == "change"}
    assert FORWARD in {line.part for line in taken.done.script.lines}


def test_measured_again_the_review_stays_and_asks_about_what_no_longer_fits(
    workspace: Workspace, set_id: str
) -> None:
    """One rep more before the same moments: the own observation and the mark are asked about, and answered."""
    found = reviewing.observe(workspace, set_id, rep=5, at_s=13.0, observation="breath_lost")
    own = next(c for g in found.groups for c in g.cards if c.part.id.startswith("own:"))
    mark = {"id": "m", "kind": "mark", "part": LOCKOUT, "meaning": "where", "reps": [5], "at_s": [13.0],
            "points_px": [[100, 200]]}  # fmt: skip
    reviewing.add_edits(workspace, set_id, [mark, edit(found, "reword", LOCKOUT, text="You stop short.")])

    measure(workspace, set_id, squat(reps=6, short_mm=25.0, shift_s=-2.4), "k2")
    again = reviewing.opened(workspace, set_id)

    assert card(again, LOCKOUT).part.text == "You stop short."
    assert {q.ask.part for q in again.questions} >= {own.part.id}
    assert any("rep 5" in q.ask.question for q in again.questions)
    assert len(again.unseen) >= len(again.questions)
    for _ in range(9):
        if not again.questions:
            break
        question = again.questions[0]
        again = reviewing.answer(workspace, set_id, question.ask.edit, question.choices[0][0])
    assert again.questions == ()
    assert card(again, own.part.id).part.reps == (6,)
    with pytest.raises(EditError, match="not asked"):
        reviewing.answer(workspace, set_id, "m", "drop")


def test_an_observation_is_one_edit_with_the_vocabularys_words(workspace: Workspace, set_id: str) -> None:
    """Marked twice in a moment it is two; own words are as good; without any it is refused."""
    first = reviewing.observe(workspace, set_id, rep=2, at_s=5.0, observation="brace_late")
    again = reviewing.observe(workspace, set_id, rep=2, at_s=5.0, observation="brace_late")
    free = reviewing.observe(workspace, set_id, rep=3, at_s=7.0, words="The left shoe is untied.")

    own = [c.part for g in free.groups for c in g.cards if c.part.id.startswith("own:")]
    assert (first.version, again.version, free.version) == (1, 2, 3)
    assert [p.text for p in own].count("The trunk is braced only after the descent has begun") == 2
    assert any(p.text == "The left shoe is untied." and p.reps == (3,) for p in own)
    with pytest.raises(EditError, match="Say what you saw"):
        reviewing.observe(workspace, set_id, rep=2, at_s=5.0, words="  ")
    with pytest.raises(EditError, match="no rep 9"):
        reviewing.observe(workspace, set_id, rep=9, at_s=5.0, words="x")


def test_keys_of_the_vocabulary_are_the_coachs_to_assign(workspace: Workspace) -> None:
    """A key that is taken changes places; every key stays one of one."""
    now = {o.id: o for o in words_of("squat", workspace.library)}
    other = now["breath_lost"]

    after = {o.id: o for o in assign_key("squat", "brace_late", other.key, workspace.library)}

    assert after["brace_late"].key == other.key
    assert after["breath_lost"].key == now["brace_late"].key
    assert len({o.key for o in after.values()}) == len(after)


def test_a_wording_from_now_on_is_used_by_the_next_draft_and_can_be_taken_back(
    workspace: Workspace, set_id: str, lifter: str
) -> None:
    """What came from this set goes into braces; this set's own edit stays kept."""
    found = reviewing.opened(workspace, set_id)
    words = "Du stehst nicht ganz auf: {} fehlen auf rep 5.".replace("{}", card(found, LOCKOUT).read_as)
    done = reviewing.add_edits(workspace, set_id, [edit(found, "reword", LOCKOUT, text=words)])

    sentence = keep_wording(done.done, workspace.library, LOCKOUT, "lifter")
    other = add_set(workspace, squat(reps=4, short_mm=40.0), day=20, name="b")

    assert sentence == "Du stehst nicht ganz auf: {size} fehlen auf {reps}."
    assert "fehlen auf rep 4" in card(reviewing.opened(workspace, other), LOCKOUT).part.text
    assert card(reviewing.opened(workspace, set_id), LOCKOUT).state == "kept"
    assert forget_wording(workspace.library, "squat_soft_lockout", "claim", "lifter", sentence)
    assert "fehlen" not in card(reviewing.opened(workspace, other), LOCKOUT).part.text


def test_a_broken_file_of_wording_is_said_and_left_out(workspace: Workspace, set_id: str) -> None:
    (workspace.library / "wording.toml").write_text("[squat_soft_lockout\n")

    found = reviewing.opened(workspace, set_id)

    assert "Your own wording is left out" in found.sources.problems[0]
    assert card(found, LOCKOUT).part.text


def test_accepted_for_a_lifter_stays_out_of_his_other_drafts(
    workspace: Workspace, set_id: str, lifter: str
) -> None:
    """Up to a load: a heavier set shows it again; another lifter's set never heard of it."""
    found = reviewing.opened(workspace, set_id)
    reviewing.add_edits(workspace, set_id, [edit(found, "accept", LOCKOUT, up_to_kg=100.0)])
    same = add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=lifter, day=8, name="b")
    heavy = add_set(workspace, _loaded(110.0), evolve(SAID, load_kg=110.0), lifter_id=lifter, day=9, name="c")
    stranger = add_set(workspace, squat(reps=5, short_mm=25.0), day=9, name="d")

    assert card(reviewing.opened(workspace, same), LOCKOUT).state == "spare"
    assert "accepted for this lifter" in card(reviewing.opened(workspace, same), LOCKOUT).state_words
    assert card(reviewing.opened(workspace, heavy), LOCKOUT).state == "open"
    assert card(reviewing.opened(workspace, stranger), LOCKOUT).state == "open"


def _loaded(kg: float) -> object:
    base = squat(reps=5, short_mm=25.0)
    return evolve(base, data=evolve(base.data, asked=evolve(base.data.asked, load_kg=kg)))


def publish(workspace: Workspace, set_id: str, on: date) -> int:
    """Send a review out as the publishing half does: words on disk, a row, the changes opened."""
    found = reviewing.opened(workspace, set_id)
    for group in found.groups:
        found = reviewing.add_edits(workspace, set_id, reviewing.keep_all(found, group.section))
    folder = workspace.review(set_id)
    folder.mkdir(parents=True)
    write_words(found.done, folder)
    with workspace.write() as connection:
        connection.execute(publications.insert().values(set_id=set_id, token=set_id, folder="l", kind="lifter"))
    return reviewing.published(workspace, set_id, on=on)


def test_changes_of_a_published_review_are_followed_in_the_next_set(
    workspace: Workspace, set_id: str, lifter: str
) -> None:
    """Due in two weeks; at like load the prediction held, at another it cannot be told; nothing is said twice."""
    assert publish(workspace, set_id, date(2031, 5, 2)) == 2
    with workspace.read() as connection:
        due = connection.execute(sa.select(follow_ups.c.due_on)).scalars().all()
    assert set(due) == {date(2031, 5, 16)}

    better = add_set(workspace, squat(reps=5, forward_mm=8.0), lifter_id=lifter, day=20, name="b")
    light = add_set(workspace, squat(reps=5, forward_mm=8.0), evolve(SAID, load_kg=60.0), lifter_id=lifter, day=21,
                    name="c")  # fmt: skip
    with workspace.write() as connection:
        connection.execute(sets.update().where(sets.c.id == light).values(load_kg=60.0))
    found = reviewing.opened(workspace, better)

    assert {v.about: v.verdict for v in found.verdicts}["squat_soft_lockout"] == "held"
    assert all(v.foretold and v.why for v in found.verdicts)
    assert found.last is not None
    assert found.last.set_id == set_id
    said = set(found.last.texts)
    assert not said & {c.part.text for g in found.groups for c in g.cards if g.section in ("good", "change")}

    assert since(found) == [
        ("squat_bar_forward", "Last time it was this: the bar goes forward out of the bottom. In this set there "
                              "is 3.5 to 4.5 cm less of it (hoped for: 1 to 3.5 cm), so keep what you changed."),
        ("squat_soft_lockout", "Also less than last time, by 2 to 3 cm (hoped for: 0.5 to 1.5 cm): a rep ends "
                               "before it is locked out. That is your work."),
    ]  # fmt: skip
    assert found.groups[0].section == "since"
    assert "clearly less" not in " ".join(line.words for line in found.done.script.lines)
    assert all("the loads are too unlike" in words for _, words in since(reviewing.opened(workspace, light)))

    publish(workspace, better, date(2031, 5, 21))
    with workspace.read() as connection:
        states = dict(connection.execute(sa.select(changes.c.part_id, changes.c.state)
                                         .where(changes.c.set_id == set_id)).all())  # fmt: skip
    assert states[LOCKOUT] == "held"
    assert {v.about for v in reviewing.opened(workspace, better).verdicts} >= {"squat_soft_lockout"}


def since(found: reviewing.OneReview) -> list[tuple[str, str]]:
    """What the first lines say of the last review's changes."""
    return [(p.about, p.text) for p in found.review.parts if p.section == "since"]


def test_a_change_that_did_not_hold_is_said_and_nothing_of_it_with_pain(
    workspace: Workspace, set_id: str, lifter: str
) -> None:
    publish(workspace, set_id, date(2031, 5, 2))
    same = add_set(workspace, squat(reps=5, short_mm=25.0), lifter_id=lifter, day=20, name="b")
    hurts = add_set(workspace, squat(reps=5, short_mm=25.0), evolve(SAID, pain="left knee"), lifter_id=lifter,
                    day=21, name="c")  # fmt: skip

    words = dict(since(reviewing.opened(workspace, same)))

    assert words["squat_bar_forward"].startswith(
        "Last time it was this: the bar goes forward out of the bottom. It"
    )
    assert "still there" in words["squat_bar_forward"]
    assert since(reviewing.opened(workspace, hurts)) == []


def test_the_coach_may_say_himself_whether_a_change_held(workspace: Workspace, set_id: str, lifter: str) -> None:
    """His word stands over the figure, with his reason, and can be taken back."""
    publish(workspace, set_id, date(2031, 5, 2))
    later = add_set(workspace, squat(reps=5, forward_mm=8.0), lifter_id=lifter, day=20, name="b")
    first = reviewing.opened(workspace, later).verdicts[0]

    say_verdict(workspace, later, first.change_id, "not_held", "seen live, it was luck")
    mine = next(v for v in reviewing.opened(workspace, later).verdicts if v.change_id == first.change_id)
    say_verdict(workspace, later, first.change_id, "")
    back = next(v for v in reviewing.opened(workspace, later).verdicts if v.change_id == first.change_id)

    assert (mine.verdict, mine.by, mine.why) == ("not_held", "coach", "seen live, it was luck")
    assert back == first


def test_what_safety_binds_is_said_with_what_was_withheld(workspace: Workspace) -> None:
    """Section 8 of this project's design: pain, minor, no safeties, a competition close by."""
    said = evolve(
        SAID, pain="left knee", age_years=16, safeties=None, competition=Competition(on=date(2031, 5, 15))
    )
    found = reviewing.opened(workspace, add_set(workspace, squat(reps=5), said))

    assert [b.id for b in found.bounds] == ["pain", "minor", "unguarded", "meet"]
    assert "left knee" in found.bounds[0].words
    assert "clinician" in found.bounds[0].withheld
    assert "15 May 2031, in 2 weeks" in found.bounds[3].words
    texts = json.dumps([c.part.try_text for g in found.groups for c in g.cards])
    assert "try" not in texts.casefold()


def test_a_lifter_marked_as_under_18_is_one_though_no_age_was_said(workspace: Workspace) -> None:
    lifter_id = add_lifter(workspace, "Mika", minor=True)
    found = reviewing.opened(workspace, add_set(workspace, squat(), lifter_id=lifter_id))

    assert "minor" in {b.id for b in found.bounds}
    assert "caution:minor" in {c.part.id for g in found.groups for c in g.cards}


def test_what_is_not_measured_is_said(workspace: Workspace) -> None:
    set_id = add_set(workspace)

    with pytest.raises(NoReviewError, match="not measured yet"):
        reviewing.opened(workspace, set_id)
    with pytest.raises(NoReviewError, match="no such set"):
        reviewing.opened(workspace, "nothing")


def test_an_order_and_a_private_note(workspace: Workspace, set_id: str) -> None:
    rows = [{"id": "o", "kind": "order", "section": "change", "order": [LOCKOUT, FORWARD]},
            {"id": "n", "kind": "note", "part": LOCKOUT, "text": "ask about the belt"}]  # fmt: skip

    found = reviewing.add_edits(workspace, set_id, rows)

    assert [c.part.id for g in found.groups if g.section == "change" for c in g.cards] == [LOCKOUT, FORWARD]
    assert card(found, LOCKOUT).notes == ("ask about the belt",)
    assert isinstance(found.sources.edits[0], Edit)
