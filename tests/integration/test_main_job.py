"""The main job on the bundled clips, without a click, against the renderer's exact truth."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from desk_sets import fresh

from midfoot.records.measures import Measurement
from midfoot.store import to_json, validate

pytestmark = pytest.mark.footage
TRUTH = Path(__file__).resolve().parent.parent / "data" / "demo"


@cache
def measured(name: str) -> tuple[Measurement, dict[str, Any]]:
    """Measure a bundled clip as the demo does; gives the measurement and the truth."""
    return fresh(name), json.loads((TRUTH / f"{name}.json").read_text())


@pytest.mark.parametrize(
    ("name", "moment_s", "velocity_m_s"),
    [("squat", 1 / 30 + 0.010, 0.015), ("deadlift", 0.080, 0.030)],
)
def test_demo_set_is_measured_without_a_click(name: str, moment_s: float, velocity_m_s: float) -> None:
    """Reps exact, moments within the bounds set for side (squat) and oblique (deadlift) views."""
    found, truth = measured(name)
    data = found.data

    assert (data.track.status, data.track.source) == ("found", "plate")
    assert data.track.seen.mean() >= (0.99 if name == "squat" else 0.95)
    assert [r.outcome for r in data.reps.reps] == ["completed"] * len(truth["events"])
    for place, (rep, event, true) in enumerate(zip(data.reps.reps, truth["events"], truth["reps"], strict=True)):
        velocity = found.measured.of(place, "ascent_mean_velocity_m_s")
        assert velocity is not None
        assert velocity.value == pytest.approx(true["ascent_mean_velocity_m_s"], abs=velocity_m_s)
        for moment in ("start", "low_start", "low_end", "top_start", "top_end", "end"):
            if f"{moment}_s" in event:
                got = getattr(rep, moment)
                assert got is not None
                assert got.t_s == pytest.approx(event[f"{moment}_s"], abs=moment_s)
    validate(to_json(found))
    assert np.isfinite(data.view.yaw_deg.value)


@pytest.mark.parametrize(("name", "range_pct"), [("squat", 0.8), ("deadlift", 2.5)])
def test_range_of_motion_of_the_demo_sets(name: str, range_pct: float) -> None:
    """Every rep's range of motion within the bound set for its view."""
    found, truth = measured(name)

    for place, true in enumerate(truth["reps"]):
        rom = found.measured.of(place, "range_of_motion_mm")
        assert rom is not None
        assert rom.value == pytest.approx(true["range_of_motion_mm"], rel=range_pct / 100)
