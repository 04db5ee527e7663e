from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from lab.score_real import MOMENTS, marks, on_path, score


def measured(mark: dict[str, Any], *, off_px: float = 0.0, late_s: float = 0.0) -> dict[str, Any]:
    """A measurement.json, as far as it is scored, that says what the marks say."""
    times = [r["t_s"] for r in mark["rims"]]
    rims = np.array([r["rim"] for r in mark["rims"]], float)
    t = np.union1d(np.arange(0.0, 12.0, 1 / 30), times)
    path = [
        {"t_s": s, "x_px": np.interp(s, times, rims[:, 0]) + off_px, "y_px": np.interp(s, times, rims[:, 1]),
         "seen": True}
        for s in t
    ]  # fmt: skip
    reps = [
        {"outcome": "completed", **{k: r[k] + late_s if k in r else None for k in MOMENTS}} for r in mark["reps"]
    ]
    return {
        "bar": {
            "status": "found", "source": "plate", "path": path, "candidates": [],
            "near_plate_diameter_px": {"value": 2 * float(np.median(rims[:, 2])), "sd": 1.0},
        },
        "reps": reps,
        "view": {"facing": mark["facing"][0], "near_side": mark["near_side"], "class": mark["view"][0]},
    }  # fmt: skip


@pytest.mark.parametrize("name", list(marks()))
def test_what_the_marks_say_scores_full(name: str) -> None:
    mark = marks()[name]
    row = score(measured(mark), mark)
    assert np.allclose(row["error_R"], 0.0, atol=1e-9)
    assert row["marks_seen"] == row["marks"] >= 8
    assert row["reps_found"] == row["reps_marked"] >= 1
    assert all(abs(v) < 1e-9 for v in row["moments_s"].values())
    assert [row[k] for k in ("facing_right", "near_right", "class_right")] == [True] * 3


def test_what_is_off_scores_by_how_much() -> None:
    mark = marks()["R5c"]
    row = score(measured(mark, off_px=50.0, late_s=0.2), mark)
    assert np.nanmedian(row["error_R"]) == pytest.approx(0.5, rel=0.05)
    assert row["moments_s"]["start_s"] == pytest.approx(0.2)
    assert not on_path((100.0, 100.0, 3.3), mark)
    assert on_path((560.0, 990.0, 3.3), mark)


def test_marks_lie_in_order_and_in_the_picture() -> None:
    for mark in marks().values():
        times = [r["t_s"] for r in mark["rims"]]
        assert times == sorted(times)
        for r in mark["rims"]:
            x, y, major, minor = r["rim"]
            assert major >= minor > 0
            assert x > 0
            assert y > 0
        for rep in mark["reps"]:
            moments = [rep[k] for k in MOMENTS if k in rep]
            assert moments == sorted(moments)
