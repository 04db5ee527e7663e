"""What a joint's offset may have changed between two moments, and what a long look takes off its error."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from measures.figures import Plan, bencher, figure, oblique, puller, squatter

from midfoot.measures import measure
from midfoot.measures.joints import HIP_CHANGED_MM, OWN_SHARE, WANDER_S
from midfoot.measures.legs import hip_lead
from midfoot.measures.scene import Scene
from midfoot.measures.uncertain import averaged, own
from midfoot.records.body import INDEX


@pytest.mark.parametrize(("lift", "joints"), [("squat", squatter()), ("deadlift", puller())])
def test_the_hips_lead_states_that_its_offset_changes_with_posture(lift: str, joints: object) -> None:
    data, _ = figure((Plan(), Plan()), lift, joints=joints, camera=oblique(30.0))
    found = measure(data)
    first, second = (found.of(rep, "hip_lead_ratio") for rep in (0, 1))
    rep = Scene(data).reps[0]
    risen = rep.bar.up(rep.third_s()).value - rep.bar.up(rep.ascent[0]).value
    assert first.sd_common > 0.98 * HIP_CHANGED_MM / risen
    # What every rep shares is no part of the difference between two.
    assert np.hypot(first.sd, second.sd) < 0.5 * first.sd_common


def test_who_lies_as_he_lay_has_nearly_the_offset_that_he_had() -> None:
    data, _ = figure((Plan(),), "bench", joints=bencher(), camera=oblique(30.0))
    joints = Scene(data).reps[0].scene.joints_mm
    start, at = data.reps.reps[0].start.t_s, data.reps.reps[0].end.t_s
    wide, narrow = (joints.pair("hip", start, at, posture) for posture in ("half way", "lying"))
    source = "hip between postures, up"
    assert narrow[1][1].parts[source] < 0.4 * wide[1][1].parts[source]


@pytest.mark.parametrize("length_s", [0.5, 1.0, 2.0])
def test_a_long_look_averages_what_wanders(length_s: float) -> None:
    """Errors with a memory of 0.3 s (an autoregressive walk), averaged over a hold."""
    rng, step, n = np.random.default_rng(5), 1 / 30, int(30 * length_s) + 1
    keep = np.exp(-step / WANDER_S)
    walk = rng.normal(size=(4000, n))
    for i in range(1, n):
        walk[:, i] = keep * walk[:, i - 1] + np.sqrt(1 - keep**2) * walk[:, i]
    stated = averaged(own(0.0, 1.0, "one look"), 0.0, 1.0 + length_s / (2.0 * WANDER_S)).sd
    assert stated == pytest.approx(float(np.std(walk.mean(axis=1))), rel=0.15)


@pytest.mark.parametrize(("lift", "joints"), [("squat", squatter()), ("deadlift", puller())])
def test_the_hips_lead_is_as_steady_as_it_states(lift: str, joints: object) -> None:
    """Hips that wander with a memory of 0.3 s (an autoregressive walk) by the share that a reading owns."""
    data, _ = figure((Plan(),), lift, joints=joints, camera=oblique(30.0))
    true = hip_lead(Scene(data).reps[0]).number
    rng, body = np.random.default_rng(3), data.body
    hips = [INDEX["left_hip"], INDEX["right_hip"]]
    keep = np.exp(-np.diff(body.t_s) / WANDER_S)
    off = []
    for _ in range(60):
        walk = rng.normal(size=(len(body.t_s), 2, 2))
        for i, k in enumerate(keep, start=1):
            walk[i] = k * walk[i - 1] + np.sqrt(1 - k**2) * walk[i]
        xy = body.xy_px.copy()
        xy[:, hips] += OWN_SHARE * body.sd_px[:, hips, None] * walk
        one = Scene(evolve(data, body=evolve(body, xy_px=xy))).reps[0]
        off.append(hip_lead(one).number.value - true.value)
    assert 0.6 * true.sd < float(np.std(off)) < 1.15 * true.sd
    assert abs(float(np.mean(off))) < true.sd / 2


def test_where_the_hips_lie_is_read_over_the_hold() -> None:
    """One look in error at the start does not lift them: 30 mm of one frame were all of the measure before."""
    data, _ = figure((Plan(),), "bench", joints=bencher(lift_mm=30), camera=oblique(30.0))
    start, body = data.reps.reps[0].start.t_s, data.body
    xy = body.xy_px.copy()
    near = np.abs(body.t_s - start) < 0.08
    hips = [INDEX["left_hip"], INDEX["right_hip"]]
    true = measure(data).of(0, "hip_lift_mm")
    xy[np.ix_(near, hips, [1])] += 30.0 / data.scale.mm_per_px.value
    off = measure(evolve(data, body=evolve(body, xy_px=xy))).of(0, "hip_lift_mm")
    assert abs(off.value - true.value) < 15.0
    assert true.value == pytest.approx(30.0, abs=2.0)
