"""Moments on made sets: rows of a set, and the tables of rows written by hand."""

from __future__ import annotations

import pytest
from lab.bench_moments import moments_table, one_set, outcomes_table
from lab.render import bank


@pytest.mark.skipif(not bank.bank_file().exists(), reason=f"no bank of bodies at {bank.bank_file()}")
def test_a_set_whose_bar_is_dropped() -> None:
    """Seed 70001 is a pull let go from the top: as drawn, and told so; every moment lies within three sds."""
    row = one_set(70001)

    assert row is not None
    assert row["true"][-1] == "dropped"
    assert row["outcomes"] == [(said, said) for said in row["true"]]
    assert len(row["moments"]) == 4 * len(row["true"])
    assert all(abs(error) < 3 * sd for _, _, error, sd in row["moments"])


def test_tables_of_rows_written_by_hand() -> None:
    sets = [
        {"true": ("completed", "missed"), "outcomes": [("completed", "completed"), ("missed", "missed")],
         "untold": False, "moments": [("completed", "end", 0.01, 0.02), ("completed", "end", -0.03, 0.02),
                                      ("missed", "end", 0.1, 0.02)]},
        {"true": ("assisted",), "outcomes": None, "untold": True, "moments": []},
    ]  # fmt: skip

    outcomes, moments = outcomes_table(sets), moments_table(sets)

    assert "| completed | completed | 1 |" in outcomes
    assert "| assisted | wrong number of reps | 1 |" in outcomes
    assert "1 of 1 sets with a helped rep, 0 of 1 without" in outcomes
    assert "| end | 2 | 0.0224 | -0.0100 | 0.0200 | 50 | 100.0 | 0.030 |" in moments
    assert "| end of a missed rep | 1 | 0.1000 | +0.1000 | 0.0200 | 0 | 0.0 | 0.100 |" in moments
    assert "| all | 3 |" in moments
