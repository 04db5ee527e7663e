"""Views along the plane of motion: forward is never known, heights and velocities are."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from sets import made_set

from midfoot import measures
from midfoot.records.measures import Measure


def _edge_on(view_class: str) -> tuple[Measure, ...]:
    data = made_set()
    assert data.path is not None
    unknown = np.full(len(data.path.t_s), np.nan)
    path = evolve(data.path, forward_mm=unknown, sd_forward_mm=unknown)
    return measures.measure(evolve(data, path=path, view=evolve(data.view, view_class=view_class))).reps[0]


@pytest.mark.parametrize("view_class", ["front", "rear", "unknown"])
def test_heights_are_measured_where_forward_is_never_known(view_class: str) -> None:
    """The same heights and velocities as from the side, with finite errors; nothing forward-backward."""
    side = {m.id: m for m in measures.measure(made_set()).reps[0]}

    row = {m.id: m for m in _edge_on(view_class)}

    for name in ("range_of_motion_mm", "ascent_time_s", "ascent_mean_velocity_m_s", "ascent_peak_velocity_m_s"):
        assert row[name].status == "measured", row[name].reason
        assert row[name].value == pytest.approx(side[name].value, rel=1e-6)
        assert np.isfinite([row[name].sd, row[name].sd_common]).all()
    for name in ("path_range_mm", "path_at_low_mm", "path_departure_mm"):
        assert row[name].status == "not_seen"
        assert row[name].reason
