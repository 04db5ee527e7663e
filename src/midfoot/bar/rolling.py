"""What a picture that is read row by row does to the place of something that moves.

A phone reads the rows of a frame one after the other, so what stands at its top is seen earlier than what stands
at its bottom, though both carry one time. A moving bar is off by its speed times how much earlier or later its
row was read than the middle one. Nothing in the file tells how long the phone takes (`READOUT_S`), nor, after an
app has turned the picture, from which edge it begins: rows are counted along the height, as of a phone that
lies, and the error has no sign.

Where the bar rests nothing is off. The error is the same wherever the bar passes a height at the same speed, so it
is no noise of a frame. A disc is read as too long while it goes one way and as too short while it goes back, by a
per cent at 2 m/s; over a rep that cancels to a tenth of it, under what the rim is known to, and is left out.
"""

from __future__ import annotations

import numpy as np

from midfoot.records.bar import READOUT_S, BarTrack
from midfoot.records.base import FloatArray


def rolled_px(track: BarTrack, height_px: int) -> FloatArray:
    """Give how far each frame's place may be off by its row's time, one sd, (n, 2) px across and down.

    Parameters
    ----------
    track : BarTrack
        Speeds come from `steady_px`, rows from `xy_px`.
    height_px : int
        Height of the picture.

    Returns
    -------
    array
        0 at rest, in the middle row, and where no speed is known.
    """
    known = np.isfinite(track.steady_px).all(axis=1) & np.isfinite(track.xy_px).all(axis=1)
    out = np.zeros(track.steady_px.shape)
    if known.sum() < 3 or height_px <= 0:
        return out
    speed = np.gradient(track.steady_px[known], track.t_s[known], axis=0)
    late_s = READOUT_S * (track.xy_px[known, 1] / height_px - 0.5)
    out[known] = np.abs(speed * late_s[:, None])
    return out
