"""How a path moves: does it go up and down as a bar does, and does it go with another path.

Lengths in radii of the path's own disc, so that near and far discs, large and small pictures are judged alike.
Rule for the next author: measured here, judged in `link`.
"""

from __future__ import annotations

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from midfoot.bar.joins import Path
from midfoot.bar.tracklets import Seen
from midfoot.records.base import FloatArray, float_field

STEP_S = 0.1
BRIDGE_S = 0.8
"""Gaps up to this long are crossed by a line when motion is looked at."""
TURN_S = 8.0
"""A bar that goes down (up) is back within this time, on the slowest bench."""

AWAY, LEAST_AWAY = 0.35, 3
"""Share of the swing from which a box is well away from where it began, and how many of these tell its score."""

ASTRAY_LOOKS = 5
"""Window of a running median, steps of `STEP_S`: a path may go astray for two looks, onto a plate stored there,
before it tells against its going together with another. A rep that one of two bars rests through lasts longer."""


@frozen(kw_only=True)
class Thing:
    """A path with what is known of it.

    `t_s` (n,), `xy_px` (n, 2) in the frame, `place_px` (n, 2) in the first frame's coordinates and `box_score`
    (n,) are its boxes. `grid_s` (g,), `up` (g,) radii upward and `right` (g,) radii to the right in the first
    frame's coordinates, NaN in long gaps; `radius_px` in the frame (of the larger rings), `unit_px` the same in
    the first frame's
    coordinates; `score` mean box score; `seen_share`
    share of the looks, over the path's own span, at which it was boxed. `swing` the largest up-and-down (radii),
    `turns` how many of at least half that; `one_way` the largest rise or fall without the way back; `on_screen`
    the same as `swing` with the camera's movement left in; `sideways` the largest width of a swing; `rough` the
    scatter about a smooth path, radii; `size_sd`, `aspect`, `aspect_sd` of the boxes; `moving_score` their mean
    score in the largest swing, well away from the height at its ends or near it, the lesser of both, and
    `on_the_way` how many of them are well away.
    """

    path: Path = field(eq=False)
    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, 2)
    grid_s: FloatArray = float_field(None)
    up: FloatArray = float_field(None)
    right: FloatArray = float_field(None)
    place_px: FloatArray = float_field(None, 2)
    box_score: FloatArray = float_field(None)
    radius_px: float
    unit_px: float
    score: float
    seen_share: float
    span_s: float
    swing: float
    swing_at_s: tuple[float, float, float]
    turns: int
    one_way: float
    on_screen: float
    sideways: float
    rough: float
    size_sd: float
    aspect: float
    aspect_sd: float
    moving_score: float
    on_the_way: int


def thing(path: Path, seen: Seen, lift: str) -> Thing:
    """Measure one path."""
    rows = path.rows
    t, steady, screen = seen.t_s[rows], seen.steady_px[rows], seen.xy_px[rows]
    radius = float(np.percentile(seen.radius_px[rows], 65))
    steady_radius = float(np.percentile(seen.steady_radius_px[rows], 65))
    grid = np.arange(t[0], t[-1] + 0.5 * STEP_S, STEP_S)
    place = _on_grid(grid, t, steady)
    up, right = -place[:, 1] / steady_radius, place[:, 0] / steady_radius
    up_screen = -_on_grid(grid, t, screen)[:, 1] / radius
    sign = 1.0 if lift == "deadlift" else -1.0
    swing, at, turns = swings(grid, sign * up)
    known = np.isfinite(up)
    high = sign * np.interp(t, grid[known], up[known])
    base = max(np.interp(at[0], t, high), np.interp(at[2], t, high))
    looks = (seen.looks_t_s >= t[0]) & (seen.looks_t_s <= t[-1])
    width = 0.0
    moving = (t >= at[0]) & (t <= at[2])
    away = moving & (high > base + AWAY * swing)
    # what is boxed surely where it stands, and hardly elsewhere, stands: something else was taken for it there
    parts = [seen.score[rows][part] for part in (away, moving & ~away) if part.sum() >= LEAST_AWAY]
    if swing > 0:
        part = right[(grid >= at[0]) & (grid <= at[2])]
        width = float(np.nanmax(part) - np.nanmin(part)) if np.isfinite(part).any() else 0.0
    return Thing(
        path=path, t_s=t, xy_px=screen, grid_s=grid, up=up, right=right, place_px=steady, radius_px=radius,
        unit_px=steady_radius, box_score=seen.score[rows],
        score=float(seen.score[rows].mean()),
        moving_score=min((float(part.mean()) for part in parts), default=float(seen.score[rows].mean())),
        seen_share=float(len(rows) / max(1, looks.sum())), span_s=float(t[-1] - t[0]), swing=swing,
        swing_at_s=at, turns=turns, one_way=_one_way(_cut(grid, up, seen)), on_screen=_one_way(up_screen),
        sideways=width, rough=_rough(t, steady / steady_radius),
        size_sd=float(np.std(np.log(seen.radius_px[rows]))), aspect=float(np.median(seen.aspect[rows])),
        aspect_sd=float(np.std(seen.aspect[rows])),
        on_the_way=int(away.sum()),
    )  # fmt: skip


def _on_grid(grid: FloatArray, t: FloatArray, place: FloatArray) -> FloatArray:
    out = np.stack([np.interp(grid, t, place[:, k]) for k in (0, 1)], axis=1)
    after = np.clip(np.searchsorted(t, grid), 0, len(t) - 1)
    before = np.clip(after - 1, 0, None)
    gap = (t[after] - t[before] > BRIDGE_S) & (grid < t[after] - 1e-6) & (grid > t[before] + 1e-6)
    for k in (0, 1):
        if len(grid) >= 3:
            out[:, k] = median_filter(out[:, k], 3, mode="nearest")
    out[gap] = np.nan
    return out


def swings(grid: FloatArray, high: FloatArray) -> tuple[float, tuple[float, float, float], int]:
    """Find the largest rise with its way back (`high` rises and falls): size, its three moments, how many.

    The size is the smaller of rise and fall, each within `TURN_S` of the peak.
    """
    n = round(TURN_S / STEP_S)
    best, at = 0.0, (float(grid[0]), float(grid[0]), float(grid[0]))
    size = np.zeros(len(grid))
    for i in np.flatnonzero(np.isfinite(high)):
        back, ahead = high[max(0, i - n) : i + 1], high[i : i + n + 1]
        if not (np.isfinite(back).any() and np.isfinite(ahead).any()):
            continue
        a, b = int(np.nanargmin(back[::-1])), int(np.nanargmin(ahead))
        size[i] = high[i] - max(back[::-1][a], ahead[b])
        if size[i] > best:
            best, at = float(size[i]), (float(grid[i - a]), float(grid[i]), float(grid[i + b]))
    return best, at, _count(high, 0.5 * best) if best > 0 else 0


def _count(high: FloatArray, least: float) -> int:
    """Count peaks that stand out by `least` on both sides."""
    count, low, top, rising = 0, np.inf, -np.inf, False
    for h in high[np.isfinite(high)]:
        if not rising:
            low = min(low, h)
            if h - low >= least:
                rising, top = True, h
        else:
            top = max(top, h)
            if top - h >= least:
                count, rising, low = count + 1, False, h
    return count


def _cut(grid: FloatArray, up: FloatArray, seen: Seen) -> FloatArray:
    """Take out what lies where the camera's movement was not told: the two sides are not comparable."""
    out = up.copy()
    for lost in seen.looks_t_s[seen.shaken]:
        out[np.abs(grid - lost) <= 0.6 * STEP_S] = np.nan
    return out


def _one_way(up: FloatArray) -> float:
    """Largest difference in height within `TURN_S` and without a gap."""
    n = round(TURN_S / STEP_S)
    known = np.isfinite(up)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int)))
    best = 0.0
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        for i in range(start, end, max(1, n // 2)):
            part = up[i : min(i + n, end)]
            best = max(best, float(part.max() - part.min()))
    return best


def _rough(t: FloatArray, place: FloatArray) -> float:
    """Scatter of each place about the line through its neighbours, radii (robust)."""
    if len(t) < 5:
        return 1.0
    share = ((t[1:-1] - t[:-2]) / (t[2:] - t[:-2]))[:, None]
    miss = place[1:-1] - ((1 - share) * place[:-2] + share * place[2:])
    near = t[2:] - t[:-2] < 0.5
    if near.sum() < 3:
        return 1.0
    size = np.hypot(*miss[near].T)
    return float(np.percentile(size, 70))


def common(a: Thing, b: Thing) -> tuple[NDArray[np.bool_], NDArray[np.float64], NDArray[np.float64]]:
    """Give both heights, px upward, on `a`'s grid and where both are known."""
    up_a = a.up * a.unit_px
    up_b = np.interp(a.grid_s, b.grid_s, b.up * b.unit_px)
    known = np.isfinite(up_a) & np.isfinite(up_b) & (a.grid_s >= b.grid_s[0]) & (a.grid_s <= b.grid_s[-1])
    return known, up_a, up_b


@frozen
class Together:
    """How two paths go together: `correlation` of their vertical speeds, `ratio` of their vertical ways (b to a),
    `apart` median distance in radii of the larger, `apart_sd`, `shared_s` the time both were seen."""

    correlation: float
    ratio: float
    apart: float
    apart_sd: float
    shared_s: float


def together(a: Thing, b: Thing) -> Together:
    """Compare two paths."""
    known, up_a, up_b = common(a, b)
    shared = float(known.sum()) * STEP_S
    if known.sum() < 8:
        return Together(0.0, 0.0, np.inf, np.inf, shared)
    ha, hb = up_a[known] - up_a[known].mean(), up_b[known] - up_b[known].mean()
    ratio = float(np.sqrt((hb @ hb) / (ha @ ha))) if ha @ ha > 0 else 0.0
    up_b = up_b.copy()
    up_b[known] = ratio * up_a[known] + median_filter((up_b - ratio * up_a)[known], ASTRAY_LOOKS, mode="nearest")
    va, vb = _speed(up_a, known), _speed(up_b, known)
    spread = float(np.sqrt((va @ va) * (vb @ vb)))
    corr = float(va @ vb) / spread if spread > 0 else 0.0
    unit = max(a.radius_px, b.radius_px)
    xa = np.stack([np.interp(a.grid_s[known], a.t_s, a.xy_px[:, k]) for k in (0, 1)], axis=1)
    xb = np.stack([np.interp(a.grid_s[known], b.t_s, b.xy_px[:, k]) for k in (0, 1)], axis=1)
    apart = np.hypot(*(xa - xb).T) / unit
    return Together(corr, ratio, float(np.median(apart)), float(np.std(apart)), shared)


def _speed(up: FloatArray, known: NDArray[np.bool_]) -> FloatArray:
    """Vertical steps between neighbouring known grid points, smoothed over three, without their mean."""
    filled = np.interp(np.arange(len(up)), np.flatnonzero(known), up[known])
    smooth = np.convolve(np.pad(filled, 2, mode="edge"), [0.1, 0.2, 0.4, 0.2, 0.1], mode="valid")
    step = np.diff(smooth)
    return np.asarray(step[known[1:] & known[:-1]], float)
