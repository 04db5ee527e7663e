"""Segment lengths as seen: a figure of known lengths, motion capture of a person, and the join with stature's."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from tests.mechanics.test_body import places_from, squatting, trc

from midfoot.mechanics import apart, joined, misplaced, seen_lengths, the_lifter
from midfoot.records.mechanics import Length, Places

SD_M = 0.012


def looked_at(seed: int) -> Places:
    """A figure with a thigh of .42 and a shank of .43 m; landmarks lie off by SD_M all through, and shake."""
    random = np.random.default_rng(seed)
    t = np.arange(0, 3.0001, 1 / 15)
    figure = squatting(t)
    seen = {
        name: place + random.normal(0, SD_M, 2) + random.normal(0, 0.004, place.shape) if name != "bar" else place
        for name, place in figure.items()
    }
    return places_from(seen, t)


def test_lengths_of_a_known_figure_lie_within_what_is_claimed() -> None:
    """Two hundred figures: departures from the true length in sds, mean within 1 and spread not above 1.2."""
    off = []
    for seed in range(200):
        found = seen_lengths(looked_at(seed))
        off += [(found["thigh"].m - 0.42) / found["thigh"].sd_m, (found["shank"].m - 0.43) / found["shank"].sd_m]
    assert abs(np.mean(off)) < 0.6
    assert 0.4 < np.std(off) < 1.2


def test_a_segment_that_turns_out_of_the_plane_counts_while_it_lies_in_it() -> None:
    places = looked_at(3)
    turned = {name: np.array(place) for name, place in places.joints.items()}
    half = slice(0, len(places.t_s) // 2)
    turned["knee"][half] = turned["hip"][half] + 0.8 * (turned["knee"][half] - turned["hip"][half])
    found = seen_lengths(evolve(places, joints=turned))["thigh"]
    assert found.m == pytest.approx(0.42, abs=2 * found.sd_m)


def test_inferred_joints_do_not_measure_bones() -> None:
    """A joint that was inferred from bone lengths must not be taken for a measurement of them."""
    places = looked_at(1)
    inferred = np.zeros(len(places.t_s), bool)
    only = evolve(places, seen={"knee": inferred})
    assert seen_lengths(only) == {}


def test_join_is_the_inverse_variance_mean_and_a_contradiction_is_left_out() -> None:
    """Two values with sds 20 and 40 mm: weights 4 to 1, sd 20 x 40 / sqrt(20^2 + 40^2)."""
    lifter = the_lifter("male", 1.75, 80)
    told = lifter.segments["thigh"].length_m
    sd = told * lifter.segments["thigh"].length_sd
    both = joined(lifter, {"thigh": Length(told + 0.05, 2 * sd, 30)})["thigh"]
    assert both.m == pytest.approx(told + 0.05 / 5)
    assert both.sd_m == pytest.approx(2 * sd / np.sqrt(5))
    assert joined(lifter, {"thigh": Length(told + 0.15, sd, 30)}) == {}
    scaled = the_lifter("male", 1.75, 80, lengths={"thigh": both})
    assert scaled.segments["thigh"].length_m == both.m
    assert scaled.segments["thigh"].mass_kg == lifter.segments["thigh"].mass_kg


def test_lengths_of_a_person_from_motion_capture(shared_clips: Path) -> None:
    """OpenCap validation data: lengths seen in the side plane against the markers' own distances in space."""
    t, m = trc(shared_clips / "real" / "opencap_squat" / "squats1.trc")
    spots = {"hip": "R_HJC", "knee": "r_knee", "ankle": "r_ankle", "shoulder": "R_Shoulder"}
    flat = {name: m[marker][:, :2] for name, marker in spots.items()}
    found = seen_lengths(places_from({**flat, "bar": flat["shoulder"]}, t))
    for name, (a, b) in {
        "thigh": ("hip", "knee"),
        "shank": ("knee", "ankle"),
        "trunk": ("hip", "shoulder"),
    }.items():
        true = float(np.median(np.linalg.norm(m[spots[a]] - m[spots[b]], axis=1)))
        print(f"{name}: {1000 * found[name].m:.0f} ± {1000 * found[name].sd_m:.0f} mm, in space {1000 * true:.0f}")
        assert found[name].m == pytest.approx(true, abs=2 * found[name].sd_m)


def test_a_segment_never_looks_longer_than_it_is() -> None:
    """A knee put 0.4 m forward for ten frames by hand: hip, knee and ankle are not believed there, only there."""
    n = 40
    zero, sd = np.zeros(n), np.full(n, 0.01)
    knee = np.column_stack([zero, zero + 0.45])
    knee[10:20, 0] += 0.4
    joints = {"hip": np.column_stack([zero, zero + 0.88]), "knee": knee, "ankle": np.column_stack([zero, zero])}
    places = Places(t_s=np.arange(n) / 15.0, bar=np.zeros((n, 2)), path_t_s=np.arange(n) / 15.0,
                    path=np.zeros((n, 2)), joints=joints, sd=dict.fromkeys(joints, sd),
                    bar_sd_m=0.002)  # fmt: skip
    wrong = misplaced(places, {"thigh": 0.48, "shank": 0.49})
    assert [k for k in range(n) if wrong["knee"][k]] == list(range(10, 20))
    assert (wrong["hip"] == wrong["knee"]).all()
    assert (wrong["ankle"] == wrong["knee"]).all()
    near = evolve(places, joints={**joints, "knee": np.column_stack([zero + 0.05, zero + 0.45])})
    assert not any(w.any() for w in misplaced(near, {"thigh": 0.48, "shank": 0.49}).values())
    unsure = evolve(places, sd=dict.fromkeys(joints, np.full(n, 0.2)))
    assert not any(w.any() for w in misplaced(unsure, {"thigh": 0.48, "shank": 0.49}).values())


def test_a_bar_out_of_reach_is_held_by_somebody_else() -> None:
    """A bystander 1.2 m behind the bar, against arms of 0.75 m; one who holds it is let be."""
    n = 20
    sd = np.full(n, 0.02)

    def standing(at_m: float) -> Places:
        shoulder = np.column_stack([np.full(n, at_m), np.full(n, 0.7)])
        return Places(t_s=np.arange(n) / 15.0, bar=np.zeros((n, 2)), path_t_s=np.arange(n) / 15.0,
                      path=np.zeros((n, 2)), joints={"shoulder": shoulder}, sd={"shoulder": sd},
                      bar_sd_m=0.002)  # fmt: skip

    assert apart(standing(-1.2), 0.75).all()
    assert not apart(standing(-0.1), 0.75).any()
