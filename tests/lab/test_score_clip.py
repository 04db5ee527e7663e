"""The score of a random clip: what says the truth scores full, what follows another disc is called by its name."""

import numpy as np
import pytest
from lab.bench_clips import coverage_table, tables
from lab.clip_jobs import SWEEPS, swept
from lab.render.recipe import recipe
from lab.score_clip import followed, score

T = np.arange(0, 6, 1 / 30)
EVENT = {"start_s": 1.0, "low_start_s": 2.0, "low_end_s": 2.2, "end_s": 3.4, "turn_s": 2.1}


def _truth():
    up = 1300 - 500 * np.exp(-(((T - 2.1) / 0.5) ** 2))
    near = np.column_stack([400 + 0 * T, 700 - up / 3])
    return {
        "lift": "squat", "plate_diameter_mm": 450.0, "t_s": T.tolist(), "events": [EVENT],
        "outcomes": ["completed"],
        "reps": [{"range_of_motion_mm": 500.0}], "near_px": near.tolist(), "far_px": (near + [300, 0]).tolist(),
        "near_mm": np.column_stack([0 * T, up]).tolist(), "body_every": 1, "joints": [], "joints_px": [],
        "camera": {"near_side": "left", "mm_per_px": 3.0, "body_mm_per_px": 3.6, "yaw_deg": 5.0, "roll_deg": 0.0,
                   "pitch_deg": 1.0, "near_plate_depth_m": 2.8},
    }  # fmt: skip


def _measured(true, *, shift_px=0.0, late_s=0.0, tall=1.0):
    value = lambda v, sd: {"value": v, "sd": sd}  # noqa: E731
    near, mm = np.array(true["near_px"]), np.array(true["near_mm"])
    path = [
        {"t_s": t, "x_px": x + shift_px, "y_px": y, "seen": True, "forward_mm": f, "up_mm": u * tall,
         "sd_forward_mm": 0.5, "sd_up_mm": 0.5}
        for t, (x, y), (f, u) in zip(T, near, mm, strict=True)
    ]  # fmt: skip
    rep = {k: v + late_s for k, v in EVENT.items()} | {
        "outcome": "completed", "start_sd_s": 0.01,
        "measures": {"range_of_motion_mm": {"value": 500.0 * tall, "sd": 1.0, "sd_common": 3.0}},
    }  # fmt: skip
    camera = true["camera"]
    return {
        "bar": {"status": "found", "source": "plate", "path": path}, "warnings": [], "reps": [rep],
        "view": {"near_side": "left", "yaw_deg": value(6.0, 1.0), "roll_deg": value(0.0, 1.0),
                 "pitch_deg": value(1.0, 1.0), "camera_distance_m": value(2.8, 0.2)},
        "scale": {"mm_per_px": value(camera["mm_per_px"], 0.03), "body_mm_per_px": value(3.6, 0.05)},
    }  # fmt: skip


def test_what_says_the_truth_scores_full():
    true = _truth()
    row = score(_measured(true), true)
    assert followed(row) == "right"
    assert row["reps_found"] == row["reps_matched"] == row["reps_true"] == 1
    assert row["worst_moment_s"] == pytest.approx(0)
    assert row["up_rms_mm"] == pytest.approx(0, abs=1e-9)
    assert row["errors"]["yaw_deg"] == pytest.approx(1.0)
    assert row["sds"]["range_of_motion_mm"] == pytest.approx(np.hypot(1, 3))


@pytest.mark.parametrize(("source", "off_pct"), [("plate", 0.0), ("shaft", 100 * (3.0 / 3.6 - 1))])
def test_the_scale_is_held_against_where_what_is_followed_is(source, off_pct):
    """A shaft is followed at its middle: 3.6 mm to the pixel there, 3.0 at the near plate."""
    true = _truth()
    found = _measured(true)
    found["bar"]["source"] = source
    assert score(found, true)["errors"]["scale_pct"] == pytest.approx(off_pct)


@pytest.mark.parametrize(("shift", "name"), [(300.0, "far end"), (120.0, "wrong"), (20.0, "right")])
def test_what_is_followed_is_called_by_its_name(shift, name):
    true = _truth()
    assert followed(score(_measured(true, shift_px=shift), true)) == name


def test_errors_have_their_sign_and_the_random_part_is_without_scale():
    true = _truth()
    row = score(_measured(true, late_s=0.05, tall=1.02), true)
    assert row["errors"]["start_s"] == pytest.approx(0.05)
    assert row["errors"]["range_of_motion_mm"] == pytest.approx(10.0)
    assert row["up_rms_mm"] > 4
    assert row["random_rms_mm"][1] == pytest.approx(0, abs=1e-6)


def test_coverage_counts_one_vote_a_clip():
    true, rows = _truth(), []
    for k in range(10):
        row = score(_measured(true, tall=1.0 if k else 1.1), true)
        rows.append({**row, "followed": "right", "name": f"phone-{k}", "yaw_deg": 5.0})
    line = next(x for x in coverage_table(rows).splitlines() if x.startswith("| range_of_motion_mm"))
    assert "| 10 |" in line
    assert "| 90 % |" in line


def test_the_tables_are_printed_for_failed_clips_too():
    assert "0 clips measured, 1 failed: boom" in tables([{"name": "phone-1", "changed": None, "failed": "boom"}])


@pytest.mark.parametrize("what", list(SWEEPS))
def test_a_sweep_changes_one_thing(what):
    base = recipe(4, "still")
    first, second = (swept(base, what, v) for v in SWEEPS[what][:2])
    assert first != second
    assert first[0].person == second[0].person == base.person
    assert first[0].reps == second[0].reps
