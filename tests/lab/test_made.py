"""Sets from records: with no noise the measures say what the truth says; noise has the size that it is given."""

import numpy as np
import pytest
from lab import bench_records, made
from lab.render import bank
from lab.render.faults import Fault

pytestmark = pytest.mark.skipif(not bank.bank_file().exists(), reason=f"no bank of bodies at {bank.bank_file()}")
QUIET = made.Noise(0.001, 0.0, 0.01, 0.0002, 0.001, 0.1, 0.0, 0.02, 0.05)


def test_wandering_errors_have_their_size_and_memory():
    t = np.arange(0, 400, 0.02)
    errors = made.slow(t, 2.0, np.random.default_rng(3), 2)
    assert errors.std() == pytest.approx(2.0, rel=0.05)
    late = np.corrcoef(errors[:-15, 0], errors[15:, 0])[0, 1]
    assert late == pytest.approx(np.exp(-1), abs=0.08)


@pytest.mark.parametrize(("lift", "yaw"), [("squat", 20.0), ("bench", 4.0), ("deadlift", -20.0)])
def test_without_noise_the_measures_say_what_the_truth_says(lift, yaw):
    """The truth is computed from the true joints and path by code of its own (`lab.render.truth`)."""
    one = made.measured_set(made.asked_set(71, lift, reps_done=2, yaw_deg=yaw), QUIET)
    assert [r.outcome for r in one.data.reps.reps] == ["completed", "completed"]
    assert one.data.view.yaw_deg.value == pytest.approx(yaw, abs=1.5)
    rows = {(r["rep"], r["id"]): r for r in made.compared(one.data.asked.lift, one.measured.reps, one.true)}
    for rep in (1, 2):
        for name, within in (("range_of_motion_mm", 6), ("ascent_time_s", 0.05), ("lockout_shortfall_mm", 3)):
            row = rows[rep, name]
            assert row["value"] == pytest.approx(row["true"], abs=within), (rep, name)


def test_what_is_there_is_taken_from_the_truth():
    fault = (Fault("lockout_short", 0.03, 3),)
    one = made.measured_set(made.asked_set(72, "squat", reps_done=3, yaw_deg=0.0, faults=fault))
    sizes = bench_records.there("squat", one.true, fault, oblique=False)
    assert any("lock" in k and v > 2.0 for k, v in sizes.items()) or max(sizes.values()) > 1.0
