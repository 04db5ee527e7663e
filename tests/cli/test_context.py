"""The context file: every key that is taken, unknown ones named, wrong kinds refused, options first."""

from __future__ import annotations

import hashlib
import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from cli.line import ROOT, said
from clips import write_clip
from sets import made_measurement

from midfoot import outputs, pipeline
from midfoot.desk.context_file import read_context
from midfoot.pipeline import Request
from midfoot.records.clip import DepthMarks, Reading, Tap
from midfoot.records.context import Consent
from midfoot.store import context_from_json, context_to_json

WHOLE = """
title = "An invented set"
lifter = "Teo"
lift = "deadlift"
variation = "conventional, belt"
load = "225 lb"
plate = "45 cm"
stature = "178 cm"
reps = 2
rpe = 8.5
rir = 1
body_mass = "172 lb"
pain = ""
question = "Would the second one have been passed?"
[competition]
date = 2031-05-04
"""


@pytest.fixture
def asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Request]:
    """Measuring is replaced by noting what was asked."""
    write_clip(tmp_path / "set.mp4")
    requests: list[Request] = []

    def note(request: Request, **_: Any) -> Any:
        requests.append(request)
        return made_measurement(lift=request.asked.lift)

    monkeypatch.setattr(pipeline, "measure_clip", note)
    monkeypatch.setattr(outputs, "write_pictures", lambda *_, **__: None)
    monkeypatch.chdir(tmp_path)
    return requests


def test_every_key_is_taken(asked_for: list[Request], capsys: pytest.CaptureFixture[str]) -> None:
    """What is measured by goes into what was asked, all of it into the context; the file's hash is kept."""
    Path("set.toml").write_text(WHOLE)

    done = said(capsys, "measure", "set.mp4", "--context", "set.toml", "--out", "out")

    assert done.status == 0, done.err
    asked = asked_for[0].asked
    assert (asked.lift, asked.variation, asked.reps, asked.rpe, asked.rir) == (
        "deadlift", "conventional, belt", 2, 8.5, 1.0,
    )  # fmt: skip
    assert asked.load_kg == pytest.approx(225 * 0.45359237)
    assert asked_for[0].context.load_unit == "lb"
    assert asked.plate_mm == pytest.approx(450.0)
    assert asked.stature_m == pytest.approx(1.78)
    assert asked.context_sha256 == hashlib.sha256(WHOLE.encode()).hexdigest()
    said_of = asked_for[0].context
    assert said_of.competition is not None
    assert (said_of.lifter, said_of.pain, said_of.competition.on) == ("Teo", "", date(2031, 5, 4))
    assert said_of.body_mass_kg == pytest.approx(172 * 0.45359237)


def test_bare_numbers_are_kilograms_and_millimetres(
    asked_for: list[Request], capsys: pytest.CaptureFixture[str]
) -> None:
    """TOML numbers without a unit mean what the options' bare numbers mean."""
    Path("set.toml").write_text('lift = "squat"\nload = 142.5\nplate = 450\nstature = 1780\n')

    assert said(capsys, "measure", "set.mp4", "--context", "set.toml", "--out", "out").status == 0

    asked = asked_for[0].asked
    assert (asked.load_kg, asked.plate_mm, asked.stature_m) == (142.5, 450.0, pytest.approx(1.78))


def test_options_win(asked_for: list[Request], capsys: pytest.CaptureFixture[str]) -> None:
    """What the command line says stands before what the file says."""
    Path("set.toml").write_text(WHOLE)

    done = said(
        capsys, "measure", "set.mp4", "--context", "set.toml", "--lift", "squat", "--load", "100kg",
        "--plate", "17.7in", "--variation", "paused", "--out", "out",
    )  # fmt: skip

    assert done.status == 0, done.err
    asked = asked_for[0].asked
    assert (asked.lift, asked.variation, asked.load_kg) == ("squat", "paused", 100.0)
    assert asked.plate_mm == pytest.approx(449.58)


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ('lift = "curl"', "--lift"),
        ("lift = 3", "--lift"),
        ("load = true", "load"),
        ("load = [100]", "load"),
        ('load = "heavy"', "140kg"),
        ("load = -5", "load"),
        ("plate = {mm = 450}", "plate"),
        ("plate = 45", "45"),
        ('stature = "3 m"', "stature"),
        ('stature = "tall"', "stature"),
        ("variation = ['paused']", "variation"),
        ('reps = "five"', "reps"),
        ("reps = 0", "reps"),
        ("reps = 2.5", "reps"),
        ("reps = true", "reps"),
        ('rpe = "hard"', "rpe"),
        ("rpe = 11", "rpe"),
        ("rpe = nan", "rpe"),
        ("rir = -1", "rir"),
        ("rir = false", "rir"),
        ("rir = 6", "rir"),
        ("rpe = 4.5", "rpe"),
        ("rpe = 8.3", "halves"),
        ("rpe = 9\nrir = 3", "disagree"),
        ('pian = "left knee"', "pain"),
        ('working_no = "depth"', "working_on"),
        ("[competition]\ndaet = 2031-05-04", "date"),
        ("[competition]\ndate = 'next may'", "2031-05-24"),
        ("[competition]\nrules = 'ipf-2062'", "ipf-2026"),
        ("[competition]\ndate = 2199-01-01", "20 years"),
        ("age = 3", "age"),
        ("age = 200", "age"),
        ("sex = 'yes'", "female"),
        ("body_mass = '8 kg'", "body_mass"),
        ("height = '178 cm'\nstature = '1.80 m'", "height and stature"),
        ("training_age = 'long'", "training_age"),
        ("pain = 3", "pain"),
        ("working_on = [1]", "working_on"),
        ("filmed = 'maybe'", "permission"),
        ("consents = ['everything']", "public"),
        ("[consents]\npublic = 'yes'", "public"),
        ("this is no toml", "not a TOML file"),
        ("lift = 'squat'\nlift = 'bench'", "not a TOML file"),
    ],
)
def test_wrong_kinds_are_refused(
    asked_for: list[Request], capsys: pytest.CaptureFixture[str], line: str, word: str
) -> None:
    """Exit 2, one sentence, the key named, nothing measured."""
    Path("set.toml").write_text(line if line.startswith(("lift =", "this")) else f'lift = "squat"\n{line}')

    refused = said(capsys, "measure", "set.mp4", "--context", "set.toml", "--out", "out")

    assert refused.status == 2
    assert word in refused.one_sentence()
    assert asked_for == []
    assert not Path("out").exists()


def test_bytes_that_are_no_text(asked_for: list[Request], capsys: pytest.CaptureFixture[str]) -> None:
    """A picture given as the context."""
    Path("set.toml").write_bytes(b"\xff\xfe\x00\x01")

    assert said(capsys, "measure", "set.mp4", "--context", "set.toml", "--out", "out").status == 2


def test_the_other_options_reach_the_pipeline(
    asked_for: list[Request], capsys: pytest.CaptureFixture[str]
) -> None:
    """Part, mirroring, speed, taps, given reps, network."""
    Path("reps.csv").write_text("n,start_s\n1,0.5\n")

    done = said(
        capsys, "measure", "set.mp4", "--lift", "bench", "--from", "0.2", "--to", "1.4", "--mirrored",
        "--real-speed", "8", "--bar-at", "412,633@2.5", "--lifter-at", "10,20@0", "--reps", "reps.csv",
        "--network", "heavy", "--out", "out",
    )  # fmt: skip

    assert done.status == 0, done.err
    request = asked_for[0]
    assert request.reading == Reading(0.2, 1.4, True, 8.0)
    assert (request.asked.from_s, request.asked.to_s) == (0.2, 1.4)
    assert (request.bar_at, request.lifter_at) == (Tap(412, 633, 2.5), Tap(10, 20, 0))
    assert request.given is not None
    assert request.given.reps[0].start_s == 0.5
    assert request.network == "heavy"


def test_forms_in_which_things_are_said(tmp_path: Path) -> None:
    """Lists or text, true and false, months, feet of consent with its words and day."""
    file = tmp_path / "said.toml"
    file.write_text(
        """
lifter = "Runa"
age = 17
sex = "F"
height = "170 cm"
training_age = "18 months"
working_on = "depth"
equipment = ["belt", "sleeves"]
spotter = false
safeties = true
pain = "none"
injury = ["left knee", "old shoulder"]
rpe = 8.5
rir = 2
filmed = "permission"
depth_offset = "-18 mm"
competition = 2030-05-29
[consents]
face = true
name = false
public = { wording = "Show it.", date = 2030-04-30 }
"""
    )

    said_of = read_context(file, today=date(2030, 5, 1))

    assert (said_of.working_on, said_of.equipment) == (("depth",), ("belt", "sleeves"))
    assert (said_of.spotter, said_of.safeties, said_of.pain) == ("", "yes", "")
    assert said_of.injury == "left knee, old shoulder"
    assert said_of.training_age_years == pytest.approx(1.5)
    assert (said_of.sex, said_of.stature_m, said_of.depth_offset_mm) == ("female", pytest.approx(1.70), -18.0)
    assert said_of.weeks_to_competition == pytest.approx(4.0)
    assert said_of.consents == (Consent("face"), Consent("public", "Show it.", date(2030, 4, 30)))
    assert not said_of.allows("public")
    assert context_from_json(json.loads(json.dumps(context_to_json(said_of)))) == said_of


def test_the_bundled_files_are_valid() -> None:
    """Every demo set's context says who, how heavy, how many and what is asked."""
    found = sorted((ROOT / "src" / "midfoot" / "demo").glob("*.toml"))
    assert len(found) == 3
    for file in found:
        said_of = read_context(file)
        assert said_of.lifter
        assert said_of.load_kg
        assert said_of.question
        assert said_of.guarded


def test_rule_set_of_the_option_stands_before_the_competitions(
    asked_for: list[Request], capsys: pytest.CaptureFixture[str]
) -> None:
    """And an unknown one is refused with the nearest."""
    Path("set.toml").write_text('lift = "squat"\n[competition]\nrules = "ipf-2022"\n')
    line = ("measure", "set.mp4", "--context", "set.toml", "--out", "out")

    assert said(capsys, *line).status == 0
    assert said(capsys, *line, "--rules", "ipf-2026").status == 0
    refused = said(capsys, *line, "--rules", "ipf-2025")

    assert [pipeline.rules_asked(r) for r in asked_for] == ["ipf-2022", "ipf-2026"]
    assert refused.status == 2
    assert "ipf-2022" in refused.one_sentence() or "ipf-2026" in refused.one_sentence()


def test_depth_marks_come_in_pairs_and_for_squats(
    asked_for: list[Request], capsys: pytest.CaptureFixture[str]
) -> None:
    """Both reach the pipeline; one alone, or another lift, is refused with what would do."""
    line = ("measure", "set.mp4", "--out", "out", "--lift")

    assert said(capsys, *line, "squat", "--crease", "10,20@1.5", "--knee-top", "30,25@1.5").status == 0
    alone = said(capsys, *line, "squat", "--crease", "10,20@1.5")
    other = said(capsys, *line, "bench", "--crease", "10,20@1.5", "--knee-top", "30,25@1.5")

    assert asked_for[0].depth_marks == DepthMarks(Tap(10, 20, 1.5), Tap(30, 25, 1.5))
    assert len(asked_for) == 1
    assert (alone.status, other.status) == (2, 2)
    assert "--knee-top" in alone.one_sentence()
    assert "squat" in other.one_sentence()
