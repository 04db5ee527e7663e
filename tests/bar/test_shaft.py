"""The bar by its shaft, on drawn clips with known truth.

A bar is 28-29 mm thick and 1.31 m long between its collars (rulebooks).
"""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from drawn_shaft import PX_PER_M, DrawnShaft

from midfoot.bar.hands import track_from_hands
from midfoot.bar.shaft import Shaft
from midfoot.records.bar import BarTrack
from midfoot.records.body import HIDDEN, INDEX


def followed(drawn: DrawnShaft) -> tuple[BarTrack, BarTrack | None]:
    body = drawn.body()
    shaft = Shaft(body, "squat")
    assert shaft.worth
    for frame in drawn.frames():
        shaft.see(frame)
    held = track_from_hands(body, "squat")
    return held, shaft.result(held, None)


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
