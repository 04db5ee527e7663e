"""The rule of bands on the heights of the rendered clips, with a real track's errors, against their events."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from made_reps import correlated, info_of, nobody

from midfoot.records.bar import BarPath
from midfoot.reps import find_reps

CLIPS = (
    "squat_side", "bench_side", "deadlift_side", "squat_oblique_portrait", "bench_oblique",
    "deadlift_oblique_portrait",
)  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("clip", CLIPS)
def test_moments_of_rendered_sets(shared_clips: Path, clip: str, seed: int) -> None:
    """Side: 0.7 mm and 35 ms (or one frame + 10 ms); oblique: 3 mm and 80 ms, one moment in 40 up to 100 ms."""
    truth = json.loads((shared_clips / "rendered" / f"{clip}.json").read_text())
    t, bar = np.array(truth["t"]), np.array(truth["bar"]) * 1e3
    oblique = "oblique" in clip
    noise_mm, px_mm = (3.0, 2.5) if oblique else (0.7, 2.1)
    rng = np.random.default_rng(seed)
    up = bar[:, 1] + correlated(len(t), float(np.median(np.diff(t))), noise_mm, 0.15, rng)
    sd = np.full(len(t), noise_mm)
    path = BarPath(
        t_s=t, forward_mm=bar[:, 0], up_mm=np.round(up / px_mm) * px_mm, sd_forward_mm=sd, sd_up_mm=sd,
        seen=np.ones(len(t), bool), scale_pct=0.7, yaw_deg=2, roll_deg=1, source="plate",
    )  # fmt: skip

    reps = find_reps(path, nobody(), lift=truth["lift"], info=info_of(t)).reps

    assert [r.outcome for r in reps] == ["completed"] * len(truth["events"])
    errors = []
    for rep, event in zip(reps, truth["events"], strict=True):
        names = [n for n in ("start", "low_start", "low_end", "top_start", "top_end", "end") if f"{n}_s" in event]
        assert len(names) == 4
        for name in names:
            moment = getattr(rep, name)
            assert moment is not None
            errors.append(abs(moment.t_s - event[f"{name}_s"]))
    if oblique:
        assert np.quantile(errors, 0.975) <= 0.080
        assert max(errors) <= 0.100
    else:
        assert max(errors) <= max(0.035, float(np.median(np.diff(t))) + 0.010)
