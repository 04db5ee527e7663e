"""A bar that was let go: told from one that is lowered, and when it lands."""

from __future__ import annotations

import numpy as np
from attrs import evolve

from midfoot.records.base import FloatArray
from midfoot.records.reps import Moment
from midfoot.reps.heights import GRID_S, Heights
from midfoot.reps.moments import band_of, enters_rest
from midfoot.reps.rests import Rest

FREE_MM_S2 = 9806.65
FREE_FALL = 1.45
"""A fall that takes less than this many times a free fall's time over the same height was let go: half of
gravity's acceleration is met by nobody's hands."""
FALLS, STILL_GAINS = (0.1, 0.5, 0.75), 1.3
"""Shares of a fall by which it is timed, and the same factor over its third quarter: half a metre lowered in 0.6 s
brakes there already and takes 1.5 times as long as a fall."""
FALLING = (0.1, (0.5, 0.4, 0.3))
"""Shares of a free fall between which it is read: clear of the hands' letting go, and of the floor."""
FALLS_AT, FALLS_SD = 0.93, 0.1
"""A dropped bar's acceleration and its sd, shares of gravity's: its ends land one after the other, hands brush it
(common practice, no source)."""
BOUNCES_S = 0.12
"""How long after it first landed a dropped bar may still bounce out of the band: twice the time from 20-70 mm to
the floor. Where its fall is not seen well enough, its end is not known better."""


def let_go(h: Heights, a: int, b: int) -> bool:
    """Say whether the bar falls freely between the higher and the lower of two points, 10 to 75 % of the way."""
    first, last = min(a, b), max(a, b)
    up = h.sign * h.x_mm[first : last + 1]
    if len(up) < 3 or h.gap[first : last + 1].any():
        return False
    drop = float(up[0] - up.min())
    if drop < 150.0:
        return False
    fallen = (up[0] - up[: int(np.argmin(up)) + 1]) / drop
    # Free fall is fast over the whole way and still gaining late on it; a lowering brakes before the floor. The
    # last quarter lies within two frames of the landing at 25 a second: it is not looked at.
    begun, half, late = (_passes(fallen, share) for share in FALLS)
    free = np.sqrt(2 * drop / FREE_MM_S2) * np.sqrt(np.array(FALLS))
    whole = (late - begun) * GRID_S < FREE_FALL * (free[2] - free[0])
    return bool(whole and (late - half) * GRID_S < STILL_GAINS * (free[2] - free[1]))


def _passes(share: FloatArray, level: float) -> float:
    """Give where, in grid steps, a share first passes a level for good before its end."""
    at = int(np.flatnonzero(share < level)[-1])
    return at + float((level - share[at]) / (share[at + 1] - share[at]))


def lands(h: Heights, rest: Rest, extreme: int) -> Moment | None:
    """Give when a bar that was let go falls into the band about its rest, None where the clip does not show it.

    It is at the floor for no frame and bounces from there by more than the band, so that no smoothed height comes
    near until the bounces have died away. Its fall is gone on with instead; where too little of that is seen, its
    end is when it stays there, and that it may have landed before is in the sd.
    """
    found = _by_its_fall(h, rest, extreme)
    if found is None:
        end = enters_rest(h, rest, extreme, "its rest on the floor", first_touch=True)
        found = end if end is None else evolve(end, sd_s=float(np.hypot(end.sd_s, BOUNCES_S)))
    return found


def _by_its_fall(h: Heights, rest: Rest, extreme: int) -> Moment | None:
    part = h.x_mm[extreme : rest.past + 1]
    drop = rest.height_mm - float(part[0])
    fallen = (part - part[0]) / max(drop, 1e-6)
    first = int(np.argmax(fallen >= FALLING[0]))
    for share in FALLING[1]:
        past = int(np.argmax(fallen >= share))
        if past - first < 5 or h.gap[extreme + first : extreme + past].any():
            return None
        found = _landing(h, rest, h.t_s[extreme + first : extreme + past], part[first:past])
        if found is not None:
            return found
    return None


def _landing(h: Heights, rest: Rest, t_s: FloatArray, x: FloatArray) -> Moment | None:
    """Go on with a fall into the band about the rest, None where the floor comes too soon for the smoothing."""
    t = t_s - t_s[0]
    rows = float(t[-1]) / h.frame_s + 1.0
    # of a parabola through so many rows over such a time
    sd_own = h.noise_mm * float(np.sqrt(720.0 / rows)) / float(t[-1]) ** 2 if rows > 3 else np.inf
    sd_usual = FALLS_SD * FREE_MM_S2
    weight = sd_usual**2 / (sd_usual**2 + sd_own**2)
    gains = weight * 2.0 * float(np.polyfit(t, x, 2)[0]) + (1.0 - weight) * FALLS_AT * FREE_MM_S2
    gains = float(np.clip(gains, 0.4 * FREE_MM_S2, FREE_MM_S2))
    speed, height = (float(v) for v in np.polyfit(t, x - 0.5 * gains * t**2, 1))
    band = band_of(h)
    at_floor = float(np.sqrt(max(speed**2 + 2.0 * gains * (rest.height_mm - band - height), speed**2, 1.0)))
    lasts = (at_floor - speed) / gains
    ahead = lasts - float(t[-1])
    if ahead < 2 * h.sharp_s + h.frame_s:
        return None
    sd_gains = sd_usual * float(np.sqrt(1.0 - weight))
    parts = [
        float(np.hypot(h.wander_mm, rest.sd_mm)) / at_floor, h.frame_s / np.sqrt(12),
        0.5 * float(np.hypot(sd_gains, 0.05 * gains)) * (ahead + 0.5 * float(t[-1])) ** 2 / at_floor,
    ]  # fmt: skip
    why = f"falls into the {band:.0f} mm about its rest on the floor, by its fall: it bounces from there"
    return Moment(float(t_s[0]) + lasts, float(np.sqrt(np.sum(np.square(parts)))), why)
