"""Against the exact truth of the rendered clips: events by the same rules, and the table of what was planted."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from measures.built import rendered_set

from midfoot.measures import measure
from midfoot.records.measures import Measured

CLIPS = (
    "squat_side", "bench_side", "deadlift_side", "squat_oblique_portrait", "bench_oblique",
    "deadlift_oblique_portrait",
)  # fmt: skip


@cache
def measured(folder: Path, name: str) -> tuple[Measured, dict]:
    data, truth = rendered_set(folder, name)
    return measure(data), truth


def near(found: Measured, rep: int, name: str, truth: float, floor: float = 0.0) -> None:
    """The measure agrees with the truth within two of its own sds (random and common), at least `floor`."""
    m = found.of(rep, name)
    assert m is not None
    assert m.value is not None, f"{name}: {m.reason}"
    allowed = max(2.0 * float(np.hypot(m.sd, m.sd_common)), floor)
    assert abs(m.value - truth) <= allowed, (
        f"{name} rep {rep + 1}: {m.value:.3f}, truth {truth:.3f}, {allowed:.3f}"
    )


@pytest.mark.parametrize("name", CLIPS)
def test_range_and_velocities_agree_with_the_events(shared_clips: Path, name: str) -> None:
    # Peaks: the truth has no filter; 0.02 m/s is less than half of what the whole program is allowed.
    found, truth = measured(shared_clips, name)
    for rep, event in enumerate(truth["events"]):
        near(found, rep, "range_of_motion_mm", event["range_m"] * 1000, 1.5)
        near(found, rep, "ascent_mean_velocity_m_s", event["ascent_mean_velocity_m_s"], 0.005)
        near(found, rep, "ascent_peak_velocity_m_s", event["ascent_peak_velocity_m_s"], 0.02)
        near(found, rep, "downward_movement_mm", event["downward_m"] * 1000, 1.5)


@pytest.mark.parametrize("name", CLIPS)
def test_times_are_the_moments_apart(shared_clips: Path, name: str) -> None:
    found, truth = measured(shared_clips, name)
    for rep, event in enumerate(truth["events"]):
        if truth["lift"] == "deadlift":
            spans = {"ascent_time_s": ("start_s", "top_start_s"), "descent_time_s": ("top_end_s", "end_s"),
                     "top_time_s": ("top_start_s", "top_end_s")}  # fmt: skip
        else:
            spans = {"ascent_time_s": ("low_end_s", "end_s"), "descent_time_s": ("start_s", "low_start_s"),
                     "low_time_s": ("low_start_s", "low_end_s")}  # fmt: skip
        for measure_id, (a, b) in spans.items():
            near(found, rep, measure_id, event[b] - event[a])


# Of ../shared/clips/README.md. Its shortfalls of 4-5 mm on the bench are of the frame nearest to the end of the
# ascent, where the bar still rises; the held height is the same in all reps of both bench clips (checked below).
DEPARTURE_MM = {
    "bench_oblique": (-109, -111, -111, -112), "bench_side": (-76, -99, -128),
    "deadlift_oblique_portrait": (-3, 2), "deadlift_side": (-7, 35, 42),
    "squat_oblique_portrait": (-1, -7, -3), "squat_side": (-5, 17, 42),
}  # fmt: skip


@pytest.mark.parametrize("name", CLIPS)
def test_departure_of_the_path_is_what_was_planted(shared_clips: Path, name: str) -> None:
    # 2 mm: the bar trembles by about one, and where it leaves 3 mm to both sides the larger side is a toss-up.
    found, _ = measured(shared_clips, name)
    for rep, planted in enumerate(DEPARTURE_MM[name]):
        if abs(planted) <= 3:
            value = found.of(rep, "path_departure_mm").value
            assert abs(value) < 6.0
        else:
            near(found, rep, "path_departure_mm", planted, 2.0)


@pytest.mark.parametrize("name", CLIPS)
def test_shortfall_is_against_the_highest_held_bar(shared_clips: Path, name: str) -> None:
    found, truth = measured(shared_clips, name)
    t, up = np.array(truth["t"]), np.array(truth["bar"])[:, 1] * 1000
    held = []
    for event in truth["events"]:
        begin = event["top_start_s"] if truth["lift"] == "deadlift" else event["end_s"]
        held.append(float(np.median(up[(t >= begin + 0.1) & (t <= begin + 0.5)])))
    for rep, height in enumerate(held):
        near(found, rep, "lockout_shortfall_mm", max(held) - height, 0.8)


def test_drift_is_named_on_the_rep_that_shows_it(shared_clips: Path) -> None:
    found, _ = measured(shared_clips, "squat_side")
    by_id = {d.measure: d for d in found.drift}
    assert by_id["path_departure_mm"].change_first_last == pytest.approx(46.5, abs=3)
    assert by_id["ascent_mean_velocity_m_s"].trend == "worse"
    assert by_id["ascent_mean_velocity_m_s"].clear_from_rep == 3
    assert by_id["lockout_shortfall_mm"].trend == "none"
