"""The smallest change that two reps of a clip can show: what all reps have in common does not count."""

import numpy as np
import pytest
from lab.smallest_change import smallest_change, smallest_change_table


def test_it_is_the_published_multiple_of_the_error_within_clips():
    """1.96 sqrt(2) SEM (Weir 2005, JSCR 19:231-240): 2.77 times a known scatter, offsets left out."""
    rng = np.random.default_rng(5)
    errors = [rng.normal(offset, 2.0, 4) for offset in rng.normal(0, 50, 4000)]
    change, reps = smallest_change(errors)
    assert change == pytest.approx(2.772 * 2.0, rel=0.02)
    assert reps == 12_000


def test_too_few_reps_give_no_figure():
    assert smallest_change([[1.0, 2.0]] * 19) is None
    assert smallest_change([[1.0]] * 100) is None


def test_a_line_has_every_view_and_what_was_stated():
    row = {"lift": "squat", "view": "side",
           "measures": [{"id": "sink_mm", "value": v, "sd": 1.0, "true": 0.0} for v in (1, 2, 3)]}  # fmt: skip
    table = smallest_change_table([row] * 12 + [{**row, "view": "front"}])
    assert "| squat | `sink_mm` | 2.8 (24) | – | 2.8 |" in table.splitlines()
