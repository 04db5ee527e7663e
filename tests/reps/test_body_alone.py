"""Reps from the body where no bar was followed, and the lift that body and bar together fit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from made_reps import Made, info_of, sampled
from scipy.signal import find_peaks

from midfoot.records.bar import BarPath, BarTrack
from midfoot.records.body import INDEX, BodyTrack
from midfoot.reps import find_reps

MM_PX = 4.0


def body_of(
    t: np.ndarray, places: dict[str, tuple[np.ndarray, np.ndarray]], *, noise_px: float = 0.0, seed: int = 0
) -> BodyTrack:
    """A body whose named joints (both sides, 6 px apart) stand at (x, y) px over time."""
    rng = np.random.default_rng(seed)
    xy = np.full((len(t), 33, 2), np.nan)
    for name, (x, y) in places.items():
        for side, shift in (("left", -3.0), ("right", 3.0)):
            xy[:, INDEX[f"{side}_{name}"], 0] = x + shift
            xy[:, INDEX[f"{side}_{name}"], 1] = y
    xy += noise_px * rng.normal(size=xy.shape)
    known = np.where(np.isfinite(xy[:, :, 0]), 2, 0)
    return BodyTrack(
        status="seen", model="made", t_s=t, xy_px=xy, sd_px=np.full((len(t), 33), max(noise_px, 1.0)), state=known,
        peak=np.where(known, 0.8, 0.1), depth_m=np.zeros((len(t), 33)), world_m=np.zeros((len(t), 33, 3)),
        near_side="left", near_side_margin=0.9,
    )  # fmt: skip


def standing(t: np.ndarray, hip_up_mm: np.ndarray, hands_up_mm: np.ndarray, **noise: float) -> BodyTrack:
    """Someone on two feet: ankles at 90 mm, hips and hands as given, trunk of 480 mm."""
    one = np.ones(len(t))
    y = lambda up: 480 - up / MM_PX  # noqa: E731
    return body_of(
        t,
        {
            "ankle": (300 * one, y(90 * one)),
            "knee": (290 - (930 - hip_up_mm) / 20, y(90 + (hip_up_mm - 90) * 0.5)),
            "hip": (300 + (930 - hip_up_mm) / 12, y(hip_up_mm)),
            "shoulder": (300 * one, y(hip_up_mm + 480)),
            "wrist": (300 * one, y(hands_up_mm)),
        },
        **noise,  # type: ignore[arg-type]
    )


def lying(t: np.ndarray, hands_up_mm: np.ndarray) -> BodyTrack:
    """Someone on a bench, seen from the side."""
    one = np.ones(len(t))
    y = lambda up: 480 - up / MM_PX  # noqa: E731
    return body_of(
        t,
        {
            "ankle": (420 * one, y(90 * one)), "knee": (400 * one, y(480 * one)), "hip": (320 * one, y(500 * one)),
            "shoulder": (200 * one, y(560 * one)), "wrist": (200 * one, y(hands_up_mm)),
        },
    )  # fmt: skip


def plate_track(path: BarPath) -> BarTrack:
    """The bar in the picture, as the bodies above are drawn."""
    xy = np.column_stack([np.full(len(path.t_s), 300.0), 480 - path.up_mm / MM_PX])
    return BarTrack(
        status="found", source="plate", t_s=path.t_s, xy_px=xy, steady_px=xy, sd_px=np.full(xy.shape, 0.3),
        seen=path.seen, far_xy_px=np.full(xy.shape, np.nan),
    )  # fmt: skip


def squats() -> Made:
    made = Made(1400).hold(1.5)
    for _ in range(3):
        made.rep(500, 1.4, 0.3, 1.2).hold(1)
    return made


def presses() -> Made:
    made = Made(1000).hold(1.5)
    for _ in range(3):
        made.rep(380, 1.2, 0.8, 1.1).hold(1)
    return made


def pulls() -> Made:
    made = Made(225).hold(1.5)
    for _ in range(3):
        made.rep(-560, 1.3, 0.6, 1.0).hold(1)
    return made


@pytest.mark.parametrize("noise_px", [0.5, 2.0])
def test_squat_by_the_hips(noise_px: float) -> None:
    """Without a bar the hips give the reps, with moments as sure as they are steady."""
    made = squats()
    path, info = sampled(made)
    hip = path.up_mm - 470
    reps = find_reps(None, standing(path.t_s, hip, hip + 480, noise_px=noise_px), lift="squat", info=info)

    assert [r.outcome for r in reps.reps] == ["completed"] * 3
    for rep, true in zip(reps.reps, made.moments(), strict=True):
        for moment, t in zip((rep.start, rep.low_start, rep.low_end, rep.end), true, strict=True):
            assert moment is not None
            assert abs(moment.t_s - t) < 0.25
            assert moment.sd_s > 0.012
    assert reps.lift_fits in ("squat", None)
    assert "lift_doubtful" not in [w.id for w in reps.warnings]


@pytest.mark.parametrize(("made", "lift"), [(presses(), "bench"), (pulls(), "deadlift")])
def test_bench_and_deadlift_by_the_wrists(made: Made, lift: str) -> None:
    """Without a bar the wrists give the reps."""
    path, info = sampled(made)
    hip = np.clip(500 + (path.up_mm - 225) * 0.75, 500, 930)
    body = lying(path.t_s, path.up_mm) if lift == "bench" else standing(path.t_s, hip, path.up_mm)

    reps = find_reps(None, body, lift=lift, info=info)

    assert [r.outcome for r in reps.reps] == ["completed"] * 3


def test_sit_to_stand_is_no_squat() -> None:
    """Hips that rest low at both ends of the clip: the squat asked for is doubted, no other lift is claimed."""
    made = Made(900 + 470).hold(0.01).move(-430, 0.01).hold(1)
    for _ in range(4):
        made.move(430, 1.2).hold(0.8).move(-430, 1.3).hold(0.8)
    path, info = sampled(made, cut=(0.05, 18))
    hip = path.up_mm - 470

    reps = find_reps(None, standing(path.t_s, hip, hip + 300), lift="squat", info=info)

    doubted = [w for w in reps.warnings if w.id == "lift_doubtful"]
    assert len(doubted) == 1
    assert "seat" in doubted[0].text
    assert doubted[0].remedy
    assert reps.lift_fits is None


BODIES = {
    "squat": (squats(), lambda t, up: standing(t, up - 470, up + 10)),
    "bench": (presses(), lambda t, up: lying(t, up)),
    "deadlift": (pulls(), lambda t, up: standing(t, np.clip(500 + (up - 225) * 0.75, 500, 930), up)),
}


@pytest.mark.parametrize("asked", ["squat", "bench", "deadlift"])
@pytest.mark.parametrize("done", ["squat", "bench", "deadlift"])
def test_lift_that_fits(done: str, asked: str) -> None:
    """Side view with body: the right lift is named, the wrong one asked for is doubted, never the right."""
    made, draw = BODIES[done]
    path, info = sampled(made, noise_mm=0.7)

    reps = find_reps(path, draw(path.t_s, path.up_mm), lift=asked, info=info, track=plate_track(path))

    assert reps.lift_fits == done
    doubted = [w for w in reps.warnings if w.id == "lift_doubtful"]
    assert bool(doubted) == (asked != done)
    assert all(f"--lift {done}" in w.remedy for w in doubted)


def test_no_body_leaves_squat_and_bench_open() -> None:
    """From the bar alone the two cannot be told apart, and nothing is doubted."""
    from made_reps import nobody

    for made, asked in ((squats(), "squat"), (squats(), "bench"), (presses(), "squat")):
        path, info = sampled(made, noise_mm=0.7)
        reps = find_reps(path, nobody(), lift=asked, info=info)

        assert reps.lift_fits is None
        assert "lift_doubtful" not in [w.id for w in reps.warnings]


def test_bench_filmed_from_the_feet_is_not_called_standing() -> None:
    """From the bench's end the trunk looks short and upright: posture is left open."""
    made = presses()
    path, info = sampled(made, noise_mm=0.7)
    body = lying(path.t_s, path.up_mm)
    xy = np.array(body.xy_px)
    xy[:, INDEX["left_shoulder"]], xy[:, INDEX["right_shoulder"]] = (240, 340), (360, 340)
    xy[:, INDEX["left_hip"]], xy[:, INDEX["right_hip"]] = (275, 380), (325, 380)
    reps = find_reps(path, evolve(body, xy_px=xy), lift="bench", info=info, track=plate_track(path))

    assert reps.lift_fits in ("bench", None)
    assert "lift_doubtful" not in [w.id for w in reps.warnings]


def test_pull_that_ends_bent_over_is_missed() -> None:
    """A single pull has no other lockout to stand beside: the trunk tells, where it is seen."""
    made = Made(225).hold(2).move(300, 1.2).move(-300, 0.8).hold(2)
    path, info = sampled(made, noise_mm=0.7)
    body = standing(path.t_s, np.full(len(path.t_s), 800.0), path.up_mm)
    xy = np.array(body.xy_px)
    for side in ("left", "right"):
        xy[:, INDEX[f"{side}_shoulder"], 0] += 120
        xy[:, INDEX[f"{side}_shoulder"], 1] += 50
    bent = find_reps(path, evolve(body, xy_px=xy), lift="deadlift", info=info)
    erect = find_reps(path, body, lift="deadlift", info=info)

    assert [r.outcome for r in bent.reps] == ["missed"]
    assert "trunk" in bent.reps[0].why
    assert [r.outcome for r in erect.reps] == ["completed"]


def _columns(text: str) -> tuple[list[str], np.ndarray]:
    lines = text.split("endheader\n")[1].splitlines()
    return lines[0].split("\t"), np.array(
        [[float(v) for v in row.split("\t")] for row in lines[1:] if row.strip()]
    )


@pytest.mark.parametrize("noise_mm", [0.0, 8.0, 15.0])
def test_five_squats_of_a_person_by_hip_markers(shared_clips: Path, noise_mm: float) -> None:
    """Optical markers (OpenCap validation data, squats1): five squats by hip height, low at the knee's peak.

    Reference: knee flexion peaks of the same trial's joint angles, in sync: each low's middle within 0.1 s.
    """
    from made_reps import correlated, nobody

    folder = shared_clips / "real" / "opencap_squat"
    lines = (folder / "squats1.trc").read_text().splitlines()
    names = [n for n in lines[3].split("\t") if n][2:]
    rows = np.array([[float(v) for v in row.split("\t") if v.strip()] for row in lines[6:] if row.strip()])
    t = rows[:, 1]
    up = sum(rows[:, 3 + 3 * names.index(n)] for n in ("L_HJC", "R_HJC")) * 500
    head, angles = _columns((folder / "squats1_ik.mot").read_text())
    knee = np.degrees(angles[:, head.index("knee_angle_r")])
    peaks = angles[find_peaks(knee, prominence=40)[0], 0]
    if noise_mm:
        up = up + correlated(len(t), 0.01, noise_mm, 0.15, np.random.default_rng(1))
    sd = np.full(len(t), max(noise_mm, 1.0))
    path = BarPath(
        t_s=t, forward_mm=np.full(len(t), np.nan), up_mm=up, sd_forward_mm=sd, sd_up_mm=sd,
        seen=np.ones(len(t), bool), scale_pct=1, yaw_deg=45, roll_deg=1, source="hands",
    )  # fmt: skip

    reps = find_reps(path, nobody(), lift="squat", info=info_of(t)).reps

    assert [r.outcome for r in reps] == ["completed"] * 5
    for rep, peak in zip(reps, peaks, strict=True):
        assert rep.low_start is not None
        assert rep.low_end is not None
        middle = 0.5 * (rep.low_start.t_s + rep.low_end.t_s)
        assert abs(middle - peak) < 0.1
        assert rep.start_seen
        assert rep.end_seen
