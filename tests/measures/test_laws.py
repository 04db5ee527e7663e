"""Laws that hold for any set: of time, of the picture's size and side, of units, of errors that all reps share."""

from __future__ import annotations

import numpy as np
from attrs import evolve
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from measures.figures import Plan, bencher, enlarged, figure, flipped, oblique, puller, squatter

from midfoot.measures import measure
from midfoot.records.measures import Measured, SetData

FIGURES = {"squat": squatter(1.1), "bench": bencher(3.0, 20.0), "deadlift": puller(0.9)}
LIFTS = st.sampled_from(sorted(FIGURES))
AZIMUTHS = st.floats(-25, 30)
PLANS = st.builds(
    Plan,
    down_s=st.floats(0.8, 1.6),
    low_s=st.floats(0.2, 1.0),
    up_s=st.floats(1.0, 2.5),
    dip=st.sampled_from([0.0, 0.7]),
    bulge_mm=st.floats(-60, 60),
)
FEW = settings(max_examples=8, phases=[Phase.explicit, Phase.reuse, Phase.generate])  # shrinking takes minutes


def numbers(found: Measured) -> dict[tuple[int, str], tuple[str, float | None]]:
    return {(rep, m.id): (m.status, m.value) for rep, row in enumerate(found.reps) for m in row}


def same(a: SetData, b: SetData, *, factor: dict[str, float] | None = None, close: float = 1e-3) -> None:
    """Both sets have the same measures, lengths (by unit) a stated factor apart."""
    first, second = measure(a), measure(b)
    for place, row in enumerate(first.reps):
        for m in row:
            other = second.of(place, m.id)
            assert other is not None
            assert m.status == other.status, (m.id, m.reason, other.reason)
            if m.value is None:
                continue
            grown = (factor or {}).get(m.unit, 1.0)
            room = close * max(1.0, abs(m.value) * grown)
            assert abs(m.value * grown - other.value) <= room, (m.id, m.value * grown, other.value)
            assert abs(m.sd * grown - other.sd) <= 0.02 * max(other.sd, m.sd) + 1e-6, m.id
    assert first.best_rep == second.best_rep


@FEW
@given(LIFTS, st.lists(PLANS, min_size=1, max_size=2), st.floats(-30, 4000), AZIMUTHS)
def test_time_may_begin_anywhere(lift: str, plans: list[Plan], shift_s: float, azimuth: float) -> None:
    made = dict(joints=FIGURES[lift], camera=oblique(azimuth))
    same(
        figure(tuple(plans), lift, fps=30.0, **made)[0],
        figure(tuple(plans), lift, fps=30.0, shift_s=shift_s, **made)[0],
        close=2e-3,
    )


@FEW
@given(LIFTS, PLANS, AZIMUTHS)
def test_a_mirrored_picture_shows_the_same_lift(lift: str, plan: Plan, azimuth: float) -> None:
    data, _ = figure(
        (plan,), lift, fps=30.0, joints=FIGURES[lift], camera=oblique(azimuth, roll_deg=1.5), roll_deg=1.5
    )
    same(data, flipped(data))


@FEW
@given(LIFTS, PLANS, st.floats(0.4, 3.0), AZIMUTHS)
def test_a_larger_picture_shows_the_same_lift(lift: str, plan: Plan, factor: float, azimuth: float) -> None:
    # Sizes of pictures are whole pixels, which moves the middle by up to half of one.
    data, _ = figure((plan,), lift, fps=30.0, joints=FIGURES[lift], camera=oblique(azimuth))
    factor = round(factor * 80) / 80
    same(data, enlarged(data, factor), close=0.02)


@FEW
@given(PLANS, st.floats(0.8, 1.25))
def test_lengths_and_speeds_scale_with_the_plate(plan: Plan, factor: float) -> None:
    data, _ = figure((plan,), "squat", fps=30.0)
    path = data.path
    # Kept where the moments and the least dip stay the same: only what is length or speed may change.
    grown = evolve(
        data,
        path=evolve(
            path, forward_mm=path.forward_mm * factor, up_mm=path.up_mm * factor,
            sd_forward_mm=path.sd_forward_mm * factor, sd_up_mm=path.sd_up_mm * factor,
        ),
    )  # fmt: skip
    first, second = measure(data), measure(grown)
    for name in ("range_of_motion_mm", "path_departure_mm", "path_range_mm", "ascent_mean_velocity_m_s"):
        a, b = first.of(0, name), second.of(0, name)
        # The plateau of a held bar is 4 mm thick whatever the scale: a thousandth is its share.
        assert abs(a.value * factor - b.value) <= 0.05 + 1e-3 * abs(b.value)
        assert np.isclose(a.sd * factor, b.sd, rtol=0.05, atol=1e-6)


@FEW
@given(st.lists(PLANS, min_size=3, max_size=4), st.floats(-2, 2), st.floats(-0.03, 0.03))
def test_errors_that_all_reps_share_do_not_make_drift(plans: list[Plan], roll_deg: float, scale: float) -> None:
    data, _ = figure(tuple(plans), "squat", fps=30.0, stated_mm=0.8)
    path = data.path
    lean = np.tan(np.radians(roll_deg))
    tilted = evolve(
        data,
        path=evolve(
            path, forward_mm=(path.forward_mm + lean * path.up_mm) * (1 + scale), up_mm=path.up_mm * (1 + scale)
        ),
    )
    first, second = measure(data), measure(tilted)
    for name in ("path_at_low_mm", "lockout_shortfall_mm", "range_of_motion_mm"):
        a = next(d for d in first.drift if d.measure == name)
        b = next(d for d in second.drift if d.measure == name)
        # One degree moves every rep's low by 9 mm; the difference between reps stays within the scale's 3 %.
        assert abs(a.change_first_last - b.change_first_last) <= 0.3 + 0.05 * abs(a.change_first_last)
        assert np.isclose(a.sd, b.sd, rtol=0.05)


@FEW
@given(st.lists(PLANS, min_size=3, max_size=3), st.floats(0.1, 20))
def test_common_errors_never_enter_drift(plans: list[Plan], common: float) -> None:
    data, _ = figure(tuple(plans), "squat", fps=30.0, joints=squatter(1.1))
    loud = evolve(data, path=evolve(data.path, scale_pct=common, yaw_deg=common / 4, roll_deg=common / 4))
    quiet_drift, loud_drift = measure(data).drift, measure(loud).drift
    by_id = {d.measure: d for d in loud_drift}
    for d in quiet_drift:
        if d.measure == "bar_over_midfoot_mm":  # given or not by how well the yaw is known
            continue
        assert np.isclose(by_id[d.measure].sd, d.sd, rtol=1e-6)
        assert by_id[d.measure].clear_from_rep == d.clear_from_rep
        assert by_id[d.measure].trend == d.trend
