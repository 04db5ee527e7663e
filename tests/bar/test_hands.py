from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from discs import squats
from hypothesis import given, settings
from hypothesis import strategies as st

from midfoot.bar.hands import track_from_hands
from midfoot.records.bar import Candidate, Sightings
from midfoot.records.body import HIDDEN, INDEX, LANDMARKS, SEEN, BodyTrack

T = np.arange(0.0, 12.0, 1 / 15)


def lifter(
    *, span: float = 200.0, noise: float = 0.0, seed: int = 0, near_side: str | None = "left"
) -> tuple[BodyTrack, np.ndarray]:
    """A lifter who squats with a bar; gives him and the bar's middle."""
    random = np.random.default_rng(seed)
    down = squats(T, 180.0)
    middle = np.stack([np.full(len(T), 600.0), 200 + down], axis=1)
    xy = np.full((len(T), len(LANDMARKS), 2), 500.0)
    for side, sign in (("left", 1), ("right", -1)):
        fist = middle + [sign * span / 2, 0.0]
        # the bar lies a little beyond the knuckles, which are 20 px above the wrist
        xy[:, INDEX[f"{side}_wrist"]] = fist + [0.0, 22.0]
        for finger in ("index", "pinky", "thumb"):
            xy[:, INDEX[f"{side}_{finger}"]] = fist + [0.0, 2.0]
        xy[:, INDEX[f"{side}_shoulder"]] = middle + [sign * min(80.0, 0.4 * span), 15.0]
        xy[:, INDEX[f"{side}_elbow"]] = middle + [sign * min(110.0, 0.55 * span), 95.0]
        xy[:, INDEX[f"{side}_hip"]] = middle + [sign * 50, 250.0]
    xy += random.normal(0, noise, xy.shape) if noise else 0.0
    k = (len(T), len(LANDMARKS))
    body = BodyTrack(
        status="seen", model="made-up", t_s=T, xy_px=xy, sd_px=np.full(k, 6.0), state=np.full(k, SEEN),
        peak=np.full(k, 0.8), depth_m=np.zeros(k), world_m=np.zeros((*k, 3)), near_side=near_side,
    )  # fmt: skip
    return body, middle


def puller(*, hang: float = 1.25, bent: float = 0.0, seed: int = 0) -> BodyTrack:
    """Somebody whose arms hang `hang` trunk lengths from a trunk of 200 px, elbows `bent` px to the side."""
    random = np.random.default_rng(seed)
    down = squats(T, 180.0)
    xy = np.full((len(T), len(LANDMARKS), 2), 500.0)
    for side, sign in (("left", 1), ("right", -1)):
        shoulder = np.stack([np.full(len(T), 600.0 + 60 * sign), 200 + down], axis=1)
        fist = shoulder + [15.0 * sign, 200 * hang]
        xy[:, INDEX[f"{side}_shoulder"]] = shoulder
        xy[:, INDEX[f"{side}_elbow"]] = 0.5 * (shoulder + fist) + [bent * sign, 0.0]
        xy[:, INDEX[f"{side}_wrist"]] = fist - [0.0, 22.0]
        for finger in ("index", "pinky", "thumb"):
            xy[:, INDEX[f"{side}_{finger}"]] = fist - [0.0, 2.0]
        xy[:, INDEX[f"{side}_hip"]] = shoulder + [-10.0 * sign, 200.0]
    xy += random.normal(0, 1.0, xy.shape)
    k = (len(T), len(LANDMARKS))
    return BodyTrack(
        status="seen", model="made-up", t_s=T, xy_px=xy, sd_px=np.full(k, 6.0), state=np.full(k, SEEN),
        peak=np.full(k, 0.8), depth_m=np.zeros(k), world_m=np.zeros((*k, 3)), near_side="left",
    )  # fmt: skip


def moved(body: BodyTrack, by: dict[str, tuple[float, float]]) -> BodyTrack:
    """The same with the hands and elbows of both sides moved by (outward, downward) px."""
    xy = body.xy_px.copy()
    for names, (outward, down) in by.items():
        for side, sign in (("left", 1), ("right", -1)):
            for name in {"hand": ("wrist", "index", "pinky", "thumb")}.get(names, (names,)):
                xy[:, INDEX[f"{side}_{name}"]] += [sign * outward, down]
    return evolve(body, xy_px=xy)


def hidden(body: BodyTrack, side: str, rows: np.ndarray) -> BodyTrack:
    state, xy = body.state.copy(), body.xy_px.copy()
    names = [INDEX[f"{side}_{n}"] for n in ("wrist", "index", "pinky", "thumb")]
    state[np.ix_(np.flatnonzero(rows), names)] = HIDDEN
    xy[np.ix_(np.flatnonzero(rows), names)] = np.nan
    return evolve(body, state=state, xy_px=xy)


def test_the_middle_of_both_fists() -> None:
    body, middle = lifter()
    track = track_from_hands(body, "squat", None)
    assert (track.status, track.source) == ("found", "hands")
    assert track.seen.all()
    assert np.abs(track.xy_px - middle).max() < 1e-6
    assert np.allclose(track.steady_px, track.xy_px)
    assert track.diameter_px is None


def test_the_sd_covers_the_noise_of_the_landmarks() -> None:
    body, middle = lifter(noise=6.0)
    track = track_from_hands(body, "squat", None)
    miss = (track.xy_px - middle) / track.sd_px
    assert np.mean(np.abs(miss) < 2) > 0.93


def test_one_fist_hidden_leaves_the_middle_with_a_larger_sd() -> None:
    body, middle = lifter()
    gone = (T > 4) & (T < 6)
    track = track_from_hands(hidden(body, "right", gone), "squat", None)
    assert track.seen.all()
    assert np.abs(track.xy_px - middle)[gone].max() < 3
    assert track.sd_px[gone, 0].mean() > 1.05 * track.sd_px[~gone, 0].mean()


def test_from_the_side_the_near_fist_alone() -> None:
    body, middle = lifter(span=16.0)
    track = track_from_hands(body, "squat", None)
    assert "left fist" in track.reason
    assert np.abs(track.xy_px - (middle + [8.0, 0.0])).max() < 1e-6


def test_both_hidden_is_not_seen_and_a_long_gap_stays_open() -> None:
    body, _ = lifter()
    gone = (T > 4) & (T < 6)
    track = track_from_hands(hidden(hidden(body, "right", gone), "left", gone), "squat", None)
    assert not track.seen[gone].any()
    assert np.isnan(track.xy_px[gone]).all()
    always = np.ones(len(T), bool)
    none = track_from_hands(hidden(hidden(body, "right", always), "left", always), "squat", None)
    assert (none.status, none.source) == ("not_found", "none")
    assert none.reason


def test_a_short_gap_is_bridged_and_says_so() -> None:
    body, middle = lifter()
    gone = (T > 5.0) & (T < 5.25)
    track = track_from_hands(hidden(hidden(body, "right", gone), "left", gone), "squat", None)
    assert not track.seen[gone].any()
    assert np.abs(track.xy_px - middle)[gone].max() < 25
    assert (track.sd_px[gone] > track.sd_px[~gone].max()).all()


def test_hands_that_hang_hold_no_bar() -> None:
    body, _ = lifter()
    xy = body.xy_px.copy()
    let_go = T > 11
    for side in ("left", "right"):
        for name in ("wrist", "index", "pinky"):
            xy[let_go, INDEX[f"{side}_{name}"], 1] += 220
    track = track_from_hands(evolve(body, xy_px=xy), "squat", None)
    assert not track.seen[let_go].any()
    assert track.seen[T < 10.5].all()


def test_a_deadlifters_hands_away_from_the_grip_hold_no_bar() -> None:
    body = puller()
    xy = body.xy_px.copy()
    let_go = T > 11.2
    for name in ("wrist", "index", "pinky"):
        xy[let_go, INDEX[f"left_{name}"], 0] += 120
    track = track_from_hands(evolve(body, xy_px=xy), "deadlift", None)
    assert not track.seen[T > 11.3].any()
    assert track.seen[T < 11].all()


DISC = Candidate(x_px=760.0, y_px=430.0, radius_px=70.0, at_s=2.0, score=0.3)


def test_hanging_arms_are_sure_only_with_a_disc_near_them() -> None:
    """Arms hang from everybody: without a second sign the pull is followed but not claimed."""
    alone = track_from_hands(puller(), "deadlift")
    beside = track_from_hands(puller(), "deadlift", None, (DISC,))
    far = track_from_hands(puller(), "deadlift", None, (evolve(DISC, x_px=1400.0),))

    assert (alone.status, alone.source) == ("unsure", "hands")
    assert "hang" in alone.reason
    assert (beside.status, beside.source) == ("found", "hands")
    assert beside.candidates == (DISC,)
    assert far.status == "unsure"


def test_hidden_elbows_say_nothing_against_hanging_arms() -> None:
    body = puller()
    state = body.state.copy()
    state[:, [INDEX["left_elbow"], INDEX["right_elbow"]]] = HIDDEN

    assert track_from_hands(evolve(body, state=state), "deadlift").status == "unsure"


@pytest.mark.parametrize(
    "body", [puller(hang=0.7), puller(bent=90.0), puller(hang=0.35)], ids=["short", "bent", "at the chest"]
)
def test_arms_that_do_not_hang_straight_pull_nothing(body: BodyTrack) -> None:
    for candidates in ((), (DISC,)):
        track = track_from_hands(body, "deadlift", None, candidates)

        assert (track.status, track.source) == ("not_found", "none")
        assert track.candidates == candidates
        assert "nothing shows a bar" in track.reason


@pytest.mark.parametrize(
    "by",
    [
        {"hand": (-85.0, 80.0), "elbow": (-10.0, 60.0)},
        {"hand": (-160.0, 40.0), "elbow": (-20.0, 20.0)},
        {"hand": (60.0, 10.0), "elbow": (20.0, -80.0)},
    ],
    ids=["before the chest", "crossed", "stretched out"],
)
def test_a_squatters_empty_hands_hold_no_bar(by: dict[str, tuple[float, float]]) -> None:
    """Hands that stay with the shoulders through the squat, but not where a bar is held."""
    track = track_from_hands(moved(lifter(noise=2.0)[0], by), "squat")

    assert (track.status, track.source) == ("not_found", "none")
    assert not track.seen.any()


@pytest.mark.parametrize("low_mm", [-60.0, 0.0, 25.0])
@pytest.mark.parametrize("wide", [0.0, 40.0])
def test_a_squatters_hands_at_the_shoulders_hold_a_bar(low_mm: float, wide: float) -> None:
    """High and low on the back, narrow and wide (shoulders 160 px apart, trunk 235 px)."""
    track = track_from_hands(moved(lifter(noise=2.0)[0], {"hand": (wide, low_mm)}), "squat")

    assert (track.status, track.source) == ("found", "hands")


def test_a_disc_by_the_hands_is_a_second_sign_in_a_squat() -> None:
    """A front squat with crossed hands: only a plate shows that there is a bar."""
    body = moved(lifter(noise=2.0)[0], {"hand": (-120.0, 20.0)})
    plate = Candidate(x_px=840.0, y_px=230.0, radius_px=70.0, at_s=0.5, score=0.3)

    assert track_from_hands(body, "squat").source == "none"
    assert track_from_hands(body, "squat", None, (plate,)).source == "hands"


def test_hands_that_press_are_above_the_shoulders() -> None:
    """A lifter on the bench from the foot end; the same hands before a standing chest are no press."""
    body, _ = lifter(noise=2.0)
    above = moved(body, {"hand": (0.0, -180.0), "elbow": (20.0, -160.0)})

    assert track_from_hands(above, "bench").source == "hands"
    assert track_from_hands(body, "bench").source == "none"


def test_the_camera_is_taken_out_of_the_steady_path() -> None:
    body, _ = lifter()
    shift = np.tile(np.array([[1.0, 0, 0], [0, 1.0, 0]]), (len(T), 1, 1))
    shift[:, 0, 2] = 7.0 * T
    seen = Sightings(
        boxes_t_s=np.zeros(0), boxes=(), camera_t_s=T, camera_to_first=shift, camera_ok=np.ones(len(T), bool)
    )
    track = track_from_hands(body, "squat", seen)
    assert np.allclose(track.steady_px[:, 0] - track.xy_px[:, 0], 7.0 * T)


@settings(max_examples=20)
@given(scale=st.floats(0.3, 3.0), later=st.floats(-5, 50))
def test_size_and_time_change_only_what_they_must(scale: float, later: float) -> None:
    body, _ = lifter(noise=4.0)
    plain = track_from_hands(body, "squat", None)
    other = track_from_hands(
        evolve(body, xy_px=body.xy_px * scale, sd_px=body.sd_px * scale, t_s=body.t_s + later), "squat", None
    )
    assert np.array_equal(other.seen, plain.seen)
    assert np.allclose(other.xy_px, plain.xy_px * scale, equal_nan=True)
    assert np.allclose(other.sd_px, plain.sd_px * scale, equal_nan=True)
    assert other.reason == plain.reason


def test_nobody_is_no_bar() -> None:
    k = (0, len(LANDMARKS))
    nobody = BodyTrack(
        status="not_seen", model="", t_s=np.zeros(0), xy_px=np.zeros((*k, 2)), sd_px=np.zeros(k),
        state=np.zeros(k), peak=np.zeros(k), depth_m=np.zeros(k), world_m=np.zeros((*k, 3)), reason="nobody",
    )  # fmt: skip
    assert track_from_hands(nobody, "squat", None).status == "not_found"
