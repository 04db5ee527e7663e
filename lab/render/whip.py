"""How a loaded bar bends: its ends follow its middle as a damped first mode, and the floor holds the discs.

One number says how springy it is: how far the ends hang below the middle when the bar is held still. A weight on a
spring that sags by h swings at sqrt(g / h) / (2 pi): 5 mm is 7 Hz, 16 mm 4 Hz, 40 mm 2.5 Hz. The sag is a
recipe's choice; the frequency follows from it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
GRAVITY = 9.81
DAMPING = 0.07
"""Share of critical damping; common practice, no source: a swing dies away over three or four times."""


def whip(t_s: Array, middle_up_m: Array, sag_m: float, floor_m: float | None = None) -> Array:
    """How much higher than the middle the ends are (negative: they hang), m, on the same even grid.

    Parameters
    ----------
    t_s, middle_up_m : the middle's height on an even, dense grid.
    sag_m : how far the ends hang when held still; 0 is a stiff bar.
    floor_m : height at which the discs stand on the floor; None where there is no floor to reach.
    """
    if sag_m <= 0.0:
        return np.zeros_like(middle_up_m)
    step = float(t_s[1] - t_s[0])
    stiff = GRAVITY / sag_m
    damp = 2.0 * DAMPING * np.sqrt(stiff)
    speed_mid = np.gradient(middle_up_m, step)
    pull = np.gradient(speed_mid, step)
    least = floor_m if floor_m is not None else -np.inf
    off = max(-sag_m, least - float(middle_up_m[0]))
    speed = 0.0
    out = np.empty_like(middle_up_m)
    for i, mid in enumerate(middle_up_m):
        speed += step * (-stiff * (off + sag_m) - damp * speed - pull[i])
        off += step * speed
        if mid + off < least:
            off, speed = least - mid, -speed_mid[i]
        out[i] = off
    return out
