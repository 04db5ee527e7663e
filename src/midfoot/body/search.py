"""Where in a picture people are looked for, and which of several answers for one place is kept."""

from __future__ import annotations

import numpy as np

from midfoot.body.detector import whole
from midfoot.body.landmarks import Pose
from midfoot.body.regions import Region
from midfoot.records.body import INDEX

THRESHOLD = 0.25
"""Least detector score: a lifter on the bench often scores less than what is usual; the landmarks decide."""
TILE_SIZES = (1.0, 0.65)
"""Sides of the square tiles as fractions of the picture's short edge."""
TILE_STEP = 0.5
"""About how far neighbouring tiles are apart, in their sides."""
TURNS = (0.0, np.pi / 2, -np.pi / 2, np.pi)
SAME_PERSON = 0.075
"""Median distance of trunk and arm joints, as a share of the region's side, under which two poses are one."""

HELD = tuple(INDEX[n] for n in ("left_wrist", "right_wrist"))
SHOULDERS = tuple(INDEX[n] for n in ("left_shoulder", "right_shoulder"))
HIPS = tuple(INDEX[n] for n in ("left_hip", "right_hip"))
CORE = [*SHOULDERS, *HIPS, INDEX["left_knee"], INDEX["right_knee"]]
_JOINTS = ("shoulder", "elbow", "wrist", "hip", "knee")
TRUNK_AND_ARMS = tuple(INDEX[f"{side}_{joint}"] for joint in _JOINTS for side in ("left", "right"))
UPPER = TRUNK_AND_ARMS[:8]
JOINTS = (*TRUNK_AND_ARMS, INDEX["left_ankle"], INDEX["right_ankle"])


def probes(width_px: int, height_px: int) -> list[Region]:
    """List the square views in which people are looked for, the most telling first.

    The whole picture and overlapping tiles, each at four turns: a person lying down is missed upright, and
    beside a standing person also on the whole picture at any turn.
    """
    squares = [whole(width_px, height_px)]
    short = min(width_px, height_px)
    for share in TILE_SIZES:
        side = share * short
        squares += [
            Region(x, y, side)
            for y in _centres(height_px, side, TILE_STEP * side)
            for x in _centres(width_px, side, TILE_STEP * side)
            if not (width_px == height_px and share == 1.0)
        ]
    upright, turned = [], []
    for square in squares:
        upright.append(square)
        turned += [square.turned(t) for t in TURNS[1:]]
    return upright + turned


def _centres(length: int, side: float, step: float) -> list[float]:
    room = length - side
    if room <= 0.05 * side:
        return [length / 2]
    count = max(1, round(room / step)) + 1
    return [float(c) for c in side / 2 + np.linspace(0, room, count)]


def quality(pose: Pose) -> float:
    """Say how well a pose fits the picture, 0..1: presence times the mean peak of trunk, arms and knees.

    Presence alone is above 0.97 for poses that are wrong altogether, and the detector's score does not tell.
    """
    return pose.presence * float(pose.peak[list(TRUNK_AND_ARMS)].mean())


def same_person(a: Pose, b: Pose) -> bool:
    """Tell whether two poses of one frame lie on the same person."""
    joints = list(TRUNK_AND_ARMS)
    apart = np.hypot(*(a.xy_px[joints] - b.xy_px[joints]).T)
    return bool(np.median(apart) < SAME_PERSON * max(a.region.side_px, b.region.side_px))
