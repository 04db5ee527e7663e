"""The slack before a pull: seen where shoulders, hips or wrists rise while the plates lie, and only there."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from made_bodies import MM_PX, hanging, plate_track
from made_reps import Made, correlated, nobody, sampled

from midfoot.records.body import HIDDEN, INDEX, BodyTrack
from midfoot.records.reps import Phase, RepSet
from midfoot.reps import find_reps

SET = Made(225).hold(4.0).rep(-560, 1.3, 0.6, 1.0).hold(3.0).rep(-560, 1.4, 0.6, 1.0).hold(1.0)
STARTS_S = (4.0, 9.9)
"""When the bar begins to move; the rule's start follows when it has gone 10 mm."""


def puller(
    rises: dict[str, float], *, seconds: float = 0.8, held: float = 0.0, noise_px: float = 0.8, way: float = 1.0
) -> tuple[BodyTrack, RepSet]:
    """A lifter whose joints rise by so many mm over `seconds` before each pull, then hold for `held`."""
    path, info = sampled(SET, noise_mm=0.5)
    t = path.t_s
    body = hanging(t, np.clip(500 + (path.up_mm - 225) * 0.75, 500, 930), path.up_mm)
    xy = np.array(body.xy_px)
    for joint, mm in rises.items():
        up = np.zeros(len(t))
        for start in STARTS_S:
            share = np.clip((t - (start - held - seconds)) / seconds, 0, 1)
            # while the bar is up the joint is where it was: what was taken up is given back on the way down
            up += np.where((t > start - 2.5) & (t < start + 1.0), mm * share, 0.0)
        for side in ("left", "right"):
            xy[:, INDEX[f"{side}_{joint}"], 1] -= way * up / MM_PX
    xy += noise_px * np.random.default_rng(4).normal(size=xy.shape)
    body = evolve(body, xy_px=xy)
    return body, find_reps(path, body, lift="deadlift", info=info, track=plate_track(path))


def slacks(reps: RepSet) -> list[Phase]:
    return [p for p in reps.phases if p.kind == "slack"]


@pytest.mark.parametrize(
    ("rises", "seconds", "held"),
    [
        ({"shoulder": 40.0}, 0.8, 0.0),
        ({"shoulder": 60.0, "hip": -30.0}, 1.0, 0.0),
        ({"shoulder": 40.0}, 0.6, 0.5),
        ({"wrist": 35.0}, 0.6, 0.0),
        ({"hip": 50.0}, 0.7, 0.0),
        ({"hip": -50.0}, 0.7, 0.0),
    ],
)
def test_rise_before_the_plates_leave(rises: dict[str, float], seconds: float, held: float) -> None:
    """The slack ends where the rep starts and begins within 0.2 s of half the shaking's way into the rise."""
    _, reps = puller(rises, seconds=seconds, held=held)

    assert [r.outcome for r in reps.reps] == ["completed"] * 2
    found = slacks(reps)
    assert len(found) == 2
    for phase, rep, start in zip(found, reps.reps, STARTS_S, strict=True):
        assert rep.start is not None
        assert phase.end_s == rep.start.t_s
        assert abs(phase.start_s - (start - held - seconds)) < 0.3
        assert phase.start_s > start - held - seconds - 0.1
    ends = [p.end_s for p in reps.phases]
    assert [p.start_s for p in reps.phases][1:] == pytest.approx(ends[:-1])
    assert {p.kind for p in reps.phases} >= {"setup", "slack", "between", "ascent", "top", "lowering"}


@pytest.mark.parametrize(
    ("rises", "how"),
    [
        ({}, {}),
        ({"shoulder": 8.0, "wrist": 5.0}, {}),
        ({"hip": -60.0, "shoulder": -45.0}, {}),
        ({"shoulder": 40.0}, {"seconds": 0.5, "held": 1.8}),
        ({"shoulder": 250.0}, {"seconds": 1.0}),
    ],
    ids=["none", "within the shaking", "hips and shoulders drop", "long before", "a change of posture"],
)
def test_no_slack(rises: dict[str, float], how: dict[str, float]) -> None:
    assert not slacks(puller(rises, **how)[1])


@pytest.mark.parametrize("seed", range(4))
def test_wandering_joints_move_the_begin_by_less_than_its_sd_twice(seed: int) -> None:
    """Joints wander by 5 mm over 0.3 s; the measure says 0.2 s of its begin."""
    rises = {"shoulder": 30.0, "hip": -25.0}
    body, _ = puller(rises, seconds=0.8)
    path, info = sampled(SET, noise_mm=0.5)
    rng = np.random.default_rng(seed)
    xy = np.array(body.xy_px)
    for name in ("shoulder", "hip", "wrist"):
        off = correlated(len(body.t_s), 1 / 30, 5.0 / MM_PX, 0.3, rng)
        for side in ("left", "right"):
            xy[:, INDEX[f"{side}_{name}"], 1] += off

    reps = find_reps(path, evolve(body, xy_px=xy), lift="deadlift", info=info, track=plate_track(path))

    assert [abs(p.start_s - (start - 0.8)) < 0.4 for p, start in zip(slacks(reps), STARTS_S, strict=True)] == [
        True
    ] * 2


def test_none_is_claimed_where_the_joints_are_hidden() -> None:
    path, info = sampled(SET, noise_mm=0.5)
    body, seen = puller({"shoulder": 50.0})
    state = np.array(body.state)
    for side in ("left", "right"):
        state[:, [INDEX[f"{side}_{n}"] for n in ("shoulder", "wrist", "hip")]] = HIDDEN

    hidden = find_reps(path, evolve(body, state=state), lift="deadlift", info=info, track=plate_track(path))

    assert len(slacks(seen)) == 2
    assert not slacks(hidden)
    assert not slacks(find_reps(path, nobody(), lift="deadlift", info=info, track=plate_track(path)))


def test_a_shaking_camera_is_no_slack() -> None:
    """Bar and body go up and down together in the picture by 60 mm just before the pull."""
    path, info = sampled(SET, noise_mm=0.5)
    body, track = puller({})[0], plate_track(path)
    shake = 15 * np.sin(2 * np.pi * 0.4 * path.t_s)
    xy, bar = np.array(body.xy_px), np.array(track.xy_px)
    xy[:, :, 1] += shake[:, None]
    bar[:, 1] += shake

    reps = find_reps(
        path, evolve(body, xy_px=xy), lift="deadlift", info=info, track=evolve(track, xy_px=bar)
    )  # fmt: skip

    assert not slacks(reps)


def test_only_pulls_have_slack() -> None:
    made = Made(1300).hold(2).rep().hold(1).rep().hold(1)
    path, info = sampled(made, noise_mm=0.5)
    reps = find_reps(path, puller({"shoulder": 50.0})[0], lift="squat", info=info, track=plate_track(path))

    assert not slacks(reps)


def test_slack_of_a_rendered_lifter_without_pixels() -> None:
    """The lab's lifter sinks his hips for 0.8 s before each pull (lab/render/build.py); joints wander by 12 mm."""
    from lab.made import asked_set, measured_set

    made = measured_set(asked_set(8006, "deadlift", reps_done=2, yaw_deg=34.0))

    found = slacks(made.data.reps)
    assert len(found) == 2
    assert [p.end_s for p in found] == pytest.approx([e["start_s"] for e in made.events], abs=0.05)
    for i in range(2):
        taken = made.measured.of(i, "slack_time_s")
        assert taken is not None
        assert taken.value is not None
        assert taken.sd is not None
        assert abs(taken.value - 0.8) < 2.5 * taken.sd
