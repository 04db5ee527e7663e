"""Every command explains itself, stands in the README, and starts quickly."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from cli.line import ROOT, environment, said

import midfoot
from midfoot.cli.app import VERBS, build

HEAVY = ("cv2", "scipy", "av", "numpy", "onnxruntime", "ai_edge_litert", "altair", "jinja2", "midfoot.pipeline")


def test_the_verbs_are_those_of_the_application() -> None:
    """The list that tests and messages go by is whole."""
    names = {name for name in build() if not name.startswith("-")}

    assert names == set(VERBS)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_has_help_an_example_and_a_place_in_the_readme(
    capsys: pytest.CaptureFixture[str], verb: str
) -> None:
    """With the line on safety, and every option of the help has words of its own."""
    told = said(capsys, verb, "--help")

    assert told.status == 0
    text = " ".join(told.out.split())
    assert f"Example: midfoot {verb}" in text
    assert "stop on pain" in text
    assert f"midfoot {verb}" in (ROOT / "README.md").read_text()
    rows = re.findall(r"^│ +\*? *(--?[a-z-]+.*?|[A-Z]+) {2,}(\S.*?)?│$", told.out, re.M)
    rows = rows or re.findall(r"^│ ([a-z0-9]+) +(\S.*?)│$", told.out, re.M)  # a verb of verbs
    assert rows
    assert all(words.strip() for _, words in rows), rows


def test_help_of_all_names_every_verb(capsys: pytest.CaptureFixture[str]) -> None:
    """`midfoot`, `midfoot --help`: the job, the verbs, the line on safety."""
    for argv in ([], ["--help"]):
        told = said(capsys, *argv)
        assert told.status == 0
        assert all(re.search(rf"│ {verb} ", told.out) for verb in VERBS)
        assert "stop on pain" in " ".join(told.out.split())


def test_every_option_of_measure_that_the_readme_names_exists(capsys: pytest.CaptureFixture[str]) -> None:
    """And the example line of the README can be parsed."""
    options = set(re.findall(r"--[a-z][a-z-]+", (ROOT / "README.md").read_text())) - {"--help"}

    text = said(capsys, "measure", "--help").out + said(capsys, "demo", "--help").out

    assert {"--bar-at", "--context", "--out"} <= options
    assert [o for o in sorted(options) if o not in text] == []


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    """One line, the package's own."""
    assert said(capsys, "--version").out.strip() == midfoot.__version__


def test_help_brings_no_heavy_library() -> None:
    """What costs seconds is imported inside the verbs."""
    code = (
        "import sys, json\n"
        "from midfoot.cli.app import run\n"
        "status = run(['measure', '--help'])\n"
        "print(json.dumps([status, sorted(sys.modules)]), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment()
    )

    status, modules = json.loads(done.stderr)
    assert status == 0
    assert [m for m in HEAVY if m in modules] == []


def test_help_costs_little() -> None:
    """Processor time of this process's child, the least of three: half a second on an ordinary machine."""

    def once() -> float:
        code = (
            "import time, sys\n"
            "from midfoot.cli.app import run\n"
            "run(['--help'])\n"
            "sys.stderr.write(str(time.process_time()))"
        )
        done = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment()
        )
        return float(done.stderr)

    assert min(once() for _ in range(3)) < 1.0


def test_something_unforeseen_is_one_sentence_too(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """No traceback unless it is asked for."""

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a stage\nbroke")

    monkeypatch.setattr("midfoot.pipeline.measure_clip", broken)
    monkeypatch.delenv("MIDFOOT_DEBUG", raising=False)

    failed = said(capsys, "measure", tmp_path / "set.mp4", "--lift", "squat", "--out", tmp_path / "out")

    assert failed.status == 1
    assert "ZeroDivisionError: a stage broke" in failed.one_sentence()
    assert not (tmp_path / "out").exists()
    monkeypatch.setenv("MIDFOOT_DEBUG", "1")
    assert (
        "Traceback" in said(capsys, "measure", tmp_path / "s.mp4", "--lift", "squat", "--out", tmp_path / "o").err
    )
