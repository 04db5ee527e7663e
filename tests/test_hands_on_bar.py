"""What the hands on the bar say of the camera: by hand, over many draws, and on rendered truth."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from lab.score_mechanics import score
from measures.built import rendered_set

from midfoot import positions
from midfoot.hands_on_bar import Wrist, learn, wrist_of
from midfoot.outputs import write_numbers
from midfoot.records.base import Value
from midfoot.records.measures import Measured, Measurement


def test_one_error_and_one_wrist_by_hand() -> None:
    """An error that moves the wrist 100 mm a sd, a wrist good to 50 mm that reads 80 mm in front of the bar.

    It is off by -0.08 x 0.1 / (0.1^2 + 0.05^2) = -0.64 sds, and 0.05 / sqrt(0.1^2 + 0.05^2) = 0.447 of it is left.
    """
    found = learn([Wrist(0.08, 0.05, {"mid-plane": 0.1})])
    assert found is not None
    assert found.mean["mid-plane"] == pytest.approx(-0.64)
    assert abs(found.root[0, 0]) == pytest.approx(0.4472, abs=1e-4)


def test_both_wrists_cancel_how_wide_the_grip_is() -> None:
    """A grip wider than assumed moves one wrist forward and the other back: the mid-plane is still known."""
    apart = {"mid-plane": 0.1, "grip": 0.2}, {"mid-plane": 0.1, "grip": -0.2}
    both = learn([Wrist(0.0, 0.02, apart[0]), Wrist(0.0, 0.02, apart[1])])
    alone = learn([Wrist(0.0, 0.02, apart[0])])
    assert both is not None
    assert alone is not None

    def left(found: object) -> float:
        place = {"mid-plane": {"hip": np.array([0.1, 0.0])}}
        return float(np.sqrt(sum(e["hip"][0] ** 2 for e in found.left(place).values())))  # type: ignore[attr-defined]

    assert left(both) == pytest.approx(0.1 * 0.02 / np.sqrt(0.02**2 + 2 * 0.1**2), rel=1e-3)
    assert left(alone) > 0.08


def test_what_is_left_is_what_many_draws_give() -> None:
    """4000 sets of errors: a joint's error after the correction has the sd that is claimed, and mean zero."""
    random = np.random.default_rng(3)
    names = ("yaw", "mid-plane", "grip")
    near, far = np.array([0.04, 0.13, 0.07]), np.array([0.01, 0.16, -0.08])
    hip = np.array([0.03, 0.14, 0.0])
    off, claims = [], []
    for _ in range(4000):
        z = random.standard_normal(3)
        # as read, a place is off by minus what the errors do to it
        wrists = [
            Wrist(
                float(-h @ z + 0.025 * random.standard_normal()), 0.025, dict(zip(names, h.tolist(), strict=True))
            )
            for h in (near, far)
        ]
        found = learn(wrists)
        if found is None:
            continue
        mean = np.array([found.mean[n] for n in names])
        common = {n: {"hip": np.array([h, 0.0])} for n, h in zip(names, hip, strict=True)}
        claims.append(float(np.sqrt(sum(e["hip"][0] ** 2 for e in found.left(common).values()))))
        off.append(float(hip @ (mean - z)) / claims[-1])
    assert len(off) > 3900
    assert np.std(off) == pytest.approx(1.0, abs=0.05)
    assert abs(np.mean(off)) < 0.05
    assert np.median(claims) < 0.2 * float(np.hypot(*hip[:2]))


def test_a_hand_that_is_not_at_the_bar_says_nothing() -> None:
    bar = np.zeros((40, 2))
    at, sd, all_ = bar + [0.05, -0.08], np.full(40, 0.02), np.ones(40, bool)
    assert wrist_of(at, bar, sd, all_, "bench", {"yaw": 0.1}) is not None
    assert wrist_of(at + [0.0, 0.5], bar, sd, all_, "bench", {"yaw": 0.1}) is None
    assert wrist_of(at, bar, sd, np.arange(40) < 8, "bench", {"yaw": 0.1}) is None
    assert learn([Wrist(0.9, 0.03, {"yaw": 0.1})]) is None
    assert learn([]) is None


@pytest.mark.parametrize(("name", "yaw_off", "middle_off"), [
    ("bench_oblique", 2.0, 0.04), ("bench_oblique", -2.0, -0.04), ("deadlift_oblique_portrait", 2.0, 0.04),
    ("deadlift_oblique_portrait", -2.0, -0.04),
])  # fmt: skip
def test_a_wrong_camera_is_set_right_by_the_hands(
    shared_clips: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    yaw_off: float,
    middle_off: float,
) -> None:
    """The rendered truth seen by a camera whose yaw and body scale are told wrongly, by as much as their sd."""
    data, truth = rendered_set(shared_clips, name, noise_px=1.5)
    yaw, scale = data.view.yaw_deg, data.scale
    assert scale is not None
    assert data.path is not None
    body = scale.body_mm_per_px.value
    wrong = evolve(
        data, view=evolve(data.view, yaw_deg=Value(yaw.value + yaw_off, 2.0)), path=evolve(data.path, yaw_deg=2.0),
        scale=evolve(scale, body_mm_per_px=Value(body * (1 + middle_off), body * 0.04)),
    )  # fmt: skip
    write_numbers(Measurement(wrong, Measured(tuple(() for _ in data.reps.reps)), ()), tmp_path)

    def arms() -> tuple[np.ndarray, np.ndarray]:
        rows = [row for row in score(tmp_path, truth, 140.0, 83.0) if row["arm"] is not None]
        return (np.array([r["arm"].value - r["true_arm_mm"] for r in rows]),
                np.array([r["arm"].total_sd for r in rows]))  # fmt: skip

    after, after_sd = arms()
    monkeypatch.setattr(positions, "learn", lambda wrists: None)
    before, before_sd = arms()
    print(f"rms error {np.sqrt(np.mean(before**2)):.0f} -> {np.sqrt(np.mean(after**2)):.0f} mm, "
          f"claimed {before_sd.mean():.0f} -> {after_sd.mean():.0f}")  # fmt: skip
    assert np.sqrt(np.mean(after**2)) < np.sqrt(np.mean(before**2))
    assert after_sd.mean() < 0.8 * before_sd.mean()
    assert np.max(np.abs(after) / after_sd) < 3
