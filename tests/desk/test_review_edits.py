"""What the coach does, as edits: laws by Hypothesis over any sequence, measuring again, and taking back."""

from __future__ import annotations

import json

import pytest
from attrs import evolve, fields
from hypothesis import given, settings
from hypothesis import strategies as st

from midfoot.desk.review_edits import BATCH, answer_of, choices_of, redo_of, taken, undo_of
from midfoot.records.review import MEANINGS, POINTS_OF, Draft, Edit, Part, RepSpan, Review
from midfoot.review import EditError, apply
from midfoot.store import edits_from_json, edits_to_json

SPANS = tuple(RepSpan(n, 4.0 * n, 4.0 * n + 3.0) for n in (1, 2, 3, 4))
PARTS = (
    Part(id="good:held", section="good", text="Depth held."),
    Part(id="change:bar_forward", section="change", about="bar_forward", text="The bar drifts.",
         aloud="It drifts.", reps=(2, 3), at_s=(10.5, 14.5)),
    Part(id="change:hips_first", section="change", about="hips_first", text="The hips lead.", reps=(3,),
         at_s=(14.2,), rank=1),
    Part(id="caution:usual", section="caution", text="Set the safeties."),
)  # fmt: skip
SPARE = Part(id="change:shrug", section="change", about="shrug", text="It shrugs.", reps=(4,), at_s=(17.0,))
DRAFT = Draft(lift="squat", spans=SPANS, parts=PARTS, spare=(SPARE,))
IDS = (*(p.id for p in PARTS), SPARE.id)


@st.composite
def doings(draw: st.DrawFn) -> list[str | Edit]:
    """Sequences of what a coach does: edits of every kind in batches of one or two, undo, redo."""
    out: list[str | Edit] = []
    for k in range(draw(st.integers(1, 9))):
        what = draw(st.sampled_from(["edit"] * 4 + ["undo", "redo"]))
        if what != "edit":
            out.append(what)
            continue
        for m in range(draw(st.integers(1, 2))):
            out.append(draw(one_edit(f"b{k}{BATCH}{m}")))
    return out


@st.composite
def one_edit(draw: st.DrawFn, name: str) -> Edit:
    kind = draw(st.sampled_from(["keep", "reword", "drop", "accept", "add", "mark", "order", "note"]))
    part = draw(st.sampled_from((*PARTS, SPARE)))
    bound = {"part": part.id, "reps": part.reps, "at_s": part.at_s}
    rep = draw(st.sampled_from(SPANS))
    at_s = rep.start_s + draw(st.floats(0.1, 2.9))
    match kind:
        case "keep":
            return Edit(id=name, kind=kind, saw=part.wording_key, **bound)  # type: ignore[arg-type]
        case "reword":
            words = draw(st.sampled_from(["Mine.", "Other words."]))
            length = draw(st.sampled_from(["lifter", "on_air"]))
            return Edit(id=name, kind=kind, text=words, length=length, saw=part.wording_key, **bound)  # type: ignore[arg-type]
        case "drop":
            return Edit(id=name, kind=kind, reason="not now", **bound)  # type: ignore[arg-type]
        case "accept":
            return Edit(id=name, kind=kind, up_to_kg=100.0, **bound)  # type: ignore[arg-type]
        case "add":
            return Edit(id=name, kind=kind, section="change", text="Own words.", reps=(rep.n,), at_s=(at_s,))
        case "mark":
            meaning = draw(st.sampled_from(MEANINGS))
            points = tuple((10.0 * i, 5.0) for i in range(POINTS_OF[meaning]))
            return Edit(id=name, kind=kind, part=part.id, meaning=meaning, reps=(rep.n,), at_s=(at_s,),
                        points_px=points)  # fmt: skip
        case "order":
            return Edit(id=name, kind=kind, section="change", order=tuple(draw(st.permutations(IDS[1:3]))))
        case _:
            return Edit(id=name, kind="note", part=part.id, text="private")


def done(doing: list[str | Edit], draft: Draft = DRAFT) -> tuple[tuple[Edit, ...], list[Review]]:
    """Do it all as the desk does; gives the log and the review after every batch."""
    log: tuple[Edit, ...] = ()
    seen = [apply(draft, ())]
    batches: list[list[Edit] | str] = []
    for one in doing:
        if isinstance(one, str):
            batches.append(one)
        elif batches and isinstance(batches[-1], list) and batches[-1][0].id.split("/")[0] == one.id.split("/")[0]:
            batches[-1].append(one)
        else:
            batches.append([one])
    for batch in batches:
        if batch == "undo":
            log = (*log, *undo_of(log))
        elif batch == "redo":
            log = (*log, *redo_of(log))
        else:
            log = (*log, *taken(edits_to_json(tuple(batch)), seen[-1], log))  # type: ignore[arg-type]
        seen.append(apply(draft, log))
    return log, seen


@given(doings())
def test_the_log_only_grows_and_the_review_comes_from_it_alone(doing: list[str | Edit]) -> None:
    """Every id once; the review made anew from the log is the one that was shown; no part is ever lost."""
    log, seen = done(doing)

    assert len({e.id for e in log}) == len(log)
    assert apply(DRAFT, log) == seen[-1]
    assert {p.id for p in PARTS} <= {p.id for p in seen[-1].parts}


@given(doings())
def test_undoing_everything_leaves_the_draft_and_redoing_everything_brings_it_back(
    doing: list[str | Edit],
) -> None:
    """As often as there is something to take back; then as often again."""
    log, seen = done(doing)
    back = log
    count = 0
    while undone := undo_of(back):
        back = (*back, *undone)
        count += 1
        assert count <= len(log)
    assert apply(DRAFT, back) == apply(DRAFT, ())

    for _ in range(count):
        back = (*back, *redo_of(back))
    assert apply(DRAFT, back) == seen[-1]


@given(doings())
def test_one_undo_takes_back_all_of_the_last_key_press(doing: list[str | Edit]) -> None:
    """A section kept by one key is taken back by one."""
    log, seen = done([d for d in doing if isinstance(d, Edit)])
    if not log:
        return

    assert apply(DRAFT, (*log, *undo_of(log))) == seen[-2]


@given(doings())
def test_what_was_sent_twice_counts_once(doing: list[str | Edit]) -> None:
    """A page that got no answer sends its edits again."""
    log, seen = done([d for d in doing if isinstance(d, Edit)])

    assert taken(edits_to_json(tuple(e for e in log)), seen[-1], log) == ()


@given(doings(), st.integers(-1, 1), st.booleans())
def test_measured_again_every_question_can_be_answered_and_the_answers_taken_back(
    doing: list[str | Edit], shift: int, gone: bool
) -> None:
    """Reps are counted otherwise, moments moved, a part is gone: after an answer to each nothing is asked."""
    log, _ = done(doing)
    again = measured_again(shift, gone=gone)
    asked = apply(again, log)
    answered = log
    for _ in range(60):
        review = apply(again, answered)
        if not review.asks:
            break
        ask = review.asks[0]
        choice = choices_of(ask, answered, review)[0][0]
        answered = (*answered, *answer_of(ask, choice, answered, review))
    assert apply(again, answered).asks == ()
    assert marks(apply(again, answered)) <= marks(asked)  # moved, never doubled

    back = answered
    for _ in range(len(answered)):
        if apply(again, back) == asked:
            break
        back = (*back, *undo_of(back))
    assert apply(again, back) == asked


def marks(review: Review) -> int:
    return sum(len(p.marks) for p in review.parts)


def measured_again(shift: int, *, gone: bool = False) -> Draft:
    """The set measured again: `shift` reps more or fewer before the same moments; moments moved by 0.1 s."""
    spans = tuple(RepSpan(s.n + shift, s.start_s + 0.1, s.end_s) for s in SPANS if s.n + shift > 0)

    def moved(part: Part) -> Part:
        return evolve(part, reps=tuple(max(1, n + shift) for n in part.reps),
                      at_s=tuple(t + 0.1 + 2.0 * abs(shift) for t in part.at_s))  # fmt: skip

    parts = tuple(moved(p) for p in PARTS if not (gone and p.id == "change:hips_first"))
    return evolve(DRAFT, spans=spans, parts=parts, spare=() if gone else (moved(SPARE),))


def test_a_kept_part_is_bound_to_the_words_that_the_coach_saw() -> None:
    """Reworded, it is bound to his words; kept while the words changed under his hands, it is to be read again."""
    review = apply(DRAFT, ())
    part = PARTS[1]
    row = {"id": "1", "kind": "keep", "part": part.id, "reps": [2, 3], "at_s": [10.5, 14.5]}

    seen = taken([{**row, "saw": part.wording_key}], review, ())
    stale = taken([{**row, "saw": "of other words"}], review, ())
    mine = taken([{**row, "kind": "reword", "text": "Mine.", "saw": part.wording_key}], review, ())

    assert apply(DRAFT, seen).unseen == tuple(p for p in PARTS if p.id != part.id)
    assert part.id in {p.id for p in apply(DRAFT, stale).unseen}
    assert part.id not in {p.id for p in apply(DRAFT, mine).unseen}
    other = evolve(DRAFT, parts=(PARTS[0], evolve(part, why="A new reason."), *PARTS[2:]))
    assert part.id in {p.id for p in apply(other, mine).unseen}


def test_what_makes_no_sense_is_refused_in_one_sentence() -> None:
    """No such part, no such kind, no reason, a novel: nothing is taken in."""
    review = apply(DRAFT, ())
    for row, word in (
        ({"id": "1", "kind": "keep", "part": "change:nothing_like_it"}, "no part"),
        ({"id": "1", "kind": "burn", "part": "good:held"}, "kind"),
        ({"id": "1", "kind": "drop", "part": "good:held"}, "reason"),
        ({"id": "1", "kind": "note", "text": "x" * 2001}, "2000"),
        ({"id": "1", "kind": "undo", "undoes": "never"}, "no earlier edit"),
        ({"id": "1", "kind": "keep", "part": "good:held", "at_s": [float("nan")], "reps": [1]}, "numbers"),
        ({"id": "1", "kind": "mark", "part": "good:held", "meaning": "where", "at_s": [5], "reps": [1],
          "points_px": [[float("inf"), 2]]}, "numbers"),
        ({"id": "1", "kind": "accept", "part": "change:hips_first", "up_to_kg": -3}, "more than 0"),
        ({"id": "x" * 65, "kind": "keep", "part": "good:held"}, "64"),
        ({"id": "1", "kind": "mark", "part": "good:held", "meaning": "where", "at_s": [1], "points_px": [[1, 2]]},
         "within"),
        ({"id": "1", "kind": "keep", "part": "good:held", "colour": "red"}, "colour"),
    ):  # fmt: skip
        with pytest.raises(EditError, match=word):
            taken([row], review, ())


def test_redo_ends_where_something_else_was_done() -> None:
    """As everywhere: what was undone cannot be brought back over a new edit."""
    log = (Edit(id="a", kind="note", text="one"),)
    log = (*log, *undo_of(log))
    assert redo_of(log)
    log = (*log, Edit(id="b", kind="note", text="two"))

    assert redo_of(log) == ()
    assert [e.undoes for e in undo_of(log)] == ["b"]


ANY = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 5), st.floats(), st.text(max_size=5), st.sampled_from(IDS),
    st.lists(st.one_of(st.integers(0, 4), st.floats(), st.text(max_size=2)), max_size=3),
    st.lists(st.lists(st.floats(), min_size=2, max_size=2), max_size=3),
)  # fmt: skip
FIELDS = tuple(f.name for f in fields(Edit))


@st.composite
def rows(draw: st.DrawFn) -> dict[str, object]:
    """An edit as a broken page might send it: a sound one with some fields put out of joint."""
    edit = draw(one_edit("x/0"))
    row = edits_to_json((edit,))[0]
    for name in draw(st.lists(st.sampled_from((*FIELDS, "unknown")), max_size=3)):
        row[name] = draw(ANY)
    return row


@settings(max_examples=300)
@given(st.lists(rows(), min_size=1, max_size=2))
def test_whatever_a_page_sends_is_kept_sound_or_refused_in_a_sentence(sent: list[dict[str, object]]) -> None:
    """What is taken in can be written, read again and shown; nothing else gets in."""
    review = apply(DRAFT, ())
    try:
        new = taken(sent, review, ())
    except EditError:
        return
    document = json.loads(json.dumps(edits_to_json(new), allow_nan=False))
    assert edits_from_json(document) == new
    assert all(len(e.id) <= 64 and e.id for e in new)
    apply(DRAFT, new)
