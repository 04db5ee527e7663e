"""The script for the voice: its length, its order, what it shows and what it leaves unsaid."""

from __future__ import annotations

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st
from review.made import FAULTS, LIBRARY, SAFE, draft, many, measured, single, voice

from midfoot.records.context import Consent, Context
from midfoot.records.review import Edit
from midfoot.review import apply, moment_words, script_of, texts_of
from midfoot.review.library import sentences
from midfoot.review.script import FEWEST_WORDS, MOST_WORDS, count


@given(
    st.sampled_from(["squat", "bench", "deadlift"]),
    st.data(),
    st.booleans(),
    st.sampled_from([SAFE, Context(), evolve(SAFE, pain="a knee"), evolve(SAFE, training_age_years=0.3)]),
)
def test_the_script_keeps_its_length_and_points_at_things(
    lift: str, data: st.DataObject, held: bool, context: Context
) -> None:
    """150 to 220 words, three moments, nothing finer than one can point at, for whatever was found."""
    ids = tuple(data.draw(st.lists(st.sampled_from(FAULTS[lift]), unique=True, max_size=3)))
    measurement = measured(lift, ids, context, held=held)
    script = script_of(apply(draft(measurement), ()), moment_words(measurement))

    assert script.complaints == ()
    assert FEWEST_WORDS <= script.words <= MOST_WORDS
    assert sum(line.at_s is not None for line in script.lines) == 3
    assert script.words == sum(count(line.words) for line in script.lines)
    assert 60 <= script.seconds <= 90
    said = [s for line in script.lines for s in sentences(line.words)]
    assert len(said) == len(set(said))


def test_how_to_look_is_said_before_there_is_anything_to_look_at() -> None:
    """Whatever fills a short script: "look here" never stands behind the last moment."""
    one = many("squat", {"squat_bar_forward": (5,)}, 5, 1, held=True)
    lines = script_of(apply(draft(one), ()), moment_words(one)).lines
    first = next(k for k, line in enumerate(lines) if line.at_s is not None)
    looks = LIBRARY.options("look", "link", to="on_air", level="trained")
    where = [k for k, line in enumerate(lines) if line.words in looks]

    assert where
    assert max(where) < first


@given(st.sampled_from(["squat", "bench", "deadlift"]), st.integers(1, 8), st.data(), st.booleans())
def test_the_script_keeps_its_length_for_any_number_of_reps_and_the_week_after(
    lift: str, count: int, data: st.DataObject, held: bool
) -> None:
    """One to eight reps, faults on any of them, any best rep; then the same again, without the same sentences."""
    ids = data.draw(st.lists(st.sampled_from(FAULTS[lift]), unique=True, max_size=3))
    numbers = st.lists(st.integers(1, count), min_size=1, unique=True).map(lambda n: tuple(sorted(n)))
    placed = {name: data.draw(numbers) for name in ids}
    best = data.draw(st.none() | st.integers(1, count))
    measurement, last = many(lift, placed, count, best, held=held), ()
    for _ in range(2):
        review = apply(draft(measurement, last=last), ())
        script = script_of(review, moment_words(measurement))
        assert script.complaints == ()
        last = texts_of(review, script)


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_slowing_is_spoken_where_there_is_room_and_before_what_only_fills(lift: str) -> None:
    """What was seen in this set comes before what could be said of every set, and is no fault."""
    of = draft(many(lift, {f"{lift}_slowing": (3, 4)}, 4, 1, held=True))
    words = [line.words for line in script_of(apply(of, ()), {}).lines]

    (at,) = [k for k, w in enumerate(words) if "takes longer on repetitions three and four" in w]
    assert "no fault" in words[at]
    assert all(at < k for k, w in enumerate(words) if "worth keeping" in w or "Keep this one" in w)


def test_with_pain_the_voice_does_not_say_why_reps_got_slower() -> None:
    one = many("bench", {"bench_slowing": (3, 4)}, 4, 1, held=True)
    script = script_of(apply(draft(evolve(one, context=Context(safeties="pins", pain="shoulder"))), ()), {})

    assert not any("limit" in line.words for line in script.lines)


@pytest.mark.parametrize("count", [3, 4, 6])
def test_three_reps_are_shown_where_there_are_three_and_nothing_is_to_change(count: int) -> None:
    """Two moments of one rep half a second apart tell nothing of whether it held."""
    one = many("bench", {}, count, 2, held=True)
    shown = [line.rep for line in script_of(apply(draft(one), ()), {}).lines if line.rep is not None]

    assert len(set(shown)) == 3


def test_the_coach_s_own_words_are_counted_against_the_script() -> None:
    """A figure finer than one can point at, and a speech, are named; nothing is cut from the coach's words."""
    measurement = measured("squat", FAULTS["squat"][:2], SAFE)
    of = draft(measurement)
    part = next(p for p in of.parts if p.section == "change")
    long = Edit(id="1", kind="reword", part=part.id, length="on_air", text="It went 23.4 mm. " + "Word " * 200,
                reps=part.reps, at_s=part.at_s)  # fmt: skip

    script = script_of(apply(of, (long,)), {})

    assert any("too many" in c for c in script.complaints)
    assert any("finer" in c for c in script.complaints)
    assert any(line.words.count("Word") == 200 for line in script.lines)


def test_consent_is_not_needed_to_speak_because_no_name_is_spoken() -> None:
    """The lifter's name stands in the page for him, never in what is spoken."""
    context = evolve(SAFE, lifter="Runa", consents=(Consent("name"),))
    of = draft(measured("squat", FAULTS["squat"][:1], context))

    assert "Runa" in of.greeting
    assert "Runa" not in " ".join(line.words for line in script_of(apply(of, ()), {}).lines)


def test_the_only_rep_is_shown_without_its_number() -> None:
    one = many("squat", {}, 1, None, held=False)
    script = script_of(apply(draft(one), ()), moment_words(one))

    shown = [line.words for line in script.lines if line.at_s is not None]
    assert len(shown) == 3
    assert not any("repetition one" in words for words in shown)
    assert [words.partition(",")[0] for words in shown] == ["First", "Now", "Then"]


def test_the_only_rep_is_shown_in_its_own_order_and_finished_at_its_end() -> None:
    """It was said to be finished while the picture stood at the chest."""
    measurement = single()
    review = apply(draft(measurement), ())
    shown = [line for line in script_of(review, moment_words(measurement)).lines if line.at_s is not None]

    assert [line.at_s for line in shown] == sorted(line.at_s for line in shown if line.at_s is not None)
    assert "finished" in shown[-1].words
    assert not any("finished" in line.words for line in shown[:-1])


def test_where_no_plate_is_to_be_seen_the_voice_speaks_of_the_bar() -> None:
    """From the front the plate stands edge-on; the tip for filming does not send everybody to the side."""
    words = " ".join(voice(single(view="front")))

    assert "plate" not in words
    assert "from the front" in words


def test_what_was_not_finished_is_shown_as_that_and_not_as_the_good_of_the_set() -> None:
    """It began with the missed rep, and with what had held in it."""
    whole = many("squat", {}, 3, None, held=True)
    reps = (*whole.data.reps.reps[:2], evolve(whole.data.reps.reps[2], outcome="missed"))
    missed = evolve(whole, data=evolve(whole.data, reps=evolve(whole.data.reps, reps=reps)))
    review = apply(draft(missed), ())
    shown = [line for line in script_of(review, moment_words(missed)).lines if line.at_s is not None]

    assert shown[0].rep != 3
    assert [line.rep for line in shown if "not finished alone" in line.words] == [3]
