"""`midfoot mechanics` on a folder made of a figure's joints, and on what is no measured folder."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from tests.cli.line import said

from midfoot.records.body import LANDMARKS
from midfoot.records.context import SEXES, Context
from midfoot.store import context_to_json

PX_PER_M = 320.0
N = 91


def measured(folder: Path, *, load_kg: float | None = 100.0, stature_m: float | None = None) -> Path:
    """Write a measured squat seen from 4 m: the bar sinks by 0.5 m and rises over hips that go back."""
    t = np.arange(N) / 30.0
    s = 0.5 - 0.5 * np.cos(2 * np.pi * t / t[-1])
    spots = {
        "shoulder": (0.02 + 0 * s, 1.42 - 0.5 * s), "hip": (-0.25 * s, 0.92 - 0.42 * s),
        "knee": (0.16 * s, 0.48 - 0.03 * s), "ankle": (0 * s, 0.08 + 0 * s), "heel": (-0.05 + 0 * s, 0.03 + 0 * s),
        "foot_index": (0.17 + 0 * s, 0.02 + 0 * s),
    }  # fmt: skip
    xy = np.full((N, len(LANDMARKS), 2), np.nan)
    status = np.full((N, len(LANDMARKS)), "hidden")
    for name, (x, y) in spots.items():
        k = LANDMARKS.index(f"left_{name}")
        xy[:, k] = np.stack([640 + 0.8 * PX_PER_M * x, 650 - 0.8 * PX_PER_M * y], 1)
        status[:, k] = "seen"
    np.savez(folder / "body.npz", t_s=t, xy_px=xy, sd_px=np.full(status.shape, 2.0), status=status)
    path = [
        {"t_s": float(t[i]), "forward_mm": 0.0, "up_mm": -500.0 * float(s[i]), "x_px": 640.0,
         "y_px": 190.0 + 0.5 * PX_PER_M * float(s[i]), "sd_forward_mm": 0.7, "sd_up_mm": 0.7}
        for i in range(N)
    ]  # fmt: skip
    known = {"value": 0.0, "sd": 1.0}
    document = {
        "schema": "midfoot/measurement/1",
        "asked": {"lift": "squat", "load_kg": load_kg, "stature_m": stature_m},
        "clip": {"width_px": 1280, "height_px": 720},
        "view": {"near_side": "left", "facing": "image_right", "class": "side", "yaw_deg": known,
                 "roll_deg": known, "pitch_deg": known, "camera_height_m": known,
                 "camera_distance_m": {"value": 2.8, "sd": 0.2}},
        "scale": {"mm_per_px": {"value": 3.125, "sd": 0.03}, "body_mm_per_px": {"value": 3.9, "sd": 0.06},
                  "plate_mm": 450.0, "basis": "told"},
        "bar": {"source": "plate", "path": path, "common": {"scale_pct": 1.0, "yaw_deg": 1.0, "roll_deg": 0.5}},
        "body": {"status": "seen", "near_side": "left", "landmarks": list(LANDMARKS)},
        "reps": [{"n": 1, "start_s": 0.1, "low_end_s": 1.5, "end_s": 2.9, "measures": {}}],
        "set": {"best_rep": None},
    }  # fmt: skip
    (folder / "measurement.json").write_text(json.dumps(document))
    return folder


def test_everything_known(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = said(capsys, "mechanics", measured(tmp_path), "--body-mass", "80kg", "--stature", "175cm", "--sex", "m")
    assert line.status == 0, line.err
    assert "10 mm of forward drift costs 9.8 N·m" in line.out
    assert "worth trying, film both" in line.out
    found = json.loads((tmp_path / "mechanics.json").read_text())
    hip = found["reps"][0]["moments"][1]["loads"][0]
    assert hip["arm_mm"]["value"] == pytest.approx(250, abs=25)
    assert hip["moment_nm"]["value"] > hip["bar_nm"]["value"] > 200
    assert found["reps"][0]["bar_work_j"]["value"] == pytest.approx(100 * 9.80665 * 0.5, rel=0.02)
    assert found["cannot"] == []
    page = (tmp_path / "mechanics.html").read_text()
    assert page.count('class="arm"') == 3
    assert "http" not in page


def test_json_is_what_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = said(capsys, "mechanics", measured(tmp_path), "--json")
    assert line.status == 0
    assert json.loads(line.out) == json.loads((tmp_path / "mechanics.json").read_text())


def test_says_what_cannot_be_computed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = said(capsys, "mechanics", measured(tmp_path, load_kg=None))
    assert line.status == 0
    for word in ("--load", "--body-mass", "--stature"):
        assert word in line.out
    assert "N·m at the hip" not in line.out


def test_geometry_needs_no_body_mass(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = said(capsys, "mechanics", measured(tmp_path, stature_m=1.75))
    assert "heels 20 mm higher: trunk angle" in line.out


def test_the_context_beside_the_measurement_is_enough(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = context_to_json(Context(sex=SEXES[0], body_mass_kg=80.0, stature_m=1.75))
    (measured(tmp_path) / "context.json").write_text(json.dumps(told))
    line = said(capsys, "mechanics", tmp_path)
    assert line.status == 0, line.err
    assert json.loads((tmp_path / "mechanics.json").read_text())["cannot"] == []
    (tmp_path / "context.json").write_text("[]")
    line = said(capsys, "mechanics", tmp_path)
    assert line.status == 1
    assert "context.json cannot be read" in line.one_sentence()


@pytest.mark.parametrize("value", ["0", "-80", "900kg", "heavy", "nan"])
def test_absurd_body_mass(tmp_path: Path, capsys: pytest.CaptureFixture[str], value: str) -> None:
    line = said(capsys, "mechanics", measured(tmp_path), f"--body-mass={value}")
    assert line.status == 2
    assert "--body-mass" in line.one_sentence()


def test_not_a_measured_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for where in (tmp_path / "nowhere", tmp_path):
        line = said(capsys, "mechanics", where)
        assert line.status == 1
        assert "midfoot measure" in line.one_sentence()


@pytest.mark.parametrize("name", ["measurement.json", "body.npz"])
def test_damaged_files(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    (measured(tmp_path) / name).write_bytes(b"no")
    line = said(capsys, "mechanics", tmp_path)
    assert line.status == 1
    assert "cannot be read" in line.one_sentence()
