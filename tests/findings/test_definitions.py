"""Every finding is described, rests on measures that there are, and its page is fresh; own thresholds."""

from __future__ import annotations

import inspect
from collections import Counter
from pathlib import Path

import pytest

import midfoot.findings.bench
import midfoot.findings.deadlift
import midfoot.findings.squat
from midfoot.findings import FINDINGS, ThresholdsError, defaults, definition, findings_of, read_thresholds
from midfoot.findings.definition import Clue, FindingDefinition, Sign
from midfoot.findings.pages import pages
from midfoot.measures.registry import rep_measures, set_measures
from midfoot.records.base import LIFTS, RecordError

DOCS = Path(__file__).resolve().parents[2] / "docs" / "findings"
FORBIDDEN = (
    "diagnos",
    "injur",
    "dangerous",
    "wrong form",
    "bad form",
    "good lift",
    "no lift",
    "always ",
    "never lift",
)


def units(lift: str) -> dict[str, str]:
    """Units of the lift's measures by id."""
    return {m.id: m.unit for m in (*rep_measures(lift), *set_measures(lift))}


def test_at_least_eight_measured_findings_a_lift_and_no_id_twice() -> None:
    assert len({f.id for f in FINDINGS}) == len(FINDINGS)
    faults = Counter(f.lift for f in FINDINGS if f.nature == "fault")
    assert all(faults[lift] >= 8 for lift in LIFTS)
    assert sum(len(findings_of(lift)) for lift in LIFTS) == len(FINDINGS)


def test_one_file_each() -> None:
    """As many files as findings: the registry leaves none out."""
    folders = (midfoot.findings.squat, midfoot.findings.bench, midfoot.findings.deadlift)
    files = [p for m in folders for p in Path(inspect.getfile(m)).parent.glob("*.py") if p.stem != "__init__"]
    assert len(files) == len(FINDINGS)


def test_signs_rest_on_measures_and_thresholds_of_the_same_unit() -> None:
    for found in FINDINGS:
        known = units(found.lift)
        for sign in found.signs:
            limit = defaults()[sign.limit]
            assert sign.measure in known, found.id
            assert limit.unit == ("pct" if sign.as_pct else known[sign.measure]), (found.id, sign.measure)
            assert sign.said.format(size="9 mm", ref="rep 1", way="up") != sign.said
            assert ("{ref}" in sign.said) == (sign.against == "reference"), (found.id, sign.said)
            assert (sign.worse == "away") == ("{way}" in sign.said) == all(sign.ways), (found.id, sign.said)
        for measure, _ in found.beside:
            assert measure in known, (found.id, measure)
        for change in found.changes:
            assert change.measure in known, (found.id, change.id)
        for cause in found.causes:
            for clue in cause.clues:
                assert not isinstance(clue, Clue) or clue.measure in known, (found.id, cause.id)


def test_every_threshold_is_used_and_says_where_it_is_from() -> None:
    used = {s.limit for f in FINDINGS for s in f.signs}
    assert used == set(defaults())
    assert all(limit.source and limit.floor > 0 for limit in defaults().values())


def test_the_floors_that_the_project_set_itself() -> None:
    """The aims: what a clip from the side must resolve."""
    floors = {name: limit.floor for name, limit in defaults().items()}
    assert {
        "forward_drift": 15, "toward_feet_late": 20, "lockout_shortfall": 12, "depth_change": 25, "hip_lead": 0.15,
        "ascent_time": 8, "pause": 0.15, "hips_off": 25, "downward": 8, "tilt": 1, "grip": 30,
    }.items() <= floors.items()  # fmt: skip
    assert floors["feet_shift"] >= 40
    assert all(s.most != "sure" for f in FINDINGS for s in f.signs if s.limit == "feet_shift")


def test_words_are_plain_and_judge_nobody() -> None:
    for found in FINDINGS:
        words = [
            found.title,
            found.what,
            found.why,
            *(c.text for c in found.changes),
            *(c.text for c in found.causes),
        ]
        for text in (*words, found.lies):
            assert len(text) > 12, found.id
            assert not [w for w in FORBIDDEN if w in text.lower()], (found.id, text)
        assert not found.title.endswith(".")
        for change in found.changes:
            assert change.text.endswith("."), change.id


def test_changes_of_position_are_experiments_with_light_weights() -> None:
    for found in FINDINGS:
        for change in found.changes:
            if change.alters:
                assert "experiment" in change.text, change.id
                assert change.max_load_pct is not None
                assert change.max_load_pct <= 60


def test_slowing_is_information_with_nothing_to_change() -> None:
    for lift in LIFTS:
        slowing = definition(f"{lift}_slowing")
        assert slowing.nature == "information"
        assert slowing.changes == ()


def test_the_pages_are_fresh() -> None:
    found = pages()
    assert {p.name for p in DOCS.glob("*.md")} == set(found)
    for name, text in found.items():
        assert (DOCS / name).read_text("utf-8") == text, f"docs/findings/{name}: run python -m lab.gen_findings"


def test_pages_name_every_finding_and_threshold() -> None:
    found = pages()
    for f in FINDINGS:
        assert f"`{f.id}`" in found["README.md"]
        assert f"## {f.title}" in found[f"{f.lift}.md"]
    for name in defaults():
        assert f"`{name}`" in found["README.md"]


def test_a_coachs_own_thresholds_lie_over_the_packages(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("[forward_drift]\nfloor = 20\nnatural = 8.5\n[pause]\nfloor = 0.3\n")

    limits = read_thresholds(file)

    assert (limits["forward_drift"].floor, limits["forward_drift"].natural, limits["forward_drift"].own) == (
        20,
        8.5,
        True,
    )
    assert limits["pause"].floor == 0.3
    assert limits["depth_change"] == defaults()["depth_change"]
    assert not defaults()["forward_drift"].own


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[forward_drfit]\nfloor = 20\n", "the nearest is forward_drift"),
        ("[xyz]\nfloor = 20\n", "there is no threshold 'xyz'"),
        ("[forward_drift]\nceiling = 20\n", "unknown key 'ceiling'"),
        ("[forward_drift]\nfloor = -3\n", "expected 3 to 300 mm, got -3"),
        ("[forward_drift]\nfloor = 'much'\n", "got 'much'"),
        ("[forward_drift]\nfloor = true\n", "got True"),
        ("[forward_drift]\nfloor = nan\n", "got nan"),
        ("forward_drift = 20\n", "expected a table with floor"),
        ("[forward_drift\n", "is no TOML"),
    ],
)
def test_thresholds_that_cannot_be_are_named(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(text)
    with pytest.raises(ThresholdsError, match=said):
        read_thresholds(file)


def test_a_file_of_thresholds_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(ThresholdsError, match="cannot be read"):
        read_thresholds(tmp_path / "none.toml")


def test_a_definition_refuses_what_does_not_fit() -> None:
    sign = Sign(measure="a_mm", words="a", said="{size}", limit="pause")
    words = {"title": "t", "what": "w", "why": "y", "how": (), "lies": "l"}
    with pytest.raises(RecordError, match="expected to begin with squat_"):
        FindingDefinition(id="forward", lift="squat", signs=(sign,), **words)
    with pytest.raises(RecordError, match="at least one"):
        FindingDefinition(id="squat_forward", lift="squat", signs=(), **words)
    with pytest.raises(KeyError, match="squat_bar_forward"):
        definition("squat_bar_foreward")
