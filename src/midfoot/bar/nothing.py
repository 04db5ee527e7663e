"""The track of a bar that was not followed: no place in it, the reason, and the places that may be tapped."""

from __future__ import annotations

import numpy as np

from midfoot.bar.coarse import Coarse
from midfoot.records.bar import BarTrack, Candidate
from midfoot.records.base import FloatArray


def unfollowed(
    times_s: FloatArray, reason: str, *, status: str = "not_found", candidates: tuple[Candidate, ...] = ()
) -> BarTrack:
    """Give a track with a row a moment and nothing in any of them."""
    nowhere = np.full((len(times_s), 2), np.nan)
    return BarTrack(
        status=status,
        source="none",
        t_s=times_s,
        xy_px=nowhere,
        steady_px=nowhere,
        sd_px=nowhere,
        seen=np.zeros(len(times_s), bool),
        far_xy_px=nowhere,
        candidates=candidates,
        reason=reason,
    )


def nothing(coarse: Coarse | None) -> BarTrack:
    """Give a track without rows, with what the linker said; `coarse` is its best answer or None."""
    if coarse is None:
        return unfollowed(np.zeros(0), "No disc was proposed in any frame.")
    return unfollowed(np.zeros(0), coarse.reason, candidates=coarse.candidates)
