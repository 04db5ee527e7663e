"""Hips of a lifter on a bench, followed in the picture itself where the network loses them.

While the bar hides shoulder and chest the network often does not make out the hips, though they are in full view.
They hardly move, so the same cloth is found again in the picture: corners about the hip are followed from the
moment at which it was last made out, and the hip goes as they go. Nothing else is claimed: too few corners, or
corners that disagree (half of them on the bench, a hand or the plate passing), and the hip stays as it was.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.body.search import HIPS
from midfoot.records.base import FloatArray
from midfoot.records.body import INFERRED, SEEN

CROP_M, CROP_PX = 0.64, 128
"""Side of the square about the hips that is kept of every looked-at frame: 5 mm a pixel."""
AWAY_M, AWAY_LOOKS = 0.10, 15
"""Hips that lie this far from the square's middle, by so many clear looks together, get a new square: one look may
be wrong."""
PEAK = 0.5
WIDE_M, HIGH_M = 0.16, 0.115
"""Corners are looked for so far along the body and up and down from the hip: the top of the thigh is in, the bench
below it is not (a hip joint lies 0.1 m over the bench; common practice, no source)."""
MOST_CORNERS, LEAST_CORNERS = 40, 6
BACK_AND_FORTH_PX = 0.7
"""A corner must come back so near to where it started when it is followed the other way."""
LEAST_SHARE = 0.35
"""And so many of them must: the plate may pass before some."""
SPREAD_PX, MOST_ELSEWHERE = 2.4, 0.2
"""Corners agree when no more than this share of them moved farther than this from how the middle one did."""
MOST_M = 0.15
MOST_GAP_S = 6.0
FOLLOWED_M = 0.010
"""Error of a hip that was followed, one sd: cloth slips over the joint (common practice, no source)."""
MOST_APART_M = 0.05
"""Where the picture and the network disagree by more over a stretch, one of them followed something else."""
CLEAR = 1.15
"""A hip is well made out where its error is at most so many times its usual one: before it is lost the network's
place for it drifts by 20 mm, as it does under a bar that comes down in every rep."""
MOST_LOOKS = 6000
"""Seven minutes at 15 looks a second; what comes after is not kept."""


@frozen
class Look:
    """The square about the hips in one frame: its middle (px of the frame), how many px a pixel of it takes."""

    x_px: float
    y_px: float
    px: float
    luma: NDArray[np.uint8]


class HipLooks:
    """Keeps the square about the hips of every look at the body."""

    def __init__(self) -> None:
        self._middle: tuple[float, float] | None = None
        self._px = 0.0
        self._clear: deque[FloatArray] = deque(maxlen=AWAY_LOOKS)
        self.looks: list[Look | None] = []

    def see(self, luma: NDArray[np.uint8], xy_px: FloatArray, peak: FloatArray, metre_px: float) -> None:
        """Take the frame of a look with the network's landmarks (33, 2) and peaks (33,)."""
        known = [k for k in HIPS if peak[k] >= PEAK]
        if known:
            self._clear.append(xy_px[known].mean(axis=0))
            x, y = (float(v) for v in np.median(self._clear, axis=0))
            full = len(self._clear) == AWAY_LOOKS
            moved = self._middle is not None and np.hypot(x - self._middle[0], y - self._middle[1])
            if self._middle is None or (full and moved > AWAY_M * metre_px):
                self._middle, self._px = (x, y), CROP_M * metre_px / CROP_PX
        if self._middle is None or len(self.looks) >= MOST_LOOKS or self._px <= 0:
            self.looks.append(None)
            return
        x, y = self._middle
        half = self._px * (CROP_PX - 1) / 2
        warp = np.array([[self._px, 0.0, x - half], [0.0, self._px, y - half]])
        flags = cv2.INTER_AREA if self._px > 1 else cv2.INTER_LINEAR
        small = cv2.warpAffine(luma, warp, (CROP_PX, CROP_PX), flags=flags | cv2.WARP_INVERSE_MAP)
        self.looks.append(Look(x, y, self._px, np.asarray(small, np.uint8)))

    def fill(
        self, t_s: FloatArray, xy: FloatArray, sd: FloatArray, state: np.ndarray
    ) -> tuple[FloatArray, FloatArray, np.ndarray]:
        """Follow the hips of (n, 33, 2) through the stretches in which they were not made out; gives copies.

        A stretch runs from where they were well made out to where they are again.
        """
        xy, sd, state = xy.copy(), sd.copy(), state.copy()
        for k in HIPS:
            seen = state[:, k] == SEEN
            if not seen.any():
                continue
            well = np.flatnonzero(seen & (np.nan_to_num(sd[:, k], nan=np.inf) <= CLEAR * np.median(sd[seen, k])))
            for a, b in pairwise(well):
                if not seen[a:b].all() and t_s[b] - t_s[a] <= MOST_GAP_S:
                    self._through(xy, sd, state, k, int(a), int(b))
        return xy, sd, state

    def _through(self, xy: FloatArray, sd: FloatArray, state: np.ndarray, k: int, a: int, b: int) -> None:
        """Follow hip k from row a, where it was well made out, to row b, where it is again."""
        first = self.looks[a]
        if first is None:
            return
        found = {row: _moved(first, self.looks[row], xy[a, k]) for row in range(a + 1, b + 1)}
        end = found.pop(b)
        if end is None:
            return
        # What the network sees anew and what was followed differ by its own errors; that is laid over the stretch.
        left = xy[b, k] - xy[a, k] - end
        apart = float(np.hypot(*left))
        metre = CROP_PX / CROP_M * first.px
        if apart > MOST_APART_M * metre:
            return
        for row, move in found.items():
            if move is None:
                continue
            xy[row, k] = xy[a, k] + move + left * (row - a) / (b - a)
            sd[row, k] = float(np.hypot(FOLLOWED_M * metre, apart / 2))
            state[row, k] = INFERRED


def _moved(first: Look, then: Look | None, hip_px: FloatArray) -> FloatArray | None:
    """Give how far (2,), px of the frame, the cloth about a hip has moved between two looks; None if not told."""
    if then is None or (then.x_px, then.y_px, then.px) != (first.x_px, first.y_px, first.px):
        return None
    metre = CROP_PX / CROP_M
    middle = (CROP_PX - 1) / 2
    x = middle + (float(hip_px[0]) - first.x_px) / first.px
    y = middle + (float(hip_px[1]) - first.y_px) / first.px
    about = np.zeros((CROP_PX, CROP_PX), np.uint8)
    wide, high = WIDE_M * metre, HIGH_M * metre
    about[max(int(y - high), 0) : max(int(y + high), 0), max(int(x - wide), 0) : max(int(x + wide), 0)] = 255
    corners = cv2.goodFeaturesToTrack(first.luma, MOST_CORNERS, 0.02, 4, mask=about)
    if corners is None or len(corners) < LEAST_CORNERS:
        return None
    ways: dict[str, Any] = {"winSize": (15, 15), "maxLevel": 3}
    there, ahead, _ = cv2.calcOpticalFlowPyrLK(first.luma, then.luma, corners, corners.copy(), **ways)
    back, behind, _ = cv2.calcOpticalFlowPyrLK(then.luma, first.luma, there, there.copy(), **ways)
    good = (ahead[:, 0] == 1) & (behind[:, 0] == 1)
    good &= np.hypot(*(back - corners)[:, 0].T) <= BACK_AND_FORTH_PX
    moves = (there - corners)[good, 0].astype(np.float64)
    if len(moves) < max(LEAST_CORNERS, LEAST_SHARE * len(corners)):
        return None
    move = np.median(moves, axis=0)
    elsewhere = float(np.mean(np.hypot(*(moves - move).T) > SPREAD_PX))
    if elsewhere > MOST_ELSEWHERE or float(np.hypot(*move)) > MOST_M * metre:
        return None
    return np.asarray(move * first.px)
