"""What the far disc's diameter says of sizes beside the near one's: they are alike, and so are their errors.

Where it is in doubt which edge of the near plate is its rim, the far plate, its like, is in the same doubt: a lip
that was taken for the rim at both ends must not make a large plate a small one twice over. The far diameter then
tells how far off the far end is, and hardly more of the size than the near one has told.
"""

from __future__ import annotations

import math

from midfoot.bar.silhouette import SIDE_SD
from midfoot.records.base import Value

LEAST_SD, SURE_RIM_SD = 0.01, 0.015
"""Least relative sd of the far disc's diameter; and that of a near one whose rim is in no doubt."""


def far_size_off(far_px: float, near_px: float, far: Value, near: Value | None, aspect: float = 1.0) -> float:
    """How far off a camera is by the far disc's diameter, in sds, given what it is off by the near one's.

    Parameters
    ----------
    far_px, near_px : what the discs' major axes should measure by that camera, px.
    far, near : what they were measured at, px. Of the near one's relative sd what exceeds a sure rim's is taken to
        be in the far one as well, but for what the side of a plate of that `aspect` may add: it is each end's own.

    Returns
    -------
    float
        Positive where the far disc should be larger than it is; the part that both share is taken out.
    """
    variance, off = (far.sd / far.value) ** 2 + LEAST_SD**2, far_px / far.value - 1.0
    if near is not None:
        own = SURE_RIM_SD**2 + SIDE_SD**2 * max(0.0, 1.0 - min(aspect, 1.0) ** 2)
        whole = max((near.sd / near.value) ** 2, SURE_RIM_SD**2)
        shared = max(whole - own, 0.0)
        off -= shared / whole * (near_px / near.value - 1.0)
        variance += shared * (1.0 - shared / whole)
    return off / math.sqrt(variance)
