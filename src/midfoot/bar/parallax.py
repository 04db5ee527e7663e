"""What the background cannot tell of a hand's movement: how far the hand carried the camera aside.

A hand turns the camera and carries it. Turning moves background and bar by the same pixels and is taken out by the
background; carrying moves what is near by more than what is far, and of that the background takes out only its own
share. What is left stays in the path as if the bar had moved.

How far it was carried shows in the background's size: carried nearer, it grows. A hand carries a phone to and fro
about as far as aside. Where that was not kept, a hand's usual share of carrying to turning stands in.
"""

from __future__ import annotations

import numpy as np

from midfoot.records.bar import BarTrack, Sightings

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

    Carried by c to and fro the background's size changes by c / B, and carried as far aside what is left is
    c (1 - D / B), which is `BEHIND_M` times that change: where `track.camera_scale_sd` is known it tells.

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
    if track.camera_scale_sd is not None:
        return 1000.0 * BEHIND_M * track.camera_scale_sd if measured_mm > 0.0 else 0.0
    behind = distance_m + BEHIND_M
    return measured_mm * ARM_M * BEHIND_M / (distance_m * (behind + ARM_M))


def scale_sd_of(sightings: Sightings | None) -> float | None:
    """Give the sd of the logarithm of the background's size about a line in time; None where nobody looked.

    Its noise, by third differences, is taken out.
    """
    if sightings is None or len(sightings.camera_t_s) < 8:
        return None
    times, turned = sightings.camera_t_s, sightings.camera_to_first
    size = 0.5 * np.log(np.maximum(turned[:, 0, 0] ** 2 + turned[:, 1, 0] ** 2, 1e-6))
    line = np.vander(times - times.mean(), 2)
    off = size - line @ np.linalg.lstsq(line, size, rcond=None)[0]
    noise = float(np.median(np.abs(np.diff(size, n=3)))) / 0.6745 / np.sqrt(20.0)
    return float(np.sqrt(max(float(np.mean(off**2)) - noise**2, 0.0)))
