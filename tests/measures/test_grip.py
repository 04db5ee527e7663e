"""Grip width: against a figure whose hands are set on the bar, and whose wrists the network puts off."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from measures.figures import Plan, figure, oblique, puller

from midfoot.findings import find
from midfoot.measures import measure
from midfoot.records.body import INDEX
from midfoot.records.measures import Measure, SetData

NARROWER_MM = 60.0
WRISTS_MM = 2 * 260.0


def pulled(*, azimuth: float = 40.0, narrower_from_s: float = np.inf) -> SetData:
    """Three pulls; both hands come 30 mm nearer from a moment on."""

    def joints(t: np.ndarray, forward: np.ndarray, up: np.ndarray) -> dict[str, np.ndarray]:
        made = puller()(t, forward, up)
        made["wrist"] = made["wrist"] - np.outer((t >= narrower_from_s) * NARROWER_MM / 2000.0, [1.0, 0.0, 0.0])
        return made

    return figure((Plan(), Plan(), Plan()), "deadlift", fps=30.0, joints=joints, camera=oblique(azimuth))[0]


def shaken(data: SetData, off_px: float, wander_px: float, *, seed: int = 4) -> SetData:
    """Wrists the same number of pixels off all the time, and wandering over 0.3 s."""
    rng, body = np.random.default_rng(seed), data.body
    xy = body.xy_px.copy()
    for side, way in (("left", 1.0), ("right", -1.0)):
        noise = np.convolve(rng.normal(size=len(body.t_s) + 8), np.ones(9), "valid") / 3.0
        xy[:, INDEX[f"{side}_wrist"], 0] += way * off_px + wander_px * noise
    return evolve(data, body=evolve(body, xy_px=xy, sd_px=np.full_like(body.sd_px, abs(off_px) + wander_px)))


def grips(data: SetData) -> list[Measure]:
    found = [measure(data).of(i, "grip_width_mm") for i in range(3)]
    assert all(m is not None and m.value is not None for m in found)
    return [m for m in found if m is not None]


def test_the_width_is_the_wrists_less_a_hand_on_either_side() -> None:
    """Hands 520 mm apart; what lies outside the forefingers is the measure's own assumption, 70 mm a side."""
    for m in grips(pulled()):
        assert m.value == pytest.approx(WRISTS_MM - 140.0, abs=float(np.hypot(m.sd, m.sd_common)))
        assert m.value == pytest.approx(WRISTS_MM - 140.0, rel=0.05)


def test_wrists_put_off_alike_are_no_error_between_reps() -> None:
    plain, off = grips(pulled()), grips(shaken(pulled(), 10.0, 2.0))

    shift = np.array([b.value - a.value for a, b in zip(plain, off, strict=True)])
    sds = np.array([m.sd for m in off])
    assert np.abs(shift).min() > 30.0  # all of them are off together,
    assert np.ptp(shift) < 2.5 * np.median(sds)  # by less than they say of each other,
    assert np.median(sds) < 0.5 * np.abs(shift).min()  # which is less than what they are off,
    assert all(abs(s) < 2 * np.hypot(m.sd, m.sd_common) for s, m in zip(shift, off, strict=True))


def test_a_wrist_that_wanders_within_a_rep_makes_it_unsure() -> None:
    calm, wild = grips(shaken(pulled(), 4.0, 1.0)), grips(shaken(pulled(), 4.0, 12.0))

    assert min(m.sd for m in wild) > 2 * max(m.sd for m in calm)


def test_hands_that_move_in_are_found() -> None:
    moved = shaken(pulled(narrower_from_s=pulled().reps.reps[1].top_end.t_s + 0.8), 6.0, 2.0)

    read = grips(moved)
    assert read[2].value - read[0].value == pytest.approx(-NARROWER_MM, abs=2.5 * np.hypot(read[0].sd, read[2].sd))
    assert abs(read[1].value - read[0].value) < 2.5 * np.hypot(read[0].sd, read[1].sd)
    assert not [f for f in find(moved, measure(shaken(pulled(), 6.0, 2.0))).findings if "grip" in f.id]
