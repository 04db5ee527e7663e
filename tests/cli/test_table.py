"""The short table: a row a measure, a column a rep, nothing broken at any width."""

from __future__ import annotations

import re

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st
from sets import made_measurement

from midfoot.cli.show import Show
from midfoot.cli.table import found_lines, short_table
from midfoot.records.findings import Finding, Found, Held, Note, Size
from midfoot.records.measures import Measurement


def _of(count: int, **more: object) -> Measurement:
    """A made set of `count` reps, the last one missed."""
    made = made_measurement()
    reps = tuple(
        evolve(
            made.data.reps.reps[i % 2], n=i + 1, outcome="missed" if i == count - 1 and count > 1 else "completed"
        )
        for i in range(count)
    )
    rows = tuple(made.measured.reps[i % 2] for i in range(count))
    return evolve(
        made,
        data=evolve(made.data, reps=evolve(made.data.reps, reps=reps)),
        measured=evolve(made.measured, reps=rows, **more),
    )


def _lines(measurement: Measurement, width: int) -> list[str]:
    return [line.text for line in short_table(measurement, width)]


def test_a_row_a_measure_a_column_a_rep() -> None:
    """Name and unit before the values; value and sd together; the sign explained in words."""
    lines = _lines(_of(3, best_rep=2), 80)

    assert lines[0] == "squat, 3 reps"
    assert re.fullmatch(r" +rep 1 +rep 2 +rep 3", lines[2])
    assert re.fullmatch(r" +best +missed", lines[3])
    assert re.fullmatch(r"range of motion, mm +500 ± 1 +500 ± 1 +500 ± 1", lines[4])
    text = " ".join(lines)
    assert "± is one standard deviation" in text
    assert "share another 0.7 % from the scale" in " ".join(text.split())


def test_what_is_inferred_is_marked_and_explained() -> None:
    """A star at the value, its meaning below."""
    text = " ".join(_lines(_of(2), 80))

    assert "41 ± 2*" in text
    assert "* inferred" in text


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("count", [1, 5, 8, 12])
def test_every_rep_stands_once_whatever_the_width(width: int, count: int) -> None:
    """In as many blocks as it takes, each with the measures' names."""
    lines = _lines(_of(count), width)

    heads = [line for line in lines if re.match(r" +rep \d", line)]
    assert re.findall(r"rep (\d+)", " ".join(heads)) == [str(n) for n in range(1, count + 1)]
    assert sum(line.startswith("range of motion, mm") for line in lines) == len(heads)
    assert " ".join(lines).count("500 ± 1") == count
    assert (len(heads) == 1) == (count <= (5 if width == 80 else 8))


@given(st.integers(1, 15), st.integers(20, 140))
def test_no_line_is_longer_than_the_width(count: int, width: int) -> None:
    """Down to 40 characters; and no value is parted from its sd."""
    lines = _lines(_of(count), width)

    assert max(map(len, lines)) <= max(width, 40)
    assert not any(
        line.rstrip().endswith("±") or line.lstrip().startswith("± ") for line in lines if "500" in line
    )


def test_a_measure_seen_in_no_rep_says_why_once() -> None:
    """Not a column of "not seen", but the reason with the remedy."""
    made = _of(2)
    rows = tuple(
        tuple(
            evolve(
                m,
                value=None,
                sd=None,
                sd_common=None,
                status="not_seen",
                reason="the plate hides the hip; film lower",
            )
            if m.id == "trunk_angle_low_deg"
            else m
            for m in row
        )
        for row in made.measured.reps
    )

    lines = _lines(evolve(made, measured=evolve(made.measured, reps=rows)), 80)

    assert [line for line in lines if "trunk" in line] == [
        "trunk angle low not seen: the plate hides the hip; film lower"
    ]


def test_a_set_without_reps() -> None:
    """Said in a line."""
    assert _lines(made_measurement(seen=False), 80) == ["squat: no rep was found in this clip"]


@pytest.mark.parametrize("width", [80, 120])
def test_warnings_break_at_words(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    """Hanging under their mark, within the terminal's width, without escape codes in a pipe."""
    monkeypatch.setenv("COLUMNS", str(width))
    made = _of(6)
    long = evolve(made.warnings[0], text="The plate was taken for 450 mm, " * 6 + "as it was not told.")

    with Show() as show:
        show.table(evolve(made, warnings=(long,)))

    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= width
    assert "\x1b" not in out
    warned = out[out.index("! The plate") :].splitlines()
    assert all(line.startswith("  ") for line in warned[1:])
    assert " ".join(" ".join(warned).split()) == f"! {long.text} {long.remedy}"


def test_progress_is_silent_without_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing at all, not even empty lines."""
    with Show() as show:
        show.progress("looking", 0.5)
        show.clear()

    assert capsys.readouterr() == ("", "")


def test_progress_is_shown_on_a_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """On standard error, with the step's name and share; standard output stays free for results."""
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")

    with Show() as show:
        show.progress("looking for the bar", 0.5)

    told = capsys.readouterr()
    assert told.out == ""
    assert "looking for the bar" in told.err
    assert "50 %" in told.err


def test_what_was_found_stands_below_the_table() -> None:
    """How sure, the claim, its size with sd and unit, the rep and the others; what held; at any width."""
    size = Size(46.73, "mm", 0.79, 1.55)
    finding = Finding(
        id="squat_bar_forward", by="measured", title="The bar goes forward out of the bottom", reps=(2, 3),
        at_s=(7.6, 11.9), size=size, worst_rep=3, confidence="sure",
    )  # fmt: skip
    held = Held(text="The depth (within 12 mm) held through all 3 reps.", best_rep=1)
    found = Found(findings=(finding,), held=held, notes=(Note("pain", "Something hurts."),))

    lines = [line.text for line in found_lines(evolve(made_measurement(), found=found), 100)]

    assert lines[0] == "found"
    assert lines[1] == "sure    The bar goes forward out of the bottom: 46.7 ± 0.8 mm, rep 3 (also 2)"
    assert lines[2] == "good    The depth (within 12 mm) held through all 3 reps."
    assert lines[3] == "Something hurts."
    narrow = [line.text for line in found_lines(evolve(made_measurement(), found=found), 40)]
    assert max(len(line) for line in narrow) <= 40
    assert found_lines(made_measurement(), 80) == []


def test_a_set_without_a_fault_says_so() -> None:
    """Information and hints of nothing are no fault."""
    found = Found(held=Held(text="The depth (within 12 mm) held through both reps."))
    lines = [line.text for line in found_lines(evolve(made_measurement(), found=found), 100)]
    assert lines[1] == "No fault stands out of what this clip can tell."
