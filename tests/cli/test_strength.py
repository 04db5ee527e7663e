"""`midfoot strength` as a user meets it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from cli.line import ROOT, said

COMMANDS = ("points", "e1rm", "plates", "attempts", "profile")
GOOD = {
    "points": "--sex m --body-mass 83kg --total 600kg",
    "e1rm": "--load 100kg --reps 5 --rpe 9",
    "plates": "--load 142.5kg",
    "attempts": "--load 140kg --reps 3 --rpe 9",
    "profile": "--lift squat --set 60kg@0.85 --set 100kg@0.55+-0.02 --set 120kg@0.40 --last 0.25",
}


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_an_example_that_runs(capsys: pytest.CaptureFixture[str], command: str) -> None:
    told = said(capsys, "strength", command, "--help")
    assert told.status == 0
    assert f"Example: midfoot strength {command}" in told.out
    assert f"midfoot strength {command}" in (ROOT / "docs" / "strength.md").read_text()
    text = " ".join(told.out.partition("Example: midfoot ")[2].partition("╭")[0].split())
    assert said(capsys, *text.partition(" A heavy bar")[0].split()).status == 0


@pytest.mark.parametrize("command", COMMANDS)
def test_json_is_json_and_text_is_text(capsys: pytest.CaptureFixture[str], command: str) -> None:
    told = said(capsys, "strength", command, *GOOD[command].split(), "--json")
    assert told.status == 0
    assert json.loads(told.out)
    plain = said(capsys, "strength", command, *GOOD[command].split())
    assert plain.status == 0
    assert not plain.out.startswith("{")


def test_points(capsys: pytest.CaptureFixture[str]) -> None:
    told = json.loads(said(capsys, "strength", "points", *GOOD["points"].split(), "--json").out)
    assert told["points"]["dots"]["points"] == pytest.approx(405.052425, abs=1e-6)
    assert told["class"]["name"] == "83 kg"
    plain = said(capsys, "strength", "points", *GOOD["points"].split()).out
    assert all(value in plain for value in ("405.05", "83.06", "400.50", "480.99", "83 kg"))
    pounds = said(capsys, "strength", "points", "--sex", "m", "--body-mass", "182.984lb", "--total", "1322.77lb")
    assert "405.05" in pounds.out
    one = said(
        capsys, "strength", "points", "--sex", "f", "--body-mass", "60", "--total", "100", "--lift", "squat"
    )
    assert "no coefficients for the squat alone" in one.out


@pytest.mark.parametrize(
    ("line", "status", "word"),
    [
        ("points --sex m --total 600kg", 2, "--body-mass"),
        ("points --sex m --total 600kg --body-mass 0kg", 2, "20 to 350"),
        ("points --sex m --total=-600kg --body-mass 83kg", 2, "-600kg"),
        ("points --sex m --total 900kg --body-mass 83kg --lift bench", 2, "700"),
        ("points --sex m --total 600kg --body-mass 83kg --federation moon", 2, "ipf, wpc"),
        ("points --sex q --total 600kg --body-mass 83kg", 2, "--sex"),
        ("e1rm --load 0kg --reps 5", 2, "0kg"),
        ("e1rm --load=-80kg --reps 5", 2, "-80kg"),
        ("e1rm --load 9000kg --reps 5", 2, "9000kg"),
        ("e1rm --load heavy --reps 5", 2, "heavy"),
        ("e1rm --load 100kg --reps 0", 2, "repetitions"),
        ("e1rm --load 100kg --reps 11", 1, "10 or fewer"),
        ("e1rm --load 100kg --reps 5 --rpe 6", 1, "RPE 7"),
        ("e1rm --load 100kg --reps 5 --table nowhere.toml", 2, "nowhere.toml"),
        ("plates --load 100kg --set bumper", 2, "competition"),
        ("plates --load 100kg --bar 500kg", 2, "bar"),
        ("attempts", 2, "--one-rm"),
        ("attempts --one-rm 200kg --sd 5kg --pain shoulder", 1, "clinician"),
        ("attempts --one-rm 200kg --sd 5kg --age 15", 1, "guardian"),
        ("attempts --one-rm 200kg --competition soon", 2, "YYYY-MM-DD"),
        ("attempts --one-rm 200kg --competition 2001-01-01", 2, "past"),
        ("profile --set 60kg@0.6", 2, "--lift"),
        ("profile --lift bench", 2, "three sets"),
        ("profile nowhere", 1, "midfoot measure"),
        ("attempts --context nowhere.toml", 2, "nowhere.toml"),
        ("profile --lift bench --set 60kg", 2, "LOAD@VELOCITY"),
        ("profile --lift bench --set 60kg@fast", 2, "m/s"),
        ("profile --lift bench --set 60kg@0.6", 1, "different loads"),
    ],
)
def test_refused_in_one_sentence(capsys: pytest.CaptureFixture[str], line: str, status: int, word: str) -> None:
    told = said(capsys, "strength", *line.split())
    assert told.status == status
    assert word in told.one_sentence()
    assert told.out == ""


def test_what_cannot_be_loaded_names_both_neighbours(capsys: pytest.CaptureFixture[str]) -> None:
    told = said(capsys, "strength", "plates", "--load", "141kg")
    assert told.status == 1
    assert "141kg cannot be loaded" in told.out
    assert "nearest below: 140 kg" in told.out
    assert "nearest above: 142.5 kg" in told.out


def test_no_author_of_the_table_is_on_screen(capsys: pytest.CaptureFixture[str]) -> None:
    told = said(capsys, "strength", "e1rm", *GOOD["e1rm"].split()).out
    assert "RPE table  " in told


def heard(folder: Path, text: str) -> Path:
    file = folder / "said.toml"
    file.write_text(text)
    return file


def _set(load: str, *effort: str) -> tuple[str, ...]:
    return ("--load", load, "--reps", "3", *effort)


def test_attempts_from_what_the_lifter_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The same set as options and as a context file; an option wins over the file."""
    file = heard(tmp_path, 'load = "140kg"\nreps = 3\nrpe = 9\npain = "none"\nage = 30\n')
    by_file = said(capsys, "strength", "attempts", "--context", file)
    assert by_file.status == 0, by_file.err
    assert by_file.out == said(capsys, "strength", "attempts", *GOOD["attempts"].split()).out
    lighter = said(capsys, "strength", "attempts", "--context", file, "--load", "120kg")
    assert lighter.out == said(capsys, "strength", "attempts", *_set("120kg", "--rpe", "9")).out
    easier = said(capsys, "strength", "attempts", "--context", file, "--rir", "2")
    assert easier.out == said(capsys, "strength", "attempts", *_set("140kg", "--rir", "2")).out


@pytest.mark.parametrize(
    ("more", "word"),
    [('pain = "left knee"', "left knee"), ('injury = "shoulder"', "shoulder"), ("age = 16", "guardian")],
)
def test_no_attempts_with_pain_or_for_a_minor(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, more: str, word: str
) -> None:
    file = heard(tmp_path, f'load = "140kg"\nreps = 3\nrpe = 9\n{more}\n')
    told = said(capsys, "strength", "attempts", "--context", file, "--pain", "")
    assert told.status == 1
    assert word in told.one_sentence()


def measured_set(folder: Path, load_kg: float | None, velocities: list[float | None], lift: str = "squat") -> Path:
    folder.mkdir()
    reps = [
        {"n": n, "outcome": "completed" if v is None or v > 0 else "missed",
         "measures": {"ascent_mean_velocity_m_s": {"value": v, "sd": 0.01, "sd_common": 0.01}}}
        for n, v in enumerate(velocities, 1)
    ]  # fmt: skip
    document = {"schema": "midfoot/measurement/1", "asked": {"lift": lift, "load_kg": load_kg}, "reps": reps}
    (folder / "measurement.json").write_text(json.dumps(document))
    np.savez(folder / "body.npz", t_s=[], xy_px=[], sd_px=[], status=[])
    return folder


def test_profile_of_measured_sets(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The fastest completed repetition of each; the same line as of sets that are told."""
    sets = [
        measured_set(tmp_path / "a", 60.0, [0.80, 0.85, None]),
        measured_set(tmp_path / "b", 100.0, [0.55, 0.50]),
        measured_set(tmp_path / "c", 120.0, [0.40, -0.2]),
    ]
    told = said(capsys, "strength", "profile", *sets, "--json")
    assert told.status == 0, told.err
    same = (
        "--lift squat --set 60kg@0.85+-0.0141421356 --set 100kg@0.55+-0.0141421356 --set 120kg@0.40+-0.0141421356"
    )
    by_hand = json.loads(said(capsys, "strength", "profile", *same.split(), "--json").out)
    found = json.loads(told.out)
    assert found["one_rm"]["kg"] == pytest.approx(by_hand["one_rm"]["kg"], rel=1e-6)
    assert found["one_rm"]["sd_kg"] == pytest.approx(by_hand["one_rm"]["sd_kg"], rel=1e-6)
    two = said(capsys, "strength", "profile", *sets[:2], "--set", "120kg@0.40+-0.0141421356", "--json")
    assert json.loads(two.out)["one_rm"]["kg"] == pytest.approx(by_hand["one_rm"]["kg"], rel=1e-6)


@pytest.mark.parametrize(
    ("load", "velocities", "lift", "status", "word"),
    [
        (None, [0.5], "squat", 1, "--load"),
        (100.0, [None], "squat", 1, "no completed repetition"),
        (100.0, [-0.5], "squat", 1, "no completed repetition"),
        (100.0, [0.5], "bench", 2, "one lift"),
    ],
)
def test_measured_sets_that_do_not_serve(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, load: float | None, velocities: list[float | None],
    lift: str, status: int, word: str,
) -> None:  # fmt: skip
    folder = measured_set(tmp_path / "a", load, velocities, lift)
    told = said(capsys, "strength", "profile", folder, "--lift", "squat")
    assert told.status == status
    assert word in told.one_sentence()
