"""A sit-to-stand is no squat: the hips rest on a seat, where the weight is not over the feet."""

from __future__ import annotations

import numpy as np
import pytest
from made_bodies import MM_PX, body_of
from made_reps import Made, sampled

from midfoot.records.body import BodyTrack
from midfoot.reps import GivenRep, GivenReps, find_reps
from midfoot.reps.seat import weight_in_feet

ANKLE, HEEL, TOES = 300.0, 285.0, 350.0
"""A foot of 260 mm that points to the right, 4 mm a pixel."""


def goes_down(path_up_mm: np.ndarray, t_s: np.ndarray, *, back_mm: float, lean_mm: float, turn: float = 1.0,
              noise_px: float = 1.0) -> BodyTrack:  # fmt: skip
    """Hips at 930 mm while standing; as they go down by 430 they go back, and the shoulders lean over them."""
    share = (path_up_mm.max() - path_up_mm) / np.ptp(path_up_mm)
    one = np.ones(len(t_s))
    y = lambda up: 480 - up / MM_PX  # noqa: E731
    x = lambda px: ANKLE + turn * (px - ANKLE)  # noqa: E731
    hip = ANKLE - back_mm / MM_PX * share
    shoulder = hip + lean_mm / MM_PX * share
    return body_of(
        t_s,
        {
            "ankle": (x(ANKLE * one), y(90 * one)), "heel": (x(HEEL * one), y(30 * one)),
            "foot_index": (x(TOES * one), y(20 * one)), "knee": (x(305 + 40 * share), y(480 + 20 * share)),
            "hip": (x(hip), y(930 - 430 * share)), "shoulder": (x(shoulder), y(1410 - 450 * share)),
            "wrist": (x(shoulder + 20), y(1250 - 450 * share)),
        },
        noise_px=noise_px,
    )  # fmt: skip


def five(low_s: float = 0.6) -> Made:
    """Five times down and up, standing at both ends and never long below."""
    made = Made(930).hold(1.0)
    for _ in range(5):
        made.rep(430, 1.0, low_s, 0.8).hold(0.7)
    return made


SQUATS = {"back_mm": 320.0, "lean_mm": 440.0}
SEATED = {"back_mm": 430.0, "lean_mm": 60.0}


def test_the_weight_of_somebody_who_stands_is_over_his_feet() -> None:
    """By hand: ankle 15, knee 20, hip and shoulder 15 px before the heel, feet of 65 px.

    0.678 * 15 + 0.2 * (15 + 0.433 * 5) + 0.093 * (20 - 0.433 * 5) + 0.029 * 32.5 = 16.2 px, 0.25 of a foot.
    """
    path, _ = sampled(five())
    body = goes_down(path.up_mm, path.t_s, **SQUATS, noise_px=0.0)

    at = weight_in_feet(body, 0.5)

    assert at == pytest.approx(0.25, abs=0.005)


@pytest.mark.parametrize("turn", [1.0, 0.7, -0.7, -1.0])
def test_a_sit_to_stand_that_starts_and_ends_standing_counts_no_squat(turn: float) -> None:
    """Nothing but the balance tells it; from 45 degrees off lengths forward are 0.7 of what they are."""
    path, info = sampled(five())
    body = goes_down(path.up_mm, path.t_s, **SEATED, turn=turn)

    reps = find_reps(None, body, lift="squat", info=info)

    doubted = [w for w in reps.warnings if w.id == "lift_doubtful"]
    assert len(doubted) == 1
    assert "seat" in doubted[0].text
    assert "no rep is counted" in doubted[0].text
    assert reps.reps == ()
    assert reps.lift_fits is None


@pytest.mark.parametrize("turn", [1.0, 0.7, -1.0])
@pytest.mark.parametrize("low_s", [0.2, 2.0])
def test_a_squat_without_a_bar_is_counted(turn: float, low_s: float) -> None:
    """Also one that stays below longer than above."""
    path, info = sampled(five(low_s))
    body = goes_down(path.up_mm, path.t_s, **SQUATS, turn=turn)

    reps = find_reps(None, body, lift="squat", info=info)

    assert [r.outcome for r in reps.reps] == ["completed"] * 5
    assert "lift_doubtful" not in [w.id for w in reps.warnings]


def test_from_the_front_nothing_is_said_of_a_seat() -> None:
    path, info = sampled(five())
    reps = find_reps(None, goes_down(path.up_mm, path.t_s, **SEATED, turn=0.05), lift="squat", info=info)

    assert len(reps.reps) == 5


def test_moments_that_a_person_gives_stand() -> None:
    """A squat to a box without a bar in view: the person's word goes before the balance."""
    path, info = sampled(five())
    body = goes_down(path.up_mm, path.t_s, **SEATED)

    reps = find_reps(None, body, lift="squat", info=info, given=GivenReps([GivenRep(n=1, start_s=1.1)]))

    assert len(reps.reps) == 5


def test_a_bar_goes_before_the_balance() -> None:
    """With a bar followed a squat to a box is a squat."""
    path, info = sampled(five())

    reps = find_reps(path, goes_down(path.up_mm, path.t_s, **SEATED), lift="squat", info=info)

    assert len(reps.reps) == 5
    assert "lift_doubtful" not in [w.id for w in reps.warnings]
