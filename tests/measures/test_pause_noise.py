"""One stop stays one stop when noise lifts the speed over the limit for a frame; two stops stay two."""

from __future__ import annotations

import numpy as np
import pytest
from measures.figures import Plan, figure

from midfoot.measures import measure
from midfoot.measures.bench import _still


@pytest.mark.parametrize("seed", range(5))
def test_noise_does_not_cut_a_pause_in_two(seed: int) -> None:
    """Five presses with the same pause at 60 frames a second and 0.5 mm of noise: one of them once read half."""
    plans = (Plan(low_s=0.9),) * 5
    data, _ = figure(plans, "bench", fps=60.0, noise_mm=0.5, rng=np.random.default_rng(seed))
    found = measure(data)

    pauses = [m.value for i in range(5) if (m := found.of(i, "pause_time_s")) is not None and m.value is not None]

    assert len(pauses) == 5
    assert np.ptp(pauses) < 0.12


def test_a_bar_that_moves_on_and_stops_again_has_two_stops() -> None:
    """0.06 m/s for 0.1 s is far over noise of 0.01, 0.04 m/s for a frame is not; edges are never bridged."""
    slow, fast = np.zeros(20), np.zeros(20)
    slow[9] = 0.04
    fast[8:14] = 0.06

    assert _still(slow, 0.01, 1 / 60).all()
    assert not _still(fast, 0.01, 1 / 60)[8:14].any()
    edge = np.zeros(20)
    edge[:2] = 0.04
    assert not _still(edge, 0.01, 1 / 60)[:2].any()
    long = np.zeros(40)
    long[10:20] = 0.04
    assert not _still(long, 0.01, 1 / 60)[10:20].any()
