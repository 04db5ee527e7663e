"""A rep is assisted when somebody's hands come to a bar that stood or sank, and it rises on with them."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from made_bodies import MM_PX, lying, plate_track
from made_reps import Made, nobody, sampled

from midfoot.records.body import INDEX, People, PersonTrack
from midfoot.reps import GivenRep, GivenReps, find_reps

LOW_S, STOP_S, ON_S, END_S = 3.2, 3.8, 5.0, 6.2


def press(way_back_mm: float) -> Made:
    """A press that comes up by 150 of 380 mm, stands there or sinks by so much, and goes on to the lockout."""
    made = Made(1000).hold(1.5)
    start = made.n
    made.move(-380, 1.2).hold(0.5)
    low = made.n
    made.move(150, 0.6).hold(0.3)
    if way_back_mm:
        made.move(-way_back_mm, 0.9)
    else:
        made.hold(0.9)
    made.move(230 + way_back_mm, 1.2)
    made.spans.append((start, low, low, made.n))
    return made.hold(2)


def spotter(
    t_s: np.ndarray, bar_px: np.ndarray, away_px: np.ndarray, *, rises: float = 1.0, step_s: float = 0.4
) -> PersonTrack:
    """Somebody at the head end, seen every 0.4 s, hands `away_px` below the bar; past 5 s they go with it."""
    at = np.arange(t_s[0], t_s[-1], step_s)
    bar, away = np.interp(at, t_s, bar_px), np.interp(at, t_s, away_px)
    still = np.interp(ON_S, t_s, bar_px)
    hand = np.where(at > ON_S, still + rises * (bar - still), bar) + away
    xy = np.full((len(at), 33, 2), 260.0)
    for side, x in (("left", 195.0), ("right", 205.0)):
        xy[:, INDEX[f"{side}_shoulder"]] = (130, 180)
        xy[:, INDEX[f"{side}_hip"]] = (120, 300)
        xy[:, INDEX[f"{side}_wrist"], 0] = x
        xy[:, INDEX[f"{side}_wrist"], 1] = hand
    region = np.tile([130.0, 260.0, 500.0, 0.0], (len(at), 1))
    return PersonTrack(1, at, xy, np.full((len(at), 33), 0.8), np.full(len(at), 0.9), region)


def comes(t_s: np.ndarray, *, from_px: float = 120.0, to_px: float = 10.0) -> np.ndarray:
    """Away until the bar stands, then at it."""
    return np.where(t_s < STOP_S, from_px, np.maximum(to_px, from_px - 200 * (t_s - STOP_S)))


def outcome(made: Made, people: list[PersonTrack] | None, *, noise_mm: float = 0.7) -> tuple[str, str]:
    path, info = sampled(made, noise_mm=noise_mm)
    body = lying(path.t_s, path.up_mm)
    xy = np.array(body.xy_px)
    for side in ("left", "right"):
        xy[:, INDEX[f"{side}_wrist"], 0] = 200
    found = find_reps(
        path, body, lift="bench", info=info, track=plate_track(path),
        people=None if people is None else People(path.t_s, tuple(people)),
    )  # fmt: skip
    assert len(found.reps) == 1
    return found.reps[0].outcome, found.reps[0].why


def drawn(made: Made) -> tuple[np.ndarray, np.ndarray]:
    t_s, up, _ = made.dense
    return t_s, 480 - up / MM_PX


@pytest.mark.parametrize("way_back_mm", [0.0, 60.0, 100.0])
def test_hands_that_come_to_a_bar_that_stood_or_sank(way_back_mm: float) -> None:
    made = press(way_back_mm)
    t_s, bar = drawn(made)

    said, why = outcome(made, [spotter(t_s, bar, comes(t_s))])

    assert said == "assisted"
    assert "hands came to the bar" in why
    assert ("sank by" in why) == (way_back_mm > 0)


@pytest.mark.parametrize("way_back_mm", [0.0, 60.0])
def test_a_bar_that_stood_with_nobody_at_it_is_completed(way_back_mm: float) -> None:
    """The lifter's own track among the people is not somebody else."""
    made = press(way_back_mm)
    t_s, bar = drawn(made)
    away = np.full(len(t_s), 120.0)
    path, _ = sampled(made)
    body = lying(path.t_s, path.up_mm)
    lifter = PersonTrack(
        0, body.t_s, np.nan_to_num(body.xy_px, nan=250.0), np.full((len(body.t_s), 33), 0.8),
        np.ones(len(body.t_s)), np.tile([260.0, 300.0, 500.0, 0.0], (len(body.t_s), 1)),
    )  # fmt: skip

    assert outcome(made, None)[0] == "completed"
    assert outcome(made, [])[0] == "completed"
    assert outcome(made, [lifter])[0] == "completed"
    assert outcome(made, [spotter(t_s, bar, away)])[0] == "completed"


def test_hands_beside_the_bar_all_the_time_are_no_help() -> None:
    made = press(0.0)
    t_s, bar = drawn(made)

    assert outcome(made, [spotter(t_s, bar, np.full(len(t_s), 15.0))])[0] == "completed"


@pytest.mark.parametrize("seed", range(8))
def test_a_spotter_who_follows_with_unsteady_hands_is_no_help(seed: int) -> None:
    """He keeps his hands 0.1-0.5 m under the bar through the whole rep, each look off by some centimetres."""
    rng = np.random.default_rng(seed)
    made = press(float(rng.choice([0.0, 60.0, 100.0])))
    t_s, bar = drawn(made)
    away = np.full(len(t_s), rng.uniform(25, 125))
    follows = spotter(t_s, bar, away, step_s=float(rng.uniform(0.1, 0.5)))
    shaken = evolve(follows, xy_px=follows.xy_px + rng.normal(0, 8, follows.xy_px.shape))

    assert outcome(made, [shaken])[0] == "completed"


def test_hands_that_come_and_stay_behind_are_no_help() -> None:
    """They came near and the bar went up without them."""
    made = press(60.0)
    t_s, bar = drawn(made)

    assert outcome(made, [spotter(t_s, bar, comes(t_s), rises=0.0)])[0] == "completed"


def test_hands_that_come_to_a_bar_that_never_stood() -> None:
    """A spotter who takes the bar at the lockout, or moves in while it rises steadily, did not help."""
    made = Made(1000).hold(1.5).rep(380, 1.2, 0.5, 1.6).hold(2)
    t_s, bar = drawn(made)

    assert outcome(made, [spotter(t_s, bar, comes(t_s))])[0] == "completed"


def test_hands_that_come_after_the_bar_went_on() -> None:
    made = press(0.0)
    t_s, bar = drawn(made)
    late = np.where(t_s < END_S - 0.2, 120.0, 10.0)

    assert outcome(made, [spotter(t_s, bar, late)])[0] == "completed"


def test_without_a_body_nobody_can_be_told_from_the_lifter() -> None:
    made = press(60.0)
    t_s, bar = drawn(made)
    path, info = sampled(made, noise_mm=0.7)
    people = People(path.t_s, (spotter(t_s, bar, comes(t_s)),))

    found = find_reps(path, nobody(), lift="bench", info=info, track=plate_track(path), people=people)

    assert [r.outcome for r in found.reps] == ["completed"]


@pytest.mark.parametrize("way_back_mm", [0.0, 60.0])
def test_a_bar_that_stood_or_sank_with_nobody_seen_at_it_is_said_not_to_be_told_from_a_helped_one(
    way_back_mm: float,
) -> None:
    path, info = sampled(press(way_back_mm), noise_mm=0.7)
    body = lying(path.t_s, path.up_mm)
    track = plate_track(path)

    warned = find_reps(path, body, lift="bench", info=info, track=track).warnings

    told = [w for w in warned if w.id == "help_not_told"]
    assert len(told) == 1
    assert f"rep 1 {'sank by' if way_back_mm else 'stood for'}" in told[0].text
    assert "--reps" in told[0].remedy


@pytest.mark.parametrize("stick", [0.0, 0.5, 0.8])
def test_of_a_bar_that_slows_where_it_sticks_and_rises_on_nothing_is_said(stick: float) -> None:
    """Down to a fifth of its speed, 70 mm/s: it neither stands nor sinks."""
    made = Made(1000).hold(1.5).rep(380, 1.2, 1.0, 1.6, stick=stick).hold(1).rep(380, 1.2, 1.0, 3.0).hold(2)
    for seed in range(3):
        path, info = sampled(made, noise_mm=0.7, seed=seed)
        reps = find_reps(path, lying(path.t_s, path.up_mm), lift="bench", info=info, track=plate_track(path))
        assert len(reps.reps) == 2
        assert "help_not_told" not in [w.id for w in reps.warnings]


def test_who_has_given_the_reps_has_looked() -> None:
    path, info = sampled(press(0.0), noise_mm=0.7)
    given = GivenReps((GivenRep(n=1, outcome="assisted"),))

    reps = find_reps(
        path, lying(path.t_s, path.up_mm), lift="bench", info=info, track=plate_track(path), given=given
    )

    assert [r.outcome for r in reps.reps] == ["assisted"]
    assert "help_not_told" not in [w.id for w in reps.warnings]
