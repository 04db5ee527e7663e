"""Pasted texts, all invented: what is understood, what stays in doubt, what is handed back."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.desk.pasted import Pasted, context_of, read
from midfoot.desk.pasted.words import FILLER
from midfoot.units import KG_PER_LB

TODAY = date(2027, 1, 10)
LB = KG_PER_LB


def one(text: str) -> Pasted:
    found = read(text, TODAY)
    assert len(found) == 1, [p.text for p in found]
    return found[0]


def values(pasted: Pasted) -> dict[str, Any]:
    return {s.field: s.value for s in pasted.said}


KG, LBS = "kg", "lb"
TEXTS: list[tuple[str, dict[str, Any]]] = [
    ("Squat 140kg x 5 @8", {"lift": "squat", "load_kg": (140.0, KG), "reps": 5, "rpe": 8.0}),
    ("squats, 142,5 kg for 3, RPE 8.5", {"lift": "squat", "load_kg": (142.5, KG), "reps": 3, "rpe": 8.5}),
    ("bench press 225 lbs x 4, 1 RIR",
     {"lift": "bench", "load_kg": (round(225 * LB, 4), LBS), "reps": 4, "rir": 1.0}),
    ("Deadlift: 405# single, had 2 left",
     {"lift": "deadlift", "load_kg": (round(405 * LB, 4), LBS), "reps": 1, "rir": 2.0}),
    ("DL 5x180kg", {"lift": "deadlift", "load_kg": (180.0, KG), "reps": 5}),
    ("sumo pull, a set of five at 150 kilos", {"lift": "deadlift", "reps": 5, "load_kg": (150.0, KG)}),
    ("BP 80kg triple, two in the tank", {"lift": "bench", "reps": 3, "rir": 2.0, "load_kg": (80.0, KG)}),
    ("top set squat 160 kg x 1 rpe 9, could have done one more", {"rpe": 9.0, "rir": 1.0, "reps": 1}),
    ("Lift: squat\nLoad: 100 kg\nReps: 6\nRPE: 7",
     {"lift": "squat", "load_kg": (100.0, KG), "reps": 6, "rpe": 7.0}),
    ("bench 60kg 8 reps bw 71kg", {"load_kg": (60.0, KG), "body_mass_kg": 71.0, "reps": 8}),
    ("deadlift 200kg, I weigh 93 kg and I'm 182cm tall",
     {"load_kg": (200.0, KG), "body_mass_kg": 93.0, "stature_m": 1.82}),
    ("squat 315 lb x 3, bodyweight 181lbs, 5'11\"", {"body_mass_kg": round(181 * LB, 4), "stature_m": 1.8034}),
    ("5 ft 4 in, 27 yo F, squat 90kg",
     {"stature_m": 1.6256, "age_years": 27, "sex": "female", "load_kg": (90.0, KG)}),
    ("24M, height 1.78 m, bench 100kg", {"age_years": 24, "sex": "male", "stature_m": 1.78}),
    ("my daughter is 15, squat 50kg x 5", {"age_years": 15, "reps": 5}),
    ("I've been lifting for 18 months. squat 80kg", {"training_age_years": 1.5, "load_kg": (80.0, KG)}),
    ("squat 120kg, no pain", {"pain": ""}),
    ("squat 120kg pain free. no injuries", {"pain": "", "injury": ""}),
    ("Pain: none. Deadlift 140kg", {"pain": ""}),
    ("squat 120kg x3, my left knee hurts a bit at the bottom", {"pain": "my left knee hurts a bit at the bottom"}),
    ("deadlift 180kg, lower back is a bit sore since Monday", {"pain": "lower back is a bit sore since Monday"}),
    ("bench 90kg. I tweaked my shoulder last month", {"injury": "I tweaked my shoulder last month"}),
    ("Why does my hip pinch in the hole? squat 100kg", {"pain": "Why does my hip pinch in the hole?",
                                                         "question": "Why does my hip pinch in the hole?"}),
    ("had knee surgery in 2024, squat 80kg", {"injury": "had knee surgery in 2024"}),
    ("squat 130kg, comp on 24 May 2027", {"competition": date(2027, 5, 24)}),
    ("meet in 6 weeks, deadlift 190kg", {"competition": date(2027, 2, 21)}),
    ("Nationals 2027-03-06. Bench 110kg", {"competition": date(2027, 3, 6)}),
    ("8 weeks out! squat 150kg", {"competition": date(2027, 3, 7)}),
    ("competing May 24th. Squat 130kg", {"competition": date(2027, 5, 24)}),
    ("comp 25/3/27, squat 130kg", {"competition": date(2027, 3, 25)}),
    ("squat 120kg, safeties just below the bottom, one spotter", {"safeties": "safeties just below the bottom",
                                                                   "spotter": "one spotter"}),
    ("bench 100kg no spotter, no safeties", {"spotter": "", "safeties": ""}),
    ("Safeties: none\nSpotter: no\nbench 100kg", {"spotter": "", "safeties": ""}),
    ("squat 100kg. Is my depth legal?", {"question": "Is my depth legal?"}),
    ("squat 100kg, wondering if I lean too far forward",
     {"question": "squat 100kg, wondering if I lean too far forward"}),
    ("Q: are my hips shooting up? deadlift 170kg", {"question": "are my hips shooting up?"}),
    ("deadlift 170kg, been working on keeping the bar close", {"working_on": "keeping the bar close"}),
    ("Squat 100kg, low bar, belt and knee sleeves", {"variation": "low bar", "equipment": "knee sleeves"}),
    ("paused close grip bench 85kg", {"lift": "bench", "load_kg": (85.0, KG)}),
    ("Hi coach, Anna here. Squat 100kg", {"name": "Anna"}),
    ("My name is Ben Oakley. Deadlift 200kg", {"name": "Ben Oakley"}),
    ("Squat 100kg x5\nthanks, Mia", {"name": "Mia"}),
    ("Name: Tove\nsquat 60kg", {"name": "Tove"}),
    ("bench 100kg, 450 mm plates, filmed from the side", {"plate_mm": 450.0, "view": "side"}),
    ("squat 100kg rear view", {"view": "rear"}),
    ("squat 120 kg, this is me", {"filmed": "self"}),
    ("My client agreed, with her permission: squat 70kg", {"filmed": "permission"}),
    ("Name: Kaya M\nAge 31 / F / 57.5kg\nSquat 92.5kg x 3\nInjuries: old ankle sprain",
     {"name": "Kaya M", "age_years": 31, "sex": "female", "body_mass_kg": 57.5, "load_kg": (92.5, KG),
      "injury": "Injuries: old ankle sprain"}),
    ("I'm a 45 year old male, 5 foot 9, 200 pounds, bench 185 lb for 5 reps",
     {"age_years": 45, "body_mass_kg": round(200 * LB, 4), "load_kg": (round(185 * LB, 4), LBS), "reps": 5}),
    ("Height: 6'1 Weight: 220 lbs\nDeadlift 495 lbs x 2",
     {"body_mass_kg": round(220 * LB, 4), "load_kg": (round(495 * LB, 4), LBS)}),
    ("weight: 100kg, reps: 5, squat", {"load_kg": (100.0, KG), "body_mass_kg": None, "reps": 5}),
    ("Bench 225 @ 8 for 4", {"load_kg": (225.0, KG), "rpe": 8.0, "reps": 4}),
    ("DL: 180kg*3, RPE 8½", {"rpe": 8.5, "load_kg": (180.0, KG), "reps": 3}),
    ("315x3 bench, shoulder's been bugging me", {"pain": "shoulder's been bugging me"}),
    ("my lower back gets tight; deadlift 150kg x5", {"pain": "my lower back gets tight"}),
    ("My client Lena squatted 85kg for 4. She agreed to be filmed.", {"filmed": "permission"}),
    ("dead lift 160 kg x 2; plates are 45cm", {"lift": "deadlift", "plate_mm": 450.0}),
    ("IMG_0042.MOV squat 100kg x 5", {"file": "IMG_0042.MOV", "reps": 5}),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), TEXTS, ids=[t[:50] for t, _ in TEXTS])
def test_what_is_understood(text: str, expected: dict[str, Any]) -> None:
    found = values(one(text))
    assert {k: found.get(k) for k in expected} == expected


@pytest.mark.parametrize(
    ("text", "field", "value", "note"),
    [
        ("squat 140x5", "load_kg", (140.0, "kg"), "no unit was written: read as kg"),
        ("squat 315x5, bw 180 lb", "load_kg", (round(315 * LB, 4), "lb"), "no unit was written: read as lb"),
        ("squat 3x5 at 140kg", "reps", 5, "read as sets of 5"),
        ("squat 100kg, comp on 24 May", "competition", date(2027, 5, 24), "no year was written"),
        ("squat 100kg, comp on 2 January", "competition", date(2028, 1, 2), "no year was written"),
        ("I'm 23. Squat 100kg", "age_years", 23, "read as an age"),
        ("bench 80kg, bw 75", "body_mass_kg", 75.0, "no unit was written"),
        ("Is my squat too wide?", "lift", "squat", "read from the question"),
    ],
)
def test_what_is_assumed_is_said(text: str, field: str, value: Any, note: str) -> None:
    said = next(s for s in one(text).said if s.field == field)
    assert (said.value, said.sure) == (value, False)
    assert note in said.note


@pytest.mark.parametrize(
    ("text", "field", "doubt"),
    [
        ("squat 120x5, 130x5, 140x5", "load_kg", "120 kg, 130 kg, 140 kg"),
        ("squat or deadlift, 140kg", "lift", "deadlift, squat"),
        ("squat 100kg RPE 7-8", "rpe", "two values"),
        ("squat 100kg RPE 9, 3 RIR", "rpe", "ask"),
        ("Squat 100kg x5x3 @7,8,8.5", "rpe", "which set"),
        ("squat 130kg, 2-3 left in the tank", "rir", "two values"),
        ("squat 100kg rpe 8 ... actually RPE 9", "rpe", "8.0, 9.0"),
        ("I'm 75. squat 100kg", "age_years", "age or a body mass"),
        ("squat 100kg, meet on 5/6", "competition", "day first or month first"),
        ("squat 100kg, got a comp coming up", "competition", "without its day"),
        ("squat 100kg, competed at nationals on 3 March 2026", "competition", "is over"),
        ("bodyweight 700 kg, squat 100kg", "body_mass_kg", "cannot be"),
        ("overhead press 60kg x 5", "lift", "none of the three lifts"),
        ("squat 100kg, my friend filmed", "filmed", "permission"),
        ("squat 100kg, feel free to share it", "consents", "ask for each use"),
        ("no pain. squat 100kg. my elbow aches though", "pain", "there is none"),
        ("squat 9000 kg", "load_kg", "cannot be"),
        ("squat 100kg RPE 11", "rpe", "from 5 to 10"),
        ("30 February is my meet, squat 100kg", "competition", "no day that there is"),
    ],
)
def test_what_could_mean_two_things_is_asked_and_sets_nothing(text: str, field: str, doubt: str) -> None:
    found = one(text)
    assert any(d.field == field and doubt in d.text for d in found.doubts), found.doubts
    if field != "pain":
        assert found.value(field) is None
    else:
        assert found.value("pain"), "pain that was named is never taken back"


@pytest.mark.parametrize(
    "text",
    ["max squat is 180kg", "squat 140kg x5, my PR is 170kg", "squat 140kg, want to hit 200 kg at the meet",
     "squat 140kg, opener 150kg", "squat 140kg x 3 after warming up with 100kg",
     "last week 135kg, squat 140kg today"],
)  # fmt: skip
def test_loads_of_another_day_are_not_the_loads_of_this_set(text: str) -> None:
    load = one(text).value("load_kg")
    assert load is None if text.startswith("max") else load == (140.0, "kg")


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("my left foot goes numb after heavy sets", "numbness or tingling"),
        ("tingling in my fingers", "numbness or tingling"),
        ("pain shoots down the back of my leg", "pain that radiates"),
        ("I passed out after the last rep", "fainting"),
        ("felt dizzy and saw stars", "fainting"),
        ("some chest pain on the way up", "chest pain"),
        ("weakness in my right leg since Tuesday", "weakness"),
        ("my leg gave way", "weakness"),
        ("legs feel weak after", "weakness"),
        ("can't feel my pinky", "numbness or tingling"),
        ("lost control of my bladder", "bladder or bowel"),
    ],
)
def test_symptoms_that_need_help_at_once(text: str, what: str) -> None:
    assert what in [w for w, _ in one(f"Squat 100kg x 5. {text}").urgent]


@pytest.mark.parametrize(
    "text",
    ["my weakness is off the chest", "no numbness or tingling", "weak point is lockout", "chest up felt good",
     "I never get dizzy", "the bar felt light", "my hips shoot up", "legs feel weak off the floor"],
)  # fmt: skip
def test_ordinary_words_are_no_symptoms(text: str) -> None:
    assert one(f"Bench 100kg x 5. {text}").urgent == ()


def test_several_people_in_one_paste() -> None:
    text = """[12/01/2027, 12:30] Anna: squat 100 kg x 5 rpe 8
[12/01/2027, 12:31] Anna: no pain
[12/01/2027, 12:40] Ben: deadlift 200kg single @9
my back hurts
Cleo: bench 60kg x 8

Name: Dai
Lift: squat
Load: 90kg"""
    found = read(text, TODAY)

    assert [(p.name, p.value("lift"), p.value("load_kg")) for p in found] == [
        ("Anna", "squat", (100.0, "kg")), ("Ben", "deadlift", (200.0, "kg")), ("Cleo", "bench", (60.0, "kg")),
        ("Dai", "squat", (90.0, "kg")),
    ]  # fmt: skip
    assert [p.value("pain") for p in found] == ["", "my back hurts", None, None], "pain stays with who named it"


def test_several_sets_of_one_person_share_what_was_said_of_the_person() -> None:
    text = """Hi, Anna here, 63 kg bw, 24F, my knee hurts a bit. Comp in 5 weeks.
1) squat 100kg x 5 @8
2) bench 60kg x 5 @8
3) deadlift 130kg x 3 @9"""
    found = read(text, TODAY)

    assert [p.value("lift") for p in found] == ["squat", "bench", "deadlift"]
    for p in found:
        assert (p.name, p.value("body_mass_kg"), p.value("age_years")) == ("Anna", 63.0, 24)
        assert "knee hurts" in p.value("pain")
        assert p.value("competition") == date(2027, 2, 14)
    carried = next(s for s in found[2].said if s.field == "body_mass_kg")
    assert (carried.sure, carried.note) == (False, "said above, of another set")


def test_sets_after_an_empty_line_and_after_a_rule_are_apart() -> None:
    for text in ("squat 100kg x5 @8\n\nbench 70kg x5 @9", "Anna: squat 100kg x5\n---\nBen: bench 70kg x5",
                 "IMG_1.mov squat 100kg x5\nIMG_2.mov bench 70kg x5"):  # fmt: skip
        found = read(text, TODAY)
        assert [p.value("lift") for p in found] == ["squat", "bench"]


def test_what_nobody_understands_is_handed_back() -> None:
    found = one("Squat 100kg x 5 @8. The bar whip was wild and my socks matched!")
    assert found.left_over == ("The bar whip was wild and my socks matched!",)
    assert one("asdf qwer 12 zxcv").left_over == ("asdf qwer 12 zxcv",)
    assert read("  \n ", TODAY) == ()


def test_the_record_holds_what_was_said_and_leaves_doubts_empty() -> None:
    said = context_of(
        one("Anna here, squat 225 lb x 5, RPE 8 or RPE 9, low bar, belt, comp on 24 May 2027"), TODAY
    )
    assert (said.lifter, said.lift, said.reps, said.load_unit, said.rpe) == ("Anna", "squat", 5, "lb", None)
    assert said.load_kg == pytest.approx(225 * LB, abs=1e-3)
    assert said.competition is not None
    assert said.competition.on == date(2027, 5, 24)
    assert said.consents == ()


LABELS = {"name", "img", "mov"}
"""What is taken off before a value."""
WORDS = st.sampled_from(
    ["squat", "bench", "deadlift", "140kg", "315 lb", "x5", "@8",
      "RPE 9", "2 RIR", "bw 80", "my knee hurts", "no pain",
     "comp in 4 weeks", "5'11\"", "27yo", "I'm 30", "?", "\n", "\n\n", "---", "Anna:", "1)", "2)", "Name: Bo",
     "5/6",
     "no spotter", "safeties set", "max 200kg", "working on bracing", "is it deep", ",", ".", "IMG_1.mov",
     "12", "…", "é"]
)  # fmt: skip


@given(st.one_of(st.text(max_size=200), st.lists(WORDS, max_size=30).map(" ".join)))
def test_no_text_breaks_it_and_no_word_is_lost(text: str) -> None:
    """Every word stands in what was said, in a doubt, in what is left over, or is one that says nothing."""
    found = read(text, TODAY)
    kept = " ".join(
        part
        for p in found
        for part in (*(f"{s.words} {s.value}" for s in p.said), *(d.text for d in p.doubts), *p.left_over,
                     *(w for pair in p.urgent for w in pair))
    ).lower()  # fmt: skip
    for word in re.findall(r"[A-Za-z]{3,}", text):
        assert word.lower() in kept or word.lower() in FILLER or word.lower() in LABELS, (word, found)
    for pasted in found:
        context_of(pasted, TODAY)
