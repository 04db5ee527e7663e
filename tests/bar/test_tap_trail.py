"""From one tap: which moments are looked at."""

from __future__ import annotations

import pytest
from attrs import evolve
from sets import made_set

from midfoot.bar.coarse import Coarse
from midfoot.bar.tap_trail import INTERVAL_S, TapTrail


def tapped(at_s: float) -> Coarse:
    return Coarse(t_s=[at_s], xy_px=[[320.0, 240.0]], radius_px=[40.0], status="found", score=1.0, reason="a tap")


@pytest.mark.parametrize("start_s", [0.0, 4.4])
def test_a_tap_in_a_part_of_the_clip_is_followed_to_both_ends_of_that_part(start_s: float) -> None:
    """A part of 4.5 s, tapped 0.6 s into it: moments on the clip's clock, from its begin to its end.

    They ended at the tap where the part began later than the tap's time less the part's length.
    """
    info = evolve(made_set().clip, duration_s=4.5)
    times = TapTrail(info, tapped(start_s + 0.6), start_s).times_s

    assert times[0] == pytest.approx(start_s, abs=INTERVAL_S)
    assert times[-1] == pytest.approx(start_s + 4.5, abs=INTERVAL_S + 1e-9)
    assert start_s + 0.6 in times
    assert min(times) >= start_s - 1e-6
