"""A picture read row by row: a path is filmed so by its definition and held against the error that is stated."""

from dataclasses import replace

import numpy as np
import pytest
from attrs import evolve
from pinhole import Noise, Shot, Take, take

from midfoot.bar.path import bar_path
from midfoot.bar.rolling import rolled_px
from midfoot.bar.view import view_and_scale


def filmed_by_rows(t: Take, readout_s: float) -> Take:
    """Each frame shows the bar where it was when its own row was read: y = y(t + readout (y / height - 1/2))."""
    times, still = t.track.t_s, np.asarray(t.track.steady_px)
    seen = still.copy()
    for _ in range(8):
        at = times + readout_s * (seen[:, 1] / t.info.height_px - 0.5)
        seen = np.stack([np.interp(at, times, still[:, k]) for k in (0, 1)], axis=1)
    return replace(t, track=evolve(t.track, xy_px=seen, steady_px=seen))


# Readouts of sensors that are read row by row: 10 to 30 ms (common practice, no source).
@pytest.mark.parametrize("readout_s", [0.01, 0.016, 0.024])
@pytest.mark.parametrize("lift", ["squat", "deadlift"])
def test_the_paths_error_holds_what_rows_read_one_after_the_other_do(lift: str, readout_s: float) -> None:
    sharp = take(Shot(lift=lift, reps=3), Noise())
    view, scale, _ = view_and_scale(sharp.track, sharp.body, sharp.asked, sharp.info)
    path, by_rows = (
        bar_path(t.track, view, scale, t.body, t.asked, t.info) for t in (sharp, filmed_by_rows(sharp, readout_s))
    )
    assert path is not None
    assert by_rows is not None
    off = by_rows.up_mm - path.up_mm
    off = np.abs(off - off[0])
    assert off.max() > 1.0
    added = np.sqrt(by_rows.sd_up_mm**2 - np.min(by_rows.sd_up_mm) ** 2)
    # 0.3 mm: the reference place of the camera, the median of the track, moves along.
    assert np.mean(off <= 2 * added + 0.3) > 0.95
    assert by_rows.sd_up_mm[-3] < 0.2  # at rest


def test_at_rest_and_in_the_middle_row_nothing_is_off() -> None:
    t = take(Shot(lift="deadlift", reps=2), Noise())
    track = t.track
    off = rolled_px(track, t.info.height_px)
    slow = np.hypot(*np.gradient(track.steady_px, track.t_s, axis=0).T) < 5.0
    assert slow.any()
    assert np.all(off[slow] < 0.04)
    assert off.max() > 1.0
    middle = evolve(track, xy_px=np.column_stack([track.xy_px[:, 0], np.full(len(off), t.info.height_px / 2)]))
    assert np.all(rolled_px(middle, t.info.height_px) < 1e-9)


def test_frames_without_a_place_leave_the_others_alone() -> None:
    t = take(Shot(), Noise())
    gone = np.arange(len(t.track.t_s)) % 7 == 3
    blind = evolve(t.track, xy_px=np.where(gone[:, None], np.nan, t.track.xy_px))
    off = rolled_px(blind, t.info.height_px)
    assert np.all(off[gone] == 0.0)
    assert np.isfinite(off).all()
    assert off[~gone, 1].max() == pytest.approx(rolled_px(t.track, t.info.height_px)[:, 1].max(), rel=0.1)
