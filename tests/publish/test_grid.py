"""Paths of all reps on a millimetre grid, each on its own vertical."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from sets import made_set

from midfoot.publish import grid, look


def test_each_rep_stands_on_its_own_vertical() -> None:
    """At the low point a rep is at 0 forward and 0 up, whatever the set's own origin."""
    data = made_set()
    layout = grid.lay_out(data)
    assert layout is not None

    for cell in layout.cells:
        low = int(np.argmin(cell.up_mm))
        assert cell.up_mm[low] == pytest.approx(0.0, abs=12.0)
        assert cell.forward_mm[low] == pytest.approx(0.0, abs=3.0)
        assert cell.up_mm.max() == pytest.approx(500.0, abs=25.0)


def test_moving_the_origin_moves_nothing() -> None:
    """The grid shows departures, so a shifted path gives the same cells."""
    data = made_set()
    assert data.path is not None
    shifted = evolve(data, path=data.path.moved(123.0, -45.0))

    one, other = grid.lay_out(data), grid.lay_out(shifted)

    assert one is not None
    assert other is not None
    assert one.back_mm == other.back_mm
    for a, b in zip(one.cells, other.cells, strict=True):
        assert a.forward_mm == pytest.approx(b.forward_mm)
        assert a.up_mm == pytest.approx(b.up_mm)


def test_grid_lines_are_ten_and_fifty_millimetres() -> None:
    """The cell's edges lie on whole centimetres; every fifth line is strong."""
    layout = grid.lay_out(made_set())
    assert layout is not None
    page = grid.svg(layout)

    width, height = layout.cell_size_mm
    assert layout.low_mm % 10 == layout.high_mm % 10 == layout.back_mm % 10 == layout.front_mm % 10 == 0
    lines = len(layout.cells) * (round(width / 10) + 1 + round(height / 10) + 1)
    assert page.count('class="grid-') - page.count('class="grid-name') == lines
    assert page.count('class="grid-own"') == len(layout.cells)


def test_nothing_to_lay_out() -> None:
    """Without a path there is no grid."""
    assert grid.lay_out(made_set(seen=False)) is None


def test_panel_shows_only_what_has_happened() -> None:
    """Before the first rep no path is drawn; at the end both are."""
    layout = grid.lay_out(made_set())
    assert layout is not None

    before = grid.paint(layout, (300, 480), until_s=0.5)
    after = grid.paint(layout, (300, 480))

    def blue(panel: look.Picture) -> int:
        return int((np.abs(panel.astype(int) - look.BAR).sum(axis=2) < 60).sum())

    assert blue(before) == 0
    assert blue(after) > 200
