"""Reps from the body where no bar was followed, and the lift that body and bar together fit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from made_bodies import hanging, lying, plate_track, standing
from made_reps import Made, info_of, sampled
from scipy.signal import find_peaks

from midfoot.records.bar import BarPath
from midfoot.records.body import HIDDEN, INDEX, BodyTrack
from midfoot.reps import find_reps


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


@pytest.mark.parametrize("asked", ["squat", "bench", "deadlift"])
def test_squats_without_a_bar_are_judged_by_the_hips(asked: str) -> None:
    """Nothing in the hands: the squat is named whatever was asked, and the right one is not doubted."""
    path, info = sampled(squats())
    hip = path.up_mm - 470
    body = standing(path.t_s, hip, hip + 320, noise_px=1.0)

    reps = find_reps(None, body, lift=asked, info=info)

    assert reps.lift_fits == "squat"
    doubted = [w for w in reps.warnings if w.id == "lift_doubtful"]
    assert bool(doubted) == (asked != "squat")
    assert all("--lift squat" in w.remedy and "a squat:" in w.text for w in doubted)


def bent_over(t: np.ndarray, up: np.ndarray) -> BodyTrack:
    """A puller with long legs: his trunk leans by 70 degrees through most of the clip, and his arms hang."""
    hip = np.clip(780 + (up - 225) * 0.3, 780, 930)
    return hanging(t, hip, up)


def test_a_lifter_bent_low_over_the_bar_does_not_lie() -> None:
    """Three quarters of the clip pass before the pull, the trunk as level as a bencher's; the arms tell."""
    made = Made(225).hold(9).rep(-560, 1.3, 0.3, 1.0).hold(1)
    path, info = sampled(made, noise_mm=0.7)
    body = bent_over(path.t_s, path.up_mm)
    trunk = body.xy_px[:, INDEX["left_shoulder"]] - body.xy_px[:, INDEX["left_hip"]]
    assert np.quantile(np.degrees(np.arctan2(np.abs(trunk[:, 0]), -trunk[:, 1])), 0.2) > 60

    for asked in ("squat", "bench", "deadlift"):
        reps = find_reps(path, body, lift=asked, info=info, track=plate_track(path))
        doubted = [w.remedy for w in reps.warnings if w.id == "lift_doubtful"]
        assert reps.lift_fits == "deadlift"
        assert bool(doubted) == (asked != "deadlift")
        assert all("--lift deadlift" in remedy for remedy in doubted)


def test_hips_that_rest_low_with_hidden_arms_are_a_seat_or_a_pull() -> None:
    """Neither bar nor arms are seen: both are said, and no squat is counted."""
    path, info = sampled(pulls())
    hip = np.clip(500 + (path.up_mm - 225) * 0.75, 500, 930)
    body = hanging(path.t_s, hip, path.up_mm)
    state = np.array(body.state)
    state[:, [INDEX[f"{side}_{n}"] for side in ("left", "right") for n in ("elbow", "wrist")]] = HIDDEN

    reps = find_reps(None, evolve(body, state=state), lift="squat", info=info)

    (doubted,) = [w for w in reps.warnings if w.id == "lift_doubtful"]
    assert "seat" in doubted.text
    assert "pull off the floor" in doubted.text
    assert "--lift deadlift" in doubted.remedy
    assert reps.reps == ()


def test_a_piece_of_a_squat_set_is_doubted_too() -> None:
    """The clip starts on the way down and ends on the way up: where it rests says nothing, hips and arms do."""
    path, info = sampled(squats(), cut=(2.2, 6.6))
    hip = path.up_mm - 470
    body = standing(path.t_s, hip, hip + 320, noise_px=1.0)

    doubted = [w for w in find_reps(None, body, lift="deadlift", info=info).warnings if w.id == "lift_doubtful"]

    assert len(doubted) == 1
    assert "--lift squat;" in doubted[0].remedy


def test_arms_that_hang_while_standing_and_reach_forward_below_pull_nothing() -> None:
    """Everybody's arms hang while he stands: the arms are looked at where the hips are low."""
    made = Made(1400).hold(2.5)
    for _ in range(3):
        made.rep(500, 1.2, 0.2, 1.0).hold(2.5)
    path, info = sampled(made)
    hip = path.up_mm - 470
    down = (930 - hip) / 500
    body = standing(path.t_s, hip, hip - 90 + 560 * down, noise_px=1.0)

    reps = find_reps(None, body, lift="deadlift", info=info)

    assert reps.lift_fits == "squat"
    assert "--lift squat;" in next(w for w in reps.warnings if w.id == "lift_doubtful").remedy


def test_a_bar_that_hardly_moves_raises_no_doubt() -> None:
    """A walkout alone: nothing goes up and down, so nothing is said of the lift."""
    made = Made(1400).hold(1.0).steps(3).hold(2.0)
    path, info = sampled(made, noise_mm=0.7)
    body = hanging(path.t_s, np.full(len(path.t_s), 930.0), path.up_mm - 600)

    reps = find_reps(path, body, lift="squat", info=info, track=plate_track(path))

    assert reps.reps == ()
    assert "lift_doubtful" not in [w.id for w in reps.warnings]


@pytest.mark.parametrize("asked", ["squat", "deadlift"])
def test_pulls_without_a_bar_hang_in_the_hands(asked: str) -> None:
    """Straight arms that hang tell a pull from standing up from a seat."""
    path, info = sampled(pulls())
    hip = np.clip(500 + (path.up_mm - 225) * 0.75, 500, 930)
    body = hanging(path.t_s, hip, path.up_mm)

    reps = find_reps(None, body, lift=asked, info=info)

    assert reps.lift_fits == "deadlift"
    doubted = [w for w in reps.warnings if w.id == "lift_doubtful"]
    assert bool(doubted) == (asked != "deadlift")
    assert all("--lift deadlift" in w.remedy for w in doubted)


@pytest.mark.parametrize("asked", ["squat", "bench", "deadlift"])
def test_with_nobody_in_view_a_bar_held_high_is_a_squat_or_a_bench_press(asked: str) -> None:
    """The two cannot be told apart: a deadlift asked for is doubted and both are named."""
    from made_reps import nobody

    path, info = sampled(squats(), noise_mm=0.7)

    reps = find_reps(path, nobody(), lift=asked, info=info)

    doubted = [w for w in reps.warnings if w.id == "lift_doubtful"]
    assert reps.lift_fits is None
    assert bool(doubted) == (asked == "deadlift")
    assert all("--lift squat or --lift bench" in w.remedy for w in doubted)


def test_with_nobody_in_view_pulls_are_named_as_before() -> None:
    from made_reps import nobody

    path, info = sampled(pulls(), noise_mm=0.7)

    for asked in ("squat", "bench", "deadlift"):
        reps = find_reps(path, nobody(), lift=asked, info=info)
        doubted = [w for w in reps.warnings if w.id == "lift_doubtful"]
        assert bool(doubted) == (asked != "deadlift")
        assert all("--lift deadlift;" in w.remedy for w in doubted)


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
