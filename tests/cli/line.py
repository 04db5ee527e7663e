"""Runs the command line: inside this process where that is enough, as a program of its own where it is not."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from attrs import frozen

from midfoot.cli.app import run

ROOT = Path(__file__).resolve().parents[2]


@frozen
class Said:
    """What a command line came to: exit status, standard output, standard error."""

    status: int
    out: str
    err: str

    def one_sentence(self) -> str:
        """Give the one sentence on standard error; fails when there is more or less, or a traceback."""
        lines = self.err.splitlines()
        assert len(lines) == 1, self.err
        assert lines[0].startswith("midfoot: ")
        assert "Traceback" not in self.err
        sentence = lines[0].removeprefix("midfoot: ")
        assert sentence.endswith((".", ")")), sentence
        assert sentence.count(". ") == 0 or sentence.rsplit(". ", 1)[1].startswith("("), sentence
        return sentence


def said(capsys: pytest.CaptureFixture[str], *argv: object) -> Said:
    """Run a command line within this process."""
    capsys.readouterr()
    status = run([str(a) for a in argv])
    captured = capsys.readouterr()
    return Said(status, captured.out, captured.err)


def environment(**more: str) -> dict[str, str]:
    """Give this process's environment for a child, with the sources on its path."""
    path = os.pathsep.join(filter(None, [str(ROOT / "src"), os.environ.get("PYTHONPATH", "")]))
    return {**os.environ, "PYTHONPATH": path, **more}


def program(*argv: object, **more: str) -> Said:
    """Run a command line as a program of its own, standard error and output not a terminal."""
    done = subprocess.run(
        [sys.executable, "-m", "midfoot", *(str(a) for a in argv)],
        capture_output=True, text=True, check=False, env=environment(**more), timeout=300,
    )  # fmt: skip
    return Said(done.returncode, done.stdout, done.stderr)
