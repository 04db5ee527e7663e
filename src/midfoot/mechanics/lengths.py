"""Lengths of the lifter's own segments in the plane of motion, joined with those that stature gives."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from midfoot.records.base import FloatArray
from midfoot.records.mechanics import Length, Lifter, Places

ENDS = {
    "thigh": ("hip", "knee"), "shank": ("knee", "ankle"), "trunk": ("hip", "shoulder"),
    "upper_arm": ("shoulder", "elbow"), "forearm": ("elbow", "wrist"),
}  # fmt: skip
LEAST_FRAMES = 10
UPPER = 0.9
"""Which quantile of what was seen counts: a segment looks longest while it lies in the plane, and the few longest
are noise."""
OUT_OF_PLANE = 0.03
"""One sd of what a segment never shows of itself from the side, as a share: a turn by 14 degrees (common
practice)."""
MOST_APART = 3.0
"""A length that lies farther from the stature's than this many sds was not seen, it is wrong."""


def seen_lengths(places: Places) -> dict[str, Length]:
    """Measure the segments over the frames in which both ends are seen.

    Returns
    -------
    dict of Length
        By segment, m; the sd holds both landmarks' errors, the camera's and scale's, and what leaves the plane.
        Segments seen whole in fewer than 10 frames are left out.
    """
    found = {}
    for name, (top, bottom) in ENDS.items():
        if top not in places.joints or bottom not in places.joints:
            continue
        line = np.asarray(places.joints[bottom]) - np.asarray(places.joints[top])
        size = np.hypot(line[:, 0], line[:, 1])
        rows = np.flatnonzero(np.isfinite(size) & _seen(places, top) & _seen(places, bottom))
        if len(rows) < LEAST_FRAMES:
            continue
        length = float(np.quantile(size[rows], UPPER))
        longest = rows[size[rows] >= np.median(size[rows])]
        own = float(np.median(np.hypot(places.sd[top][longest], places.sd[bottom][longest])))
        along = np.median(line[longest] / size[longest][:, None], axis=0)
        shared = math.hypot(_shared(places, top, bottom, along), _scale(places) * length)
        found[name] = Length(length, math.hypot(own, shared, OUT_OF_PLANE * length), len(rows))
    return found


def misplaced(places: Places, longest_m: Mapping[str, float]) -> dict[str, np.ndarray]:
    """Tell where joints cannot be: a segment looks shorter when it leaves the plane, but never longer than it is.

    Parameters
    ----------
    places : of the joints.
    longest_m : by segment, the longest that this lifter's can be.

    Returns
    -------
    dict of (n,) bool
        By joint. Both ends of a segment that looks too long by three sds; which one it is, nobody can tell.
    """
    wrong = {name: np.zeros(len(places.t_s), bool) for name in places.joints}
    for name, (top, bottom) in ENDS.items():
        if name not in longest_m or top not in places.joints or bottom not in places.joints:
            continue
        line = np.asarray(places.joints[bottom]) - np.asarray(places.joints[top])
        size = np.hypot(line[:, 0], line[:, 1])
        known = np.isfinite(size)
        if not known.any():
            continue
        along = np.median(line[known] / np.maximum(size[known], 1e-9)[:, None], axis=0)
        shared = math.hypot(_shared(places, top, bottom, along), _scale(places) * longest_m[name])
        own = np.hypot(places.sd[top], places.sd[bottom])
        with np.errstate(invalid="ignore"):
            long = known & (size > longest_m[name] + MOST_APART * np.hypot(own, shared))
        wrong[top] |= long
        wrong[bottom] |= long
    return wrong


def apart(places: Places, reach_m: float) -> np.ndarray:
    """Tell when the bar is out of the shoulders' reach: then whoever is followed does not hold it.

    Parameters
    ----------
    places : of joints and bar.
    reach_m : from the shoulder to the bar at the most.

    Returns
    -------
    (n,) bool
        False where the shoulder is not seen.
    """
    line = np.asarray(places.bar) - np.asarray(places.joints["shoulder"])
    size = np.hypot(line[:, 0], line[:, 1])
    known = np.isfinite(size)
    if not known.any():
        return known
    along = np.median(line[known] / np.maximum(size[known], 1e-9)[:, None], axis=0)
    shared = math.hypot(_shared(places, "shoulder", "", along), _scale(places) * reach_m)
    with np.errstate(invalid="ignore"):
        far = size > reach_m + MOST_APART * np.hypot(np.hypot(places.sd["shoulder"], places.bar_sd_m), shared)
    return np.asarray(known & far)


def joined(lifter: Lifter, seen: Mapping[str, Length]) -> dict[str, Length]:
    """Join what was seen with what stature gives, weighted by inverse variance.

    Parameters
    ----------
    lifter : scaled by stature alone.
    seen : of this lifter, from `seen_lengths`.

    Returns
    -------
    dict of Length
        The segments to replace. One that contradicts the stature by more than three sds is left out.
    """
    found = {}
    for name, mine in seen.items():
        told = lifter.segments[name].length_m
        told_sd = told * lifter.segments[name].length_sd
        if abs(mine.m - told) > MOST_APART * math.hypot(mine.sd_m, told_sd):
            continue
        both = 1.0 / mine.sd_m**2 + 1.0 / told_sd**2
        length = (mine.m / mine.sd_m**2 + told / told_sd**2) / both
        found[name] = Length(length, math.sqrt(1.0 / both), mine.frames)
    return found


def _seen(places: Places, joint: str) -> np.ndarray:
    known = places.seen.get(joint)
    return np.ones(len(places.t_s), bool) if known is None else np.asarray(known, bool)


def _shared(places: Places, top: str, bottom: str, along: FloatArray) -> float:
    """Give what the errors that the clip shares, but for the scale, do to a length along its own line."""
    total = 0.0
    for source, effects in places.common.items():
        if source != "scale":
            nothing = np.zeros(2)
            total += float((effects.get(bottom, nothing) - effects.get(top, nothing)) @ along) ** 2
    return math.sqrt(total)


def _scale(places: Places) -> float:
    return abs(float(places.common.get("scale", {}).get("share", np.zeros(2))[0]))
