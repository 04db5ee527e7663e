"""Joints that a person marked, put into the body track.

The network's error of a joint changes slowly: what a mark moves it by at one moment is nearly right a little
before and after. So the correction fades out over `FADE_S` on both sides; where the joint was hidden at the marked
moment there is nothing to correct, and the mark stands for the frames right beside it alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import evolve

from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, SEEN, BodyTrack
from midfoot.records.clip import JointMark

FADE_S = 0.4
"""Over which a correction fades out (common practice, no source: a quick descent takes about twice as long)."""
BESIDE_S = 0.05
"""A hidden joint is where the mark says this near to it: a joint moves some 50 mm meanwhile at the most."""
CLICK_SD_PX = 4.0
"""How well a person marks a joint under cloth (common practice, no source)."""


def with_marks(track: BodyTrack, marks: Sequence[JointMark]) -> BodyTrack:
    """Give the track with every marked joint where it was marked.

    Parameters
    ----------
    track : what the network saw; returned as it is when nobody was seen.
    marks : joints by their landmark's name, px of the upright picture, s on the clip's clock. Several marks of one
        joint share the frames between them.

    Raises
    ------
    ValueError
        When a joint is none of the landmarks.
    """
    for mark in marks:
        if mark.joint not in INDEX:
            raise ValueError(f"joint: expected a landmark such as left_hip, got {mark.joint!r}")
    if not marks or track.status != "seen" or not len(track.t_s):
        return track
    xy, sd, state = track.xy_px.copy(), track.sd_px.copy(), track.state.copy()
    for joint in sorted({mark.joint for mark in marks}):
        k = INDEX[joint]
        _mark(track, k, [m for m in marks if m.joint == joint], xy, sd, state)
    return evolve(track, xy_px=xy, sd_px=sd, state=state)


def _mark(
    track: BodyTrack, k: int, marks: Sequence[JointMark], xy: FloatArray, sd: FloatArray, state: np.ndarray
) -> None:
    times = track.t_s
    known = (track.state[:, k] != HIDDEN) & np.isfinite(track.xy_px[:, k]).all(axis=1)
    offset, weight = np.zeros((len(times), 2)), np.zeros(len(times))
    for mark in marks:
        place = np.array([mark.at.x_px, mark.at.y_px])
        apart = np.abs(times - mark.at.at_s)
        if known.any() and np.min(apart[known]) <= 2 * BESIDE_S:
            here = [np.interp(mark.at.at_s, times[known], track.xy_px[known, k, axis]) for axis in (0, 1)]
            share = np.where(known & (apart < FADE_S), np.cos(0.5 * np.pi * np.clip(apart / FADE_S, 0, 1)) ** 2, 0)
            offset += share[:, None] * (place - here)
            weight += share
    shared = np.maximum(weight, 1.0)[:, None]
    rows = weight > 0
    xy[rows, k] = (track.xy_px[:, k] + offset / shared)[rows]
    by_hand = np.minimum(weight, 1.0)
    sd[rows, k] = (by_hand * CLICK_SD_PX + (1 - by_hand) * track.sd_px[:, k])[rows]
    state[rows & (by_hand > 0.5), k] = SEEN
    for mark in marks:
        beside = ~known & (np.abs(times - mark.at.at_s) <= BESIDE_S)
        xy[beside, k] = (mark.at.x_px, mark.at.y_px)
        sd[beside, k], state[beside, k] = CLICK_SD_PX, SEEN
