"""Hips followed in the picture: drawn cloth over a drawn bench, moved by known amounts."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from midfoot.body.lying import FOLLOWED_M, HipLooks
from midfoot.records.body import HIDDEN, INDEX, INFERRED, SEEN

HIP, OTHER = INDEX["left_hip"], INDEX["right_hip"]
METRE_PX, STEP_S = 300.0, 1 / 15
AT = np.array([320.0, 240.0])
LIFT = (0.0, 0.0, 0.0, -4.0, -10.0, -15.0, -12.0, -5.0, 0.0, 0.0)
"""Px of every look; the hip is not made out from the third to the eighth."""
LOST = range(2, 8)


def cloth(seed: int) -> NDArray[np.float64]:
    """A blotchy texture that never repeats."""
    grid = np.random.default_rng(seed).uniform(40, 215, (60, 80))
    return np.kron(grid, np.ones((8, 8)))


def picture(up_px: float, *, all_of_it: bool = True) -> NDArray[np.uint8]:
    """A gym with a body of some 0.2 m across the middle, moved by `up_px`; or the right half of it alone."""
    luma, body = cloth(1), np.roll(cloth(2), round(up_px), axis=0)
    rows = slice(int(AT[1] - 33 + up_px), int(AT[1] + 33 + up_px))
    columns = slice(0, 640) if all_of_it else slice(int(AT[0]) + 4, 640)
    luma[rows, columns] = body[rows, columns]
    return luma.astype(np.uint8)


def followed(*, all_of_it: bool = True, step_px: float = 0.0, lost: range = LOST) -> tuple[np.ndarray, ...]:
    """Hips of a body that rises as in `LIFT`; the network sees them `step_px` elsewhere after the stretch."""
    looks = HipLooks()
    count = len(LIFT)
    xy = np.tile(AT, (count, 33, 1))
    state = np.full((count, 33), SEEN, np.int8)
    peak = np.full((count, 33), 0.9)
    state[lost, HIP] = state[lost, OTHER] = HIDDEN
    peak[lost, HIP] = peak[lost, OTHER] = 0.2
    xy[LOST.stop :, HIP, 0] += step_px
    for row, up in enumerate(LIFT):
        looks.see(picture(up, all_of_it=all_of_it), xy[row], peak[row], METRE_PX)
    xy[list(lost)] = np.nan
    sd = np.where(state == SEEN, 6.0, np.nan)
    out = looks.fill(np.arange(count) * STEP_S, xy, sd, state)
    assert np.isnan(xy[3, HIP]).all()  # what was given stays
    return out


def test_a_lost_hip_goes_as_its_cloth_goes() -> None:
    """To a pixel of the square, 5 mm: 1.5 px here. The drawing's own whole pixels are known exactly."""
    xy, sd, state = followed()

    np.testing.assert_allclose(xy[LOST, HIP, 1] - AT[1], np.array(LIFT)[LOST], atol=1.5)
    np.testing.assert_allclose(xy[LOST, HIP, 0], AT[0], atol=1.5)
    assert (state[LOST, HIP] == INFERRED).all()
    assert (state[8:, HIP] == SEEN).all()
    assert sd[4, HIP] == pytest.approx(FOLLOWED_M * METRE_PX, abs=0.8)


def test_corners_that_disagree_say_nothing() -> None:
    """Half of what is about the hip stands still: neither half is believed while they differ."""
    _, sd, state = followed(all_of_it=False)

    assert (state[4:7, HIP] == HIDDEN).all()
    assert np.isnan(sd[4:7, HIP]).all()


def test_where_picture_and_network_disagree_the_error_says_so_or_nothing_is_said() -> None:
    """6 px (20 mm) apart after the stretch widen the error by half of that; 30 px (100 mm) are not believed."""
    xy, sd, state = followed(step_px=6.0)
    assert sd[4, HIP] == pytest.approx(np.hypot(FOLLOWED_M * METRE_PX, 3.0), abs=0.8)
    assert xy[7, HIP, 0] == pytest.approx(AT[0] + 5.0, abs=1.5)
    assert (state[LOST, HIP] == INFERRED).all()
    _, _, state = followed(step_px=30.0)
    assert (state[LOST, HIP] == HIDDEN).all()


def test_hips_that_are_never_made_out_stay_unseen() -> None:
    _, _, state = followed(lost=range(len(LIFT)))
    assert (state[:, HIP] == HIDDEN).all()


def test_a_look_that_is_wrong_does_not_move_the_square() -> None:
    """Under the bar the network puts the hips 60 px (200 mm) off in some looks, sure of itself."""
    looks = HipLooks()
    xy = np.tile(AT, (len(LIFT), 33, 1))
    state = np.full((len(LIFT), 33), SEEN, np.int8)
    state[list(LOST)] = HIDDEN
    for row, up in enumerate(LIFT):
        wrong = xy[row] + (60.0 if row in (3, 4) else 0.0)
        looks.see(picture(up), wrong, np.full(33, 0.9), METRE_PX)
    xy[list(LOST)] = np.nan
    out, _, state = looks.fill(np.arange(len(LIFT)) * STEP_S, xy, np.where(state == SEEN, 6.0, np.nan), state)

    assert (state[list(LOST), HIP] == INFERRED).all()
    np.testing.assert_allclose(out[list(LOST), HIP, 1] - AT[1], np.array(LIFT)[list(LOST)], atol=1.5)
