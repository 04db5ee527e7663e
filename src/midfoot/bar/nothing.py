"""The track of a bar that was not followed: no rows, the reason, and the places that may be tapped."""

from __future__ import annotations

import numpy as np

from midfoot.bar.coarse import Coarse
from midfoot.records.bar import BarTrack


def nothing(coarse: Coarse | None) -> BarTrack:
    """Give an empty track with what the linker said; `coarse` is its best answer or None."""
    none = np.zeros((0, 2))
    return BarTrack(
        status="not_found",
        source="none",
        t_s=np.zeros(0),
        xy_px=none,
        steady_px=none,
        sd_px=none,
        seen=np.zeros(0, bool),
        far_xy_px=none,
        candidates=coarse.candidates if coarse is not None else (),
        reason=coarse.reason if coarse is not None else "No disc was proposed in any frame.",
    )
