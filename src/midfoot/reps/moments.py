"""Moments of a rep by the rule of bands: crossings of a height, each with its sd and its reason."""

from __future__ import annotations

import numpy as np
from attrs import evolve

from midfoot.records.base import FloatArray
from midfoot.records.reps import Moment
from midfoot.reps.dips import run_below
from midfoot.reps.heights import GRID_S, Heights, low_pass
from midfoot.reps.rests import PLATEAU_S, Rest

BAND_MM = 10.0
"""The band of the rule."""
BAND_SDS = 2.5
"""The band widens to this many sds of what a held bar wanders by, so that noise alone does not leave it."""
SLOWEST_MM_S = 20.0
"""A crossing slower than this is given the uncertainty of this velocity at least as long as the band is thin."""
WELL_INSIDE = 0.5
"""Share of the band within which the bar is surely inside: noise at the edge then makes no second crossing."""
NOISY_MM = 2.5
"""Above this noise of a row the shape of a pause drowns in it (plates: 0.5-3 mm, hands: 15-30)."""
LEFT_OVER = 0.8
"""Share of a noisy row's error that is left in the smoothed height: errors are correlated over 0.15 s. What a
still bar is seen to wander by says less (0.6 of it: what is still is chosen by wandering little)."""
UNSEEN_S = 0.4
"""A moment inside a longer hole of the track is not given at all."""


def band_of(h: Heights) -> float:
    """Give the band's half height in mm for this track."""
    return max(BAND_MM, BAND_SDS * h.wander_mm)


def leaves_rest(h: Heights, rest: Rest, extreme: int, where: str) -> Moment | None:
    """Give when x leaves the band about the rest on its way to the extreme.

    That is the first crossing of the band's edge after x was last well inside it.
    """
    band = band_of(h)
    level = rest.height_mm - band
    part = h.x_mm[rest.first : extreme + 1]
    inside = np.flatnonzero(part >= rest.height_mm - WELL_INSIDE * band)
    if not len(inside):
        return None
    outside = np.flatnonzero(part[inside[-1] :] < level)
    if not len(outside):
        return None
    at = rest.first + int(inside[-1] + outside[0]) - 1
    return _crossing(h, at, level, band, rest.sd_mm, late=-1, why=_why("leaves", where, rest, band))


def enters_rest(h: Heights, rest: Rest, extreme: int, where: str, *, first_touch: bool) -> Moment | None:
    """Give when x comes into the band about the rest after the extreme.

    That is the last crossing of the band's edge before x is first well inside it, so that sticking just under
    the lockout does not count as being there. With `first_touch` (a bar set down: it may bounce) the first.
    """
    band = band_of(h)
    level = rest.height_mm - band
    part = h.x_mm[extreme : rest.past + 1]
    inside = np.flatnonzero(part >= (level if first_touch else rest.height_mm - WELL_INSIDE * band))
    if not len(inside):
        return None
    outside = np.flatnonzero(part[: inside[0]] < level)
    if not len(outside):
        return None
    at = extreme + int(outside[-1])
    return _crossing(h, at, level, band, rest.sd_mm, late=1, why=_why("enters", where, rest, band))


def highest_of(h: Heights, at: int) -> tuple[float, float]:
    """Give height and sd of the point that x turns down from, as of any extreme."""
    height, sd = extreme_of(evolve(h, x_mm=-h.x_mm, slow_mm=-h.slow_mm), at)
    return -height, sd


def extreme_of(h: Heights, at: int) -> tuple[float, float]:
    """Give the extreme's height and sd with the noise taken off: the least of many noisy values lies too low.

    Where x stays near its extreme it is smoothed as far as that does not round it off (1 mm), and what the least
    of several independent errors is expected to be is added back. What smoothing took off lies between nothing
    (the bar stands there) and what smoothing again takes off (it turns round): half of that is given back, with
    half of it as its error. In a track noisier than `NOISY_MM` a lingering extreme is a plateau, and its median
    serves.
    """
    if h.noise_mm > NOISY_MM:
        first, past = run_below(h.slow_mm, at, float(h.slow_mm[at]) + h.swing_mm)
        if (past - first) * GRID_S >= PLATEAU_S:
            fifth = (past - first) // 5
            return float(np.median(h.x_mm[first + fifth : past - fifth])), h.wander_mm
    inside = h.x_mm <= h.x_mm[at] + BAND_MM
    left = np.flatnonzero(~inside[: at + 1])
    right = np.flatnonzero(~inside[at:])
    first = int(left[-1]) + 1 if len(left) else 0
    past = at + int(right[0]) if len(right) else len(h)
    dwell = (past - first) * GRID_S
    sigma = float(np.clip(dwell / 6, h.sharp_s, 0.15))
    margin = round(5 * sigma / GRID_S)
    a, b = max(0, first - margin), min(len(h), past + margin)
    smooth = low_pass(h.x_mm[a:b], sigma)
    lowest = float(np.min(smooth[first - a : past - a]))
    rounded = float(np.min(low_pass(smooth, sigma)[first - a : past - a])) - lowest
    tries = dwell / 0.35
    left_over = h.wander_mm * 0.8
    noise = left_over * 0.7 * float(np.sqrt(2 * np.log(tries))) if tries > 1 else 0.0
    return lowest - 0.5 * rounded + noise, float(np.hypot(h.wander_mm, 0.5 * rounded))


def reaches_extreme(h: Heights, first: int, at: int, what: str) -> Moment | None:
    """Give when x comes within the band of its extreme, looking from `first` on."""
    band = band_of(h)
    extreme, sd = extreme_of(h, at)
    level = extreme + band
    part = h.x_mm[first : at + 1]
    inside = np.flatnonzero(part <= level)
    if not len(inside) or inside[0] == 0:
        return None
    why = f"comes within {band:.0f} mm of its {what}"
    return _crossing(h, first + int(inside[0]) - 1, level, band, sd, late=1, why=why, since=first)


def quits_extreme(h: Heights, at: int, last: int, what: str) -> Moment | None:
    """Give when x leaves the band of its extreme for good, looking up to `last`."""
    band = band_of(h)
    extreme, sd = extreme_of(h, at)
    level = extreme + band
    part = h.x_mm[at : last + 1]
    inside = np.flatnonzero(part <= level)
    if not len(inside) or inside[-1] == len(part) - 1:
        return None
    why = f"leaves the {band:.0f} mm about its {what}"
    return _crossing(h, at + int(inside[-1]), level, band, sd, late=-1, why=why, until=last)


def _crossing(
    h: Heights, i: int, level: float, band: float, level_sd: float, *, late: int, why: str,
    since: int | None = None, until: int | None = None,
) -> Moment | None:  # fmt: skip
    """Interpolate the crossing of `level` between grid points i and i + 1, and give its uncertainty.

    `late` says on which side a band wider than the rule's puts the moment: -1 a movement that starts (the wide
    band is left later), +1 one that ends (it is entered earlier). The shift back to the rule's band supposes
    constant acceleration from rest, which is half wrong at worst; half the shift goes into the sd. `since` and
    `until` are given where the crossing is the first (the last) of all from (up to) there: see `_half_width_s`.
    """
    j = min(i + 1, len(h) - 1)
    hole = max(h.gap_length_s(i), h.gap_length_s(j))
    if hole > UNSEEN_S:
        return None
    rise = h.x_mm[j] - h.x_mm[i]
    share = float(np.clip((level - h.x_mm[i]) / rise, 0, 1)) if rise else 0.0
    t = float(h.t_s[i]) + share * GRID_S
    a, b = max(0, i - 3), min(len(h) - 1, j + 3)
    speed = max(abs(float(h.x_mm[b] - h.x_mm[a])) / (h.t_s[b] - h.t_s[a]), SLOWEST_MM_S)
    shift = 2 * band / speed * (1 - np.sqrt(BAND_MM / band))
    shift = float(min(shift, 0.3))
    t += late * shift
    left_mm = LEFT_OVER * h.noise_mm if h.noise_mm > NOISY_MM else 0.0
    height_sd = float(np.hypot(max(h.wander_mm, left_mm), level_sd))
    wide = max(height_sd / speed, _half_width_s(h, i, level, height_sd, rising=rise > 0, since=since, until=until))
    parts = [wide, h.frame_s / np.sqrt(12), hole / np.sqrt(12), shift / 2, 0.25 * h.sharp_s]
    return Moment(t, float(np.sqrt(np.sum(np.square(parts)))), why)


def _half_width_s(
    h: Heights, i: int, level: float, height_sd: float, *, rising: bool, since: int | None, until: int | None
) -> float:
    """Give half the time that x takes from one sd short of a level to one sd past it, about grid point i.

    The speed at the crossing alone does not say it: where the bar comes to a stand near the level, or leaves
    one, x stays within its own error of it for as long as it stands. Of the first crossing since a grid point
    (the last until one) it may come short of the level by less than the error before (after), and that one be it.
    """
    x = (h.x_mm if rising else -h.x_mm) - (level if rising else -level)
    begin, stop = 0 if since is None else since, len(x) - 1 if until is None else until
    short = np.flatnonzero(x[begin : i + 1] <= -height_sd)
    first = float(begin)
    if len(short):
        k = begin + int(short[-1])
        if since is not None:
            # the first time that it came from one sd short, and not the last
            nearer = np.flatnonzero(x[begin : i + 2] > -height_sd)
            k = begin + int(nearer[0]) - 1
        first = _between(x, k, -height_sd) if k >= begin else float(begin)
    last = float(stop)
    past = np.flatnonzero(x[i + 1 : stop + 1] >= height_sd)
    if len(past):
        k = i + int(past[0])
        if until is not None:
            k = i + int(np.flatnonzero(x[i : stop + 1] < height_sd)[-1])
        last = _between(x, k, height_sd) if k < stop else float(stop)
    return 0.5 * max(last - first, 0.0) * GRID_S


def _between(x: FloatArray, k: int, value: float) -> float:
    """Give where between grid points k and k + 1, on either side of it, x takes a value."""
    return k + float((value - x[k]) / (x[k + 1] - x[k]))


def _why(verb: str, where: str, rest: Rest, band: float) -> str:
    how = {
        "held": f"the height at which it {'was' if verb == 'leaves' else 'is then'} held",
        "turned": "the height at which it turns round without a hold",
        "edge": "its height at the clip's edge",
    }[rest.kind]
    if rest.kind == "held" and where:
        how = where
    wide = "" if band <= BAND_MM else " (wider than 10 mm because the track is noisy)"
    return f"{verb} the {band:.0f} mm about {how}{wide}"
