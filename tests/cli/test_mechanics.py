"""`midfoot mechanics` on a folder made of a figure's joints, and on what is no measured folder."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from figure import measured, with_clip
from tests.cli.line import said

from midfoot.mechanics_set import Told, drawn_arms, work_out
from midfoot.mechanics_words import reasons
from midfoot.positions import arms_in_picture
from midfoot.publish import scene_of
from midfoot.publish.arms import arm_words
from midfoot.records.body import LANDMARKS
from midfoot.records.context import SEXES, Context
from midfoot.records.mechanics import JointLoad, Known
from midfoot.store import context_to_json, read_measurement


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
    heels = next(p for p in found["predictions"] if p["alters"] == "heels")["predictions"]
    assert [(p["measure"], p["direction"], p["unit"]) for p in heels] == [("trunk_angle_low_deg", "less", "deg")]
    page = (tmp_path / "mechanics.html").read_text()
    assert "<td>heels 20 mm higher</td><td>trunk angle</td><td>−4 ± 2°</td>" in page
    assert "A side view of the squat has no hands in it" in page
    assert page.count('class="arm"') == 3  # no clip: the figure is drawn instead
    assert "set.mp4) does not lie beside this folder; give it with --clip" in page
    assert "set.mp4) does not lie beside this folder; give it with --clip" in line.out
    assert "http" not in page


@pytest.mark.parametrize(("yaw_deg", "status"), [(40.0, 0), (-52.0, 1), (52.0, 1)])
def test_no_arms_from_a_view_that_is_more_from_the_front(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], yaw_deg: float, status: int
) -> None:
    """A foot 0.35 m to the side would read as tan(52 degrees) x 0.35 = 0.45 m forward (plane geometry)."""
    folder = measured(tmp_path)
    document = json.loads((folder / "measurement.json").read_text())
    document["view"]["yaw_deg"]["value"] = yaw_deg
    (folder / "measurement.json").write_text(json.dumps(document))

    line = said(capsys, "mechanics", folder, "--body-mass", "80kg", "--stature", "175cm", "--sex", "m")

    assert line.status == status, line.err
    assert ("52 degrees off the side" in line.err) == (status == 1)
    assert (folder / "mechanics.json").exists() == (status == 0)


def test_the_arms_are_drawn_on_the_frame(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The hip's arm runs level, from the landmark's own pixel to under the middle of the bar.

    The figure's joints were put into the picture by hand at 0.8 x 320 px per metre with the bar over x = 640.
    """
    clip = with_clip(tmp_path)
    line = said(capsys, "mechanics", tmp_path, "--clip", clip, "--body-mass", "80kg", "--stature", "175cm",
                "--sex", "m")  # fmt: skip
    assert line.status == 0, line.err
    assert [p.name for p in (tmp_path / "stills").iterdir()] == ["rep01-arms-low.jpg"]
    page = (tmp_path / "mechanics.html").read_text()
    assert page.count("<img src=") == 1
    assert 'class="arm"' not in page

    measurement = read_measurement(tmp_path)
    worked = work_out(measurement, Told(80.0, 1.75, "m"))
    low = next(m for m in worked.reps[0].moments if m.name == "low")
    drawn = arms_in_picture(measurement.data, low)
    assert drawn is not None
    assert [arm.joint for arm in drawn.arms] == ["hip", "knee", "ankle"]
    body = measurement.data.body
    row = int(np.argmin(np.abs(body.t_s - low.at_s)))
    for arm in drawn.arms:
        here = body.xy_px[row, LANDMARKS.index(f"left_{arm.joint}")]
        assert arm.joint_px == pytest.approx(tuple(here), abs=0.5)
        assert arm.end_px == pytest.approx((640.0, here[1]), abs=1.5)
    ((_, _, picture),) = drawn_arms(measurement, worked.reps, clip)
    left, top, _, bottom = scene_of([drawn], (1280, 720))
    zoom = 640 / (bottom - top)
    hip = drawn.arms[0]
    y = round((hip.joint_px[1] - top) * zoom)
    for share in (0.3, 0.5, 0.7):
        x = round(((1 - share) * hip.joint_px[0] + share * hip.end_px[0] - left) * zoom)
        red, green, blue = np.max(picture[y - 1 : y + 2, x].astype(int), axis=0)
        assert red > 120  # the grey is 90, the line's dark edge 24; the line is one soft pixel wide
        assert red > green > blue + 60  # ochre on grey


def test_labels_say_value_and_error_and_do_not_pretend() -> None:
    near = JointLoad("hip", Known(-251.2, 9.0, 12.0), Known(246.0, 9, 12), Known(-310.4, 12.0, 16.0), None)
    assert arm_words(near) == ("hip 251 ± 15 mm", "−310 ± 20 N·m")
    assert arm_words(evolve(near, moment_nm=None)) == ("hip 251 ± 15 mm", "bar alone 246 ± 15 N·m")
    assert arm_words(evolve(near, arm_mm=Known(12.0, 9.0, 12.0))) == ("hip 12 ± 15 mm", "within its error")
    assert arm_words(JointLoad("hip", None, None, None, None, "hidden")) == ()


def test_the_clip_is_found_beside_the_folder_and_a_wrong_one_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clip = with_clip(tmp_path)
    clip.rename(tmp_path / "set.mp4")
    assert said(capsys, "mechanics", tmp_path).status == 0
    assert len(list((tmp_path / "stills").iterdir())) == 1
    (tmp_path / "other.mp4").write_bytes(b"other")
    for wrong, word in (("other.mp4", "is not the clip that was measured (set.mp4)"), ("none.mp4", "no clip")):
        line = said(capsys, "mechanics", tmp_path, "--clip", tmp_path / wrong)
        assert line.status == 1
        assert word in line.one_sentence()


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
    assert "body mass" in line.one_sentence()


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


def test_each_reason_for_a_dash_stands_once_with_its_moments() -> None:
    def rep(n: int, at: str) -> dict[str, object]:
        loads = [{"joint": "hip", "reason": f"the near hip is not seen at {at} s"},
                 {"joint": "ankle", "reason": "hip not seen, whose parts this joint holds up"},
                 {"joint": "knee", "reason": ""}]  # fmt: skip
        return {"n": n, "moments": [{"loads": loads}]}

    assert reasons({"reps": [rep(1, "9.5"), rep(2, "11.1")]}) == [
        "hip not seen, whose parts this joint holds up",
        "the near hip is not seen at 9.5, 11.1 s",
    ]


def test_the_moment_farthest_forward_is_found_on_the_path(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The bar is put 30 mm forward at 2.0 s, by hand: that frame's hip arm grows by as much."""
    document = json.loads((measured(tmp_path) / "measurement.json").read_text())
    for row in document["bar"]["path"]:
        row["forward_mm"] = 30.0 * max(0.0, 1.0 - abs(row["t_s"] - 2.0) / 0.4)
        row["x_px"] += 0.32 * row["forward_mm"]
    (tmp_path / "measurement.json").write_text(json.dumps(document))
    assert said(capsys, "mechanics", tmp_path).status == 0
    (rep,) = json.loads((tmp_path / "mechanics.json").read_text())["reps"]
    far = next(m for m in rep["moments"] if m["name"] == "farthest forward")
    assert far["at_s"] == pytest.approx(2.0, abs=0.02)
    assert far["places_m"]["bar"][0] == pytest.approx(0.030, abs=0.001)
    measured(tmp_path)
    assert said(capsys, "mechanics", tmp_path).status == 0
    (rep,) = json.loads((tmp_path / "mechanics.json").read_text())["reps"]
    assert "farthest forward" not in {m["name"] for m in rep["moments"]}
