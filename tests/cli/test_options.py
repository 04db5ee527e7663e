"""Impossible options: exit 2, one sentence that names the option and what would do, and no work begun."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli.line import program, said
from clips import write_clip

from midfoot import pipeline

WRONG = [
    ("--lift curl", ["--lift", "squat", "bench", "deadlift"]),
    ("", ["--lift"]),
    ("--lift squat --load heavy", ["140kg"]),
    ("--lift squat --load 9000kg", ["9000kg", "bar included"]),
    ("--lift squat --load 0kg", ["0kg"]),
    ("--lift squat --load -20kg", ["load"]),
    ("--lift squat --plate 4500mm", ["4500mm", "150 to 520 mm"]),
    ("--lift squat --plate 45", ["45"]),
    ("--lift squat --plate wide", ["450mm"]),
    ("--lift squat --from 3 --to 2", ["--to", "after --from"]),
    ("--lift squat --from 2 --to 2", ["--to", "after --from"]),
    ("--lift squat --from -1", ["--from"]),
    ("--lift squat --from nan", ["--from"]),
    ("--lift squat --to inf", ["--to"]),
    ("--lift squat --from soon", ["--from"]),
    ("--lift squat --real-speed 0", ["--real-speed", "0.05 to 64"]),
    ("--lift squat --real-speed 1000", ["--real-speed"]),
    ("--lift squat --real-speed nan", ["--real-speed"]),
    ("--lift squat --bar-at 412", ["--bar-at", "412,633@2.5"]),
    ("--lift squat --bar-at 412,633", ["--bar-at", "X,Y@SECONDS"]),
    ("--lift squat --bar-at 1,2,3@4", ["--bar-at"]),
    ("--lift squat --bar-at nan,1@1", ["--bar-at"]),
    ("--lift squat --bar-at=-5,1@1", ["--bar-at", "negative"]),
    ("--lift squat --lifter-at there", ["--lifter-at"]),
    ("--lift squat --reps nowhere.toml", ["nowhere.toml"]),
    ("--lift squat --reps set.mp4", ["set.mp4"]),
    ("--lift squat --context nowhere.toml", ["nowhere.toml", "--context"]),
    ("--lift squat --network huge", ["--network", "full"]),
    ("--lift squat --nonsense 3", ["--nonsense"]),
    ("--lift squat another.mp4", ["another.mp4"]),
]


@pytest.fixture
def clip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A good clip in the current folder; measuring it would fail the test."""
    write_clip(tmp_path / "set.mp4")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(pipeline, "measure_clip", lambda *_, **__: pytest.fail("work was begun"))
    return Path("set.mp4")


@pytest.mark.parametrize(("options", "words"), WRONG, ids=[w[0] or "no lift" for w in WRONG])
def test_wrong_use(clip: Path, capsys: pytest.CaptureFixture[str], options: str, words: list[str]) -> None:
    """Every option that cannot be is refused by name."""
    refused = said(capsys, "measure", clip, *options.split(), "--out", "out")

    assert refused.status == 2
    sentence = refused.one_sentence()
    for word in words:
        assert word in sentence
    assert not Path("out").exists()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("measure --lift squat --out o", "CLIP"),
        ("measure set.mp4 --lift squat", "--out"),
        ("measure set.mp4 --lift squat --out", "--out"),
        ("lift set.mp4", "lift"),
        ("models burn", "burn"),
        ("demo --speed 3", "--speed"),
    ],
)
def test_what_is_missing_or_unknown(clip: Path, capsys: pytest.CaptureFixture[str], line: str, words: str) -> None:
    """Commands and arguments; the sentence sends to the help of the verb."""
    refused = said(capsys, *line.split())

    assert refused.status == 2
    sentence = refused.one_sentence()
    assert words in sentence
    verb = line.split()[0]
    assert sentence.endswith(f"see midfoot {verb} --help." if verb != "lift" else "see midfoot --help.")


def test_wrong_use_as_a_program_of_its_own(tmp_path: Path) -> None:
    """The status reaches the shell and nothing else is printed."""
    refused = program("measure", "set.mp4", "--lift", "squat", "--load", "heavy", "--out", tmp_path / "out")

    assert refused.status == 2
    assert "140kg" in refused.one_sentence()
    assert refused.out == ""


def test_a_moment_outside_the_clip_is_not_ignored(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--from past the end says how long the clip is."""
    write_clip(tmp_path / "set.mp4")

    refused = said(
        capsys, "measure", tmp_path / "set.mp4", "--lift", "squat", "--from", "9", "--out", tmp_path / "o"
    )

    assert refused.status == 1
    assert "lasts 1.5 s" in refused.one_sentence()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[forward_drfit]\nfloor = 20\n", "forward_drift"),
        ("[pause]\nfloor = -1\n", "pause: floor"),
        (None, "cannot be read"),
    ],
)
def test_thresholds_that_cannot_be_are_wrong_use(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str | None, words: str
) -> None:
    """Exit 2 and one sentence that names the threshold; no work begun."""
    own = tmp_path / "own.toml"
    if text is not None:
        own.write_text(text)
    clip = tmp_path / "clip.mp4"
    clip.write_bytes(b"")

    result = said(
        capsys, "measure", clip, "--lift", "squat", "--out", tmp_path / "out", "--thresholds", own
    )  # fmt: skip

    assert result.status == 2
    assert words in result.one_sentence()
    assert not (tmp_path / "out").exists()
