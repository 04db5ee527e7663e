"""Why a finding was not told: each cause made by hand on a set of numbers."""

import numpy as np
import pytest
from attrs import evolve
from lab.made_sets import made_set
from lab.misses import ASKED, CAUSES, misses_table, why

from midfoot.findings import FINDINGS, defaults, definition
from midfoot.findings.look import Look
from midfoot.records.context import Context
from midfoot.records.measures import Measured


def cause(values: list[float | None], *, sd: float = 0.4, vary: float = 0.05, count: int = 4) -> str:
    """The cause for a squat's lockouts of these shortfalls, its knees not seen."""
    data, measured = made_set(
        "squat", count, np.random.default_rng(3), vary=vary, without=("knee_lockout_gap_deg",)
    )
    reps = []
    for row, value in zip(measured.reps, values, strict=True):
        kept = [m for m in row if m.id != "lockout_shortfall_mm"]
        old = next(m for m in row if m.id == "lockout_shortfall_mm")
        reps.append(tuple(kept if value is None else [*kept, evolve(old, value=value, sd=sd)]))
    look = Look(data, Measured(tuple(reps), (), measured.best_rep), Context(), (), defaults())
    return why(definition("squat_soft_lockout"), look)


@pytest.mark.parametrize(
    ("said", "values", "more"),
    [
        ("not seen", [None, None, None, None], {}),
        ("error", [0.0, 0.0, 0.0, 14.0], {"sd": 9.0}),
        ("small", [0.0, 0.0, 0.0, 5.0], {}),
        ("chance", [0.0, 12.0, 0.0, 12.0], {"vary": 1.5}),
    ],
)
def test_each_cause(said: str, values: list[float | None], more: dict[str, float]) -> None:
    assert cause(values, **more) == said


def test_the_table_counts_what_is_there_and_why_it_was_not_told() -> None:
    rows = [
        {"there": {"squat_shallower": 1.2, "bench_forearms": 1.1}, "found": {"squat_shallower": "likely"},
         "missed": {}},
        {"there": {"squat_shallower": 1.2, "bench_forearms": 2.0}, "found": {"squat_shallower": "hint"},
         "missed": {"squat_shallower": "chance", "bench_forearms": "not seen"}},
    ]  # fmt: skip

    text = misses_table(rows)

    assert "every finding: 1 of 3 told (33 %)" in text
    assert "floors were asked: 1 of 2 told (50 %)" in text
    assert "| `squat_shallower` 1 | 2 |" in text
    assert all(cause in text for cause in CAUSES)


def test_what_was_asked_rests_on_floors_that_the_project_set_itself() -> None:
    for name in ASKED:
        assert any("this project's aim" in defaults()[s.limit].source for s in definition(name).signs), name
    missing = {d.id for d in FINDINGS if "this project's aim" in defaults()[d.signs[0].limit].source} - ASKED
    assert not missing
