"""Where the bar rests before and after an excursion: held still, or only turning round."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.reps.dips import Dip
from midfoot.reps.heights import GRID_S, Heights, Stretch

NEAR_REST = 0.8
"""Share of the fall (rise) above which the bar is looked for at rest."""
TURNED_MM = 20.0
"""If the bar rises this far above its last hold before it falls, it was not held but lifted off: the rack."""
OVERSHOOT_MM = 30.0
"""Swing of the plates at lockout stays below this (20-30 mm at 3-5 Hz under a heavy bar); more is a turn."""
AVERAGED_S = 1.0
"""The height of a hold is the median over the second next to the movement."""
STICKS_S, STICKS_MM, STICKS_SHARE = 1.5, 20.0, 0.06
"""A shorter stillness from which the bar rises further by this, and this share of the rep, within `STICKS_S` is
sticking, not rest; less is a breath."""
BACK_HOME_MM, TURNS_MM = 15.0, 5.0
"""As near as the first to the rest before, the bar is back; a sag of more than the second is a turn, not sway."""
EDGE_S = 0.1
"""As near as this to the clip's edge, what came before (after) cannot be seen."""
PLATEAU_MM, PLATEAU_S = 5.0, 0.6
"""Heights that stay this near the highest (or within the noise's swing of it) for this long are a hold."""
BRIEF_S, BREATH_MM = 0.35, 20.0
"""A big breath lifts the bar on the back or in the hands by 5-15 mm (common practice, no source)."""
WALKS_S = 2.5
"""Stillness that comes later than this after the bar has come up belongs to something else (walking back)."""


@frozen
class Rest:
    """The height at which the bar rests beside an excursion, and where on the grid.

    `kind` is `held`, `turned` (no hold between two movements: the local extreme stands for it) or `edge` (the
    clip's edge stands in for it).
    """

    height_mm: float
    sd_mm: float
    kind: str
    first: int
    past: int


def rest_before(h: Heights, dip: Dip, earliest: int) -> Rest | None:
    """Give the rest from which an excursion starts, None where the clip does not show it."""
    level = h.x_mm[dip.at] + NEAR_REST * dip.fall_mm
    last = _last_above(h, level, earliest, dip.at)
    holds = [s for s in h.still if s.first < last and s.past > earliest and _height(h, s, last) >= level]
    if h.sign < 0:
        top = float(np.max(h.slow_mm[max(earliest, last - _steps(3.0)) : last + 1]))
        near = [s for s in holds if _height(h, s, last) >= top - max(TURNED_MM, h.swing_mm)]
        holds = near or holds
    if len(holds) >= 2 and _only_breath(h, holds[-2], holds[-1]):
        holds = holds[:-1]
    if holds:
        hold = holds[-1]
        first, past = max(hold.first, earliest), min(hold.past, last + 1)
        height, sd = _averaged(h, max(first, past - _steps(AVERAGED_S)), past)
        turn = past + int(np.argmax(h.slow_mm[past : dip.at])) if past < dip.at else past
        if h.slow_mm[min(turn, len(h) - 1)] - height <= max(TURNED_MM, h.swing_mm):
            return Rest(height, sd, "held", first, past)
        return _turned(h, turn)
    turn = max(earliest, last - _steps(1.5))
    turn += int(np.argmax(h.slow_mm[turn : last + 1]))
    if turn <= _steps(EDGE_S):
        if abs(h.v_mm_s[: _steps(EDGE_S)]).min() > 2 * h.still_mm_s:
            return None
        return Rest(float(h.x_mm[turn]), 2 * h.wander_mm, "edge", turn, turn + 1)
    return _turned(h, turn)


def rest_after(h: Heights, dip: Dip, latest: int, before: Rest | None = None) -> Rest | None:
    """Give the rest to which an excursion returns, None where the clip ends before.

    `before` is the rest it started from: a bar that is back there has arrived, whatever rises later (the walk to
    the rack, a bar lifted onto its hooks).
    """
    home = before.height_mm - BACK_HOME_MM if before is not None and h.sign > 0 else np.inf
    level = h.x_mm[dip.at] + NEAR_REST * dip.rise_mm
    arrived = _first_above(h, level, dip.at, latest)
    leaves = _last_above(h, level, arrived, latest)
    for hold in h.still:
        if hold.past <= arrived or hold.first > leaves or hold.first > arrived + _steps(WALKS_S):
            continue
        first, past = max(hold.first, arrived), min(hold.past, latest + 1)
        height, sd = _averaged(h, first, min(past, first + _steps(AVERAGED_S)))
        higher = height + max(STICKS_MM, STICKS_SHARE * dip.rise_mm)
        if height < level or (height < home and _sticks(h, first, past, higher, latest)):
            continue
        turned = _first_turn(h, home, arrived, first)
        if turned < first and height > home + BACK_HOME_MM + TURNED_MM:
            return _turned(h, arrived + int(np.argmax(h.slow_mm[arrived : turned + 1])))
        approach = h.slow_mm[arrived : first + 1]
        if float(np.max(approach)) - height > max(OVERSHOOT_MM, h.swing_mm):
            return _turned(h, arrived + int(np.argmax(approach)))
        return Rest(height, sd, "held", first, past)
    stop = _first_turn(h, home, arrived, min(latest, leaves, arrived + _steps(WALKS_S)))
    turn = arrived + int(np.argmax(h.slow_mm[arrived : stop + 1]))
    if turn >= len(h) - _steps(EDGE_S):
        moves = abs(h.v_mm_s[-_steps(EDGE_S) :]).min() > 2 * h.still_mm_s
        # back where it was held before it has arrived, though the clip ends before it is seen to rest
        if moves and h.x_mm[turn] < home:
            return None
        sd = float(np.hypot(2 * h.wander_mm, BACK_HOME_MM if moves else 0.0))
        return Rest(float(h.x_mm[turn]), sd, "edge", turn, turn + 1)
    return _turned(h, turn)


def _first_turn(h: Heights, home: float, first: int, last: int) -> int:
    """Give where the bar, once back at `home`, has first turned down again by more than it sways; else `last`."""
    highest = np.maximum.accumulate(h.slow_mm[first : last + 1])
    turned = np.flatnonzero(
        (highest >= home) & (highest - h.slow_mm[first : last + 1] > max(TURNS_MM, h.swing_mm))
    )
    return first + int(turned[0]) if len(turned) else last


def _only_breath(h: Heights, long: Stretch, brief: Stretch) -> bool:
    """Say whether a brief stillness beside a long one is the turn of a breath: up by a little and back."""
    return bool(
        (brief.past - brief.first) * GRID_S < BRIEF_S
        and long.past - long.first > 1.2 * (brief.past - brief.first)
        and (brief.first - long.past) * GRID_S < 1.0
        and abs(_height(h, brief, brief.past) - _height(h, long, long.past)) < BREATH_MM
    )


def _steps(seconds: float) -> int:
    return round(seconds / GRID_S)


def _height(h: Heights, hold: Stretch, last: int) -> float:
    return float(np.median(h.x_mm[hold.first : max(min(hold.past, last + 1), hold.first + 1)]))


def _averaged(h: Heights, first: int, past: int) -> tuple[float, float]:
    """Give the height of a hold and its sd: of what it wanders by, and of what it still goes by meanwhile."""
    part = h.x_mm[first : max(past, first + 1)]
    independent = max(1.0, len(part) * GRID_S / 0.3)
    middle = (len(part) + 1) // 2
    goes = abs(float(np.median(part[:middle])) - float(np.median(part[-middle:])))
    return float(np.median(part)), float(np.hypot(h.wander_mm / np.sqrt(independent), 0.5 * goes))


def _turned(h: Heights, turn: int) -> Rest:
    """Let the extreme stand for a hold, unless the bar lingers there as far as the noise lets one tell."""
    near = h.slow_mm[turn] - max(h.swing_mm, PLATEAU_MM)
    below = np.flatnonzero(h.slow_mm < near)
    left, right = below[below < turn], below[below > turn]
    first = int(left[-1]) + 1 if len(left) else 0
    past = int(right[0]) if len(right) else len(h)
    if (past - first) * GRID_S > PLATEAU_S:
        height, sd = _averaged(h, first, past)
        return Rest(height, sd, "held", first, past)
    return Rest(float(h.x_mm[turn]), h.wander_mm, "turned", turn, turn + 1)


def _sticks(h: Heights, first: int, past: int, level: float, latest: int) -> bool:
    """Say whether the bar rises on from a short stillness instead of resting there."""
    if (past - first) * GRID_S >= STICKS_S:
        return False
    ahead = h.slow_mm[past : min(past + _steps(STICKS_S), latest) + 1]
    return bool(len(ahead) and float(np.max(ahead)) > max(level, float(h.slow_mm[past - 1]) + h.swing_mm))


def _last_above(h: Heights, level: float, first: int, past: int) -> int:
    above = np.flatnonzero(h.x_mm[first : past + 1] >= level)
    return first + int(above[-1]) if len(above) else first


def _first_above(h: Heights, level: float, first: int, past: int) -> int:
    above = np.flatnonzero(h.x_mm[first : past + 1] >= level)
    return first + int(above[0]) if len(above) else past
