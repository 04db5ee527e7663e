"""A bar that swings after the lockout is held no more exactly than it swings."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from measures.figures import Plan, figure, squatter

from midfoot.measures import measure
from midfoot.records.measures import SetData


def swinging(size_mm: float, phase: float) -> SetData:
    """Three squats that end alike; after the last the bar swings at 2.2 Hz and dies down over 0.8 s."""
    data, _ = figure((Plan(), Plan(), Plan()), "squat", fps=30.0, joints=squatter())
    assert data.path is not None
    after = data.path.t_s - data.reps.reps[2].end.t_s
    wave = size_mm * np.sin(2 * np.pi * 2.2 * after + phase) * np.exp(-np.clip(after, 0.0, None) / 0.8)
    return evolve(data, path=evolve(data.path, up_mm=data.path.up_mm + np.where(after > -0.05, wave, 0.0)))


@pytest.mark.parametrize("phase", [0.0, 1.5, 3.0, 4.5])
def test_a_lockout_read_off_a_swinging_bar_is_as_unsure_as_it_is_wrong(phase: float) -> None:
    found = measure(swinging(12.0, phase))
    still = measure(swinging(0.0, phase))

    last, calm = found.of(2, "lockout_shortfall_mm"), still.of(2, "lockout_shortfall_mm")
    assert abs(last.value - calm.value) < 2.5 * last.sd
    assert last.sd > 2.0 > calm.sd
    assert found.of(1, "lockout_shortfall_mm").sd == pytest.approx(still.of(1, "lockout_shortfall_mm").sd, abs=3.0)
