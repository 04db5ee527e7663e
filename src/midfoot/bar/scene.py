"""The camera's own movement, told from the background.

Corners spread over the whole picture are followed from a key frame, forward and back; the similarity that most
*cells* of the picture agree on is taken, not the one most corners agree on: a lifter full of texture must not
outvote a plain wall. Every frame is held against a key frame, not against its neighbour, so nothing drifts
while the same key lasts; a camera that stood still comes out as exactly still.

Rule for the next author: rather `ok` false than a wrong movement. Positions are in full-size upright pixels.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.records.base import FloatArray, bool_field, float_field
from midfoot.records.clip import Frame

LONG_SIDE_PX = 480
CELLS = (8, 8)
CORNERS_PER_CELL = 5
ROUND_TRIP_PX = 0.5
AGREES_PX = 0.8
MIN_CELL_SHARE = 0.34
"""Share of the looked-at cells that must agree before a movement is believed."""
MAX_STEP_SCALE = 0.06
RENEW_BELOW = 0.55
"""A new key frame when fewer than this share of the key's corners are still followed and agree."""
STILL_PX = 0.12
"""At the reduced size: movement below this over a whole stretch is the measurement's own noise."""
STILL_STRETCH_S = 1.0
CALM_FRAMES = 15
"""After so many frames on end in which the camera stood as in the key frame, a short look is enough."""
CALM_PX, CALM_SHARE = 0.3, 0.5
"""A corner that moved less speaks for a camera that stands; so many of the cells must do so."""

FLOW: dict[str, Any] = {
    "winSize": (15, 15),
    "maxLevel": 2,
    "criteria": (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 20, 0.01),
    "flags": cv2.OPTFLOW_USE_INITIAL_FLOW,
}

Matrix = NDArray[np.float64]


@frozen
class CameraPath:
    """The camera over the clip: `to_first` (m, 2, 3) carries a point of frame `t_s` (m,) to the first frame."""

    t_s: FloatArray = float_field(None)
    to_first: FloatArray = float_field(None, 2, 3)
    ok: NDArray[np.bool_] = bool_field(None)


class CameraMotion:
    """Look at every frame in order; `result()` gives the camera's path."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._rows: list[Matrix] = []
        self._ok: list[bool] = []
        self._key: NDArray[np.uint8] | None = None
        self._key_to_first = np.eye(3)
        self._corners = np.zeros((0, 1, 2), np.float32)
        self._cell_of = np.zeros(0, int)
        self._now_to_key = np.eye(3)
        self._before: NDArray[np.uint8] | None = None
        self._factor = 1.0
        self._calm = 0

    def see(self, frame: Frame, avoid_px: FloatArray | None = None) -> None:
        """Look at one frame.

        Parameters
        ----------
        frame : the next frame.
        avoid_px : (k, 4), optional
            Boxes x0, y0, x1, y1 of things known to move by themselves; no corner is taken there.
        """
        small, self._factor = reduced(frame.luma, LONG_SIDE_PX)
        self._times.append(frame.t_s)
        if self._key is None:
            self._new_key(small, np.eye(3), avoid_px)
            self._keep(np.eye(3), True)
        else:
            self._against_key(small, avoid_px)
        self._before = small

    def result(self) -> CameraPath:
        """Give the camera's path so far."""
        rows = np.array(self._rows).reshape(-1, 3, 3)
        ok = np.array(self._ok, bool)
        times = np.array(self._times)
        rows = _held_still(times, rows, ok, self._size())
        grow = np.diag([1 / self._factor, 1 / self._factor, 1.0])
        shrink = np.diag([self._factor, self._factor, 1.0])
        full = np.einsum("ij,njk,kl->nil", grow, rows, shrink) if len(rows) else rows
        return CameraPath(times, full[:, :2], ok)

    def _size(self) -> tuple[int, int]:
        return (1, 1) if self._before is None else (self._before.shape[1], self._before.shape[0])

    def _keep(self, now_to_first: Matrix, ok: bool) -> None:
        self._rows.append(now_to_first)
        self._ok.append(ok)

    def _against_key(self, small: NDArray[np.uint8], avoid_px: FloatArray | None) -> None:
        assert self._key is not None
        if self._calm >= CALM_FRAMES and self._still_there(self._key, small):
            self._keep(self._key_to_first @ self._now_to_key, True)
            return
        guess = np.asarray(np.linalg.inv(self._now_to_key), np.float64)
        found = self._followed(self._key, small, self._corners, guess)
        moved, agreeing = (None, 0.0) if found is None else self._agreed(*found)
        if moved is None or not _likely_step(self._now_to_key, moved):
            # The key is lost: hold this frame against the one before, once, and start a new key from it.
            ok = self._against_before(small, avoid_px)
            self._keep(self._key_to_first @ self._now_to_key, ok)
            return
        self._now_to_key = moved
        self._keep(self._key_to_first @ moved, True)
        self._calm = self._calm + 1 if _shift_px(moved, self._size()) < STILL_PX else 0
        if agreeing < RENEW_BELOW:
            self._new_key(small, self._key_to_first @ moved, avoid_px)

    def _against_before(self, small: NDArray[np.uint8], avoid_px: FloatArray | None) -> bool:
        assert self._before is not None
        before_to_first = self._key_to_first @ self._now_to_key
        self._new_key(self._before, before_to_first, avoid_px)
        found = self._followed(self._before, small, self._corners, np.eye(3))
        moved, _ = (None, 0.0) if found is None else self._agreed(*found)
        ok = moved is not None and _likely_step(np.eye(3), moved)
        step = moved if ok and moved is not None else np.eye(3)
        self._new_key(small, before_to_first @ step, avoid_px)
        return ok

    def _new_key(self, small: NDArray[np.uint8], to_first: Matrix, avoid_px: FloatArray | None) -> None:
        self._key, self._key_to_first, self._now_to_key = small, to_first, np.eye(3)
        self._calm = 0
        self._corners, self._cell_of = spread_corners(small, avoid_px, self._factor)

    def _still_there(self, key: NDArray[np.uint8], small: NDArray[np.uint8]) -> bool:
        """Follow every other corner one way only; takes the movement where most of the picture did not move."""
        corners, cells = np.ascontiguousarray(self._corners[::2]), self._cell_of[::2]
        if len(corners) < 8:
            return False
        there, good, _ = cv2.calcOpticalFlowPyrLK(key, small, corners, corners.copy(), **FLOW)
        old, new = (v.reshape(-1, 2)[good.ravel() == 1].astype(float) for v in (corners, there))
        cells = cells[good.ravel() == 1]
        fits = np.hypot(*(new - old).T) < CALM_PX
        if fits.sum() < 8 or _cells_agreeing(cells, fits) < CALM_SHARE * max(len(np.unique(cells)), 1):
            return False
        moved = _refined(np.eye(3), new[fits], old[fits])
        if _shift_px(moved, self._size()) >= STILL_PX:
            return False
        self._now_to_key = moved
        return True

    def _followed(
        self, old: NDArray[np.uint8], new: NDArray[np.uint8], corners: NDArray[np.float32], guess: Matrix
    ) -> tuple[Matrix, Matrix, NDArray[np.int_]] | None:
        """Corners found again: their places in the old and the new picture and their cells."""
        if len(corners) < 8:
            return None
        start = (corners.reshape(-1, 2) @ guess[:2, :2].T + guess[:2, 2]).astype(np.float32).reshape(-1, 1, 2)
        there, good, _ = cv2.calcOpticalFlowPyrLK(old, new, corners, start.copy(), **FLOW)
        back, good_back, _ = cv2.calcOpticalFlowPyrLK(new, old, there, corners.copy(), **FLOW)
        trip = np.linalg.norm((back - corners).reshape(-1, 2), axis=1)
        height, width = new.shape
        inside = ((there.reshape(-1, 2) > 2) & (there.reshape(-1, 2) < (width - 3, height - 3))).all(axis=1)
        keep = (good.ravel() == 1) & (good_back.ravel() == 1) & (trip < ROUND_TRIP_PX) & inside
        if keep.sum() < 8:
            return None
        return (
            corners.reshape(-1, 2)[keep].astype(float),
            there.reshape(-1, 2)[keep].astype(float),
            self._cell_of[keep],
        )

    def _agreed(self, old: Matrix, new: Matrix, cells: NDArray[np.int_]) -> tuple[Matrix | None, float]:
        """Find the new-to-old similarity that most cells agree on, and the share of the key's corners that do."""
        tries = [self._now_to_key, np.eye(3)]
        cv2.setRNGSeed(1)
        found, _ = cv2.estimateAffinePartial2D(
            new, old, method=cv2.RANSAC, ransacReprojThreshold=AGREES_PX, maxIters=300, confidence=0.995
        )
        if found is not None:
            tries.append(np.vstack([found, [0, 0, 1]]))
        seen_cells = max(len(np.unique(cells)), 1)
        best, best_votes = None, 0
        for trial in tries:
            fits = _residual(trial, new, old) < AGREES_PX
            votes = _cells_agreeing(cells, fits)
            if votes > best_votes:
                best, best_votes = trial, votes
        if best is None or best_votes < max(4, MIN_CELL_SHARE * seen_cells):
            return None, 0.0
        refined = _refined(best, new, old)
        fits = _residual(refined, new, old) < AGREES_PX
        if fits.sum() < 8 or _cells_agreeing(cells, fits) < max(4, MIN_CELL_SHARE * seen_cells):
            return None, 0.0
        return refined, float(fits.sum()) / max(len(self._corners), 1)


def reduced(luma: NDArray[np.uint8], long_side_px: int) -> tuple[NDArray[np.uint8], float]:
    """Shrink to `long_side_px`; gives the picture and small/full, in the convention of pixel centres."""
    factor = min(1.0, long_side_px / max(luma.shape))
    if factor == 1.0:
        return luma, 1.0
    size = (max(1, round(luma.shape[1] * factor)), max(1, round(luma.shape[0] * factor)))
    if factor <= 0.5:
        # halving is much faster than any other ratio
        luma = np.asarray(cv2.resize(luma, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), np.uint8)
    # Resizing shifts centres by (1 - factor) / 2 px; for a movement between frames that drops out.
    return np.asarray(cv2.resize(luma, size, interpolation=cv2.INTER_AREA), np.uint8), factor


def spread_corners(
    small: NDArray[np.uint8], avoid_px: FloatArray | None, factor: float
) -> tuple[NDArray[np.float32], NDArray[np.int_]]:
    """Take the best few corners of every cell of the picture, with the cell each belongs to."""
    height, width = small.shape
    strength = cv2.cornerMinEigenVal(cv2.GaussianBlur(small, (0, 0), 0.8), 5)
    if avoid_px is not None:
        for x0, y0, x1, y1 in np.asarray(avoid_px, float) * factor:
            strength[max(0, int(y0)) : max(0, int(y1)), max(0, int(x0)) : max(0, int(x1))] = 0
    strength[:4], strength[-4:], strength[:, :4], strength[:, -4:] = 0, 0, 0, 0
    peaks = (strength >= cv2.dilate(strength, np.ones((7, 7)))) & (strength > 1e-5)
    rows, columns = np.nonzero(peaks)
    cell = (rows * CELLS[1] // height) * CELLS[0] + columns * CELLS[0] // width
    order = np.lexsort((-strength[rows, columns], cell))
    rank = np.arange(len(order)) - np.searchsorted(cell[order], cell[order])
    chosen = order[rank < CORNERS_PER_CELL]
    corners = np.stack([columns[chosen], rows[chosen]], axis=1).astype(np.float32).reshape(-1, 1, 2)
    return corners, cell[chosen]


def _residual(matrix: Matrix, new: Matrix, old: Matrix) -> Matrix:
    return np.asarray(np.linalg.norm(new @ matrix[:2, :2].T + matrix[:2, 2] - old, axis=1))


def _cells_agreeing(cells: NDArray[np.int_], fits: NDArray[np.bool_]) -> int:
    """Count cells in which at least half of the corners fit."""
    inside = np.bincount(cells, minlength=1)
    agree = np.bincount(cells[fits], minlength=len(inside))
    return int(((agree * 2 >= inside) & (agree > 0)).sum())


def _refined(matrix: Matrix, new: Matrix, old: Matrix) -> Matrix:
    """Fit the similarity by least squares (in closed form), corners off the consensus weighted down (Tukey)."""
    for _ in range(4):
        miss = _residual(matrix, new, old)
        weight = np.where(miss < 2 * AGREES_PX, (1 - (miss / (2 * AGREES_PX)) ** 2) ** 2, 0.0)
        if weight.sum() < 4:
            return matrix
        total = weight.sum()
        from_at, to_at = (weight @ new) / total, (weight @ old) / total
        (x, y), (u, v) = (new - from_at).T, (old - to_at).T
        spread = float(weight @ (x * x + y * y))
        if spread <= 0.0:
            return matrix
        a, b = float(weight @ (x * u + y * v)) / spread, float(weight @ (x * v - y * u)) / spread
        turn = np.array([[a, -b], [b, a]])
        matrix = np.eye(3)
        matrix[:2, :2] = turn
        matrix[:2, 2] = to_at - turn @ from_at
    return matrix


def _shift_px(matrix: Matrix, size: tuple[int, int]) -> float:
    """How far a movement carries the picture's corner that it carries farthest, px."""
    width, height = size
    ends = np.array([[0, 0], [width, 0], [0, height], [width, height]], float)
    return float(np.hypot(*(ends @ matrix[:2, :2].T + matrix[:2, 2] - ends).T).max())


def _likely_step(before: Matrix, now: Matrix) -> bool:
    step = np.linalg.inv(before) @ now
    return abs(float(np.hypot(step[0, 0], step[1, 0])) - 1.0) < MAX_STEP_SCALE


def _held_still(times: Matrix, rows: Matrix, ok: NDArray[np.bool_], size: tuple[int, int]) -> Matrix:
    """Give stretches that never leave the noise one and the same place; the first place when that is it."""
    if not len(rows):
        return rows
    ends = np.array([[0, 0, 1], [size[0], 0, 1], [0, size[1], 1], [size[0], size[1], 1]], float)
    places = np.einsum("nij,kj->nki", rows[:, :2], ends).reshape(len(rows), -1)
    out = rows.copy()
    start = 0
    while start < len(rows):
        # Grow while everything stays within the noise of the stretch's own middle.
        low, high = places[start].copy(), places[start].copy()
        end = start
        while end + 1 < len(rows):
            low, high = np.minimum(low, places[end + 1]), np.maximum(high, places[end + 1])
            if (high - low).max() > 4 * STILL_PX:
                break
            end += 1
        if times[end] - times[start] >= STILL_STRETCH_S or (start == 0 and end == len(rows) - 1):
            middle = np.median(rows[start : end + 1], axis=0)
            at = np.median(places[start : end + 1], axis=0)
            spread = np.sqrt(np.mean((places[start : end + 1] - at) ** 2))
            if spread < STILL_PX:
                home = np.abs(at - ends[:, :2].ravel()).max() < 2 * STILL_PX
                out[start : end + 1] = np.eye(3) if home else middle
        start = end + 1
    return out
