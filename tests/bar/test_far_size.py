"""Both discs of a bar are alike: a lip taken for the rim at either end is one error, not two."""

from dataclasses import replace

import attrs
import numpy as np
import pytest
from pinhole import REAL_NOISE, Shot, take

from midfoot.bar.far_size import LEAST_SD, SURE_RIM_SD, far_size_off
from midfoot.bar.view import view_and_scale
from midfoot.records.base import Value


@pytest.mark.parametrize("near_sd", [0.01, 0.03, 0.06])
@pytest.mark.parametrize(("near_off", "far_off"), [(0.05, 0.05), (0.05, -0.02), (0.0, 0.04)])
def test_both_together_are_two_normal_errors_with_a_common_part(near_sd: float, near_off: float, far_off: float):
    """The squares add up to the Mahalanobis distance of both (textbook), by the inverse of their covariance."""
    near, far = Value(100.0, 100.0 * max(near_sd, SURE_RIM_SD)), Value(70.0, 70.0 * 0.03)
    own = near.sd / near.value
    shared = own**2 - SURE_RIM_SD**2
    covariance = np.array([[own**2, shared], [shared, 0.03**2 + LEAST_SD**2 + shared]])
    off = np.array([near_off, far_off])
    rest = far_size_off(70.0 * (1 + far_off), 100.0 * (1 + near_off), far, near)
    assert rest**2 + (near_off / own) ** 2 == pytest.approx(off @ np.linalg.inv(covariance) @ off)


def test_without_a_near_plate_the_far_one_speaks_for_itself():
    assert far_size_off(72.0, 0.0, Value(70.0, 2.0), None) == pytest.approx(
        (2 / 70) / np.hypot(2 / 70, LEAST_SD), rel=1e-6
    )


@pytest.mark.parametrize(("yaw", "seed"), [(50.0, 1), (-40.0, 3)])
def test_a_lip_for_the_rim_at_both_ends_stays_within_two_sds(yaw: float, seed: int):
    """7.5 % at either end, of which the near one says 4.5 % may be."""
    t = take(Shot(yaw_deg=yaw), REAL_NOISE, seed=seed)
    near, far = t.track.diameter_px, t.track.far_diameter_px
    smaller = 0.925 * near.value, 0.925 * far.value
    t = replace(
        t,
        track=attrs.evolve(
            t.track,
            diameter_px=Value(smaller[0], 0.045 * smaller[0]),
            far_diameter_px=Value(smaller[1], 0.03 * smaller[1]),
        ),
    )
    _, scale, _ = view_and_scale(t.track, t.body, t.asked, t.info)
    assert abs(scale.mm_per_px.value / t.truth["mm_per_px"] - 1) < 2 * scale.mm_per_px.sd / scale.mm_per_px.value
