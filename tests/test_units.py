"""Loads and lengths as people write them; pint is not needed: the factors are exact by definition."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midfoot.units import KG_PER_LB, UnitError, length_mm, load_kg, on_the_bar


@pytest.mark.parametrize(
    ("text", "kg"),
    [
        ("140kg", 140.0),
        ("142,5 kg", 142.5),
        ("60", 60.0),
        ("225lb", 102.05828325),  # 225 x 0.45359237, the pound of the 1959 agreement
        ("315 lbs", 142.88159655),
    ],
)
def test_loads(text: str, kg: float) -> None:
    """Kilograms and pounds."""
    assert load_kg(text) == pytest.approx(kg, rel=1e-12)


@given(st.floats(3, 1000))
def test_pounds_and_kilograms_agree(pounds: float) -> None:
    """The same load in either unit is the same load."""
    assert load_kg(f"{pounds:.6f}lb") == pytest.approx(load_kg(f"{pounds * KG_PER_LB:.9f}kg"), rel=1e-6)


@pytest.mark.parametrize("text", ["", "heavy", "140 stone", "-20kg", "0", "10000kg", "1e3kg", "nan"])
def test_no_load(text: str) -> None:
    """What is no load is refused in one line."""
    with pytest.raises(UnitError) as caught:
        load_kg(text)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("text", "mm"), [("450mm", 450), ("45 cm", 450), ("17.7in", 449.58), ("0.45m", 450)])
def test_lengths(text: str, mm: float) -> None:
    """Millimetres, centimetres, metres and inches."""
    assert length_mm(text, low_mm=100, high_mm=600, what="a plate diameter") == pytest.approx(mm)


@pytest.mark.parametrize("text", ["4500mm", "wide", "45"])
def test_no_length(text: str) -> None:
    """Outside what plates are, or no length at all."""
    with pytest.raises(UnitError):
        length_mm(text, low_mm=100, high_mm=600, what="a plate diameter")


@pytest.mark.parametrize(
    ("kg", "unit", "down", "number"),
    [
        (101.9, "kg", True, 100.0),
        (101.9, "kg", False, 102.5),
        (102.06, "lb", True, 225.0),
        (5.2, "lb", False, 15.0),
    ],
)
def test_loads_are_rounded_to_what_can_be_put_on_a_bar(kg: float, unit: str, down: bool, number: float) -> None:
    """Outside check: 225 lb are 102.058 kg by the international pound (1959); steps by common practice."""
    assert on_the_bar(kg, unit, down=down) == number
