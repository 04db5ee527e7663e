"""Sets whose frames are read row by row, made by that definition: what it changes is what is stated."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from measures.figures import Plan, figure

from midfoot.measures import measure
from midfoot.measures.scene import ROWS, Scene
from midfoot.records.bar import READOUT_S
from midfoot.records.measures import SetData
from midfoot.records.reps import Rep


def read_by_rows(data: SetData) -> SetData:
    """Each frame shows the bar at its time plus the row's: a place higher up is read earlier."""
    assert data.scale is not None
    assert data.path is not None
    later_s = -READOUT_S / (data.clip.height_px * data.scale.mm_per_px.value)
    t, still = data.path.t_s, data.path.up_mm
    seen = still.copy()
    for _ in range(8):
        seen = np.interp(t + later_s * seen, t, still)

    def shifted(rep: Rep) -> Rep:
        moved = {}
        for name in ("start", "low_start", "low_end", "top_start", "top_end", "end"):
            moment = getattr(rep, name)
            if moment is not None:
                moved[name] = evolve(moment, t_s=moment.t_s - later_s * float(np.interp(moment.t_s, t, still)))
        return evolve(rep, **moved)

    reps = evolve(data.reps, reps=tuple(shifted(r) for r in data.reps.reps))
    return evolve(data, path=evolve(data.path, up_mm=seen), reps=reps)


@pytest.mark.parametrize("lift", ["squat", "deadlift"])
def test_times_and_velocities_state_what_reading_by_rows_does(lift: str) -> None:
    data, _ = figure((Plan(up_s=0.7), Plan(up_s=0.7)), lift, fps=60.0)
    by_rows = read_by_rows(data)
    for name in ("ascent_time_s", "ascent_mean_velocity_m_s", "ascent_peak_velocity_m_s"):
        before, after = measure(data).of(1, name), measure(by_rows).of(1, name)
        assert before is not None
        assert after is not None
        off = abs(after.value - before.value)
        assert off > 0.002
        assert off < 1.6 * after.sd_common


def test_what_every_rep_shares_drops_out_between_reps() -> None:
    data, _ = figure((Plan(), Plan()), "squat")
    first, second = (rep.time("end") - rep.time("low_end") for rep in Scene(data).reps)
    assert abs(first.parts[ROWS]) > 0.001
    assert abs((second - first).parts[ROWS]) < 0.05 * abs(first.parts[ROWS])


def test_without_a_scale_nothing_is_stated() -> None:
    data, _ = figure((Plan(),), "squat")
    assert Scene(evolve(data, scale=None)).read_s_per_mm == 0.0
