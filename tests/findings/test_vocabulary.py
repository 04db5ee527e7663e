"""The vocabulary: whole for every lift, one key each, editable, and its findings stand like measured ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from midfoot.findings.vocabulary import MOMENTS, VocabularyError, observation, vocabulary
from midfoot.records.base import LIFTS


@pytest.mark.parametrize("lift", LIFTS)
def test_about_thirty_a_lift_each_with_claim_look_and_key(lift: str) -> None:
    """The number is this project's own design, section 8; a fault always has something to try."""
    found = vocabulary(lift)

    assert 28 <= len(found) <= 36
    assert len({o.key for o in found}) == len({o.id for o in found}) == len(found)
    assert sum(o.good for o in found) >= 3
    assert all(o.moment in MOMENTS and o.look.endswith(".") for o in found)
    assert [o.id for o in found if bool(o.cue) == o.good] == []
    assert [o.id for o in found if o.claim.endswith(".") or not o.claim[0].isupper()] == []


@pytest.mark.parametrize("lift", LIFTS)
def test_words_neither_diagnose_nor_send_anyone_through_pain(lift: str) -> None:
    """Words of injury have no place in what is seen (this project's rule: clinicians treat, not the program)."""
    banned = ("injur", "pain", "hernia", "disc ", "tear", "impinge", "unsafe", "dangerous", "wink")

    said = [f"{o.claim} {o.look} {o.cue}".lower() for o in vocabulary(lift)]

    assert [s for s in said if any(word in s for word in banned)] == []


def test_an_observation_makes_a_finding_by_the_coach() -> None:
    """Same record as a measured finding; what is praised is no fault and proposes nothing."""
    fault = observation("squat", "breath_lost").seen((3, 4), (7.5, 10.2), "You let go at the knees.")
    praise = observation("squat", "braced_well").seen((1,), (2.0,))

    assert (fault.by, fault.nature, fault.confidence) == ("coach", "fault", "sure")
    assert fault.reps == (3, 4)
    assert fault.changes[0].text.startswith("Keep the air")
    assert fault.text == "You let go at the knees."
    assert (praise.nature, praise.changes) == ("information", ())


def test_a_coach_adds_replaces_and_leaves_out(tmp_path: Path) -> None:
    """Field by field; the order of what comes with the program stays."""
    (tmp_path / "squat.toml").write_text(
        '[breath_lost]\nclaim = "You breathe out too soon"\n[gaze_wanders]\noff = true\n'
        '[socks]\nkey = "9"\nclaim = "Odd socks"\nlook = "Look down."\ngood = true\n'
    )

    found = {o.id: o for o in vocabulary("squat", tmp_path)}

    assert found["breath_lost"].claim == "You breathe out too soon"
    assert found["breath_lost"].look == observation("squat", "breath_lost").look
    assert "gaze_wanders" not in found
    assert list(found)[-1] == "socks"
    assert vocabulary("bench", tmp_path) == vocabulary("bench")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[x", "not a TOML file"),
        ("x = 1", "must be a table"),
        ('[x]\nkey = "9"\nclaim = "c"\nlook = "l"\ncolour = 1', "'colour'"),
        ('[x]\nkey = "9"\nclaim = "c"', "needs look"),
        ('[x]\nkey = "99"\nclaim = "c"\nlook = "l"', "one character"),
        ('[x]\nkey = "b"\nclaim = "c"\nlook = "l"', "taken by brace_late"),
        ('[x]\nkey = "9"\nclaim = "c"\nlook = "l"\nmoment = "noon"', "moment"),
    ],
)
def test_a_file_that_breaks_the_form_is_named(tmp_path: Path, text: str, says: str) -> None:
    """What is wrong, and where."""
    (tmp_path / "squat.toml").write_text(text)

    with pytest.raises(VocabularyError, match=says):
        vocabulary("squat", tmp_path)


def test_what_does_not_exist_is_refused() -> None:
    """An unknown lift, an unknown observation."""
    with pytest.raises(VocabularyError, match="curl"):
        vocabulary("curl")
    with pytest.raises(VocabularyError, match="levitates"):
        observation("bench", "levitates")


@pytest.mark.parametrize("lift", LIFTS)
def test_every_observation_stands_on_its_page(lift: str) -> None:
    """docs/vocabulary.md has the id, the key and the claim of each."""
    page = (Path(__file__).resolve().parents[2] / "docs" / "vocabulary.md").read_text()

    assert [o.id for o in vocabulary(lift) if f"| `{o.id}` | {o.key} | {o.claim}" not in page] == []
