"""Which field may go where: the data against the records, and that nothing private comes through any output."""

from __future__ import annotations

import json
from datetime import date

import attrs
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st
from review.made import measured

from midfoot import review
from midfoot.desk import policy
from midfoot.desk.publish_build import shown_in
from midfoot.desk.publish_gate import texts_of
from midfoot.publish import captions, review_page, site
from midfoot.records.context import Competition, Context
from midfoot.records.measures import Measurement
from midfoot.records.review import Edit
from midfoot.reviewing import Reviewed
from midfoot.reviewing import made as made_of

LIBRARY = review.load_library(None)
MARK = "qzx"
"""No word of the program holds these letters: what carries them came from the context."""
PRIVATE = ("pain", "injury", "question", "title", "lifter", "spotter", "safeties")
PUBLIC = [o for o in policy.outputs() if policy.audience_of(o) != "own"]
TICKS = ("name", "face", "pain", "injury", "body_mass", "age", "public_page", "review", "voice")
IDS = ("squat_bar_forward", "squat_soft_lockout")


def test_every_field_of_the_context_is_ruled_and_no_other() -> None:
    rules = policy._policy()["fields"]
    assert set(rules) == {f.name for f in attrs.fields(Context)}
    for name, row in rules.items():
        assert set(row) == {"own", "public", "label"}, name
        assert set(row.values()) <= {"yes", "no", *TICKS}, name


def test_what_design_calls_private_is_never_public_and_needs_a_tick_at_home() -> None:
    """Section 10 of the design: pain, injury, body mass and age are private unless the lifter ticks that use;
    never in public text, script, captions, preview, file names or host page."""
    for field, tick in {
        "pain": "pain",
        "injury": "injury",
        "body_mass_kg": "body_mass",
        "age_years": "age",
    }.items():
        assert not policy.may(field, "lifter_page")
        assert policy.may(field, "lifter_page", {tick})
        for output in (
            "public_page",
            "script",
            "captions",
            "preview",
            "file_name",
            "host_page",
            "edition",
            "open_set",
        ):
            assert not policy.may(field, output, set(TICKS)), (field, output)


def test_an_output_that_nobody_knows_gets_nothing() -> None:
    with pytest.raises(KeyError):
        policy.may("lift", "billboard")


def made(measurement: Measurement, edits: tuple[Edit, ...]) -> Reviewed:
    return made_of(measurement, edits, library=LIBRARY)


words = st.lists(st.sampled_from(["left", "knee", "burns", "since", "march", "bar", "rep"]), max_size=3)


@st.composite
def contexts(draw: st.DrawFn) -> Context:
    """A context with every private field filled at random; its words carry the mark."""

    def text() -> str | None:
        return draw(st.one_of(st.none(), words.map(lambda w: " ".join([*w, f"{MARK}{len(w)}", *w]))))

    number = draw(st.sampled_from([None, 43.1234]))
    return Context(
        title=text(), lifter=text(), age_years=draw(st.sampled_from([None, 16, 47])), body_mass_kg=number,
        training_age_years=number, stature_m=None if number is None else 1.8765,
        rpe=draw(st.sampled_from([None, 8.0])), load_kg=100.0, spotter=text(), safeties=text(), question=text(),
        working_on=tuple(w for w in (text(), text()) if w), pain=text(), injury=text(),
        competition=draw(st.sampled_from([None, Competition(date(2031, 5, 20), None, f"{MARK} Open")])),
        equipment=tuple(w for w in (text(),) if w), read_on=date(2031, 5, 1), sha256=f"{MARK}hash",
    )  # fmt: skip


def everything(shown: Reviewed) -> str:
    """All that is made of a review for an output: page, captions, print's data, preview."""
    page = "".join(
        site.page_html(kind, shown.measurement, shown.review, {}, video=True, captions=True, chart=True)
        for kind in site.KINDS
    )
    printed = json.dumps(review_page.sections_of(shown.review, {})) + review_page.title_of(shown.measurement)
    return page + captions.vtt(captions.cues_of(shown.script)) + printed + repr(shown.measurement.context)


@given(contexts(), st.sets(st.sampled_from(TICKS)), st.sampled_from(PUBLIC))
def test_no_private_word_comes_through_a_public_output(context: Context, uses: set[str], output: str) -> None:
    """The lifter's name is the one thing a tick opens; everything else that carries the mark stays."""
    if "name" in uses and policy.audience_of(output) == "public":
        context = evolve(context, lifter="Runa")
    shown = shown_in(made(measured("squat", IDS, context), ()), output, uses)
    text = everything(shown)
    assert MARK not in text
    assert "43.1" not in text
    assert "1.8765" not in text
    assert shown.review.notes == ()
    assert shown.review.draft.held_back == ()


@given(contexts(), st.sets(st.sampled_from(TICKS)))
def test_at_home_only_what_was_ticked(context: Context, uses: set[str]) -> None:
    """The lifter's own page may hold name and question; pain and injury only with their ticks."""
    pain, injury = "vbk left shin", "wbk right hand"
    context = evolve(context, pain=pain, injury=injury)
    shown = shown_in(made(measured("squat", IDS, context), ()), "lifter_page", uses)
    assert shown.measurement.context.pain == (pain if "pain" in uses else None)
    assert shown.measurement.context.injury == (injury if "injury" in uses else None)
    assert shown.measurement.context.body_mass_kg is None or "body_mass" in uses
    assert shown.measurement.data.clip.sha256 == ""
    assert "hurts" not in {p.about for p in shown.review.parts} or {"pain", "injury"} <= uses


def test_safety_is_said_also_where_its_reason_may_not_be() -> None:
    done = made(measured("squat", IDS, Context(pain="left knee", load_kg=100.0)), ())
    texts = [p.text for p in policy.review_for(done.review, "lifter_page").parts]
    assert any("see a licensed clinician" in t for t in texts)
    assert not any("You wrote that something hurts" in t for t in texts)
    assert not any("because of what you" in t for t in texts)


HURT = Context(
    lifter="Runa Holt", pain="left elbow burns at night", age_years=31, body_mass_kg=71.5, load_kg=100.0
)


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("Mind that your left elbow burns at night.", "pain"),
        ("Keep off what is sore.", "pain"),
        ("Well done, Runa!", "lifter"),
        ("For 31 years of age this is strong.", "age_years"),
        ("At 71.5 kg that is a fine squat.", "body_mass_kg"),
    ],
)
def test_the_coachs_own_words_are_searched(text: str, field: str) -> None:
    (leak,) = policy.leaks({"a part": text}, HURT, "public_page", ())
    assert (leak.where, leak.field) == ("a part", field)


def test_plain_words_are_not_taken_for_private_ones() -> None:
    plain = {"a": "Your left elbow stays under the bar at 100 kg; 31 mm forward on rep 2."}
    assert policy.leaks(plain, HURT, "public_page") == ()


def test_a_title_that_names_the_lift_does_not_make_a_secret_of_it() -> None:
    said = {"captions, part 1": "The bench press slows from rep 4 on.", "b": "Mia's last eight before the meet"}
    titled = Context(title="Mia's last eight before the meet, bench press")

    assert [leak.where for leak in policy.leaks(said, titled, "edition")] == ["b"]


def test_what_was_ticked_may_be_said_at_home() -> None:
    said = {"a": "That your left elbow burns at night is why we go light, Runa."}
    assert policy.leaks(said, HURT, "lifter_page", {"pain", "injury"}) == ()
    assert {leak.field for leak in policy.leaks(said, HURT, "lifter_page")} == {"pain"}


def test_private_notes_and_reasons_never_leave() -> None:
    base = made(measured("squat", IDS, Context(safeties="pins", load_kg=100.0)), ())
    first = base.review.parts[0].id
    edits = (
        Edit(id="n1", kind="note", text=f"{MARK} he looked tired"),
        Edit(id="d1", kind="drop", part=first, reps=base.review.parts[0].reps, at_s=base.review.parts[0].at_s,
             reason=f"{MARK} not worth it"),
    )  # fmt: skip
    done = made(base.measurement, edits)
    for output in policy.outputs():
        shown = policy.review_for(done.review, output, set(TICKS))
        assert MARK not in repr(shown)
        assert first not in {p.id for p in shown.parts}


def test_texts_are_named_as_the_coach_knows_them() -> None:
    done = made(measured("squat", IDS, Context(safeties="pins", load_kg=100.0)), ())
    named = texts_of(done.review.parts)
    assert {p.caption for p in done.review.of("change")} <= set(named)
