"""The plate's usual sizes: what nothing tells stays open, what is told chooses; the spread covers club iron."""

import math

import numpy as np
import pytest

from midfoot.bar.fit import LN_R, LN_Z, Answer
from midfoot.bar.plate_size import by_size
from midfoot.bar.scale import plate_prior
from midfoot.records.clip import Asked

UNTOLD = plate_prior(Asked("squat"))
WIDE = UNTOLD.mm.sd / UNTOLD.mm.value


def _answer(mm: float, sd: float, tie: float = 0.0) -> Answer:
    """An answer whose radius came out at `mm` with a relative sd; `tie`: the distance goes with it so much."""
    x, covariance = np.zeros(12), np.eye(12) * 1e-4
    x[LN_R] = math.log(mm / 2000.0)
    covariance[LN_R, LN_R] = sd**2
    covariance[LN_Z, LN_R] = covariance[LN_R, LN_Z] = tie * sd**2
    covariance[LN_Z, LN_Z] += (tie * sd) ** 2
    return Answer(1, 1.0, x, covariance)


def test_with_nothing_told_full_size_is_the_value_and_400_lies_within_two_sds():
    found = by_size((_answer(450.0, WIDE),), UNTOLD)
    sizes = np.array([2000.0 * math.exp(a.x[LN_R]) for a in found])
    weights = np.array([a.weight for a in found])
    assert sizes == pytest.approx([450, 425, 400], rel=1e-3)
    assert weights == pytest.approx([0.58, 0.21, 0.21], abs=0.01)
    spread = math.sqrt(float(weights @ np.log(sizes / sizes[0]) ** 2))
    assert 2 * spread > math.log(450 / 400)
    assert pytest.approx(spread, rel=0.1) == WIDE


@pytest.mark.parametrize("mm", [400.0, 425.0, 450.0])
def test_what_the_rest_tells_well_chooses_the_size(mm):
    found = by_size((_answer(mm, 0.006),), UNTOLD)
    assert 2000.0 * math.exp(found[0].x[LN_R]) == pytest.approx(mm, rel=2e-3)
    assert found[0].weight > 0.9


def test_what_goes_with_the_size_moves_with_it():
    """At the same size in the picture a plate is as much nearer as it is smaller."""
    found = {round(2000 * math.exp(a.x[LN_R])): a for a in by_size((_answer(450.0, WIDE, tie=1.0),), UNTOLD)}
    assert found[400].x[LN_Z] - found[450].x[LN_Z] == pytest.approx(math.log(400 / 450), rel=0.02)


def test_a_told_plate_has_one_size():
    answer = _answer(425.0, 0.003)
    assert by_size((answer,), plate_prior(Asked("squat", plate_mm=425.0))) == (answer,)
