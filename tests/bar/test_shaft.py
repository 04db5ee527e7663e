"""The bar by its shaft, on drawn clips with known truth.

A bar is 28-29 mm thick and 1.31 m long between its collars (rulebooks).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from attrs import evolve
from drawn_shaft import PX_PER_M, DrawnShaft

from midfoot.bar.coarse import Coarse
from midfoot.bar.hands import track_from_hands
from midfoot.bar.shaft import Shaft
from midfoot.records.bar import BarTrack
from midfoot.records.body import HIDDEN, INDEX


def followed(drawn: DrawnShaft, ends: Sequence[Coarse] = ()) -> tuple[BarTrack, BarTrack | None]:
    body = drawn.body()
    shaft = Shaft(body, "squat")
    assert shaft.worth
    for frame in drawn.frames():
        shaft.see(frame)
    held = track_from_hands(body, "squat")
    return held, shaft.result(held, None, ends)


def error_of(track: BarTrack, drawn: DrawnShaft) -> tuple[float, float]:
    """Random part (rms) and mean of the error up and down, px, where it is seen."""
    y = np.interp(track.t_s, drawn.t_s, drawn.middle[:, 1])
    off = (track.xy_px[:, 1] - y)[track.seen]
    return float(np.std(off)), float(np.mean(off))


@pytest.mark.parametrize(
    ("top", "low"), [(225, 225), (40, 40), (230, 60), (60, 230), (205, 105)],
    ids=["light", "dark", "lit from above", "from below", "weakly"],
)  # fmt: skip
def test_a_drawn_shaft_is_followed_to_a_fraction_of_what_the_hands_tell(top, low):
    drawn = DrawnShaft(top=top, low=low, boards=False)
    held, track = followed(drawn)
    assert track is not None
    assert (track.status, track.source) == ("found", "shaft")
    assert track.seen.mean() > 0.95
    by_shaft, mean = error_of(track, drawn)
    by_hands, _ = error_of(held, drawn)
    assert by_shaft < 0.5  # 1.8 mm
    assert by_hands > 1.5
    assert abs(mean) < 0.014 * PX_PER_M  # within the bar's own thickness
    off = track.xy_px[:, 1] - drawn.middle[:, 1] - mean
    assert np.mean(np.abs(off) < 2 * track.sd_px[:, 1]) > 0.9
    # along the bar nothing but the hands tells its place
    assert np.median(track.sd_px[:, 0]) == pytest.approx(np.median(held.sd_px[:, 0]), rel=0.05)


@pytest.mark.parametrize(("top", "low", "seed"), [(225, 225, 0), (40, 40, 1), (225, 225, 2)])
def test_boards_and_posts_behind_it_are_passed(top, low, seed):
    drawn = DrawnShaft(top=top, low=low, seed=seed)
    held, track = followed(drawn)
    assert track is not None
    assert track.seen.mean() > 0.9
    by_shaft, mean = error_of(track, drawn)
    assert by_shaft < error_of(held, drawn)[0]
    off = np.abs(track.xy_px[:, 1] - drawn.middle[:, 1] - mean)[track.seen]
    assert np.median(off) < 0.4
    assert np.mean(off < 2 * track.sd_px[track.seen, 1]) > 0.9


def test_empty_hands_before_boards_have_no_shaft():
    for seed in range(3):
        _, track = followed(DrawnShaft(bar=False, seed=seed))
        assert track is None


def test_a_bar_that_hangs_in_the_room_is_not_the_one_in_the_hands():
    for still_y in (170.0, 230.0):
        _, track = followed(DrawnShaft(bar=False, still_y=still_y))
        assert track is None


def test_where_it_is_hidden_the_hands_carry_it_on_and_it_is_not_seen():
    drawn = DrawnShaft(hidden_s=(3.0, 3.5), boards=False)
    _, track = followed(drawn)
    assert track is not None
    gap = (track.t_s > 3.05) & (track.t_s < 3.45)
    assert not track.seen[gap].any()
    assert np.isfinite(track.xy_px[gap]).all()
    assert track.sd_px[gap, 1].max() > 1.4 * np.median(track.sd_px[track.seen, 1])
    _, mean = error_of(track, drawn)
    off = track.xy_px[gap, 1] - drawn.middle[gap, 1] - mean
    assert np.mean(np.abs(off) < 2 * track.sd_px[gap, 1]) > 0.9


def test_a_shaft_hidden_nearly_throughout_is_not_claimed():
    _, track = followed(DrawnShaft(hidden_s=(0.7, 6.0)))
    assert track is None


def test_fists_on_one_another_are_not_worth_a_look():
    body = DrawnShaft(half_grip_m=0.04).body()
    assert not Shaft(body, "squat").worth


def test_a_hidden_fist_leaves_the_line_to_the_other():
    drawn = DrawnShaft(boards=False)
    body = drawn.body()
    state = body.state.copy()
    state[40:70, INDEX["left_wrist"]] = HIDDEN
    shaft = Shaft(evolve(body, state=state), "squat")
    for frame in drawn.frames():
        shaft.see(frame)
    track = shaft.result(track_from_hands(body, "squat"), None)
    assert track is not None
    assert track.seen.mean() > 0.9
    assert error_of(track, drawn)[0] < 0.6


def end_of(drawn: DrawnShaft, along_m: float, radius: float = 55.0, off_px: float = 0.0) -> Coarse:
    """Boxes of a disc on the bar's line, looked at every 0.1 s, off by a tenth of a radius."""
    rng = np.random.default_rng(int(1000 * abs(along_m)))
    t, way = drawn.t_s[::3], along_m * PX_PER_M
    places = drawn.middle[::3] + np.column_stack([np.full(len(t), way), way * drawn.slope[::3] + off_px])
    places = places + rng.normal(0, 0.1 * radius, places.shape)
    return Coarse("unsure", t, places, np.full(len(t), radius), score=0.9)


def test_ends_that_lie_on_its_line_tell_its_tilt_and_how_far_apart_they_are():
    drawn = DrawnShaft(boards=False, top=225, low=225)
    ends = [end_of(drawn, -0.72, 60.0), end_of(drawn, 0.70, 54.0), end_of(drawn, 0.8, 60.0, off_px=90.0)]
    _, track = followed(drawn, ends)
    assert track is not None
    assert track.near_xy_px is not None
    apart = track.far_xy_px - track.near_xy_px
    seen = np.isfinite(apart[:, 0])
    assert seen.mean() > 0.95
    # the larger one, on the left, is the nearer
    assert np.median(apart[seen, 0]) == pytest.approx(1.42 * PX_PER_M, rel=0.03)
    tilt = np.degrees(np.arctan2(apart[seen, 1], apart[seen, 0]))
    true = np.degrees(np.arctan(drawn.slope[seen]))
    assert np.std(tilt - true) < 0.15
    assert abs(np.mean(tilt - true)) < 0.15


@pytest.mark.parametrize("what", ["one end", "off the line", "of another bar"])
def test_ends_are_not_told_by_one_or_by_what_lies_aside(what):
    drawn = DrawnShaft(boards=False, top=225, low=225, seconds=5.0)
    near = end_of(drawn, -0.72)
    elsewhere = np.tile([590.0, 200.0], (len(near.t_s), 1))
    other = {
        "one end": [],
        "off the line": [end_of(drawn, 0.72, off_px=50.0)],
        "of another bar": [evolve(near, xy_px=elsewhere)],
    }[what]
    _, track = followed(drawn, [near, *other])
    assert track is not None
    assert track.near_xy_px is None
    assert not np.isfinite(track.far_xy_px).any()
