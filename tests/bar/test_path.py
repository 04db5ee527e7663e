"""The bar's path taken back from the picture: exact shots, noisy shots, the rendered clips' own cameras."""

import json

import attrs
import numpy as np
import pytest
from pinhole import REAL_NOISE, Noise, Shot, project, shot_of_render, take

from midfoot.bar.path import bar_path, camera_from
from midfoot.bar.tilt import Tilt
from midfoot.bar.view import view_and_scale
from midfoot.records.base import Value

RENDERS = {
    "squat_side": "side",
    "bench_side": "side",
    "deadlift_side": "side",
    "squat_oblique_portrait": "front_oblique",
    "deadlift_oblique_portrait": "front_oblique",
    "bench_oblique": "front_oblique",
}


def measured(t, tilt=None):
    view, scale, warnings = view_and_scale(t.track, t.body, t.asked, t.info, tilt)
    return view, scale, bar_path(t.track, view, scale, t.body, t.asked, t.info), warnings


def off(path, t):
    """Errors (forward, up) in mm about their medians."""
    f, u = path.forward_mm - t.forward_mm, path.up_mm - t.up_mm
    return f - np.median(f), u - np.median(u)


def rms(x):
    return float(np.sqrt(np.mean(x**2)))


@pytest.mark.parametrize("near", ["left", "right"])
@pytest.mark.parametrize("lift", ["squat", "bench", "deadlift"])
def test_side_on_the_path_is_the_pictures(near, lift):
    t = take(Shot(near_side=near, lift=lift), Noise())
    view, _, path, _ = measured(t)
    assert view.near_side == near
    assert view.facing == ("image_right" if near == "right" else "image_left")
    assert view.view_class == "side"
    f, u = off(path, t)
    assert rms(f) < 0.5
    assert rms(u) < 2.0


@pytest.mark.parametrize("yaw", [-45.0, -25.0, 25.0, 45.0])
def test_forward_and_up_do_not_mix_in_oblique_views(yaw):
    t = take(Shot(yaw_deg=yaw, height_m=1.3, drift_mm=60.0), Noise())
    view, scale, path, _ = measured(t, Tilt(Value(0.0, 0.1)))
    assert view.view_class == ("front_oblique" if yaw > 0 else "rear_oblique")
    f, u = off(path, t)
    assert rms(f) < 3.0
    assert rms(u) < 3.0
    # the picture itself, at the plate's scale, is off by far more
    naive = t.track.steady_px[:, 0] * scale.mm_per_px.value
    naive = (naive - t.forward_mm) - np.median(naive - t.forward_mm)
    assert rms(naive) > 2.5 * rms(f)


@pytest.mark.parametrize("name", RENDERS)
def test_cameras_of_the_rendered_clips(shared_clips, name):
    truth = json.loads((shared_clips / "rendered" / f"{name}.json").read_text())
    shot, motion, landmarks = shot_of_render(truth)
    t = take(shot, REAL_NOISE, seed=3, path=motion, landmarks=landmarks)
    view, scale, path, _ = measured(t, Tilt(Value(shot.roll_deg + 0.2, 0.3)))
    side = RENDERS[name] == "side"
    assert view.near_side == shot.near_side
    assert view.view_class == RENDERS[name]
    for got, key in (
        (view.yaw_deg, "yaw"), (view.distance_m, "distance"), (view.height_m, "height"), (view.pitch_deg, "pitch"),
        (scale.mm_per_px, "mm_per_px"), (scale.body_mm_per_px, "body_mm_per_px"),
    ):  # fmt: skip
        assert abs(got.value - t.truth[key]) < 3.0 * got.sd, key
    f, u = [], []
    first = None
    for rep in truth["events"]:
        rows = (t.track.t_s >= rep["start_s"]) & (t.track.t_s <= rep["end_s"])
        start = np.abs(t.track.t_s - rep["start_s"]) < 0.06
        first = start if first is None else first
        f.append((path.forward_mm - t.forward_mm)[rows] - np.mean((path.forward_mm - t.forward_mm)[start]))
        u.append((path.up_mm - t.up_mm)[rows] - np.mean((path.up_mm - t.up_mm)[start]))
        travel = np.ptp(t.up_mm[rows])
        assert np.ptp(path.up_mm[rows]) == pytest.approx(travel, rel=0.015 if side else 0.025)
    assert rms(np.concatenate(f)) < (2.5 if side else 6.0)
    assert rms(np.concatenate(u)) < (4.0 if side else 6.0)
    whole = (path.forward_mm - t.forward_mm) - np.mean((path.forward_mm - t.forward_mm)[first])
    assert rms(whole) < (5.0 if side else 15.0)


def test_the_truth_files_agree_with_the_tests_pinhole(shared_clips):
    truth = json.loads((shared_clips / "rendered" / "bench_side.json").read_text())
    shot, (_, forward, up), _ = shot_of_render(truth)
    ends = np.stack([0 * forward + shot.half_m, -forward, up], axis=1)
    # the files count pixels from the picture's corner, records from the middle of the first pixel
    np.testing.assert_allclose(project(shot, ends), np.array(truth["end_px"])[:, 0] - 0.5, atol=0.02)


def test_stated_random_sd_is_the_noise_of_the_centre():
    for yaw in (0.0, 40.0):
        t = take(Shot(yaw_deg=yaw), Noise(centre_px=0.5))
        _, _, path, _ = measured(t, Tilt(Value(0.0, 0.1)))
        jump_f, jump_u = np.diff(path.forward_mm - t.forward_mm), np.diff(path.up_mm - t.up_mm)
        assert np.std(jump_f) / np.sqrt(2) == pytest.approx(np.median(path.sd_forward_mm), rel=0.15)
        assert np.std(jump_u) / np.sqrt(2) == pytest.approx(np.median(path.sd_up_mm), rel=0.15)


def test_common_sds_travel_with_the_path():
    view, scale, path, _ = measured(take(Shot(yaw_deg=20.0), REAL_NOISE))
    assert path.scale_pct == pytest.approx(100 * scale.mm_per_px.sd / scale.mm_per_px.value)
    assert (path.yaw_deg, path.roll_deg) == (view.yaw_deg.sd, view.roll_deg.sd)


def test_one_degree_of_roll_moves_every_rep_alike():
    # the same in every rep, so differences between reps do not feel it
    t = take(Shot(roll_deg=1.0), Noise())
    _, _, path, _ = measured(t)
    error = path.forward_mm - t.forward_mm
    assert 8.0 < np.ptp(error) < 14.0  # 0.62 m of travel: 10.8 mm
    one, two = error[:90], error[90:180]
    assert np.abs(one - two).max() < 0.5


def test_the_camera_is_rebuilt_from_view_and_scale():
    t = take(Shot(yaw_deg=-30.0, near_side="left"), Noise())
    view, scale, _, _ = measured(t)
    cam = camera_from(t.track, view, scale, t.body, t.info)
    assert cam.distance_m == pytest.approx(view.distance_m.value)
    assert 1000 * cam.m_per_px == pytest.approx(scale.mm_per_px.value)


def test_bridged_and_unknown_rows():
    t = take(Shot(), Noise())
    steady = t.track.steady_px.copy()
    steady[10:20] = np.nan
    seen = t.track.seen.copy()
    seen[10:30] = False
    track = attrs.evolve(t.track, steady_px=steady, seen=seen)
    view, scale, _ = view_and_scale(track, t.body, t.asked, t.info)
    path = bar_path(track, view, scale, t.body, t.asked, t.info)
    assert np.isnan(path.up_mm[10:20]).all()
    assert np.isfinite(path.up_mm[20:30]).all()
    assert not path.seen[10:30].any()
    assert path.seen[30:].all()


def test_nearly_from_the_front_forward_is_not_seen():
    t = take(Shot(yaw_deg=80.0), Noise())
    view, _, path, warnings = measured(t)
    assert view.view_class == "front"
    assert view.facing == "toward"
    assert "camera_angle" in [w.id for w in warnings]
    assert np.isnan(path.forward_mm).all()
    _, u = off(path, t)
    assert rms(u) < 0.03 * np.ptp(t.up_mm)


def test_no_length_no_path():
    t = take(Shot(), body=False)
    bare = attrs.evolve(t.track, source="shaft", diameter_px=None, aspect=None, far_diameter_px=None)
    view, scale, _ = view_and_scale(bare, t.body, t.asked, t.info)
    assert bar_path(bare, view, scale, t.body, t.asked, t.info) is None


def test_nobody_and_no_bar_gives_a_view_that_knows_nothing():
    t = take(Shot(), body=False)
    n = 0
    nothing = attrs.evolve(
        t.track, status="not_found", source="none", t_s=np.zeros(n), xy_px=np.zeros((n, 2)),
        steady_px=np.zeros((n, 2)), sd_px=np.zeros((n, 2)), seen=np.zeros(n, bool), far_xy_px=np.zeros((n, 2)),
        diameter_px=None, aspect=None, far_diameter_px=None,
    )  # fmt: skip
    view, scale, _ = view_and_scale(nothing, t.body, t.asked, t.info)
    assert scale is None
    assert view.near_side is None
    assert view.facing == "unknown"
    assert view.view_class == "unknown"
    assert view.yaw_deg.sd > 25
    assert bar_path(nothing, view, scale, t.body, t.asked, t.info) is None
