"""Moments from a measured folder against statics on the rendered clips' exact truth.

The folder holds the truth as a camera sees it, with noise; the truth's moments are sums of weight times distance
over the rig's joints and the true bar (`lab.score_mechanics`), which share nothing with the program but de Leva's
table.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from lab.score_mechanics import score
from measures.built import rendered_set

from midfoot.outputs import write_numbers
from midfoot.records.measures import Measured, Measurement

LOAD_KG, BODY_KG = 140.0, 83.0
Row = dict[str, Any]


@pytest.fixture(scope="module")
def scored(shared_clips: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Row]]:
    found = {}
    for name in ("squat_side", "deadlift_side", "bench_side"):
        data, truth = rendered_set(shared_clips, name, noise_px=1.5)
        folder = tmp_path_factory.mktemp(name)
        write_numbers(Measurement(data, Measured(tuple(() for _ in data.reps.reps)), ()), folder)
        document = json.loads((folder / "measurement.json").read_text())
        assert len(document["reps"]) == 3
        found[name] = score(folder, truth, LOAD_KG, BODY_KG)
    return found


def change(rows: list[Row], moment: str, joint: str, key: str = "whole") -> tuple[float, float, float]:
    """Give ours, its sd and the truth's change from the first rep to the last; only the random part counts."""
    picked = {r["rep"]: r for r in rows if (r["moment"], r["joint"]) == (moment, joint)}
    first, last = picked[1], picked[3]
    true = "true_nm" if key == "whole" else "true_arm_mm"
    ours = last[key].value - first[key].value
    return ours, (last[key].sd ** 2 + first[key].sd ** 2) ** 0.5, last[true] - first[true]


def test_hip_moment_of_the_squat_rises_with_the_planted_drift(scored: dict[str, list[Row]]) -> None:
    """The bar runs 42 mm forward in rep 3 and 5 mm back in rep 1; 140 kg x g x 47 mm = 65 N m of the bar alone."""
    ours, sd, true = change(scored["squat_side"], "farthest", "hip")
    print(f"hip moment rises by {ours:.0f} ± {sd:.0f} N·m, by statics on the truth {true:.0f}")
    assert true > 60
    assert sd < true / 2
    assert ours == pytest.approx(true, abs=2 * sd)
    knee, knee_sd, true_knee = change(scored["squat_side"], "farthest", "knee")
    assert true_knee < -60  # what the hip gains the knee loses
    assert knee == pytest.approx(true_knee, abs=2 * knee_sd)


def test_hip_moment_of_the_deadlift_rises_with_the_planted_drift(scored: dict[str, list[Row]]) -> None:
    """Reps 2 and 3 carry the bar 35 and 42 mm forward; at lift-off nothing was planted."""
    ours, sd, true = change(scored["deadlift_side"], "farthest", "hip")
    assert true > 60
    assert ours == pytest.approx(true, abs=2 * sd)
    ours, sd, true = change(scored["deadlift_side"], "low", "hip")
    assert abs(true) < 40
    assert ours == pytest.approx(true, abs=2 * sd)


def test_shoulder_arm_of_the_bench_rises_with_the_wandering_touch(scored: dict[str, list[Row]]) -> None:
    """The touch wanders 113, 148, 188 mm from the shoulder (of that moment), and the elbow goes with the bar."""
    for joint in ("shoulder", "elbow"):
        ours, sd, true = change(scored["bench_side"], "low", joint, "arm")
        assert true > 60
        assert ours == pytest.approx(true, abs=2 * sd)
    ours, sd, true = change(scored["bench_side"], "low", "shoulder")
    assert true > 80
    assert ours == pytest.approx(true, abs=2 * sd)


def test_arms_and_moments_lie_within_what_is_claimed(scored: dict[str, list[Row]]) -> None:
    """Every joint at every moment within three sds.

    The landmarks stand at the pose's key points, 10 to 30 mm off the rig's centres of rotation, as a network's do.
    """
    off = []
    for rows in scored.values():
        for row in rows:
            off.append(abs(row["arm"].value - row["true_arm_mm"]) / row["arm"].total_sd)
            off.append(abs(row["whole"].value - row["true_nm"]) / row["whole"].total_sd)
    assert max(off) < 3
    print(
        f"{len(off)} values: within one sd {sum(o < 1 for o in off) / len(off):.2f}, farthest {max(off):.1f} sds"
    )
