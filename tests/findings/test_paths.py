"""From a path by formula through the measures to the finding: planted at 0, 0.5, 1.2 and 2 times the floor."""

from __future__ import annotations

import pytest
from attrs import evolve
from measures.figures import Plan, figure

from midfoot.findings import defaults, find
from midfoot.measures import measure
from midfoot.records.findings import Finding

CLEAN = Plan(low_s=0.9)
SURE_FROM = {0.0: (None,), 0.5: (None, "hint"), 1.2: ("sure", "likely"), 2.0: ("sure",)}


def planted(lift: str, last: Plan, finding_id: str) -> Finding | None:
    """The finding of a set of five whose last rep is as planned, at 60 frames a second with 0.5 mm of noise."""
    data, _ = figure((CLEAN, CLEAN, CLEAN, CLEAN, last), lift, fps=60.0, noise_mm=0.5)
    found = find(data, measure(data))
    others = [
        f.id for f in found.findings if f.id != finding_id and f.confidence == "sure" and f.nature == "fault"
    ]
    assert not others, "nothing else was planted"
    return next((f for f in found.findings if f.id == finding_id), None)


@pytest.mark.parametrize("times", SURE_FROM)
@pytest.mark.parametrize(
    ("lift", "finding_id", "limit", "field", "way"),
    [
        ("squat", "squat_bar_forward", "forward_drift", "bulge_mm", 1.0),
        ("deadlift", "deadlift_bar_leaves", "forward_drift", "bulge_mm", 1.0),
        ("squat", "squat_shallower", "depth_change", "shallow_mm", 1.0),
        ("squat", "squat_soft_lockout", "lockout_shortfall", "short_mm", 1.0),
        ("bench", "bench_not_locked", "lockout_shortfall", "short_mm", 1.0),
        ("deadlift", "deadlift_short_lockout", "lockout_shortfall", "short_mm", 1.0),
        ("bench", "bench_pause_short", "pause", "low_s", -1.0),
    ],
)
def test_a_planted_size_is_found_as_its_size_allows(
    lift: str, finding_id: str, limit: str, field: str, way: float, times: float
) -> None:
    size = times * defaults()[limit].floor
    finding = planted(lift, evolve(CLEAN, **{field: getattr(CLEAN, field) + way * size}), finding_id)

    assert (None if finding is None else finding.confidence) in SURE_FROM[times]
    if times == 2.0:
        assert finding is not None
        assert finding.reps == (5,)
        assert finding.worst_rep == 5
        assert finding.size is not None
        # A pull is counted from where the bar stood at lift-off, 10 mm up: x = 0.13 of the time, where the bulge
        # sin(pi x)^2 has 0.16 of its size already. A pause's ends are rounded by the filter.
        seen = 0.84 if lift == "deadlift" and field == "bulge_mm" else 1.0
        assert finding.size.value == pytest.approx(seen * size, rel=0.08)


def test_a_bar_that_stays_behind_its_vertical_does_not_go_forward() -> None:
    """Every rep 40 to 81 mm behind, as one real deadlift set was: they differ, and none goes forward."""
    plans = tuple(evolve(CLEAN, bulge_mm=back) for back in (-81.0, -60.0, -45.0, -40.0))
    data, _ = figure(plans, "deadlift", fps=60.0, noise_mm=0.5)

    assert "deadlift_bar_leaves" not in {f.id for f in find(data, measure(data)).findings}


@pytest.mark.parametrize(
    ("finding_id", "wave_mm", "forward_mm"),
    [("squat_bar_forward", 26.0, 26.0), ("deadlift_bar_leaves", 100.0, 27.0)],
)
def test_what_goes_back_later_does_not_hide_what_went_forward(
    finding_id: str, wave_mm: float, forward_mm: float
) -> None:
    """The last rep goes forward and then as far back or farther, the others back only: its largest distance from
    the vertical may look like theirs, its forward reach never does.

    A pull is counted from where the bar stood at lift-off, 10 mm up: x = 0.13 of the time, where the wave
    sin(2 pi x) has 0.73 of its size already.
    """
    back = evolve(CLEAN, bulge_mm=-26.0)
    reps = (*(back,) * 4, evolve(CLEAN, bulge_mm=0.0, wave_mm=wave_mm))
    data, _ = figure(reps, finding_id.partition("_")[0], fps=60.0, noise_mm=0.5)
    finding = next(f for f in find(data, measure(data)).findings if f.id == finding_id)

    assert finding.confidence in ("sure", "likely")
    assert finding.reps == (5,)
    assert finding.size is not None
    assert finding.size.value == pytest.approx(forward_mm, abs=2.5)


def test_slowing_is_told_and_is_information() -> None:
    """A last ascent of 1.4 x 1.16 s; moments by bands of 10 mm keep the ratio."""
    finding = planted("squat", evolve(CLEAN, up_s=CLEAN.up_s * 1.16), "squat_slowing")

    assert finding is not None
    assert finding.confidence == "sure"
    assert finding.nature == "information"
    assert finding.size is not None
    assert finding.size.value == pytest.approx(16.0, abs=2.0)


def test_the_moment_is_where_the_bar_is_farthest_forward() -> None:
    """The bulge is a squared sine over the ascent: farthest in its middle."""
    last = evolve(CLEAN, bulge_mm=60.0)
    finding = planted("squat", last, "squat_bar_forward")

    assert finding is not None
    begin = 1.2 + 4 * (CLEAN.down_s + CLEAN.low_s + CLEAN.up_s + 1.2) + CLEAN.down_s + CLEAN.low_s
    assert finding.at_s == (pytest.approx(begin + CLEAN.up_s / 2, abs=0.1),)


def test_what_shows_at_the_low_is_looked_at_in_its_middle() -> None:
    """At its very begin the bar still comes down: there a frame shows no pause."""
    finding = planted("bench", evolve(CLEAN, low_s=CLEAN.low_s - 0.4), "bench_pause_short")

    assert finding is not None
    begin = 1.2 + 4 * (CLEAN.down_s + CLEAN.low_s + CLEAN.up_s + 1.2) + CLEAN.down_s
    assert finding.at_s == (pytest.approx(begin + (CLEAN.low_s - 0.4) / 2, abs=0.05),)
