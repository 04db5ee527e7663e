"""The paths of all reps on a millimetre grid, each on its own vertical: laid out once, painted twice.

`lay_out` turns the set into cells in millimetres; `svg` writes them for a page, `paint` draws them beside the
video up to a moment. Forward is to the right in every cell, whichever way the lifter faced the camera.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import frozen

from midfoot.publish import look
from midfoot.publish.moments import at, end_of, reference_of, start_of
from midfoot.records.base import FloatArray
from midfoot.records.measures import SetData

FINE_MM, STRONG_MM = 10.0, 50.0
MARGIN_MM = 14.0
MOST_IN_A_ROW = 6
SVG_GAP_PX, SVG_HEAD_PX = 12.0, 20.0
NAME_PX = 78.0
"""Width of "rep 2, best" in 13 px type."""


@frozen
class Cell:
    """One rep: moments, forward of its own vertical and height above its low point (or the floor), seen or not."""

    n: int
    completed: bool
    best: bool
    t_s: FloatArray
    forward_mm: FloatArray
    up_mm: FloatArray
    rising: np.ndarray
    seen: np.ndarray


@frozen
class Layout:
    """Cells with the extent they share, in millimetres; `columns` by `rows`."""

    cells: tuple[Cell, ...]
    low_mm: float
    high_mm: float
    back_mm: float
    front_mm: float
    columns: int

    @property
    def rows(self) -> int:
        """Number of rows of cells."""
        return max(1, math.ceil(len(self.cells) / self.columns))

    @property
    def cell_size_mm(self) -> tuple[float, float]:
        """Width and height of a cell."""
        return self.front_mm - self.back_mm, self.high_mm - self.low_mm


def lay_out(data: SetData, best_rep: int | None = None) -> Layout | None:
    """Cut the path into reps, each about its own vertical; None where there is no path or no rep."""
    path = data.path
    if path is None or not data.reps.reps:
        return None
    cells = []
    for rep in data.reps.reps:
        reference = reference_of(rep)
        if reference is None:
            continue
        start, end = start_of(rep, data), end_of(rep, data)
        inside = (path.t_s >= start) & (path.t_s <= end) & np.isfinite(path.up_mm)
        zero = at(path.forward_mm, path.t_s, reference.t_s, 0.3)
        base = at(path.up_mm, path.t_s, reference.t_s, 0.3)
        if inside.sum() < 3 or not np.isfinite(zero) or not np.isfinite(base):
            continue
        t_s = path.t_s[inside]
        rise = rep.ascent_s or (start, end)
        cells.append(
            Cell(
                rep.n,
                rep.outcome == "completed",
                rep.n == best_rep,
                t_s,
                path.forward_mm[inside] - zero,
                path.up_mm[inside] - base,
                (t_s >= rise[0]) & (t_s <= rise[1]),
                path.seen[inside],
            )
        )
    if not cells:
        return None
    forward = np.concatenate([c.forward_mm for c in cells])
    up = np.concatenate([c.up_mm for c in cells])
    reach = max(40.0, float(np.quantile(np.abs(forward), 0.999)) + MARGIN_MM)
    back = -max(30.0, -float(forward.min()) + MARGIN_MM)
    front = max(30.0, float(forward.max()) + MARGIN_MM)
    if front - back > 2.6 * reach:
        back, front = -reach, reach
    low, high = float(np.quantile(up, 0.001)) - MARGIN_MM, float(np.quantile(up, 0.999)) + MARGIN_MM
    columns = len(cells) if len(cells) <= MOST_IN_A_ROW else math.ceil(len(cells) / math.ceil(len(cells) / 6))
    return Layout(tuple(cells), _down(low), _up(high), _down(back), _up(front), columns)


def _down(mm: float) -> float:
    return math.floor(mm / FINE_MM) * FINE_MM


def _up(mm: float) -> float:
    return math.ceil(mm / FINE_MM) * FINE_MM


def svg(layout: Layout, *, px_per_mm: float = 0.85) -> str:
    """Write the grid as an SVG element for a page."""
    width, height = layout.cell_size_mm
    gap, head = SVG_GAP_PX / px_per_mm, SVG_HEAD_PX / px_per_mm
    total_w = layout.columns * (width + gap) - gap
    total_h = layout.rows * (height + gap + head) - gap
    out = [
        f'<svg viewBox="0 0 {total_w:.1f} {total_h:.1f}" width="{total_w * px_per_mm:.0f}" role="img" '
        'aria-label="Bar path of every rep, forward to the right, each on its own vertical">'
    ]
    for k, cell in enumerate(layout.cells):
        out += _cell_svg(layout, cell, *_corner(layout, k, px_per_mm), px_per_mm)
    out.append("</svg>")
    return "".join(out)


def places(layout: Layout, px_per_mm: float = 0.85) -> dict[str, object]:
    """Give where a point lies in the SVG, in its own units (mm), so that one can follow the playhead.

    A rep's point is at `x` + forward - `back_mm`, `y` + `high_mm` - up of its cell, both about its own vertical.
    """
    cells = []
    for k, cell in enumerate(layout.cells):
        x, y = _corner(layout, k, px_per_mm)
        cells.append({"n": cell.n, "x": round(x, 2), "y": round(y, 2)})
    width, height = layout.cell_size_mm
    return {"cells": cells, "back_mm": layout.back_mm, "high_mm": layout.high_mm, "cell_mm": [width, height]}


def _corner(layout: Layout, k: int, px_per_mm: float) -> tuple[float, float]:
    """Give the upper left corner of the k-th cell in the SVG's units."""
    width, height = layout.cell_size_mm
    gap, head = SVG_GAP_PX / px_per_mm, SVG_HEAD_PX / px_per_mm
    return (k % layout.columns) * (width + gap), (k // layout.columns) * (height + gap + head) + head


def _cell_svg(layout: Layout, cell: Cell, x0: float, y0: float, px_per_mm: float) -> list[str]:
    width, height = layout.cell_size_mm
    one = 1 / px_per_mm
    out = [
        f'<g transform="translate({x0:.1f} {y0:.1f})">',
        f'<text x="0" y="{-5 * one:.1f}" font-size="{13 * one:.1f}" class="grid-name">'
        f"{_name(cell, width * px_per_mm)}</text>",
    ]
    for mm in np.arange(layout.back_mm, layout.front_mm + 1, FINE_MM):
        kind = "own" if mm == 0 else "strong" if mm % STRONG_MM == 0 else "fine"
        x = mm - layout.back_mm
        out.append(f'<path class="grid-{kind}" d="M{x:.1f} 0V{height:.1f}"/>')
    for mm in np.arange(layout.low_mm, layout.high_mm + 1, FINE_MM):
        kind = "strong" if mm % STRONG_MM == 0 else "fine"
        y = layout.high_mm - mm
        out.append(f'<path class="grid-{kind}" d="M0 {y:.1f}H{width:.1f}"/>')
    for rising, name in ((False, "down"), (True, "up")):
        for run in _runs(cell.rising == rising):
            points = " ".join(
                f"{cell.forward_mm[i] - layout.back_mm:.1f},{layout.high_mm - cell.up_mm[i]:.1f}" for i in run
            )
            out.append(f'<polyline class="path-{name}" points="{points}"/>')
    out.append("</g>")
    return out


def _name(cell: Cell, width_px: float) -> str:
    """Name a cell so that it does not run into the next one."""
    if not cell.best:
        return f"rep {cell.n}"
    return f"rep {cell.n}, best" if width_px + SVG_GAP_PX > NAME_PX else f"{cell.n}, best"


def _runs(mask: np.ndarray) -> list[range]:
    """Give stretches of true, each taking the next sample along so that stretches join."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return [range(a, min(b + 1, len(mask))) for a, b in zip(edges[::2], edges[1::2], strict=True)]


EDGE_PX, GAP_PX, HEAD_PX = 16, 12, 24


def fitting_width_px(layout: Layout, height_px: int) -> float:
    """Give the panel width at which the grid fills a panel of `height_px`."""
    width, height = layout.cell_size_mm
    scale = (height_px - 2 * EDGE_PX - (HEAD_PX + GAP_PX) * layout.rows) / (layout.rows * height)
    return 2 * EDGE_PX + GAP_PX * (layout.columns - 1) + layout.columns * width * scale


def paint(layout: Layout, size_px: tuple[int, int], until_s: float | None = None) -> look.Picture:
    """Draw the grid as a panel of `size_px` (width, height), paths up to `until_s` only."""
    panel = np.empty((size_px[1], size_px[0], 3), np.uint8)
    panel[:] = look.PAPER
    width, height = layout.cell_size_mm
    gap, head, edge = GAP_PX, HEAD_PX, EDGE_PX
    scale = min(
        (size_px[0] - 2 * edge - gap * (layout.columns - 1)) / (layout.columns * width),
        (size_px[1] - 2 * edge - (head + gap) * layout.rows) / (layout.rows * height),
    )
    for k, cell in enumerate(layout.cells):
        x0 = edge + (k % layout.columns) * (width * scale + gap)
        y0 = edge + head + (k // layout.columns) * (height * scale + gap + head)
        _paint_cell(panel, layout, cell, (x0, y0), scale, until_s)
    return panel


def _paint_cell(
    panel: look.Picture,
    layout: Layout,
    cell: Cell,
    corner: tuple[float, float],
    scale: float,
    until_s: float | None,
) -> None:
    x0, y0 = corner
    width, height = layout.cell_size_mm
    fine = FINE_MM * scale >= 4
    for mm in np.arange(layout.back_mm, layout.front_mm + 1, FINE_MM):
        strong = mm % STRONG_MM == 0
        if strong or fine:
            x = x0 + (mm - layout.back_mm) * scale
            look.line(panel, (x, y0), (x, y0 + height * scale), look.GRID_STRONG if strong else look.GRID)
    for mm in np.arange(layout.low_mm, layout.high_mm + 1, FINE_MM):
        strong = mm % STRONG_MM == 0
        if strong or fine:
            y = y0 + (layout.high_mm - mm) * scale
            look.line(panel, (x0, y), (x0 + width * scale, y), look.GRID_STRONG if strong else look.GRID)
    own = x0 - layout.back_mm * scale
    look.line(panel, (own, y0), (own, y0 + height * scale), look.SOFT)
    reached = until_s is None or until_s >= cell.t_s[0]
    ink, weight = (look.INK, 500) if reached else (look.SOFT, 400)
    look.text(panel, f"rep {cell.n}", (x0, y0 - 7), 14, ink, weight)
    xs = x0 + (cell.forward_mm - layout.back_mm) * scale
    ys = y0 + (layout.high_mm - cell.up_mm) * scale
    for i in range(1, len(xs)):
        if until_s is not None and cell.t_s[i] > until_s:
            break
        if not cell.seen[i] and i % 4 > 1:
            continue  # bridged stretches are broken lines
        colour = look.BAR if cell.rising[i] else look.SOFT
        look.line(panel, (xs[i - 1], ys[i - 1]), (xs[i], ys[i]), colour, width=2 if cell.rising[i] else 1)
