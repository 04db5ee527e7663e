"""A few dozen frames in the first frame's coordinates, what stands still taken out: to look for the far end in.

Rule for the next author: the frames are kept reduced to `LONG_SIDE_PX` and there are as many as the near plate is
learnt from; nothing here grows with the clip.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from functools import cached_property

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from midfoot.bar.patches import edges, times
from midfoot.records.bar import Sightings
from midfoot.records.base import FloatArray
from midfoot.records.clip import Frame

LONG_SIDE_PX = 640
RADIUS_PX = 36.0
"""Pixels per near radius at which edges are looked for."""
FOLD = 2
"""The edges are then folded: a disc's lip, its face's edge and its side make one outline."""
NEAR_MARGIN = 1.08
"""The near plate is masked out to so many of its radii: its own rim and its side are edges as well."""
STACK = 0.40
"""Depth of the plates on the near end, radii: their side appears beside an oblique face."""
REACH, ABOVE = 6.5, 2.5
"""How far beside and above or below the near plate's way the far disc is looked for, radii."""
STEADY_SIZE = 0.10
"""Frames in which the near plate is larger or smaller than usual by more are left out (the bar is elsewhere)."""


class FarShots:
    """Keeps reduced copies of the frames that the near plate is learnt from."""

    def __init__(self) -> None:
        self._kept: dict[float, tuple[NDArray[np.uint8], float]] = {}

    def beside(self, chosen: Iterable[Frame]) -> Iterator[Frame]:
        """Hand the frames on and keep a small copy of each."""
        for frame in chosen:
            height, width = frame.luma.shape
            factor = min(1.0, LONG_SIDE_PX / max(height, width))
            size = (max(1, round(width * factor)), max(1, round(height * factor)))
            small = (
                cv2.resize(frame.luma, size, interpolation=cv2.INTER_AREA) if factor < 1.0 else frame.luma.copy()
            )
            self._kept[frame.t_s] = (np.asarray(small, np.uint8), factor)
            yield frame

    @property
    def factor(self) -> float:
        """Kept pixels per pixel of the frame."""
        return next(iter(self._kept.values()))[1]

    def picture(self, t_s: float) -> NDArray[np.uint8]:
        """Give the reduced copy of the frame at a moment."""
        return self._kept[t_s][0]

    def layers(self, near: NearSeen, sightings: Sightings | None) -> Layers | None:
        """Lay the kept frames into the first frame's coordinates; None when too few show the near plate."""
        middle = float(np.median(near.radius_px))
        rows = [
            (t, xy, r)
            for t, xy, r in zip(near.t_s, near.xy_px, near.radius_px, strict=True)
            if float(t) in self._kept and abs(float(r) / middle - 1.0) <= STEADY_SIZE
        ]
        if len(rows) < 12:
            return None
        times = np.array([row[0] for row in rows])
        moves = to_first(times, sightings)
        places = np.array([m[:, :2] @ row[1] + m[:, 2] for m, row in zip(moves, rows, strict=True)])
        return _lay(
            [self._kept[float(t)][0] for t in times], moves, places, near, times, self._kept[float(times[0])][1]
        )


@frozen(eq=False)
class NearSeen:
    """The near plate in some frames: `t_s` (n,), `xy_px` (n, 2), outermost `radius_px` (n,); its shape in all."""

    t_s: FloatArray
    xy_px: FloatArray
    radius_px: FloatArray
    aspect: float
    lean_deg: float

    def mask_axes(self, major: float) -> tuple[float, float]:
        """Half-axes across and along of what the near plates hide: their side appears beside an oblique face."""
        side = math.sqrt(max(0.0, 1.0 - self.aspect**2))
        return major * (max(self.aspect, 0.3) + STACK * side), major


@frozen(eq=False)
class Layers:
    """Edges of the chosen frames in the first frame's coordinates.

    Attributes
    ----------
    t_s : (n,) s
    near_px : (n, 2) px
        The near plate in the first frame's full-size pixels.
    radius_px : float
        Its outermost radius there.
    edges : (n, h, w, 2) int8
        Edges by double angle (patches.py) times 100, the mean over the frames taken out.
    shown : (n, h, w) bool
        Where the frame shows something and the near plate does not hide it.
    factor, origin_px : reduced pixel = full pixel * factor - origin_px.
    """

    t_s: FloatArray
    near_px: FloatArray
    radius_px: float
    edges: NDArray[np.int8] = field(repr=False)
    shown: NDArray[np.bool_] = field(repr=False)
    factor: float
    origin_px: FloatArray

    @cached_property
    def sheet(self) -> NDArray[np.float32]:
        """The edges of all frames, 1 for a whole one, one frame below the other: (n h, w, 2)."""
        return np.asarray(self.edges.reshape(-1, *self.edges.shape[2:]) / np.float32(EDGE_UNIT), np.float32)

    def inside(self, xy_px: FloatArray) -> FloatArray:
        """Full-size pixels (..., 2) of the first frame to pixels of the layers."""
        return np.asarray((xy_px + 0.5) * self.factor - 0.5 - self.origin_px)


EDGE_UNIT = 100.0


def to_first(times: FloatArray, sightings: Sightings | None) -> FloatArray:
    """Give the similarities (n, 2, 3) that carry pixels of the frames at `times` to the first frame's."""
    if sightings is None or not len(sightings.camera_t_s):
        return np.tile(np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]), (len(times), 1, 1))
    to_first = sightings.camera_to_first
    rows = [np.interp(times, sightings.camera_t_s, to_first[:, i, j]) for i in (0, 1) for j in (0, 1, 2)]
    return np.stack(rows, axis=1).reshape(-1, 2, 3)


def _lay(
    pictures: list[NDArray[np.uint8]], moves: FloatArray, near: FloatArray, seen: NearSeen, t_s: FloatArray,
    factor: float,
) -> Layers:  # fmt: skip
    radius = float(np.median(seen.radius_px))
    fold = min(1.0, RADIUS_PX / (radius * factor))
    factor *= fold
    beside = np.array([REACH, ABOVE]) * radius * factor
    origin = np.floor(near.min(axis=0) * factor - beside)
    width, height = (int(v) // FOLD + 1 for v in np.ceil(near.max(axis=0) * factor + beside) - origin)
    size = (width * FOLD, height * FOLD)
    found = np.zeros((len(pictures), height, width, 2), np.float32)
    shown = np.zeros((len(pictures), height, width), bool)
    half = 0.5 * (factor - 1.0)
    minor, major = seen.mask_axes(NEAR_MARGIN * radius * factor)
    axes = (round(16 * minor), round(16 * major))
    for i, picture in enumerate(pictures):
        small = cv2.resize(picture, None, fx=fold, fy=fold, interpolation=cv2.INTER_AREA) if fold < 1 else picture
        move = moves[i]
        # frame px -> first frame px, both reduced; pixel centres: reduced = (full + 0.5) factor - 0.5
        shift = factor * move[:, 2] + half - move[:, :2] @ np.array([half, half]) - origin
        matrix = np.column_stack([move[:, :2], shift])
        warped = cv2.warpAffine(small, matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        covered = cv2.warpAffine(np.full(small.shape, 255, np.uint8), matrix, size, flags=cv2.INTER_NEAREST)
        covered = cv2.erode(covered, np.ones((5, 5), np.uint8), borderType=cv2.BORDER_CONSTANT, borderValue=0)
        at = (near[i] + 0.5) * factor - 0.5 - origin
        place = (round(float(at[0]) * 16), round(float(at[1]) * 16))
        cv2.ellipse(covered, place, axes, seen.lean_deg, 0, 360, 0, -1, cv2.LINE_8, 4)
        strong = times(edges(warped.astype(np.float32)), (covered > 0).astype(np.float32))
        found[i] = cv2.resize(strong, (width, height), interpolation=cv2.INTER_AREA)
        shown[i] = cv2.resize(covered, (width, height), interpolation=cv2.INTER_AREA) > 250
    share = _by_height(near[:, 1]).astype(np.float32)
    weight = np.maximum(np.einsum("n,nhw->hw", share, shown), 1e-3)
    still = np.einsum("n,nhwk->hwk", share, found) / weight[..., None]
    found -= still
    found *= EDGE_UNIT
    moving = np.round(np.clip(found, -127, 127, out=found), out=found).astype(np.int8)
    moving[~shown] = 0
    return Layers(t_s, near, radius, moving, shown, factor / FOLD,
                  (origin + 0.5) / FOLD - 0.5)  # fmt: skip


def _by_height(y_px: FloatArray) -> FloatArray:
    """Weight frames so that every height of the bar counts alike: where it rests it would else seem to stand."""
    order = np.argsort(y_px)
    gaps = np.diff(y_px[order])
    reach = max(float(np.ptp(y_px)) / 12.0, 1e-6)
    half = np.minimum(np.concatenate([[reach], gaps]), reach) + np.minimum(np.concatenate([gaps, [reach]]), reach)
    out = np.empty_like(y_px)
    out[order] = half + 0.02 * reach
    return np.asarray(out / out.sum())
