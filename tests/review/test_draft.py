"""Drafts: what is said within the limits that the context sets."""

from __future__ import annotations

import re
from datetime import date

import pytest
from attrs import evolve
from review.made import FAULTS, LIBRARY, SAFE, TODAY, draft, finding, many, measured, single, voice

from midfoot.findings.registry import findings_of
from midfoot.records.context import Competition, Context
from midfoot.records.findings import Found
from midfoot.records.review import Accepted, Draft, Part
from midfoot.records.rules import RuleCheck
from midfoot.review import apply, script_of, texts_of
from midfoot.review.asked import reps_meant
from midfoot.review.library import sentences
from midfoot.review.script import FEWEST_WORDS, MOST_WORDS


def texts(of: Draft, section: str) -> str:
    return " ".join(f"{p.text} {p.why} {p.try_text}" for p in of.parts if p.section == section)


def load_words(of: Draft) -> list[str]:
    """What a draft says of kilograms."""
    return re.findall(r"\d+(?:\.\d+)? kg|add up to|off next time|same weight", texts(of, "next"))


def test_three_changes_at_most_and_the_rest_is_told_to_the_coach() -> None:
    """Section 8 of this project's design."""
    of = draft(measured("squat", FAULTS["squat"][:5], SAFE))

    assert [p.about for p in of.parts if p.section == "change"] == list(FAULTS["squat"][:3])
    assert sum("three changes at most" in h for h in of.held_back) == 2
    assert [p.about for p in of.spare] == list(FAULTS["squat"][3:5])
    assert all(p.text and "{" not in p.text for p in of.spare)


def test_what_is_held_back_with_pain_holds_no_cue_either() -> None:
    """Section 8 of this project's design: with pain it is only said what was seen, whatever the coach takes up."""
    hurt = evolve(SAFE, pain="the knee")
    of = draft(measured("squat", FAULTS["squat"][:5], hurt))

    assert len(of.spare) == 2
    assert all(p.try_text == "" and p.prediction is None for p in (*of.spare, *of.parts))


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_a_change_says_what_where_why_and_what_to_try(lift: str) -> None:
    """For every finding there is, with its moment, its rounded figure and its prediction."""
    for one in FAULTS[lift]:
        part = next(p for p in draft(measured(lift, (one,), SAFE)).parts if p.section == "change")
        assert part.text
        assert part.why
        assert part.try_text
        assert part.aloud
        assert part.at_s == (6.2,)
        assert part.figure is not None
        assert part.prediction is not None
        assert "{" not in f"{part.text}{part.why}{part.try_text}{part.aloud}"
        assert "for the coach" not in f"{part.text}{part.aloud}"


@pytest.mark.parametrize(
    "context",
    [
        evolve(SAFE, pain="left knee at the bottom"),
        evolve(SAFE, injury="shoulder, two years ago"),
        evolve(SAFE, age_years=16),
        evolve(SAFE, safeties=None),
        evolve(SAFE, safeties="", spotter=""),
    ],
)
def test_no_advice_on_load_where_safety_forbids_it(context: Context) -> None:
    """Pain, an injury, a minor, no stated safeties: section 8 of this project's design."""
    assert load_words(draft(measured("squat", FAULTS["squat"][:2], context))) == []
    assert load_words(draft(measured("squat", FAULTS["squat"][:2], SAFE))) != []


@pytest.mark.parametrize(
    ("rpe", "says"), [(6.0, "2.5 kg"), (7.5, "2.5 kg"), (8.5, "same weight"), (9.5, "5 kg"), (None, "how hard")]
)
def test_advice_on_load_follows_the_effort(rpe: float | None, says: str) -> None:
    """Common practice, no source: room up to 7.5, near the limit from 9; 100 kg in the made set."""
    said = texts(draft(measured("squat", FAULTS["squat"][:1], evolve(SAFE, rpe=rpe))), "next")

    assert says in said
    assert "rep  " not in said
    assert "look like rep ." not in said


def test_no_advice_on_load_after_a_missed_rep() -> None:
    one = measured("squat", FAULTS["squat"][:1], SAFE)
    reps = (one.data.reps.reps[0], evolve(one.data.reps.reps[1], outcome="missed"))
    missed = evolve(one, data=evolve(one.data, reps=evolve(one.data.reps, reps=reps)))

    assert load_words(draft(missed)) == []
    assert "missed" in texts(draft(missed), "next")


def test_pain_names_a_clinician_and_is_neither_spoken_nor_quoted() -> None:
    """Private words stay out of what is said, of captions and of public text; a caution still stands."""
    words = "tingling in the left hand"
    context = evolve(SAFE, pain=words, age_years=17, body_mass_kg=67.3, question=f"Is it {words}?")
    of = draft(measured("bench", FAULTS["bench"][:2], context))
    review = apply(of, ())
    spoken = " ".join(line.words for line in script_of(review, {}).lines)
    public = " ".join(f"{p.caption} {p.aloud} {p.text}" for p in of.parts if not p.quiet)

    assert "licensed clinician" in texts(of, "caution")
    assert "guardian" in texts(of, "caution")
    for private in ("tingling", "You wrote", "67", "17", "under 18", "guardian"):
        assert private not in spoken
        assert private not in public


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
@pytest.mark.parametrize("years", [0.3, 3.0])
def test_with_pain_it_is_only_said_what_was_seen(lift: str, years: float) -> None:
    """No cue, drill, trial, weight or next clip below the caution, on the page or aloud (design, section 8)."""
    hurt = evolve(SAFE, pain="left knee", training_age_years=years, competition=Competition(date(2031, 5, 20)))
    for ids in [*((one,) for one in FAULTS[lift]), FAULTS[lift][:3], ()]:
        of = draft(measured(lift, ids, hurt), observed=("Breath lost",))
        well = draft(measured(lift, ids, evolve(hurt, pain=None)))
        review = apply(of, ())
        spoken = " ".join(line.words for line in script_of(review, {}).lines)

        assert not [p for p in of.parts if p.try_text or p.prediction or p.try_at or p.section == "film"]
        assert {p.about for p in of.parts if p.section == "change"} >= set(ids[:3])
        assert [p.about for p in of.parts if p.section == "next"] == ["no_load_pain"]
        assert "clinician" in texts(of, "caution")
        assert "stop" in texts(of, "caution")
        assert "kg" not in f"{texts(of, 'change')} {texts(of, 'next')}"
        for words in ("Do it again", "to try", "work on", "For the next session", "Try that", "Film the next"):
            assert words not in f"{spoken} {texts(of, 'change')}"
        assert not ids or any(p.try_text for p in well.parts)


def test_a_load_told_in_pounds_is_said_in_pounds() -> None:
    """225 lb are 102.058 kg (the international pound): on the page, aloud and in the next session alike."""
    one = measured("deadlift", FAULTS["deadlift"][:1], evolve(SAFE, load_unit="lb", rpe=9.5))
    of = draft(evolve(one, data=evolve(one.data, asked=evolve(one.data.asked, load_kg=102.05828))))
    said = " ".join([of.opening, *of.spoken_more, texts(of, "next"), texts(of, "change"), texts(of, "good")])

    assert "225 pounds" in of.opening
    assert re.search(r"\d+ lb", texts(of, "next"))
    assert " kg" not in said
    assert "kilos" not in said


def test_a_deadlift_needs_no_safeties() -> None:
    """It can be let go of (common practice, no source): the caution asks for room, page and voice alike."""
    for context in (SAFE, Context()):
        of = draft(measured("deadlift", FAULTS["deadlift"][:1], context))
        said = " ".join([texts(of, "caution"), texts(of, "next"), *of.spoken_more]).casefold()
        assert "safeties" not in said
        assert "straps" not in said
        assert "hurts" in said
    assert "safeties" in texts(draft(measured("squat", (), SAFE)), "caution").casefold()


def test_what_only_the_coach_saw_is_looked_for_again() -> None:
    """The vocabulary's prediction is that the same is marked again in the next set."""
    of = draft(
        measured("squat", FAULTS["squat"][:1], SAFE), observed=("The breath is lost at the low", "Eyes wander")
    )

    assert "the breath is lost at the low and eyes wander" in texts(of, "film")
    assert "film:mark_again" not in {p.id for p in draft(measured("squat", (), SAFE)).parts}


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_the_next_review_repeats_no_sentence(lift: str) -> None:
    """The same faults again, three weeks running: every sentence is new against the week before."""
    measurement = measured(lift, FAULTS[lift][:3], evolve(SAFE, question="Is the path straight?"))
    last: tuple[str, ...] = ()
    for _ in range(4):
        of = draft(measurement, last=last)
        script = script_of(apply(of, ()), {})
        now = texts_of(apply(of, ()), script)
        repeated = {s for t in last for s in sentences(t)} & {s for t in now for s in sentences(t)}
        assert repeated == set()
        assert any(p.section == "change" for p in of.parts)
        last = now


def test_a_meet_in_sight_sets_limits() -> None:
    """Four weeks or less: no new grip, stance or bar position. Four to ten: one change (design, section 8)."""
    grip = finding("bench_forearms", "bench")
    altering = tuple(c for c in (*grip.changes, *grip.other_changes) if c.alters)
    assert altering
    one = evolve(grip, changes=altering, other_changes=tuple(c for c in grip.changes if not c.alters))
    other = finding("bench_off_chest", "bench")

    def near(day: date) -> Draft:
        context = evolve(SAFE, competition=Competition(day), read_on=TODAY)
        return draft(evolve(measured("bench", (), context), found=Found(findings=(one, other))))

    close, far = near(date(2031, 5, 20)), near(date(2031, 6, 20))
    assert [p.about for p in close.parts if p.section == "change"] == ["bench_forearms"]
    assert "narrower" not in texts(close, "change")
    assert "meet" in texts(close, "next")
    assert len([p for p in far.parts if p.section == "change"]) == 1
    assert "narrower" in texts(far, "change")


def test_the_question_is_answered_first_or_left_to_the_coach() -> None:
    """By what was found, else by what held; what nothing answers needs the coach's words."""
    folding = evolve(
        SAFE, question="I fold over on the last two, legs or back?", working_on=("my depth", "smiling")
    )
    of = draft(measured("squat", ("squat_hips_first",), folding))
    asked = [p for p in of.parts if p.section == "asked"]

    assert of.parts[0] is asked[0]
    assert asked[0].about == "squat_hips_first"
    assert "on rep 2" in asked[0].text
    assert not asked[0].needs_words
    assert asked[2].needs_words
    assert all(p.quiet for p in asked)


@pytest.mark.parametrize(
    ("question", "reps"),
    [
        ("Would the second one have been passed?", (2,)),
        ("Are the last two deep enough?", (4, 5)),
        ("Is rep 3 high?", (3,)),
        ("Is the last one deep?", (5,)),
        ("Is the first as deep as the fifth?", (1, 5)),
        ("Is it deep enough?", ()),
        ("Is rep 9 fine?", ()),
    ],
)
def test_reps_that_a_question_names(question: str, reps: tuple[int, ...]) -> None:
    assert reps_meant(question, [1, 2, 3, 4, 5]) == reps


def test_a_question_about_the_rules_is_answered_for_the_rep_it_names() -> None:
    """By the rulebook's name and verdicts; the referees keep the last word."""
    one = measured("squat", (), evolve(SAFE, question="Would the second one have been passed?"))
    checks = tuple(
        RuleCheck(id="depth", rep=n, verdict=v, margin=None, at_s=None, rulebook="Book of Rules, version 3",
                  clause="1", title="hips below knees; by the crease")
        for n, v in ((1, "not_met"), (2, "close"))
    )  # fmt: skip
    text = next(p.text for p in draft(evolve(one, rule_checks=checks)).parts if p.section == "asked")

    assert "hips below knees (rep 2)" in text
    assert "too close for a camera to call" in text
    assert "not met" not in text
    assert "Book of Rules," in text or "Book of Rules:" in text
    assert "version" not in text
    assert "referees" in text


def test_accepted_is_left_out_until_its_day_or_load() -> None:
    """And the coach is told."""
    measurement = measured("squat", ("squat_dive",), SAFE)

    held = draft(measurement, accepted=(Accepted("squat_dive", date(2031, 6, 1), None),))
    past = draft(measurement, accepted=(Accepted("squat_dive", date(2031, 4, 1), None),))
    heavy = draft(measurement, accepted=(Accepted("squat_dive", None, 90.0),))

    assert "squat_dive" not in {p.about for p in held.parts}
    assert "accepted for this lifter" in " ".join(held.held_back)
    assert "squat_dive" in {p.about for p in past.parts}
    assert "squat_dive" in {p.about for p in heavy.parts}  # the made set has 100 kg


def test_hints_and_information_are_no_changes() -> None:
    one = measured("squat", (), SAFE)
    found = Found(findings=(finding("squat_dive", "squat", confidence="hint"), finding("squat_slowing", "squat")))
    of = draft(evolve(one, found=found))

    assert [p.about for p in of.parts if p.section == "change"] == ["nothing"]
    assert "a hint only" in " ".join(of.held_back)
    assert "no fault" in texts(of, "seen") or "effort" in texts(of, "seen")
    assert "slower" not in texts(of, "next")
    assert "slow down" not in texts(of, "next")


def test_a_single_rep_is_not_held_against_others() -> None:
    """Nothing is said of all of it, of one before, or of what held: there is one rep."""
    of = draft(many("squat", {}, 1, None, held=False))
    script = script_of(apply(of, ()), {})
    said = " ".join(line.words for line in script.lines)

    assert "all " not in texts(of, "good")
    assert not re.search(r"all of them|the one before|held there|to the last", said)
    assert FEWEST_WORDS <= script.words <= MOST_WORDS


def test_a_size_of_several_reps_is_the_largest_of_them() -> None:
    """One rep shows 27 mm; of the others it is only said that they show it: "up to"."""
    several = draft(many("squat", {"squat_bar_forward": (2, 3)}, 4, 1, held=True))
    single = draft(many("squat", {"squat_bar_forward": (3,)}, 4, 1, held=True))

    assert "up to 3.5 cm" in texts(several, "change")
    assert "2 to 3.5 cm" in texts(single, "change")


def test_one_drill_for_the_first_change_and_none_with_pain_or_a_meet_in_sight() -> None:
    """Section 8 of this project's design."""
    of = draft(measured("squat", ("squat_bar_forward", "squat_hips_first"), SAFE))
    drills = [p.text for p in of.parts if p.id == "next:drill"]
    assert len(drills) == 1
    assert "three seconds" in drills[0]

    for more in ({"pain": "knee"}, {"competition": Competition(on=date(2031, 5, 20)), "read_on": TODAY}):
        other = draft(measured("squat", ("squat_bar_forward",), evolve(SAFE, **more)))
        assert "next:drill" not in {p.id for p in other.parts}


def test_every_drill_has_words_of_the_library() -> None:
    """What a change proposes as a drill, by its id."""
    for lift in ("squat", "bench", "deadlift"):
        for definition in findings_of(lift):
            for change in definition.changes:
                assert (change.kind == "drill") == LIBRARY.knows(change.id, "drill"), change.id


def test_where_nothing_is_to_be_tried_no_try_is_looked_back_on() -> None:
    """No word of causes, of "whether it worked" or of one thought at a time where nothing was asked for."""
    script = script_of(apply(draft(many("squat", {}, 4, 1, held=True)), ()), {})
    said = " ".join(line.words for line in script.lines)

    assert not re.search(r"worked|causes|One thing at a time|any of this", said)
    tried = script_of(apply(draft(many("squat", {"squat_bar_forward": (2,)}, 4, 1, held=True)), ()), {})
    assert re.search(r"whether it worked|whether any of this", tried.lines[-1].words)


@pytest.mark.parametrize("faults", [{}, {"squat_bar_forward": (2,)}])
def test_a_camera_that_is_to_be_moved_is_not_to_stay(faults: dict[str, tuple[int, ...]]) -> None:
    """What is asked of the next film stands in one way on the page and in the closing words."""
    side = many("squat", faults, 4, 1, held=True)
    view = evolve(side.data.view, view_class="front_oblique", yaw_deg=evolve(side.data.view.yaw_deg, value=35.0))
    aside = evolve(side, data=evolve(side.data, view=view))

    for one, square in ((side, False), (aside, True)):
        of = draft(one)
        assert any(p.about == "square" for p in of.parts) is square
        assert ("square" in of.closing) is square
        assert ("same place" in of.closing) is not square


def test_more_weight_does_not_hang_on_a_change_where_none_is_asked_for() -> None:
    easy = evolve(SAFE, rpe=6.0, load_kg=100.0)
    for faults, hangs in (({}, False), ({"squat_bar_forward": (2,)}, True)):
        one = many("squat", faults, 4, 1, held=True)
        one = evolve(one, context=easy, data=evolve(one.data, asked=evolve(one.data.asked, load_kg=100.0)))
        said = texts(draft(one), "next")
        assert "up to 2.5 kg" in said
        assert ("first change" in said) is hangs


def test_one_rep_without_a_fault_is_no_verdict() -> None:
    """One rep compares with nothing: it is not said that all is well, nor that it shows what can be repeated."""
    of = draft(single())
    said = texts(of, "change")

    assert "three reps" in said
    assert "eep what you do" not in said
    assert "repeat" not in " ".join(voice(single()))
    assert "change now" in texts(draft(many("bench", {}, 4, 2, held=False)), "change") or "see here" in texts(
        draft(many("bench", {}, 4, 2, held=False)), "change"
    )


def test_what_the_view_does_not_show_is_named_before_nothing_is_found() -> None:
    """Without one reading of hips and trunk it is not said of the whole squat that nothing is to change."""
    whole = many("squat", {}, 4, 2, held=False)
    kept = tuple(
        tuple(m for m in rep if not m.id.startswith(("trunk_", "hip_lead"))) for rep in whole.measured.reps
    )
    said = texts(draft(evolve(whole, measured=evolve(whole.measured, reps=kept))), "change")

    assert "hips and trunk" in said


def test_a_view_that_is_not_known_is_not_said_twice() -> None:
    """It read "filmed on a phone on a phone"."""
    assert "phone on a phone" not in " ".join(voice(single(view="unknown")))


def test_what_is_only_likely_is_not_told_as_certain() -> None:
    """The lifter's page shows no confidence beside a sentence, so the sentence has to say it itself."""
    one = measured("squat", (), SAFE)

    def said(confidence: str, last: tuple[str, ...] = ()) -> Part:
        found = Found(findings=(finding("squat_hips_first", "squat", confidence=confidence),))
        return next(p for p in draft(evolve(one, found=found), last=last).parts if p.about == "squat_hips_first")

    doubt = re.compile(r"certain|ikely|looks like|settle|swear|as small as this clip", re.I)
    assert doubt.search(said("likely").why)
    assert doubt.search(said("likely").aloud)
    assert not doubt.search(said("sure").why + said("sure").aloud)
    hurt = evolve(one, context=evolve(SAFE, pain="the knee"))
    found = Found(findings=(finding("squat_hips_first", "squat", confidence="likely"),))
    words = next(p for p in draft(evolve(hurt, found=found)).parts if p.about == "squat_hips_first")
    assert "not certain" in words.why
    assert not re.search(r"set|clip|change", words.why.split("Fairly")[1])
    every = tuple(s for _, kinds in LIBRARY.table["likely"].items() for texts_ in kinds.values() for s in texts_)
    assert doubt.search(said("likely", every).why)


def test_what_is_held_back_reads_as_sentences() -> None:
    one = measured("squat", (), SAFE)
    hint = evolve(finding("squat_dive", "squat", confidence="hint"), doubts=("it is small", "and near"))
    (line,) = draft(evolve(one, found=Found(findings=(hint,)))).held_back

    assert line.endswith("It is small; and near.")


def test_nothing_is_said_of_the_foot_that_only_the_bar_shows() -> None:
    """The path is measured from the vertical through its low and not from the middle of the foot."""
    claims = [s for texts_ in LIBRARY.table["squat_bar_forward"]["claim"].values() for s in texts_]

    assert claims
    assert not [s for s in claims if re.search(r"\bfoot\b", s)]


@pytest.mark.parametrize("outcome", ["missed", "assisted", "dropped"])
def test_a_rep_that_was_not_finished_alone_is_no_set_to_keep(outcome: str) -> None:
    """It was told to keep what it does, whatever became of its last rep."""
    whole = many("squat", {}, 4, 2, held=False)
    reps = (*whole.data.reps.reps[:3], evolve(whole.data.reps.reps[3], outcome=outcome))
    missed = evolve(whole, data=evolve(whole.data, reps=evolve(whole.data.reps, reps=reps)))
    said = texts(draft(missed), "change")

    assert "rep 4" in said
    assert "keep" not in said
    assert "worth keeping" not in " ".join(voice(missed))


def test_a_question_that_this_view_cannot_answer_says_once_how_to_film() -> None:
    """The answer sent to another view and the lines below back to the same place."""
    whole = many("squat", {}, 3, 2, held=True)
    unseen = tuple(
        RuleCheck(id="depth", rep=n, verdict="not_seen", margin=None, at_s=None, rulebook="IPF", clause="4.1",
                  title="depth",
                  reason="the near knee is hidden by the plate at 2.8 s; film from 20-30 degrees to the front")
        for n in (1, 2, 3)
    )  # fmt: skip
    of = draft(evolve(whole, rule_checks=unseen, context=evolve(SAFE, question="Am I deep enough?")))

    assert "film from 20-30 degrees" in texts(of, "asked")
    assert "question" in texts(of, "film")
    assert "same place" not in texts(of, "film") + of.closing


def test_with_pain_the_caution_is_said_once() -> None:
    hurt = draft(measured("squat", (), Context(pain="the knee")))

    assert sum("hurts" in p.text for p in hurt.parts if p.section == "caution") == 1
    assert "next set" not in " ".join(voice(measured("squat", (), Context(pain="the knee"))))
