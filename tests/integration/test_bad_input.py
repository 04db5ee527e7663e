"""Clips that are measured with warnings, through the real command line: exit 0, right words, no false numbers."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from body.network import files
from cli.line import Said, program, said
from clips import write_clip
from gym import SIZE, gym_pictures, wall, write_gym

from midfoot.store import validate

pytestmark = pytest.mark.footage
SECONDS = 2.4
FAST = {"preset": "ultrafast"}


@pytest.fixture(scope="module", autouse=True)
def pose_files() -> None:
    """The pose network's files are at hand, or all of this is skipped."""
    files()


def _measured(
    capsys: pytest.CaptureFixture[str], clip: Path, *options: str
) -> tuple[Said, dict[str, Any], dict[str, str]]:
    """Measure, without pictures; what was printed, measurement.json, the warnings by id."""
    out = clip.parent / "out"
    done = said(
        capsys, "measure", clip, "--lift", "squat", "--plate", "450mm", "--no-video", "--out", out, *options
    )
    assert done.status == 0, done.err
    assert done.err == ""
    document = json.loads((out / "measurement.json").read_text())
    validate(document)
    warned = {w["id"]: f"{w['text']} {w['remedy']}" for w in document["warnings"]}
    printed = " ".join(done.out.split())
    for text in warned.values():
        assert " ".join(text.split()) in printed
    return done, document, warned


def _seen(document: dict[str, Any], measure: str) -> list[float | None]:
    return [rep["measures"][measure]["value"] for rep in document["reps"]]


def test_an_ordinary_clip_as_a_program_of_its_own(tmp_path: Path) -> None:
    """All files, the table on standard output, nothing at all on standard error; the video has every frame."""
    write_gym(tmp_path / "set.mp4", seconds=SECONDS, starts_s=(0.4,))
    out = tmp_path / "new" / "set"

    done = program("measure", tmp_path / "set.mp4", "--lift", "squat", "--load", "100kg", "--out", out)

    assert (done.status, done.err) == (0, "")
    assert "\x1b" not in done.out
    assert done.out.startswith("squat, 1 rep\n")
    assert done.out.splitlines()[-1] == f"{out}/report.html, annotated.mp4, measurement.json"
    names = {p.name for p in out.iterdir()}
    assert names == {"measurement.json", "body.npz", "report.html", "annotated.mp4", "stills"}
    assert list((out / "stills").glob("rep01-*.jpg"))
    assert (out / "report.html").read_text().count("annotated.mp4") >= 1
    document = json.loads((out / "measurement.json").read_text())
    validate(document)
    assert len(document["reps"]) == 1
    video = cv2.VideoCapture(str(out / "annotated.mp4"))
    assert int(video.get(cv2.CAP_PROP_FRAME_COUNT)) == round(SECONDS * 30)


def test_json_is_all_that_is_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """HDR, ten bits: mapped to ordinary light and said; --json prints what the file holds and nothing else."""
    write_gym(
        tmp_path / "hdr.mp4", seconds=1.2, disc=False, codec="libx265", pix_fmt="yuv420p10le",
        options={**FAST, "x265-params": "log-level=none"},
        colour={"color_primaries": 9, "color_trc": 16, "colorspace": 9},
    )  # fmt: skip
    out = tmp_path / "out"

    done = said(capsys, "measure", tmp_path / "hdr.mp4", "--lift", "bench", "--no-video", "--json", "--out", out)

    assert (done.status, done.err) == (0, "")
    document = json.loads(done.out)
    assert document == json.loads((out / "measurement.json").read_text())
    assert document["clip"]["hdr"] is True
    assert {"hdr", "no_bar", "nobody_seen"} <= {w["id"] for w in document["warnings"]}
    assert document["reps"] == []


def test_eight_thousand_pixels_at_eight_frames_a_second(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Decoded smaller, and said; so few frames are said as well."""
    picture = cv2.resize(wall(), (7680, 4320))
    write_clip(
        tmp_path / "large.mp4", times_s=np.arange(10) / 8, size=(7680, 4320), pictures=[picture] * 10,
        options={**FAST, "crf": "40"},
    )  # fmt: skip

    _, document, warned = _measured(capsys, tmp_path / "large.mp4")

    assert "4.0 times smaller" in warned["large_picture"]
    assert max(document["clip"]["width_px"], document["clip"]["height_px"]) == 1920
    assert "no velocity" in warned["few_frames"]


def test_ten_frames_a_second_carry_times_and_no_velocity(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Times and heights are measured; every velocity is not seen, with the remedy."""
    write_gym(tmp_path / "few.mp4", seconds=3.0, fps=10)

    done, document, warned = _measured(capsys, tmp_path / "few.mp4")

    assert "10 frames a second" in warned["few_frames"]
    (rep,) = document["reps"]
    assert rep["measures"]["ascent_time_s"]["status"] == "measured"
    assert rep["measures"]["range_of_motion_mm"]["status"] == "measured"
    velocities = {k: m for k, m in rep["measures"].items() if k.endswith("_m_s")}
    assert velocities
    assert {m["status"] for m in velocities.values()} == {"not_seen"}
    assert "ascent mean velocity not seen: fewer than 15 frames" in " ".join(done.out.split())


def _cut_short(path: Path) -> None:
    write_gym(path, seconds=3.4, options={"g": "15"})
    data = path.read_bytes()
    first = data.index(b"mdat") + 8
    path.write_bytes(data[: first + int(0.8 * (len(data) - first))])


def _scratched(path: Path) -> None:
    write_gym(path, seconds=3.4, options={"g": "15"})
    data = bytearray(path.read_bytes())
    at, width = int(0.8 * len(data)), int(0.06 * len(data))
    data[at : at + width] = np.random.default_rng(0).integers(0, 256, width).astype(np.uint8).tobytes()
    path.write_bytes(bytes(data))


@pytest.mark.parametrize(
    ("make", "warning"),
    [(_cut_short, "clip_truncated"), (_scratched, "clip_damaged")],
    ids=["cut short", "scratched"],
)
def test_what_decodes_is_measured(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], make: Callable[[Path], None], warning: str
) -> None:
    """The rep lies before the damage: it is measured as in the whole clip, and the damage is said."""
    make(tmp_path / "torn.mp4")

    _, document, warned = _measured(capsys, tmp_path / "torn.mp4")

    assert warning in warned
    (rep,) = document["reps"]
    assert rep["measures"]["range_of_motion_mm"]["value"] == pytest.approx(70 * 450 / 68, rel=0.04)
    assert rep["measures"]["ascent_time_s"]["value"] == pytest.approx(0.65, abs=0.04)


def test_too_dark(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A seventh of the light: said; the bar is either found as it is or not found, never elsewhere."""
    write_gym(tmp_path / "dark.mp4", seconds=SECONDS, starts_s=(0.4,), level=0.15)

    _, document, warned = _measured(capsys, tmp_path / "dark.mp4")

    assert "low_light" in warned
    if document["bar"]["status"] == "found":
        assert _seen(document, "range_of_motion_mm") == [pytest.approx(70 * 450 / 68, rel=0.06)]
    else:
        assert "no_bar" in warned or "bar_unsure" in warned


def test_a_plate_cut_off_by_the_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Said with what to do; what was followed is not claimed with full confidence to be whole."""
    t_s = np.arange(round(SECONDS * 30)) / 30
    write_clip(tmp_path / "edge.mp4", times_s=t_s, size=SIZE, pictures=gym_pictures(t_s, starts_s=(0.4,), x=14.0))

    _, document, warned = _measured(capsys, tmp_path / "edge.mp4", "--bar-at", "14,71@0.1")

    if document["bar"]["source"] == "plate":
        assert "Stand back" in warned["plate_cut_off"]
    else:
        assert "no_bar" in warned


def test_a_moving_camera(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A pan by an eighth of the picture during the rep: said, and taken out of the path."""
    t_s = np.arange(round(SECONDS * 30)) / 30
    wide = [cv2.copyMakeBorder(p, 0, 0, 30, 30, cv2.BORDER_REFLECT) for p in gym_pictures(t_s, starts_s=(0.4,))]
    pan = np.round(40 * np.arange(len(wide)) / len(wide)).astype(int)
    pictures = [np.ascontiguousarray(p[:, k : k + SIZE[0]]) for p, k in zip(wide, pan, strict=True)]
    write_clip(tmp_path / "pan.mp4", times_s=t_s, size=SIZE, pictures=pictures)

    _, document, warned = _measured(capsys, tmp_path / "pan.mp4")

    assert "taken out" in warned["camera_moves"]
    assert _seen(document, "range_of_motion_mm") == [pytest.approx(70 * 450 / 68, rel=0.04)]
    (travel,) = _seen(document, "path_range_mm")
    assert travel is not None
    assert travel < 25.0, "40 px of panning are 265 mm"


def test_nobody_and_no_bar(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An empty room: a result that says so, with no number in it."""
    write_gym(tmp_path / "empty.mp4", seconds=1.2, disc=False)

    done, document, warned = _measured(capsys, tmp_path / "empty.mp4")

    assert {"no_bar", "nobody_seen", "no_reps"} <= set(warned)
    assert document["reps"] == []
    assert document["bar"]["status"] == "not_found"
    assert done.out.startswith("squat: no rep was found in this clip")
