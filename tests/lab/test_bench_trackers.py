"""The comparison with general trackers: errors by the truth's own rules, and a plain flow that does follow."""

import cv2
import numpy as np
import pytest
from lab.bench_trackers import Flow, TrueDisc, table

from midfoot.records.clip import Frame


def _truth():
    t = np.arange(60) / 30
    y = 300 + 80 * np.sin(2 * np.pi * t / 2)
    near = np.column_stack([400 + 0 * t, y])
    return {
        "t": t.tolist(), "end_px": np.stack([near, near + [200, 0]], axis=1).tolist(), "plate_diameter_m": 0.45,
        "bar": np.column_stack([0 * t, 1.0 + 0 * t]).tolist(), "plate_face_x_m": 0.77, "size": [1280, 720],
        "camera": {"azimuth": 0.0, "distance": 3.6, "height": 1.0, "vfov": 40.0, "target": [0.0, 0.0, 1.0]},
    }  # fmt: skip


def test_a_constant_offset_counts_for_nothing_and_a_wander_in_true_mm():
    true = TrueDisc(_truth())
    t = np.array(_truth()["t"])
    place = np.array([true.at(s) for s in t])
    assert true.errors(t, place + [7.0, -3.0])["forward_rms_mm"] == pytest.approx(0, abs=1e-9)
    wander = place + np.column_stack([np.tile([1.0, -1.0], 30), np.zeros(60)])
    assert true.errors(t, wander)["forward_rms_mm"] == pytest.approx(true.mm_per_px)
    # depth to the near face 3.6 - 0.77 m, focal length 360 / tan 20 degrees: 2.86 mm a pixel
    assert true.mm_per_px == pytest.approx(1000 * 2.83 * np.tan(np.radians(20)) / 360, rel=1e-6)


def test_no_answer_and_an_answer_elsewhere_are_told_apart():
    true = TrueDisc(_truth())
    t = np.array(_truth()["t"])
    place = np.array([true.at(s) for s in t])
    place[:15] = np.nan
    place[15:30] += 500.0
    got = true.errors(t, place)
    assert got["answered_pct"] == pytest.approx(75)
    assert got["on_plate_pct"] == pytest.approx(50)
    assert np.isnan(true.errors(t, np.full((60, 2), np.nan))["up_rms_mm"])


def test_flow_follows_a_textured_picture_by_part_of_a_pixel():
    rng = np.random.default_rng(4)
    room = cv2.GaussianBlur(rng.uniform(0, 255, (300, 300)).astype(np.float32), (0, 0), 2.0)
    room = cv2.normalize(room, None, 0, 255, cv2.NORM_MINMAX)
    flow, frames = Flow(150.0, 150.0, 40.0), []
    for k in range(12):
        move = np.array([[1, 0, 0.7 * k], [0, 1, -0.45 * k]], np.float32)
        luma = cv2.warpAffine(room, move, (300, 300), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
        frames.append(Frame(k, k / 30, luma.clip(0, 255).astype(np.uint8), lambda: np.zeros(0)))
    flow.see(frames)
    np.testing.assert_allclose(flow.xy[-1], [150 + 0.7 * 11, 150 - 0.45 * 11], atol=0.4)


def test_the_table_says_how_many_times_midfoots_time_each_takes():
    one = {"forward_rms_mm": 1.0, "up_rms_mm": 2.0, "answered_pct": 100.0, "on_plate_pct": 100.0}
    rows = [{"clip": "a", "by": {"CSRT": {**one, "cpu_ms_frame": 30.0}, "midfoot": {**one, "cpu_ms_frame": 10.0}}}]
    assert "| a | CSRT | 1.0 / 2.0 | 100 / 100 | 30.00 | 3.00 |" in table(rows)
