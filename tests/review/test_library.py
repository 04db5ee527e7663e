"""The coach's library: whole, of the stated form, the coach's own words first, never the same sentence again."""

from __future__ import annotations

import re
import string
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from review.made import ALL_IDS, FAULTS

from midfoot.records.review import LEVELS
from midfoot.review.library import (
    PLACES,
    LibraryError,
    Picker,
    as_template,
    load,
    sentences,
    with_wording,
)

VALUES = dict.fromkeys(PLACES, "something")


@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_every_finding_has_a_claim_for_both_ears_and_an_explanation(lift: str) -> None:
    """Read off the registry, so that a new finding without words fails here."""
    library = load()

    assert [i for i in ALL_IDS[lift] if not library.options(i, "claim", to="lifter")] == []
    assert [i for i in FAULTS[lift] if not library.options(i, "claim", to="on_air")] == []
    assert [i for i in ALL_IDS[lift] if not library.options(i, "explanation", to="lifter")] == []


def every_sentence() -> list[tuple[str, str]]:
    """All variants with where they stand."""
    return [
        (f"{about}.{kind}.{to}", text)
        for about, kinds in load().table.items()
        for kind, ears in kinds.items()
        for to, said in ears.items()
        for text in said
    ]


def test_what_is_spoken_has_no_figure_and_no_you_of_the_body() -> None:
    """Nothing finer than one can point at, nothing private: this project's own rules for the voice."""
    spoken = [(where, text) for where, text in every_sentence() if "on_air" in where]

    assert len(spoken) > 60
    assert [s for s in spoken if re.search(r"\d|±|\{size\}|\{reps\}|\{rep\}|\{kg\}|\{load\}", s[1])] == []
    private = re.compile(r"\b(injur|weighs?\b|years old|age\b|body mass)", re.I)
    assert [s for s in spoken if private.search(s[1])] == []


def test_sentences_end_and_begin_as_sentences_do() -> None:
    """A capital or a brace first, an end last; no filler words."""
    filler = re.compile(r"\b(great job|awesome|amazing|basically|obviously|literally|as you can see)\b", re.I)
    joined_on = ("compare.link.on_air", "compare_one.link.on_air")

    for where, text in every_sentence():
        assert text[0].isupper() or text[0] in "{(" or where in joined_on, (where, text)
        assert text.endswith((".", "!", "?", ")", "}")), (where, text)
        assert not filler.search(text), (where, text)


def test_no_sentence_of_the_last_review_comes_again_whatever_stands_in_it() -> None:
    """Also with other reps and sizes; when all was said, nothing is."""
    library = load()
    values = {"reps": "reps 3 to 5", "size": "2 to 3 cm"}
    said: list[str] = []
    for n in range(6):
        text = Picker(library, "trained", said).pick("squat_bar_forward", "claim", "lifter", values)
        if text:
            assert text not in said
            said.append(text.replace("reps 3 to 5", f"rep {n}").replace("2 to 3 cm", "1 to 2 cm"))

    assert len(said) == len(library.options("squat_bar_forward", "claim"))
    assert Picker(library, "trained", said).pick("squat_bar_forward", "claim", "lifter", values) == ""
    again = Picker(library, "trained", said).pick("squat_bar_forward", "claim", "lifter", values, fallback="New.")
    assert again == "New."


@given(st.lists(st.sampled_from(sorted(load().table)), max_size=6), st.sampled_from(LEVELS), st.integers(0, 3))
def test_picking_never_repeats(abouts: list[str], level: str, rounds: int) -> None:
    """Whatever is picked round after round, no sentence is in what was said the round before."""
    library, last = load(), []
    for _ in range(rounds):
        picker, now = Picker(library, level, last), []
        for about in abouts:
            for kind in library.table[about]:
                now.append(picker.pick(about, kind, "lifter", VALUES))
        before = {s for text in last for s in sentences(text)}
        assert not before & {s for text in now for s in sentences(text)}
        last = [text for text in now if text]


def test_levels_come_first_and_missing_values_are_passed_over() -> None:
    """A new lifter hears the plain variant; a variant that needs a size is not used without one."""
    library = load()

    new = Picker(library, "new").pick("squat_bar_forward", "claim", "lifter", {"reps": "rep 2"})
    trained = Picker(library, "trained").pick("squat_bar_forward", "claim", "lifter", {"reps": "rep 2"})

    assert "toward your toes" in new
    assert trained == ""


def test_a_coach_comes_first_and_his_kept_wording_before_that(tmp_path: Path) -> None:
    """Files of the folder before the program's; `wording.toml` before the other files."""
    (tmp_path / "mine.toml").write_text('[squat_dive.claim]\nlifter = "You fall into {reps}."\n')

    first = load(tmp_path).options("squat_dive", "claim")
    text = with_wording("", "squat_dive", "claim", "lifter", 'Lower {reps}, "do not" drop it.')
    (tmp_path / "wording.toml").write_text(text)
    second = load(tmp_path).options("squat_dive", "claim")

    assert first[0] == "You fall into {reps}."
    assert second[:2] == ('Lower {reps}, "do not" drop it.', "You fall into {reps}.")
    assert len(second) == len(load().options("squat_dive", "claim")) + 2
    (tmp_path / "wording.toml").write_text(with_wording(text, "squat_dive", "claim", "on_air", "It falls."))
    assert load(tmp_path).options("squat_dive", "claim") == second
    assert load(tmp_path).options("squat_dive", "claim", to="on_air")[0] == "It falls."


def test_wording_kept_for_good_has_braces_where_the_set_stood() -> None:
    """What came from this set goes back into braces; two letters are left alone."""
    values = {"reps": "reps 3 to 5", "size": "2 to 3 cm", "rep": "5"}

    assert as_template("Reps 3 to 5 wander, 2 to 3 cm in 5 reps.", values) == "{reps} wander, {size} in 5 reps."


@given(st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=40))
def test_any_wording_survives_being_written(text: str) -> None:
    """Quotes, backslashes, letters of any script."""
    plain = as_template(text, {})
    if not plain.strip() or any(n not in PLACES for _, n, _, _ in string.Formatter().parse(plain) if n):
        return

    out = with_wording("", "x", "claim", "lifter", plain)

    assert with_wording(out, "x", "claim", "lifter", plain) == out


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[a", "not a TOML file"),
        ("a = 1", "must be a table"),
        ('[a.shout]\nlifter = "x"', "'shout' is not known"),
        ('[a.claim]\nmum = "x"', "'mum' is not known"),
        ("[a.claim]\nlifter = 3", "a list of texts"),
        ('[a.claim]\nlifter = "x {depht}"', "depht"),
        ('[a.claim]\nlifter = "x {"', "not closed"),
    ],
)
def test_a_file_that_breaks_the_form_is_named(tmp_path: Path, text: str, says: str) -> None:
    """File, entry, and what would do."""
    (tmp_path / "mine.toml").write_text(text)

    with pytest.raises(LibraryError, match=says) as error:
        load(tmp_path)
    assert "mine.toml" in str(error.value)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(LibraryError, match="no folder"):
        load(tmp_path / "none")
