"""Edits over a draft: laws by Hypothesis, and what becomes of edits when the set is measured again."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from midfoot.records.base import RecordError
from midfoot.records.review import MEANINGS, POINTS_OF, Accepted, Draft, Edit, Part, RepSpan, Review
from midfoot.review import EditError, apply, effective

SPANS = tuple(RepSpan(n, 4.0 * n, 4.0 * n + 3.0) for n in (1, 2, 3))
PARTS = (
    Part(id="good:held", section="good", text="Depth held.", rank=0),
    Part(id="change:bar_forward", section="change", about="bar_forward", text="The bar drifts.",
         aloud="It drifts.", reps=(2, 3), at_s=(10.5, 14.5), rank=0),
    Part(id="change:hips_first", section="change", about="hips_first", text="The hips lead.", reps=(3,),
         at_s=(14.2,), rank=1),
    Part(id="caution:usual", section="caution", text="Set the safeties."),
)  # fmt: skip
DRAFT = Draft(lift="squat", spans=SPANS, parts=PARTS)
IDS = tuple(p.id for p in PARTS)


@st.composite
def edits(draw: st.DrawFn, most: int = 8) -> tuple[Edit, ...]:
    """Lists of edits of every kind that hold together."""
    made: list[Edit] = []
    for k in range(draw(st.integers(0, most))):
        kinds = ["keep", "reword", "drop", "accept", "add", "mark", "order", "note"] + (["undo"] if made else [])
        kind = draw(st.sampled_from(kinds))
        part = draw(st.sampled_from(IDS))
        found = next(p for p in PARTS if p.id == part)
        fields: dict[str, object] = {"part": part, "reps": found.reps, "at_s": found.at_s}
        if kind == "reword":
            fields |= {"text": draw(st.sampled_from(["A.", "B."])),
                       "length": draw(st.sampled_from(["lifter", "on_air"]))}  # fmt: skip
        elif kind == "drop":
            fields |= {"reason": "not now"}
        elif kind == "accept":
            fields |= {"until": date(2031, 5, 1)}
        elif kind == "add":
            fields = {"section": draw(st.sampled_from(["good", "change"])), "text": f"Own {k}.", "reps": (2,),
                      "at_s": (9.0,)}  # fmt: skip
        elif kind == "mark":
            meaning = draw(st.sampled_from(MEANINGS))
            fields |= {"meaning": meaning, "at_s": (9.0,), "reps": (2,),
                       "points_px": tuple((10.0 * i, 5.0) for i in range(POINTS_OF[meaning]))}  # fmt: skip
        elif kind == "order":
            fields = {
                "section": "change",
                "order": tuple(draw(st.permutations([i for i in IDS if "change" in i]))),
            }
        elif kind == "note":
            fields = {"part": part, "text": "private"}
        elif kind == "undo":
            fields = {"undoes": draw(st.sampled_from([e.id for e in made]))}
        made.append(Edit(id=f"e{k}", kind=kind, **fields))  # type: ignore[arg-type]
    return tuple(made)


@given(edits())
def test_apply_is_deterministic_and_loses_no_part(made: tuple[Edit, ...]) -> None:
    """The same draft and edits give the same review; every drafted part is still there."""
    review = apply(DRAFT, made)

    assert review == apply(DRAFT, made)
    assert set(IDS) <= {p.id for p in review.parts}


@given(edits(), edits(most=1))
def test_undo_restores(made: tuple[Edit, ...], one: tuple[Edit, ...]) -> None:
    """An edit and its undo leave nothing; undoing the undo brings the edit back."""
    if not one:
        return
    last = evolve(one[0], id="last")
    undo = Edit(id="undo", kind="undo", undoes="last")
    again = Edit(id="again", kind="undo", undoes="undo")

    assert apply(DRAFT, (*made, last, undo)) == apply(DRAFT, made)
    assert apply(DRAFT, (*made, last, undo, again)) == apply(DRAFT, (*made, last))


def related(a: Edit, b: Edit) -> bool:
    """Whether two edits touch the same part or the same order, or one undoes."""
    if "undo" in (a.kind, b.kind):
        return True
    if a.kind == b.kind == "order":
        return a.section == b.section
    return bool(a.part) and a.part == b.part


@given(edits(), st.data())
def test_unrelated_edits_may_come_in_any_order(made: tuple[Edit, ...], data: st.DataObject) -> None:
    """Swapping neighbours that have nothing to do with each other changes nothing."""
    swaps = [k for k, (a, b) in enumerate(pairwise(made)) if not related(a, b)]
    if not swaps:
        return
    k = data.draw(st.sampled_from(swaps))
    other = (*made[:k], made[k + 1], made[k], *made[k + 2 :])

    assert apply(DRAFT, other) == apply(DRAFT, made)


def edit(kind: str, part: str = "change:bar_forward", **more: object) -> Edit:
    """An edit of a drafted part as the coach saw it."""
    found = next((p for p in PARTS if p.id == part), None)
    bound = {"reps": found.reps, "at_s": found.at_s} if found else {}
    return Edit(id=str(more.pop("id", "e")), kind=kind, part=part, **{**bound, **more})  # type: ignore[arg-type]


def measured_again(**changes: object) -> Draft:
    """The same draft with the bar's part standing elsewhere."""
    return evolve(DRAFT, parts=(PARTS[0], evolve(PARTS[1], **changes), *PARTS[2:]))


def part(review: Review, name: str = "change:bar_forward") -> Part:
    """One part of a review."""
    return next(p for p in review.parts if p.id == name)


def test_every_kind_does_what_it_says() -> None:
    """Keep, reword twice over, drop, accept, add, mark, order, note."""
    review = apply(
        DRAFT,
        (
            edit("keep", "good:held", id="1"),
            edit("reword", text="It comes off the middle.", id="2"),
            edit("reword", text="See it drift.", length="on_air", id="3"),
            edit("drop", "caution:usual", reason="said already", id="4"),
            edit("accept", "change:hips_first", up_to_kg=120.0, id="5"),
            Edit(id="6", kind="add", section="change", text="You let the air go.", about="breath_lost",
                 reps=(3,), at_s=(14.0,)),
            edit("mark", meaning="how_far", at_s=(14.5,), reps=(3,), points_px=((1.0, 2.0), (3.0, 2.0)), id="7"),
            Edit(id="8", kind="order", section="change", order=("own:6", "change:bar_forward")),
            Edit(id="9", kind="note", text="Ask about the shoes."),
        ),
    )  # fmt: skip

    assert part(review).text == "It comes off the middle."
    assert part(review).aloud == "See it drift."
    assert part(review).marks[0].meaning == "how_far"
    assert [p.id for p in review.of("change")] == ["own:6", "change:bar_forward"]
    assert review.of("caution") == ()
    assert review.accepted == (Accepted("hips_first", None, 120.0),)
    assert [n.text for n in review.notes] == ["Ask about the shoes."]
    assert review.unseen == ()
    assert review.asks == ()


def test_accepted_holds_until_its_day_and_up_to_its_load() -> None:
    """Either limit ends it; a load that nobody told is not under a limit."""
    by_day, by_load = Accepted("x", date(2031, 5, 1), None), Accepted("x", None, 100.0)

    assert by_day.holds(date(2031, 5, 1), None)
    assert not by_day.holds(date(2031, 5, 2), None)
    assert by_load.holds(date(2040, 1, 1), 100.0)
    assert not by_load.holds(date(2031, 1, 1), 100.5)
    assert not by_load.holds(date(2031, 1, 1), None)


def test_measured_again_at_the_same_place_keeps_the_edit() -> None:
    """A moment that moved by a tenth of a second, and one rep more or less, is the same thing."""
    again = measured_again(at_s=(10.6,), reps=(2,))

    review = apply(again, (edit("reword", text="Mine."),))

    assert part(review).text == "Mine."
    assert review.asks == ()


def test_measured_again_elsewhere_asks_and_a_new_look_answers() -> None:
    """The words stay, the coach is asked; keeping it as it stands now is the answer."""
    again = measured_again(at_s=(5.0,), reps=(1,))
    first = edit("reword", text="Mine.")

    review = apply(again, (first,))
    answered = apply(again, (first, Edit(id="k", kind="keep", part="change:bar_forward", reps=(1,), at_s=(5.0,))))

    assert part(review).text == "Mine."
    assert [a.part for a in review.asks] == ["change:bar_forward"]
    assert "reps 2, 3" in review.asks[0].question
    assert "rep 1" in review.asks[0].question
    assert answered.asks == ()
    assert part(answered).text == "Mine."


def test_measured_again_and_gone_asks() -> None:
    """What the coach kept and the set no longer shows is not dropped without a word."""
    again = evolve(DRAFT, parts=(PARTS[0],))

    review = apply(again, (edit("keep"),))

    assert "does not show it" in review.asks[0].question


def test_own_observation_moves_with_its_rep_or_asks() -> None:
    """Bound to rep number and moment: reps found anew around the same moment keep it, others ask."""
    own = Edit(id="o", kind="add", section="change", text="Air gone.", reps=(3,), at_s=(14.0,))
    near = evolve(DRAFT, spans=(SPANS[0], SPANS[1], RepSpan(3, 12.2, 14.8)))
    lost = evolve(DRAFT, spans=(RepSpan(1, 12.0, 15.0),))

    assert apply(DRAFT, (own,)).asks == apply(near, (own,)).asks == ()
    assert "now lies in rep 1" in apply(lost, (own,)).asks[0].question
    assert "own:o" in {p.id for p in apply(lost, (own,)).parts}


def test_lists_that_do_not_hold_together_are_refused() -> None:
    """Two of one id; an undo of what was never done; an edit without what it needs."""
    with pytest.raises(EditError, match="'e'"):
        apply(DRAFT, (edit("keep"), edit("keep")))
    with pytest.raises(EditError, match="no earlier edit"):
        effective((Edit(id="u", kind="undo", undoes="x"),))
    for kind, fields in (
        ("drop", {"part": "x"}),
        ("reword", {"part": "x"}),
        ("accept", {"part": "x"}),
        ("add", {"text": "x"}),
        ("mark", {"part": "x", "meaning": "where"}),
    ):
        with pytest.raises(RecordError):
            Edit(id="e", kind=kind, **fields)  # type: ignore[arg-type]
    with pytest.raises(RecordError, match="points_px"):
        apply(DRAFT, (edit("mark", meaning="what_angle", at_s=(1.0,), points_px=((0.0, 0.0),)),))


def test_what_was_kept_in_other_words_is_to_be_read_again() -> None:
    """Nothing goes out unread: a figure that came out otherwise makes other words, and the part is open again."""
    kept = edit("keep", saw=PARTS[1].wording_key)
    again = measured_again(text="The bar drifts farther.")

    assert part(apply(DRAFT, (kept,))).status == "kept"
    assert part(apply(again, (kept,))).status == "open"
    assert part(apply(again, (kept,))).text == "The bar drifts farther."
    assert part(apply(again, (edit("keep"),))).status == "kept"  # of an edit that is bound to no words


def test_what_the_draft_held_back_comes_in_when_it_is_taken_up() -> None:
    """Kept it is said; dropped it is there and not said; untouched it is not in the review at all."""
    spare = evolve(PARTS[2], id="change:shrug", about="shrug", rank=5)
    draft = evolve(DRAFT, spare=(spare,))

    assert "change:shrug" not in {p.id for p in apply(draft, ()).parts}
    taken = Edit(id="k", kind="keep", part="change:shrug", reps=(3,), at_s=(14.2,))
    assert [p.id for p in apply(draft, (taken,)).of("change")][-1] == "change:shrug"
    undone = (taken, Edit(id="u", kind="undo", undoes="k"))
    assert "change:shrug" not in {p.id for p in apply(draft, undone).parts}


def test_an_own_observation_is_moved_by_keeping_it_elsewhere() -> None:
    """Its rep is counted otherwise by now: kept at the rep that the moment lies in, nobody asks any more."""
    own = Edit(id="o", kind="add", section="change", text="Air gone.", reps=(3,), at_s=(14.0,))
    lost = evolve(DRAFT, spans=(RepSpan(1, 12.0, 15.0),))
    answer = Edit(id="k", kind="keep", part="own:o", reps=(1,), at_s=(14.0,))

    review = apply(lost, (own, answer))

    assert review.asks == ()
    assert part(review, "own:o").reps == (1,)
    assert apply(DRAFT, (own, answer)).asks != ()  # and is bound to that rep from now on


def test_what_was_dropped_and_is_gone_asks_nothing() -> None:
    """There is nothing left to decide."""
    assert apply(evolve(DRAFT, parts=(PARTS[0],)), (edit("drop", reason="no"),)).asks == ()
