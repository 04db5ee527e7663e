"""The region's lock: what moves it on, what does not."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from midfoot.body.bar_place import Bar, bar_of
from midfoot.body.follow import Lock
from midfoot.body.landmarks import Pose
from midfoot.body.regions import Region
from midfoot.records.body import INDEX, LANDMARKS

NO_BAR = Bar(np.zeros(0), np.zeros((0, 2)))
T = np.arange(0, 10, 0.1)
SEEDS = np.tile([300.0, 400.0, 400.0, 0.0], (len(T), 1))


def lock(lift: str = "squat", bar: Bar = NO_BAR, hold: tuple[float, float] = (np.nan, np.nan)) -> Lock:
    return Lock(lift, T, SEEDS, bar, np.array(hold))


def pose(
    region: Region, after: Region, *, peak: float = 0.8, presence: float = 0.95, shoulder_y: float = 300.0
) -> Pose:
    xy = np.full((len(LANDMARKS), 2), 300.0)
    xy[[INDEX["left_shoulder"], INDEX["right_shoulder"]], 1] = shoulder_y
    flat = np.full(len(LANDMARKS), peak)
    return Pose(xy, flat, flat, presence, flat, np.zeros((len(LANDMARKS), 3)), region, after)


def settled(kept: Lock) -> Region:
    """Let a lock follow ten good frames at one place."""
    region = kept.look_at(0.0)
    assert region is not None
    for k in range(10):
        kept.advance(pose(region, region), k / 15)
    return region


def test_it_starts_where_the_first_look_saw_him() -> None:
    assert lock().look_at(3.05) == Region(300, 400, 400, 0.0)
    assert lock().look_at(20.0) is None


def test_a_good_pose_moves_it_on() -> None:
    kept = lock()
    region = settled(kept)
    near = Region(region.x_px + 20, region.y_px, region.side_px * 1.05, 0.05)
    assert kept.good(pose(region, near), 0.7)
    kept.advance(pose(region, near), 0.7)
    assert kept.look_at(0.75) == near


@pytest.mark.parametrize(
    ("after", "more"),
    [
        (Region(380, 400, 400), {}),  # leaps
        (Region(300, 400, 300), {}),  # shrinks
        (Region(300, 400, 520), {}),  # grows
        (Region(300, 400, 400, 0.6), {}),  # turns
        (Region(300, 400, 400), {"presence": 0.3}),
        (Region(300, 400, 400), {"peak": 0.3}),
    ],
)
def test_a_pose_that_does_not_fit_leaves_it(after: Region, more: dict[str, float]) -> None:
    kept = lock()
    region = settled(kept)
    assert not kept.good(pose(region, after, **more), 0.7)


def test_a_body_on_the_bench_does_not_turn() -> None:
    for lift, fits in (("squat", True), ("bench", False)):
        kept = lock(lift)
        region = settled(kept)
        assert kept.good(pose(region, Region(300, 400, 400, 0.25)), 0.7) is fits


def moving_bar() -> Bar:
    return bar_of(
        SimpleNamespace(t_s=T, xy_px=np.stack([np.full(len(T), 350.0), 290 + 80 * T], axis=1), radius_px=40)
    )


def test_shoulders_off_the_bar_are_somebody_elses() -> None:
    kept = lock(bar=moving_bar(), hold=(-50.0, 10.0))
    settled(kept)
    at = Region(300, 400, 400)
    with_bar, above = pose(at, at, shoulder_y=300 + 80), pose(at, at, shoulder_y=300)
    assert not kept.off_the_bar(with_bar, 1.0)
    assert kept.off_the_bar(above, 1.0)
    assert kept.good(with_bar, 1.0)
    assert not kept.good(above, 1.0)


def test_a_lost_region_goes_along_with_the_bar() -> None:
    kept = lock(bar=moving_bar(), hold=(-50.0, 10.0))
    region = settled(kept)
    later = kept.look_at(kept.good_t_s + 0.5)
    assert later is not None
    assert later.y_px - region.y_px == pytest.approx(40, abs=0.1)
    assert later.x_px == pytest.approx(region.x_px)


def test_it_is_put_back_where_the_first_look_knew_better() -> None:
    kept = lock()
    region = settled(kept)
    assert kept.astray(0.7) is None
    kept.advance(pose(region, Region(420, 400, 400)), 0.7)
    assert kept.astray(0.75) == Region(300, 400, 400, 0.0)
