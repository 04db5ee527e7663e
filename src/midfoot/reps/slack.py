"""Taking up the slack of the bar before a pull: the lifter rises while the plates still lie.

Shoulders or hands rise, the hips rise, or the hips sink under shoulders that stay: the trunk comes up against a
bar that does not move. A rise that goes on into the lift-off is told from shaking by the joint's own scatter and
from a change of posture by its size. None is claimed where the joints are hidden.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from midfoot.records.bar import BarPath, BarTrack
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, BodyTrack
from midfoot.records.reps import Rep

LOOK_S = 3.0
"""As long as this before lift-off; a rise that lasts longer is how the lifter gets into position."""
SHAKES_MM, SHAKES_SCATTERS = 8.0, 3.0
"""A joint at rest shakes by 5-8 mm, or by so many times its scatter about its own slow movement."""
LEAST_SHAKES = 2.0
"""A rise under this many times what it shakes by is none."""
MOST_MM = 120.0
"""A rise beyond this is a lifter coming into position: an unloaded bar bends by 20-60 mm, and shoulders give by as
much (common practice, no source)."""
HELD_S = 1.0
"""A rise that ended longer than this before lift-off was the lifter getting ready."""
LEAK_S = 0.12
"""The joints are smoothed over time: the pull itself shows in them this long before it."""
CALM_HALF_S = 0.17
REST_S = 1.5
"""As long as this before the middle of the rise tells from where it rose."""
HOLE_S = 0.3
LEAST_ROWS = 8
JOINTS = ("shoulder", "wrist", "hip")


def slack_spans(
    reps: Sequence[Rep], body: BodyTrack, track: BarTrack | None, path: BarPath | None
) -> list[tuple[float, float]]:
    """Give from when to when the slack was taken up before each pull, only where that is seen.

    Parameters
    ----------
    reps : the pulls; the end of each is its start.
    body, track, path : the lifter and the bar; heights are taken above the bar in the picture, so that the
        camera's own movement and the bar's drop out.

    Returns
    -------
    list of (start_s, end_s)
    """
    if track is None or path is None or body.status != "seen":
        return []
    mm = _mm_per_px(track, path)
    known = np.isfinite(track.xy_px[:, 1])
    if mm is None or known.sum() < 2:
        return []
    bar_y = np.interp(body.t_s, track.t_s[known], track.xy_px[known, 1], left=np.nan, right=np.nan)
    side = body.near_side
    out: list[tuple[float, float]] = []
    for place, rep in enumerate(reps):
        if rep.start is None:
            continue
        start, earliest = rep.start.t_s, rep.start.t_s - LOOK_S
        if place:
            before = reps[place - 1]
            last = before.end or before.top_end or before.start
            earliest = max(earliest, last.t_s if last is not None else earliest)
        rises: list[tuple[float, float]] = []
        for one in (side,) if side is not None else ("left", "right"):
            ups = {joint: _above(bar_y, body, INDEX[f"{one}_{joint}"], mm) for joint in JOINTS}
            found = [_rise(body.t_s, up, earliest, start) for up in ups.values()]
            trunk = _rise(body.t_s, ups["shoulder"] - ups["hip"], earliest, start)
            if trunk is not None and _stays(body.t_s, ups["shoulder"], ups["hip"], trunk[1], start):
                found.append(trunk)
            rises += [one for one in found if one is not None]
        if rises:
            # the clearest, not the earliest: of several shaking joints the first to move is the most wrong
            out.append((max(rises)[1], start))
    return out


def _above(bar_y: FloatArray, body: BodyTrack, joint: int, mm: float) -> FloatArray:
    """Height of a joint above the bar in the picture, mm, NaN where hidden."""
    return np.where(body.state[:, joint] != HIDDEN, (bar_y - body.xy_px[:, joint, 1]) * mm, np.nan)


def _stays(t_s: FloatArray, shoulder: FloatArray, hip: FloatArray, begin: float, start: float) -> bool:
    """Say whether the shoulders come down by less than half of what the hips do: else the lifter bends down."""
    drops = []
    for up in (shoulder, hip):
        ends = [np.abs(t_s - at) <= CALM_HALF_S for at in (begin, start - LEAK_S - CALM_HALF_S)]
        drops.append(float(np.nanmedian(up[ends[0]]) - np.nanmedian(up[ends[1]])))
    return drops[0] < 0.5 * drops[1]


def _mm_per_px(track: BarTrack, path: BarPath) -> float | None:
    """Give the height of a pixel at the bar, from the path and the picture themselves."""
    up = np.interp(track.t_s, path.t_s, path.up_mm)
    y = track.steady_px[:, 1]
    known = np.isfinite(up) & np.isfinite(y)
    if known.sum() < 4 or np.ptp(y[known]) < 5.0:
        return None
    slope = float(np.polyfit(y[known], up[known], 1)[0])
    return -slope if slope < 0 else None


def _rise(t_s: FloatArray, up_mm: FloatArray, earliest: float, start: float) -> tuple[float, float] | None:
    """Give the rise that goes on into the lift-off, None where there is none or it is not seen.

    How clear it is (its size over what the joint shakes by) and when it begins.
    """
    rows = np.isfinite(up_mm) & (t_s >= earliest) & (t_s <= start - LEAK_S)
    t, up = t_s[rows], up_mm[rows]
    if len(t) < LEAST_ROWS or start - t[-1] > LEAK_S + HOLE_S:
        return None
    holes = np.flatnonzero(np.diff(t) > HOLE_S)
    if len(holes):
        t, up = t[holes[-1] + 1 :], up[holes[-1] + 1 :]
    if len(t) < LEAST_ROWS:
        return None
    slow = _calm(t, up)
    shakes = max(SHAKES_MM, SHAKES_SCATTERS * 1.48 * float(np.median(np.abs(up - slow))))
    high = float(slow[-1])
    half = int(np.flatnonzero(slow <= 0.5 * (float(slow.min()) + high))[-1])
    # the least of many shaking heights lies too low: the middle of what was before is the height before the rise
    before = (t >= t[half] - REST_S) & (t <= t[half] - CALM_HALF_S)
    low = float(np.median(slow[before])) if before.any() else float(slow.min())
    if not LEAST_SHAKES * shakes <= high - low <= MOST_MM:
        return None
    at = int(np.flatnonzero(slow <= low + 0.5 * shakes)[-1])
    there = at + int(np.argmax(slow[at:] >= high - shakes))
    return ((high - low) / shakes, float(t[at])) if start - t[there] <= HELD_S else None


def _calm(t_s: FloatArray, up: FloatArray) -> FloatArray:
    """Give the height of a line through the rows around each row."""
    slow = np.empty(len(t_s))
    for i, t in enumerate(t_s):
        near = np.abs(t_s - t) <= CALM_HALF_S + 1e-6
        x, y = t_s[near] - t, up[near]
        spread = float(((x - x.mean()) ** 2).sum())
        slope = float(((x - x.mean()) * (y - y.mean())).sum() / spread) if spread > 0 else 0.0
        slow[i] = float(y.mean() - slope * x.mean())
    return slow
