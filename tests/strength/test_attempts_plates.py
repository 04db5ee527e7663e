"""Attempts, plates and weeks: what is planned, what is not, what can be loaded."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product
from pathlib import Path

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from midfoot.records.base import NotMeasured
from midfoot.records.strength import Loaded, OneRm, Plan
from midfoot.strength import PlateSet, StrengthError, attempts, loaded, plate_set, plate_sets, weeks_to
from midfoot.units import KG_PER_LB, UnitError, body_mass_kg, load_words, mass_kg, unit_of


def estimate(kg: float, sd: float = 0.0) -> OneRm:
    return OneRm(kg, sd, kg, kg, float("nan"), (), "")


def test_attempts_by_hand() -> None:
    """200 kg, sd 4: opener 176 / 182 / 186 rounded down; second at most 196; third 196 / 200 / 204."""
    plan = attempts(estimate(200, 4))
    assert isinstance(plan, Plan)
    assert [(a.low_kg, a.target_kg, a.high_kg) for a in plan.attempts] == [
        (175.0, 180.0, 185.0), (187.5, 190.0, 195.0), (195.0, 200.0, 202.5),
    ]  # fmt: skip


def test_light_attempts_still_rise_by_a_step() -> None:
    """30 kg, sd 1: the second's high (29 kg, rounded 27.5) goes up to a step over the opener's."""
    plan = attempts(estimate(30, 1))
    assert isinstance(plan, Plan)
    assert [(a.low_kg, a.target_kg, a.high_kg) for a in plan.attempts] == [
        (25.0, 25.0, 27.5), (27.5, 27.5, 30.0), (30.0, 30.0, 32.5),
    ]  # fmt: skip


def test_an_unsure_estimate_opens_lighter() -> None:
    sure, unsure = attempts(estimate(200, 2)), attempts(estimate(200, 15))
    assert isinstance(sure, Plan)
    assert isinstance(unsure, Plan)
    assert unsure.attempts[0].target_kg == 170
    assert sure.attempts[0].target_kg == 180


@given(st.floats(60, 400), st.floats(0, 0.1))
def test_laws_of_attempts(kg: float, share: float) -> None:
    """Steps of 2.5 kg, rising, low to high; the opener at least two sds below the estimate."""
    plan = attempts(estimate(kg, share * kg))
    assert isinstance(plan, Plan)
    for one in plan.attempts:
        assert one.low_kg <= one.target_kg <= one.high_kg
        assert all(v % 2.5 == 0 for v in (one.low_kg, one.target_kg, one.high_kg))
    for before, after in zip(plan.attempts, plan.attempts[1:], strict=False):
        assert after.low_kg >= before.low_kg + 2.5
        assert after.target_kg >= before.target_kg + 2.5
        assert after.high_kg >= before.high_kg + 2.5
    assert plan.attempts[0].high_kg <= kg - 2 * share * kg + 1e-6
    assert plan.attempts[2].target_kg <= kg + 2.5


def test_none_are_planned_with_pain_or_for_a_minor() -> None:
    hurts = attempts(estimate(200), pain="left knee")
    young = attempts(estimate(200), age_years=17.9)
    assert isinstance(hurts, NotMeasured)
    assert isinstance(young, NotMeasured)
    assert "left knee" in hurts.reason
    assert "clinician" in hurts.remedy
    assert "guardian" in young.remedy
    assert isinstance(attempts(estimate(200), pain=" None ", age_years=18), Plan)


def test_none_are_planned_from_nothing() -> None:
    assert isinstance(attempts(estimate(200, 21)), NotMeasured)
    assert isinstance(attempts(estimate(26)), NotMeasured)


def words(found: Loaded, kind: str) -> str:
    way = getattr(found, kind)
    return " ".join(f"{n}x{size}" for size, n in way.side)


def test_loading_by_hand() -> None:
    """Bar 20 and collars 5: 142.5 leaves 58.75 a side; 315 lb is three 45s a side; heaviest inside."""
    assert words(loaded(142.5, plate_set("competition")), "exact") == "2x25 kg 1x5 kg 1x2.5 kg 1x1.25 kg"
    assert words(loaded(315 * KG_PER_LB, plate_set("pounds")), "exact") == "3x45 lb"
    assert words(loaded(142, plate_set("records")), "exact") == "2x25 kg 1x5 kg 1x2.5 kg 1x1 kg"
    empty = loaded(25, plate_set("competition"))
    assert empty.exact is not None
    assert empty.exact.side == ()


def test_what_cannot_be_loaded() -> None:
    between = loaded(141, plate_set("competition"))
    assert between.exact is None
    assert between.below is not None
    assert between.above is not None
    assert (between.below.kg, between.above.kg) == pytest.approx((140, 142.5))
    light = loaded(20, plate_set("competition"))
    assert light.below is None
    assert light.above is not None
    assert light.above.kg == pytest.approx(25)
    assert "25 kg" in light.reason
    heavy = loaded(600, plate_set("gym"))
    assert heavy.above is None
    assert heavy.below is not None
    assert heavy.below.kg == pytest.approx(20 + 2 * (6 * 20 + 15 + 20 + 10 + 5 + 1.25))
    assert "whole set" in heavy.reason


SIZES = st.lists(st.tuples(st.sampled_from([25.0, 20.0, 10.0, 7.0, 5.0, 2.5, 1.25]), st.integers(0, 3)),
                 min_size=1, max_size=4, unique_by=lambda r: r[0])  # fmt: skip


@given(SIZES, st.floats(10, 200))
def test_loading_against_every_way_there_is(sizes: list[tuple[float, int]], kg: float) -> None:
    """By brute force: the nearest below and above, and no exact way with fewer plates."""
    rows = tuple(sorted(((f"{w:g} kg", w, n) for w, n in sizes), key=lambda r: -r[1]))
    mine = PlateSet("made", "20 kg", 20.0, "0 kg", 0.0, rows)
    asked = round(kg * 4) / 4
    every: dict[float, int] = {}
    for counts in product(*(range(n + 1) for _, _, n in rows)):
        total = 20 + 2 * sum(c * w for c, (_, w, _) in zip(counts, rows, strict=True))
        every[total] = min(every.get(total, 99), sum(counts))

    found = loaded(asked, mine)

    for way in (found.exact, found.below, found.above):
        if way is not None:
            assert way.kg == pytest.approx(20 + 2 * sum(n * float(size.split()[0]) for size, n in way.side))
            assert sum(n for _, n in way.side) == every[round(way.kg, 6)]
    assert (found.exact is not None) == (asked in every)
    if found.exact is None:
        below = max((t for t in every if t < asked), default=None)
        above = min((t for t in every if t > asked), default=None)
        assert (None if found.below is None else round(found.below.kg, 6)) == below
        assert (None if found.above is None else round(found.above.kg, 6)) == above


@given(st.integers(9, 280))
def test_pounds_are_exact(fives: int) -> None:
    """Every multiple of 5 lb from the bar on can be loaded exactly, told in either unit."""
    found = loaded(5 * fives * KG_PER_LB, plate_set("pounds"))
    assert found.exact is not None or 5 * fives > 45 + 2 * (8 * 45 + 35 + 25 + 20 + 5 + 2.5)


def test_own_sets(tmp_path: Path) -> None:
    assert plate_sets() == ("competition", "records", "gym", "pounds")
    mine = tmp_path / "garage.toml"
    mine.write_text('bar = "15 kg"\ncollars = "1 kg"\n[pairs]\n"10 kg" = 2\n"45 lb" = 1\n')
    garage = plate_set(str(mine))
    assert (garage.name, garage.bar_kg, garage.collar_kg) == ("garage", 15, 1)
    assert garage.pairs[0][0] == "45 lb"
    assert loaded(57, garage).exact is not None
    assert evolve(garage, bar_kg=20.0).bar_kg == 20
    for text in ("", "[pairs]\n", '[pairs]\n"10 kg" = 1.5\n', '[pairs]\n"10 kg" = -1\n', '[pairs]\n"heavy" = 1\n',
                 '[pairs]\n"10 kg" = 900\n', 'bar = "0 kg"\n[pairs]\n"10 kg" = 1\n', "no toml"):  # fmt: skip
        mine.write_text(text)
        with pytest.raises((StrengthError, UnitError)) as caught:
            plate_set(str(mine))
        assert "\n" not in str(caught.value)
    with pytest.raises(StrengthError, match="competition"):
        plate_set("bumper")


def test_weeks() -> None:
    today = date(2026, 11, 27)
    assert weeks_to(date(2027, 3, 13), today).weeks == pytest.approx(106 / 7)
    assert "rules first" in weeks_to(today + timedelta(28), today).words
    assert "one change" in weeks_to(today + timedelta(29), today).words
    assert "settle" in weeks_to(today + timedelta(71), today).words
    assert weeks_to(today, today).days == 0
    for day in (today - timedelta(1), date(2099, 1, 1)):
        with pytest.raises(StrengthError):
            weeks_to(day, today)


def test_units() -> None:
    assert mass_kg("183lb", low_kg=20, high_kg=300, what="a body mass") == pytest.approx(183 * KG_PER_LB)
    with pytest.raises(UnitError, match="A body mass of 0"):
        mass_kg("0", low_kg=20, high_kg=300, what="a body mass")
    assert [unit_of(t) for t in ("100", "100kg", "225 lbs", "junk!")] == ["kg", "kg", "lb", "kg"]
    assert load_words(142.5) == "142.5 kg"
    assert load_words(225 * KG_PER_LB, "lb") == "225 lb"
    assert (body_mass_kg("83"), body_mass_kg("100lb")) == (83, pytest.approx(45.359237))
    for absurd in ("0", "-5kg", "351kg", "heavy"):
        with pytest.raises(UnitError, match="83kg or 183lb"):
            body_mass_kg(absurd)
