"""The bundled demo sets: files, contexts, and their truth against the files' own timestamps and pixels."""

import json
from pathlib import Path

import av
import cv2
import numpy as np
import pytest
from lab.render.camera import Camera

from midfoot.cli.context import asked_from
from midfoot.desk.context_file import read_context

ROOT = Path(__file__).resolve().parents[2]
CLIPS, TRUTHS = ROOT / "src" / "midfoot" / "demo", ROOT / "tests" / "data" / "demo"
SETS = {"squat": ("squat", 5, 80.0), "deadlift": ("deadlift", 2, 102.06), "bench": ("bench", 8, 70.0)}


@pytest.fixture(params=list(SETS))
def name(request):
    return request.param


def _truth(name):
    return json.loads((TRUTHS / f"{name}.json").read_text())


def _camera(truth):
    c = truth["camera"]
    return Camera(
        side=c["near_side"], yaw_deg=c["yaw_deg"], distance_m=c["camera_distance_m"],
        height_m=c["camera_height_m"], target_m=tuple(c["target_m"]), aim_m=c["aim_m"], roll_deg=c["roll_deg"],
        fov_deg=c["long_side_fov_deg"], width_px=truth["width_px"], height_px=truth["height_px"],
    )  # fmt: skip


def test_sizes(name):
    assert (CLIPS / f"{name}.mp4").stat().st_size < 2_000_000
    assert (TRUTHS / f"{name}.json").stat().st_size < 200_000


def test_the_context_says_what_the_set_is(name):
    said = read_context(CLIPS / f"{name}.toml")
    asked = asked_from(said)
    lift, reps, load_kg = SETS[name]
    assert (asked.lift, asked.reps) == (lift, reps)
    assert asked.load_kg == pytest.approx(load_kg, abs=0.05)
    assert said.question
    assert said.safeties
    assert len(_truth(name)["reps"]) == reps


def test_timestamps_of_the_file_are_the_truths(name):
    truth = _truth(name)
    with av.open(str(CLIPS / f"{name}.mp4")) as file:
        stream = file.streams.video[0]
        ticks = sorted(p.pts for p in file.demux(stream) if p.pts is not None)
        times = np.array([float(t * stream.time_base) for t in ticks])
    assert len(times) == len(truth["t_s"])
    np.testing.assert_allclose(times, truth["t_s"], atol=2e-5)
    assert 15.0 <= times[-1] <= 30.5
    assert (np.ptp(np.diff(times)) > 0.005) == truth["variable_rate"]


def test_discs_are_where_the_camera_puts_them(name):
    """On a tripod to a hundredth of a pixel; in a hand within the hand's own shake."""
    truth = _truth(name)
    camera = _camera(truth)
    bar = np.array(truth["bar_mm"]) / 1000.0
    side = 1.0 if truth["camera"]["near_side"] == "left" else -1.0
    face = side * truth["face_mm"] / 1000.0
    middle = np.stack([np.zeros(len(bar)), -bar[:, 0], bar[:, 1]], axis=1)
    for key, x in (("near_px", face), ("far_px", -face)):
        off = camera.still().project(middle + [x, 0, 0]) - np.array(truth[key])
        rms = np.sqrt(np.mean(np.sum(off**2, axis=1)))
        assert 1.0 < rms < 20.0 if truth["stored_turned"] else rms < 0.1


def test_moments_hold_on_the_frames(name):
    """At its start a rep is 10 mm from where the bar was held, at the turn's ends 10 mm from the extreme."""
    truth = _truth(name)
    t, up = np.array(truth["t_s"]), np.array(truth["bar_mm"])[:, 1] / 1000.0
    word = "top" if truth["lift"] == "deadlift" else "low"
    for event in truth["events"]:
        for key, height in (
            ("start_s", "held_m"), ("end_s", "then_m"), (f"{word}_start_s", "extreme_m"),
            (f"{word}_end_s", "extreme_m"),
        ):  # fmt: skip
            off = abs(float(np.interp(event[key], t, up)) - event[height])
            assert off == pytest.approx(0.010, abs=0.0025), key


def test_planted_faults_show_in_the_truth():
    squat = _truth("squat")["reps"]
    drift = [r["path_departure_mm"] for r in squat]
    assert max(drift[:3]) + 8 < drift[3] < drift[4]
    assert squat[4]["hip_lead_ratio"] > max(r["hip_lead_ratio"] for r in squat[:3]) + 0.08
    deadlift = _truth("deadlift")["reps"]
    assert deadlift[0]["downward_movement_mm"] < 1 < 10 < deadlift[1]["downward_movement_mm"]
    assert deadlift[1]["lockout_shortfall_mm"] > 20
    bench = _truth("bench")["reps"]
    touch = [r["touch_point_mm"] for r in bench]
    assert touch[7] - touch[0] > 30
    assert bench[7]["pause_time_s"] < bench[0]["pause_time_s"] - 0.3


def test_the_drawn_disc_moves_as_the_truth_says(name):
    """The near disc's own pixels, found again a little higher by correlation, against the truth's centres."""
    truth = _truth(name)
    t, near = np.array(truth["t_s"]), np.array(truth["near_px"])
    event = truth["events"][0]
    rise = (event["top_start_s"] + event["start_s"]) / 2 if name == "deadlift" else event["low_start_s"] - 0.3
    first = int(np.searchsorted(t, rise))
    wanted = {first, first + 4}
    pictures = {}
    with av.open(str(CLIPS / f"{name}.mp4")) as file:
        for k, frame in enumerate(file.decode(video=0)):
            if k in wanted:
                grey = frame.to_ndarray(format="gray")
                pictures[k] = np.rot90(grey, -1) if truth["stored_turned"] else grey
            if k > first + 4:
                break
    radius = 0.4 * truth["plate_diameter_mm"] / truth["camera"]["mm_per_px"]
    size = round(radius * 2) | 1
    a = cv2.getRectSubPix(np.ascontiguousarray(pictures[first]), (size, size), near[first].tolist())
    b = cv2.getRectSubPix(
        np.ascontiguousarray(pictures[first + 4]), (size + 24, size + 24), near[first + 4].tolist()
    )
    score = cv2.matchTemplate(b, a, cv2.TM_CCOEFF_NORMED)
    _, best, _, (x, y) = cv2.minMaxLoc(score)
    assert best > 0.85
    assert np.hypot(x - 12, y - 12) <= 1.5
    assert np.hypot(*(near[first + 4] - near[first])) > 8
