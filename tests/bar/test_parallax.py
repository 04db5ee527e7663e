"""A camera in a hand before a wall, by the pinhole's formula: what the wall cannot tell is in the stated error."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from bar.test_path import Shot, take

from midfoot.bar.parallax import left_by_hand_mm, scale_sd_of
from midfoot.bar.path import bar_path
from midfoot.bar.view import view_and_scale
from midfoot.records.bar import BarTrack, Sightings
from midfoot.reps.resting import heights_of

FOCAL_PX, NEAR_M = 1500.0, 3.2


def sway(seed: int, n: int, sd: float) -> np.ndarray:
    """Slow movement of a hand, (n,), with a given sd: sums of sines between 0.15 and 2 Hz over ten seconds."""
    rng = np.random.default_rng(seed)
    t = np.linspace(0.0, 10.0, n)
    hz = rng.uniform(0.15, 2.0, 12)
    wave = np.sum(np.sin(2 * np.pi * hz * t[:, None] + rng.uniform(0, 6.28, 12)) / hz, axis=1)
    return np.asarray(sd * (wave - wave.mean()) / wave.std())


def held(seed: int, *, turn_deg: float, carried_m: float, wall_m: float) -> tuple[BarTrack, np.ndarray]:
    """Give a track of a bar that does not move, the wall's movement taken out, and the truth's px left in it."""
    bare = take(Shot()).track
    n = len(bare.t_s)
    turn = np.stack([sway(seed + k, n, np.radians(turn_deg)) for k in (0, 1)], axis=1)
    carried = np.stack([sway(seed + k, n, carried_m) for k in (2, 3)], axis=1)
    # To first order a point at depth d moves by f (turn + carried / d) px.
    of_wall, of_bar = (FOCAL_PX * (turn + carried / d) for d in (NEAR_M + wall_m, NEAR_M))
    still = np.full((n, 2), 500.0)
    track = evolve(bare, xy_px=still + of_bar, steady_px=still + of_bar - of_wall, t_s=np.linspace(0, 10, n))
    return track, of_bar - of_wall


def test_what_a_hand_leaves_behind_is_stated_about_as_large_as_it_is() -> None:
    inside, sizes = [], []
    for seed, wall in enumerate((1.5, 2.0, 3.0, 4.0, 6.0) * 4):
        rng = np.random.default_rng(100 + seed)
        turn = float(rng.uniform(0.05, 0.4))
        # The point about which the hand turns: from elbow to ankles.
        arm = float(rng.uniform(0.35, 1.4))
        track, left = held(seed * 7, turn_deg=turn, carried_m=np.radians(turn) * arm, wall_m=wall)
        mm = 1000.0 * NEAR_M / FOCAL_PX
        sd = left_by_hand_mm(track, mm, NEAR_M)
        inside.append(float(np.mean(np.abs(left * mm) <= 2 * sd)))
        sizes.append(sd / float(np.sqrt(np.mean((left * mm) ** 2))))
    assert np.mean(inside) >= 0.85
    assert 0.5 <= np.median(sizes) <= 2.0


def test_a_hand_that_aims_at_the_lifter_is_told_by_how_the_wall_grows() -> None:
    # The turn takes back what the carrying moves at the lifter: the wall hardly moves, the near plate does. By the
    # pinhole: a wall at B grows by c / B when the camera is carried c toward it.
    inside = []
    for seed, wall in enumerate((2.0, 3.0, 4.0) * 4):
        n, carried = len(take(Shot()).track.t_s), 0.001 * (2 + seed % 6)
        t = np.linspace(0.0, 10.0, n)
        x, y, ahead = (sway(31 * seed + k, n, carried) for k in range(3))
        size = 1.0 + ahead / (NEAR_M + wall)
        moves = np.zeros((n, 2, 3))
        moves[:, 0, 0] = moves[:, 1, 1] = 1.0 / size
        seen = Sightings(
            boxes_t_s=np.zeros(0), boxes=(), camera_t_s=t, camera_to_first=moves, camera_ok=np.ones(n, bool)
        )
        of_wall, of_bar = (
            FOCAL_PX * np.stack([x, y], axis=1) * (1 / d - 1 / 4.0) for d in (NEAR_M + wall, NEAR_M)
        )
        bare = take(Shot()).track
        still = np.full((n, 2), 500.0)
        track = evolve(
            bare,
            xy_px=still + of_bar,
            steady_px=still + of_bar - of_wall,
            t_s=t,
            camera_scale_sd=scale_sd_of(seen),
        )
        mm = 1000.0 * NEAR_M / FOCAL_PX
        left = mm * (of_bar - of_wall)
        sd = left_by_hand_mm(track, mm, NEAR_M)
        inside.append(float(np.mean(np.abs(left) <= 2 * sd)))
    assert np.mean(inside) >= 0.85


def test_a_camera_that_stands_or_follows_steadily_adds_nothing() -> None:
    track = take(Shot()).track
    assert left_by_hand_mm(evolve(track, xy_px=track.steady_px), 2.0, 3.0) == 0.0
    pan = 40.0 * (track.t_s - track.t_s[0])[:, None] * np.array([1.0, 0.1])
    assert left_by_hand_mm(evolve(track, xy_px=track.steady_px - pan), 2.0, 3.0) == pytest.approx(0.0, abs=1e-9)


def test_farther_cameras_and_unseen_frames() -> None:
    track, _ = held(3, turn_deg=0.2, carried_m=0.004, wall_m=3.0)
    near, far = (left_by_hand_mm(track, 2.0, d) for d in (2.5, 6.0))
    assert far < near
    gone = np.arange(len(track.t_s)) >= 2
    blind = evolve(track, xy_px=np.where(gone[:, None], np.nan, track.xy_px))
    assert left_by_hand_mm(blind, 2.0, 3.0) == 0.0


def test_the_paths_error_holds_it_in_both_directions() -> None:
    t = take(Shot())
    view, scale, _ = view_and_scale(t.track, t.body, t.asked, t.info)
    n = len(t.track.t_s)
    shake = np.stack([sway(1, n, 8.0), sway(2, n, 8.0)], axis=1)
    in_hand = evolve(t.track, xy_px=t.track.xy_px + shake)
    on_stand = bar_path(t.track, view, scale, t.body, t.asked, t.info)
    path = bar_path(in_hand, view, scale, t.body, t.asked, t.info)
    assert on_stand is not None
    assert path is not None
    assert scale is not None
    more = left_by_hand_mm(in_hand, scale.mm_per_px.value, view.distance_m.value)
    assert more > 0.5
    np.testing.assert_allclose(path.up_mm, on_stand.up_mm)
    added = np.sqrt(path.sd_up_mm**2 - on_stand.sd_up_mm**2)
    np.testing.assert_allclose(added, more, rtol=0.15)
    # Across the picture a length along a plane turned by the yaw is 1 / cos(yaw) longer.
    forward = np.sqrt(path.sd_forward_mm**2 - on_stand.sd_forward_mm**2)
    np.testing.assert_allclose(forward, more / np.cos(np.radians(view.yaw_deg.value)), rtol=0.15)
    # What is slow is no noise of a frame: the reps are looked for as from a stand.
    noises = [h.noise_mm for h in heights_of(path, "squat", t.info)]
    np.testing.assert_allclose(noises, [h.noise_mm for h in heights_of(on_stand, "squat", t.info)], rtol=0.1)
