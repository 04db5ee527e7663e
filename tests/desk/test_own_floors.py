"""One floor written into the coach's file of thresholds: every other line stays, and it can be taken out again."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.desk.own_floors import own_floor, set_floor, with_floor
from midfoot.findings import ThresholdsError, defaults, limits_from, parameters, read_thresholds
from midfoot.findings.thresholds import with_own

OWN = """\
# what I learnt this winter
[forward_drift]  # the bar
natural = 6   # my lifters are steady
floor = 20  # was 15

[hip_lead]
floor = 0.2
"""
NAMES = ("forward_drift", "hip_lead", "lockout_shortfall", "touch_lower")


def test_only_the_floor_is_changed(tmp_path: Path) -> None:
    """Comments and what else stands there stay to the letter."""
    (tmp_path / "thresholds.toml").write_text(OWN)
    set_floor(tmp_path, "forward_drift", 24.0)

    assert (tmp_path / "thresholds.toml").read_text() == OWN.replace("floor = 20  #", "floor = 24  #")
    set_floor(tmp_path, "forward_drift", 20.0)
    assert (tmp_path / "thresholds.toml").read_text() == OWN


def test_a_threshold_that_was_not_there_comes_and_goes(tmp_path: Path) -> None:
    """It is added at the end; taken out the file is what it was, and one that only held this is gone."""
    set_floor(tmp_path, "touch_lower", 26.0)
    assert own_floor(tmp_path, "touch_lower") == 26.0
    assert own_floor(tmp_path, "hip_lead") is None
    set_floor(tmp_path, "touch_lower", None)
    assert not (tmp_path / "thresholds.toml").exists()

    (tmp_path / "thresholds.toml").write_text(OWN)
    set_floor(tmp_path, "touch_lower", 26.0)
    assert read_thresholds(tmp_path / "thresholds.toml")["touch_lower"].floor == 26.0
    set_floor(tmp_path, "touch_lower", None)
    assert (tmp_path / "thresholds.toml").read_text() == OWN


@given(
    st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from([None, 5.0, 21.5, 0.25])), max_size=6),
    st.sampled_from(["", OWN, OWN.rstrip("\n"), "# nothing yet\n", "[hip_lead]\nnatural=0.03"]),
)
def test_a_file_says_what_was_written_last(changes: list[tuple[str, float | None]], text: str) -> None:
    """Whatever is written in whatever order: read back it is the tables before with those floors changed."""
    wanted = tomllib.loads(text)
    for name, floor in changes:
        text = with_floor(text, name, floor)
        row = {k: v for k, v in wanted.get(name, {}).items() if k != "floor"}
        row |= {} if floor is None else {"floor": floor}
        wanted = {**wanted, name: row}
        if not row:
            del wanted[name]

    assert tomllib.loads(text) == wanted


def test_what_would_not_hold_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    """A floor beyond what a threshold may be, and a file that is written in an unusual way."""
    (tmp_path / "thresholds.toml").write_text(OWN)
    with pytest.raises(ThresholdsError, match="forward_drift: floor: expected 3 to 300 mm"):
        set_floor(tmp_path, "forward_drift", 1.0)
    assert (tmp_path / "thresholds.toml").read_text() == OWN

    (tmp_path / "thresholds.toml").write_text("forward_drift.floor = 20\n")
    with pytest.raises(ThresholdsError, match="change it under Settings"):
        set_floor(tmp_path, "forward_drift", 25.0)
    (tmp_path / "thresholds.toml").write_text("= nonsense")
    with pytest.raises(ThresholdsError, match="no TOML"):
        set_floor(tmp_path, "forward_drift", 25.0)


def test_a_measurement_names_the_thresholds_it_was_measured_with() -> None:
    """Read back from its own record they are the same; the package's own leave nothing behind."""
    own = with_own({"forward_drift": {"floor": 30.0, "natural": 4.0}}, "mine")

    assert limits_from(parameters(own)) == own
    assert limits_from(parameters(None)) == dict(defaults())
    assert limits_from({}) == dict(defaults())
