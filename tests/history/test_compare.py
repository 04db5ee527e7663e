"""Two sets compared: real changes by hand-made numbers, what is refused, and predictions that can fail."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from sets import made_measurement

from midfoot.history import CompareError, Foretold, compare, follow
from midfoot.history.compare import CLEAR_SDS
from midfoot.records.base import Value
from midfoot.records.findings import Prediction
from midfoot.records.history import Comparison, Row
from midfoot.records.measures import Measure, Measurement

TITLES = {"path_departure_mm": "Departure"}
GOOD = {"path_departure_mm": "less", "ascent_time_s": "same"}


def with_rows(
    values: list[float], *, sd: float = 1.0, common: float = 0.0, unit: str = "mm", **more: object
) -> Measurement:
    """The made set with one measure over as many reps, each with these errors."""
    one = made_measurement()
    reps = tuple(evolve(one.data.reps.reps[0], n=k + 1) for k in range(len(values)))
    measure_id = {"mm": "path_departure_mm", "s": "ascent_time_s", "deg": "trunk_angle_low_deg"}[unit]
    rows = tuple((Measure(measure_id, v, unit, sd, common, "measured", "made"),) for v in values)
    data = evolve(one.data, reps=evolve(one.data.reps, reps=reps))
    if more:
        data = evolve(data, **more)  # type: ignore[arg-type]
    return evolve(one, data=data, measured=evolve(one.measured, reps=rows, whole=(), best_rep=None, curves=()))


def row(found: Comparison, kind: str = "level") -> Row:
    return next(r for r in found.rows if r.kind == kind)


def compared(first: Measurement, second: Measurement) -> Comparison:
    return compare(first, second, titles=TITLES, good=GOOD)


def test_a_change_beyond_1_96_sds_of_the_difference_is_real() -> None:
    """By hand: two means of four equal reps with sd 2 each have sd 1; their difference sqrt(2); 1.96 of that 2.77.

    Source of 1.96 sqrt(2) SEM as the smallest detectable change at 95 %: Weir 2005, JSCR 19:231-240.
    """
    base = with_rows([10.0] * 4, sd=2.0)

    real, not_real = (row(compared(base, with_rows([10.0 + d] * 4, sd=2.0))) for d in (2.8, 2.7))

    assert real.smallest == pytest.approx(1.96 * np.sqrt(2))
    assert (real.verdict, real.good) == ("more", "worse")
    assert (not_real.verdict, not_real.good) == ("no_real_change", "")
    assert row(compared(with_rows([15.0] * 4, sd=2.0), base)).good == "better"


@pytest.mark.parametrize(("sem", "published"), [(10.66, 29.55), (9.85, 27.30), (9.04, 25.06), (9.09, 25.20)])
def test_the_smallest_change_is_the_published_one(sem: float, published: float) -> None:
    """Outside check: pairs of BMC Sports Sci Med Rehabil 2020, doi 10.1186/s13102-020-00179-8, table 2."""
    found = row(compared(with_rows([100.0], sd=sem), with_rows([100.0], sd=sem)))

    assert found.smallest == pytest.approx(published, abs=0.006)


def test_noise_alone_looks_changed_in_one_of_twenty() -> None:
    """Three hundred pairs of sets of five reps that differ by the stated noise only: 5 %, within three sds."""
    rng = np.random.default_rng(3)
    real = 0
    for _ in range(300):
        a, b = (with_rows(list(rng.normal(10.0, 2.0, 5)), sd=2.0) for _ in range(2))
        real += row(compared(a, b)).verdict != "no_real_change"

    # the larger of scatter and stated error is taken, so it may only be fewer
    assert 0.005 <= real / 300 <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 300)


def test_scatter_of_the_lifter_counts_where_it_is_larger_than_the_error() -> None:
    """Reps that differ by themselves make a mean less sure than the camera's error says."""
    first, second = with_rows([0.0, 20.0, 0.0, 20.0], sd=0.1), with_rows([10.0, 30.0, 10.0, 30.0], sd=0.1)

    assert row(compared(first, second)).verdict == "no_real_change"


def test_common_errors_count_between_clips_and_not_within_a_set() -> None:
    """5 mm of common error hides 10 mm between two clips; over each set it plays no part."""
    first, second = with_rows([0.0, 0.0], common=5.0), with_rows([10.0, 20.0], common=5.0)

    found = compared(first, second)

    assert row(found).verdict == "no_real_change"
    assert row(found, "over_the_set").verdict == "more"
    assert row(found, "over_the_set").smallest == pytest.approx(CLEAR_SDS * 2.0)


def turned(one: Measurement, yaw_deg: float, view_class: str = "side") -> Measurement:
    view = evolve(one.data.view, yaw_deg=Value(yaw_deg, 1.0), view_class=view_class)
    return evolve(one, data=evolve(one.data, view=view))


@pytest.mark.parametrize("unit", ["mm", "deg"])
def test_positions_and_angles_are_refused_across_views_and_the_rest_is_not(unit: str) -> None:
    """What a measure does over its own set is compared all the same; so are times."""
    first = with_rows([0.0, 10.0], unit=unit)
    for other in (turned(first, 30.0, "front_oblique"), turned(first, 13.0), turned(first, 0.0, "unknown")):
        found = compared(first, other)
        assert found.refused
        assert row(found).verdict == "cannot_tell"
        assert row(found).reason in found.refused
        assert row(found, "over_the_set").verdict == "no_real_change"
    times = with_rows([1.0, 2.0], unit="s")
    assert row(compared(times, turned(times, 40.0, "front_oblique"))).verdict == "no_real_change"


def test_lengths_are_refused_without_a_scale() -> None:
    """No scale, or a plate of unknown iron (3 %)."""
    first = with_rows([0.0, 10.0])
    assert first.data.path is not None
    for other in (
        with_rows([0.0, 10.0], scale=None),
        with_rows([0.0, 10.0], path=evolve(first.data.path, scale_pct=3.0)),
    ):
        found = compared(first, other)
        assert "lengths" in found.refused[0]
        assert row(found).verdict == "cannot_tell"
    angles = with_rows([40.0, 41.0], unit="deg")
    assert row(compared(angles, evolve(angles, data=evolve(angles.data, scale=None)))).verdict == "no_real_change"


def test_what_cannot_be_compared_at_all() -> None:
    with pytest.raises(CompareError, match="bench"):
        compared(made_measurement(), made_measurement(lift="bench"))
    with pytest.raises(CompareError, match="No rep"):
        compared(made_measurement(), made_measurement(seen=False))


def alike(
    values: list[float], *, load: float | None = 100.0, rpe: float | None = 8.0, sd: float = 1.0
) -> Measurement:
    one = with_rows(values, sd=sd)
    return evolve(one, data=evolve(one.data, asked=evolve(one.data.asked, load_kg=load, rpe=rpe)))


def told(size: float, sd: float = 2.0, direction: str = "less", against: int | None = 1) -> Foretold:
    prediction = Prediction("path_departure_mm", direction, size, sd, "mm")
    return Foretold(finding="x", title="X", change="do", prediction=prediction, against_rep=against)


def verdict(first: Measurement, second: Measurement, one: Foretold) -> str:
    return follow(first, second, (one,))[0].verdict


def test_a_prediction_holds_fails_or_stays_open() -> None:
    """By hand: 30 mm of drift in the first set, 15 less foretold (sd 2); the found difference has sd 2."""
    first = alike([0.0, 10.0, 30.0])

    assert verdict(first, alike([0.0, 5.0, 14.0]), told(15.0)) == "held"
    assert verdict(first, alike([0.0, 5.0, 0.0]), told(15.0)) == "held"  # more than foretold is held too
    assert verdict(first, alike([0.0, 10.0, 30.0]), told(15.0)) == "not_held"
    assert verdict(first, alike([0.0, 10.0, 45.0]), told(15.0)) == "not_held"  # it got worse
    open_ = follow(alike([0.0, 30.0], sd=8.0), alike([0.0, 22.0], sd=8.0), (told(15.0, 6.0),))[0]
    assert open_.verdict == "cannot_tell"
    assert "between nothing and what was foretold" in open_.reason
    assert follow(first, alike([0.0, 5.0, 14.0]), (told(15.0),))[0].found == Value(16.0, pytest.approx(2.0))


def test_every_direction_counts_its_own_fault() -> None:
    """More of a pause, less of a drift, nearer to zero, the same in every rep."""
    short = alike([10.0, 4.0])
    assert verdict(short, alike([10.0, 9.5], sd=0.5), told(5.0, 1.0, "more")) == "held"
    assert verdict(short, alike([10.0, 3.0], sd=0.5), told(5.0, 1.0, "more")) == "not_held"
    off = alike([-20.0, 12.0])
    assert verdict(off, alike([-2.0, 1.0]), told(15.0, 2.0, "zero", None)) == "held"
    assert verdict(alike([0.0, -20.0]), alike([0.0, 2.0]), told(15.0, 2.0, "same")) == "held"


@pytest.mark.parametrize(
    ("second", "why"),
    [
        (alike([0.0, 5.0], load=111.0), "loads are too unlike"),
        (alike([0.0, 5.0], load=89.0), "loads are too unlike"),
        (alike([0.0, 5.0], load=None), "load of both"),
        (alike([0.0, 5.0], rpe=9.5), "efforts are too unlike"),
        (alike([0.0, 5.0], rpe=None), "how hard"),
        (turned(alike([0.0, 5.0]), 20.0), "like view"),
        (alike([5.0]), "second set does not show it"),
    ],
)
def test_predictions_are_judged_only_between_like_sets(second: Measurement, why: str) -> None:
    """Load within a tenth, effort within a point, a like view (this project's own rule)."""
    found = follow(alike([0.0, 30.0]), second, (told(15.0),))[0]

    assert found.verdict == "cannot_tell"
    assert why in found.reason
    assert verdict(alike([0.0, 30.0]), alike([0.0, 5.0], load=110.0, rpe=9.0), told(15.0)) == "held"
