"""Estimated maxima: published formulas, the table, refusals, the load-velocity line."""

from __future__ import annotations

from pathlib import Path
from statistics import stdev

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.records.base import NotMeasured, Value
from midfoot.records.strength import LoadedSet, OneRm, Profile
from midfoot.strength import StrengthError, one_rm, profile, rpe_table
from midfoot.strength.base import data
from midfoot.strength.one_rm import FORMULAS

# w = 100, r = 1..10, from the formulas as many public sources print them [CALC].
CHECK = {
    "epley": (103.3333, 106.6667, 110.0, 113.3333, 116.6667, 120.0, 123.3333, 126.6667, 130.0, 133.3333),
    "brzycki": (100.0, 102.8571, 105.8824, 109.0909, 112.5, 116.1290, 120.0, 124.1379, 128.5714, 133.3333),
    "brzycki_decimal": (100.0, 102.8595, 105.8873, 109.0988, 112.5113, 116.1440,
                        120.0192, 124.1619, 128.6008, 133.3689),
    "lombardi": (100.0, 107.1773, 111.6123, 114.8698, 117.4619, 119.6231, 121.4814, 123.1144, 124.5731, 125.8925),
    "mayhew": (108.8640, 111.4387, 113.9903, 116.5154, 119.0107, 121.4729, 123.8990, 126.2863, 128.6322, 130.9343),
    "oconner": (102.5, 105.0, 107.5, 110.0, 112.5, 115.0, 117.5, 120.0, 122.5, 125.0),
    "wathan": (101.3042, 105.1457, 108.9797, 112.7955, 116.5825, 120.3306, 124.0300, 127.6714, 131.2463, 134.7467),
    "lander": (101.3903, 104.2128, 107.1969, 110.3569, 113.7089, 117.2709, 121.0633, 125.1092, 129.4349, 134.0704),
}  # fmt: skip


def got(*args: object, **more: object) -> OneRm:
    found = one_rm(*args, **more)  # type: ignore[arg-type]
    assert isinstance(found, OneRm), found
    return found


def test_every_formula_is_described_and_checked() -> None:
    assert set(FORMULAS) == set(CHECK) == {row["id"] for row in data("one_rm")["formula"]}


@pytest.mark.parametrize("formula", CHECK)
def test_formulas(formula: str) -> None:
    for reps, expected in enumerate(CHECK[formula], start=1):
        assert FORMULAS[formula](100, reps) == pytest.approx(expected, abs=5.1e-5), reps


def test_identities() -> None:
    """Epley meets Brzycki at ten; only Brzycki and Lombardi leave a single unchanged."""
    assert FORMULAS["epley"](100, 10) == pytest.approx(FORMULAS["brzycki"](100, 10), rel=1e-12)
    unchanged = {name for name, f in FORMULAS.items() if abs(f(100, 1) - 100) < 1e-9}
    assert unchanged == {"brzycki", "brzycki_decimal", "lombardi"}
    with pytest.raises(ZeroDivisionError):
        FORMULAS["brzycki"](100, 37)
    assert FORMULAS["lander"](100, 37.92) > 1e5
    assert FORMULAS["lander"](100, 37.93) < 0


def test_a_true_single_is_returned_unchanged() -> None:
    one = got(180, 1, rpe=10)
    assert (one.kg, one.sd_kg) == (180, 0)
    assert "no RPE" in got(180, 1).basis


def test_the_estimate_lies_among_its_methods_and_says_its_doubt() -> None:
    one = got(100, 5, rpe=9)
    assert one.to_failure == 6
    assert one.low_kg <= one.kg <= one.high_kg
    assert (one.low_kg, one.high_kg) == pytest.approx((115.0, 121.4729), abs=1e-3)
    assert one.sd_kg > 0.03 * one.kg
    assert got(100, 5, rpe=7).sd_kg > got(100, 5, rpe=9).sd_kg > got(100, 5, rpe=10).sd_kg
    assert got(100, 5, rir=1) == one
    low, high = one.range_kg()
    assert low % 2.5 == high % 2.5 == 0
    assert low <= one.kg - one.sd_kg < one.kg + one.sd_kg <= high


def test_measured_maxima_lie_within_the_doubt() -> None:
    """Larsen et al. 2022 (n = 12, bench): 1RM 96.5 from 3RM 88.5, 6RM 81.5, 10RM 72.8 kg. Reynolds et al. 2006:
    a 5RM of 100 kg predicts 113.77 kg."""
    for load, reps, truth in ((88.5, 3, 96.5), (81.5, 6, 96.5), (72.8, 10, 96.5), (100, 5, 113.77)):
        one = got(load, reps, rpe=10)
        assert abs(one.kg - truth) < 2 * one.sd_kg, reps
        assert abs(one.kg - truth) < 0.03 * truth, reps


@pytest.mark.parametrize(
    ("reps", "rpe", "word"), [(5, 6.5, "left"), (5, 1, "left"), (11, 9, "formulas"), (30, 10, "30")]
)
def test_sets_that_say_little_are_refused_with_the_reason(reps: int, rpe: float, word: str) -> None:
    found = one_rm(100, reps, rpe=rpe)
    assert isinstance(found, NotMeasured)
    assert word in found.reason
    assert found.remedy


def test_beyond_the_formulas_only_the_table_is_left_and_the_doubt_grows() -> None:
    one = got(100, 10, rpe=7)
    assert [m.id for m in one.methods] == ["rpe_table"]
    assert one.kg == pytest.approx(100 / 0.653)
    assert one.sd_kg > 1.5 * got(100, 10, rpe=10).sd_kg


@pytest.mark.parametrize("load", [0, -50, 5000, float("nan"), float("inf")])
def test_absurd_loads(load: float) -> None:
    with pytest.raises(StrengthError):
        one_rm(load, 3)


@pytest.mark.parametrize("more", [{"rpe": 11}, {"rpe": 0}, {"rir": -1}, {"rpe": float("nan")}])
def test_absurd_efforts(more: dict[str, float]) -> None:
    with pytest.raises(StrengthError):
        one_rm(100, 3, **more)
    with pytest.raises(StrengthError):
        one_rm(100, 0)


@given(st.floats(20, 300), st.floats(1.01, 1.9), st.integers(2, 9), st.sampled_from([7, 7.5, 8, 8.5, 9, 9.5, 10]))
def test_laws(load: float, factor: float, reps: int, rpe: float) -> None:
    """Twice the load, twice the maximum, so the unit does not matter; more repetitions, more."""
    one, heavier = got(load, reps, rpe=rpe), got(load * factor, reps, rpe=rpe)
    assert heavier.kg == pytest.approx(factor * one.kg)
    assert heavier.sd_kg == pytest.approx(factor * one.sd_kg)
    if reps + 1 + 10 - rpe <= 10:
        assert got(load, reps + 1, rpe=rpe).kg > one.kg
    assert one.kg >= load


def test_structure_of_the_table() -> None:
    """One more repetition at one point more effort is the same share (common practice)."""
    table = rpe_table()
    assert table.efforts == (10, 9.5, 9, 8.5, 8, 7.5, 7, 6.5)
    for reps in range(1, 10):
        for rpe in (9, 8.5, 8, 7.5, 7, 6.5):
            assert table.share(reps, rpe) == table.share(reps + 1, rpe + 1)
    assert table.share(1, 8) == 0.922  # a copy has 92.9
    assert table.share(1, 10) == 1
    assert table.share(5, 8.75) == pytest.approx((0.824 + 0.837) / 2)
    assert table.share(11, 9) is None
    assert table.share(5, 6) is None


def test_the_table_against_measured_maxima() -> None:
    """Larsen et al. 2022: 3RM 91.7 %, 6RM 84.5 %, 10RM 75.4 % of the 1RM."""
    table = rpe_table()
    for reps, percent in ((3, 91.7), (6, 84.5), (10, 75.4)):
        assert 100 * (table.share(reps, 10) or 0) == pytest.approx(percent, abs=2)


def test_a_coach_brings_another_table(tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text('[percent]\n"10" = [100, 90]\n"8" = [80, 70]\n')
    assert rpe_table(mine).share(2, 9) == pytest.approx(0.8)
    for text in ('[percent]\n"10" = [90, 100]\n"8" = [80, 70]\n', "[percent]\n", "x = 1", "no toml",
                 '[percent]\n"10" = [100, 90]\n"8" = [80]\n', '[percent]\n"ten" = [100]\n'):  # fmt: skip
        mine.write_text(text)
        with pytest.raises(StrengthError) as caught:
            rpe_table(mine)
        assert "\n" not in str(caught.value)
    with pytest.raises(StrengthError, match="no file"):
        rpe_table(tmp_path / "gone.toml")


def drawn(*loads: float, noise: tuple[float, ...] = ()) -> list[LoadedSet]:
    """Sets on the line 1.3 - 0.0075 load, which is 0.23 m/s at 142.67 kg."""
    extra = noise or (0.0,) * len(loads)
    return [LoadedSet(load, 1.3 - 0.0075 * load + e, 0.01) for load, e in zip(loads, extra, strict=True)]


def test_the_line_is_found_and_read_off() -> None:
    found = profile(drawn(60, 80, 100, 120), "squat")
    assert isinstance(found, Profile)
    assert found.at_zero_m_s.value == pytest.approx(1.3)
    assert found.per_kg_m_s.value == pytest.approx(-0.0075)
    assert found.one_rm.kg == pytest.approx(1.07 / 0.0075)
    assert not found.last_own
    own = profile(drawn(60, 80, 100, 120), "squat", last=Value(0.25, 0.01))
    assert isinstance(own, Profile)
    assert own.last_own
    assert own.one_rm.kg == pytest.approx(140)
    assert own.one_rm.sd_kg < found.one_rm.sd_kg


def test_its_doubt_is_what_a_thousand_days_give() -> None:
    """Monte Carlo with the same sds of measurement, day and last velocity."""
    random = np.random.default_rng(7)
    ends, told = [], []
    for _ in range(1000):
        noise = tuple(random.normal(0, np.hypot(0.01, 0.03), 5))
        last = Value(0.25 + random.normal(0, 0.02), 0.02)
        found = profile(drawn(60, 80, 100, 115, 125, noise=noise), "squat", last=last)
        if isinstance(found, Profile):
            ends.append((last.value - found.at_zero_m_s.value) / found.per_kg_m_s.value)
            told.append(found.one_rm.sd_kg)
    assert len(ends) > 990
    assert np.mean(told) == pytest.approx(stdev(ends), rel=0.25)
    assert np.mean(told) > 0.95 * stdev(ends)


@pytest.mark.parametrize(
    ("sets", "last_m_s", "word"),
    [
        (drawn(100, 120), 0.3, "different loads"),
        (drawn(100, 100, 100), 0.3, "different loads"),
        (drawn(110, 115, 120), 0.3, "too close"),
        (drawn(30, 45, 60), 0.3, "too far"),
        ([LoadedSet(w, 0.5) for w in (60, 90, 120)], 0.3, "clearly fall"),
        (drawn(60, 80, 100, 120), 0.6, "below a load"),
    ],
)
def test_lines_that_are_refused(sets: list[LoadedSet], last_m_s: float, word: str) -> None:
    found = profile(sets, "squat", last=Value(last_m_s, 0.01))
    assert isinstance(found, NotMeasured)
    assert word in found.reason
    assert found.remedy
