"""Moments of a rep by the rule of bands: crossings of a height, each with its sd and its reason."""

from __future__ import annotations

import numpy as np

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


def extreme_of(h: Heights, at: int) -> float:
    """Give the extreme's height with the noise taken off: the least of many noisy values lies too low.

    Where x stays near its extreme it is smoothed as far as that does not round it off (1 mm), and what the least
    of several independent errors is expected to be is added back. In a track noisier than `NOISY_MM` a lingering
    extreme is a plateau, and its median serves.
    """
    if h.noise_mm > NOISY_MM:
        first, past = run_below(h.slow_mm, at, float(h.slow_mm[at]) + h.swing_mm)
        if (past - first) * GRID_S >= PLATEAU_S:
            fifth = (past - first) // 5
            return float(np.median(h.x_mm[first + fifth : past - fifth]))
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
    tries = dwell / 0.35
    left_over = h.wander_mm * 0.8
    return lowest + (left_over * 0.7 * float(np.sqrt(2 * np.log(tries))) if tries > 1 else 0.0)


def reaches_extreme(h: Heights, first: int, at: int, what: str) -> Moment | None:
    """Give when x comes within the band of its extreme, looking from `first` on."""
    band = band_of(h)
    extreme = extreme_of(h, at)
    level = extreme + band
    part = h.x_mm[first : at + 1]
    inside = np.flatnonzero(part <= level)
    if not len(inside) or inside[0] == 0:
        return None
    why = f"comes within {band:.0f} mm of its {what}"
    return _crossing(h, first + int(inside[0]) - 1, level, band, h.wander_mm, late=1, why=why)


def quits_extreme(h: Heights, at: int, last: int, what: str) -> Moment | None:
    """Give when x leaves the band of its extreme for good, looking up to `last`."""
    band = band_of(h)
    extreme = extreme_of(h, at)
    level = extreme + band
    part = h.x_mm[at : last + 1]
    inside = np.flatnonzero(part <= level)
    if not len(inside) or inside[-1] == len(part) - 1:
        return None
    why = f"leaves the {band:.0f} mm about its {what}"
    return _crossing(h, at + int(inside[-1]), level, band, h.wander_mm, late=-1, why=why)


def _crossing(
    h: Heights, i: int, level: float, band: float, level_sd: float, *, late: int, why: str
) -> Moment | None:
    """Interpolate the crossing of `level` between grid points i and i + 1, and give its uncertainty.

    `late` says on which side a band wider than the rule's puts the moment: -1 a movement that starts (the wide
    band is left later), +1 one that ends (it is entered earlier). The shift back to the rule's band supposes
    constant acceleration from rest, which is half wrong at worst; half the shift goes into the sd.
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
    height_sd = float(np.hypot(h.wander_mm, level_sd))
    parts = [height_sd / speed, h.frame_s / np.sqrt(12), hole / np.sqrt(12), shift / 2, 0.25 * h.sharp_s]
    return Moment(t, float(np.sqrt(np.sum(np.square(parts)))), why)


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
