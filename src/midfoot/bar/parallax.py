"""What the background cannot tell of a hand's movement: how far the hand carried the camera aside.

A hand turns the camera and carries it. Turning moves background and bar by the same pixels and is taken out by the
background; carrying moves what is near by more than what is far, and of that the background takes out only its own
share. What is left stays in the path as if the bar had moved.
"""

from __future__ import annotations

import numpy as np

from midfoot.records.bar import BarTrack

ARM_M = 1.0
"""How far the camera is carried for every radian that it is turned: a wrist turns it about a point 0.1 m behind, a
shoulder 0.6 m, a body swaying about its ankles 1.4 m. Between shoulder and ankles (lengths of the body, from
memory)."""
BEHIND_M = 3.0
"""How far behind the bar the background stands that the movement is told from (common practice, no source: walls
of gyms stand 1.5 to 6 m behind)."""


def left_by_hand_mm(track: BarTrack, mm_per_px: float, distance_m: float) -> float:
    """Give what a camera in a hand leaves in the picture across and down alike, mm at the near plate, one sd.

    With the camera turned by a, carried by `ARM_M` a, the bar at D and the background at B = D + `BEHIND_M`, the
    background moves by M = D a (1 + ARM_M / B), seen at the bar's size; the bar keeps ARM_M a (1 - D / B). So what
    is left is M ARM_M BEHIND_M / (D (B + ARM_M)). M is measured: the rms of the movement taken out at the bar's
    place, about a straight line in time, which is a tripod's head that follows (its turning point is the lens).
    A hand's turns to each side are alike, so both directions give one M.

    Parameters
    ----------
    track : BarTrack
        `steady_px` against `xy_px` is the camera's movement as taken out.
    mm_per_px, distance_m : float
        At the near plate.

    Returns
    -------
    float
        0 for a camera that stood still or only followed steadily, and where fewer than three frames are known.
    """
    moved = np.asarray(track.steady_px - track.xy_px)
    rows = np.isfinite(moved).all(axis=1)
    if rows.sum() < 3 or not distance_m > 0:
        return 0.0
    line = np.vander(track.t_s[rows] - track.t_s[rows].mean(), 2)
    off = moved[rows] - line @ np.linalg.lstsq(line, moved[rows], rcond=None)[0]
    measured_mm = float(np.sqrt(np.mean(off**2))) * mm_per_px
    behind = distance_m + BEHIND_M
    return measured_mm * ARM_M * BEHIND_M / (distance_m * (behind + ARM_M))
