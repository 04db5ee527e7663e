"""Propose discs in single frames with a small network (trained in lab/proposer on drawn plates).

A proposal is not a measurement: its centre is good to about a tenth of the radius, its radius to tens of per cent.
It says where plates may be; linking over time and the averaged disc decide and measure.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import onnxruntime

from midfoot.records.bar import Box

MODEL = "proposer.onnx"
# The network halves its picture five times; the strip added to reach a multiple is the grey it was trained with.
MULTIPLE = 32
GREY = 128


class Proposer:
    """The packaged network on one CPU thread.

    Parameters
    ----------
    score : float
        Least score of a box, 0..1.
    long_sides_px : tuple of int
        The picture is read once for each of these lengths of its long side. A larger one finds smaller discs
        (the network knows major half-axes of 14 to 240 px in the picture it reads) and costs its square in time.
    limit : int
        At most so many boxes a frame, best first.
    network : Path, optional
        Another network than the packaged one, to compare.
    """

    def __init__(
        self, *, score: float = 0.3, long_sides_px: tuple[int, ...] = (640,), limit: int = 24,
        network: Path | None = None,
    ) -> None:  # fmt: skip
        if not long_sides_px or min(long_sides_px) < MULTIPLE:
            raise ValueError(f"long_sides_px: expected lengths of at least {MULTIPLE} px, got {long_sides_px}")
        if not 0.0 < score < 1.0:
            raise ValueError(f"score: expected a number between 0 and 1, got {score}")
        self.score = score
        self.long_sides_px = long_sides_px
        self.limit = limit
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        model = (network or files("midfoot.bar") / MODEL).read_bytes()
        self._session: Any = onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
        self.facts: dict[str, str] = dict(self._session.get_modelmeta().custom_metadata_map)

    def propose(self, rgb_px: np.ndarray, *, long_sides_px: tuple[int, ...] | None = None) -> tuple[Box, ...]:
        """Find discs in one upright frame.

        Parameters
        ----------
        rgb_px : (height, width, 3) uint8
        long_sides_px : tuple of int, optional
            Instead of the proposer's own.

        Returns
        -------
        tuple of Box
            Centre and major half-axis in pixels of `rgb_px`, best score first; one box for discs that share
            a centre. Empty where nothing reaches the score.
        """
        if rgb_px.ndim != 3 or rgb_px.shape[2] != 3 or rgb_px.dtype != np.uint8:
            raise ValueError(f"rgb_px: expected (height, width, 3) uint8, got {rgb_px.shape} {rgb_px.dtype}")
        rows = [self._read(rgb_px, side) for side in long_sides_px or self.long_sides_px]
        kept = merge(np.concatenate(rows))[: self.limit]
        return tuple(Box(*map(float, row)) for row in kept)

    def _read(self, rgb_px: np.ndarray, long_side_px: int) -> np.ndarray:
        """Boxes (k, 5) x, y, major half-axis, aspect, score in pixels of the frame, read at one size."""
        height, width = rgb_px.shape[:2]
        scale = long_side_px / max(height, width)
        w, h = max(round(width * scale), 1), max(round(height * scale), 1)
        way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
        small = cv2.resize(rgb_px, (w, h), interpolation=way)
        padded = np.full((-(-h // MULTIPLE) * MULTIPLE, -(-w // MULTIPLE) * MULTIPLE, 3), GREY, np.uint8)
        padded[:h, :w] = small
        (maps,) = self._session.run(None, {"picture": padded[None]})
        score, dx, dy, radius, aspect = maps[0, :5]
        row, column = np.nonzero(score >= self.score)
        stride = padded.shape[0] / score.shape[0]
        middle = (stride - 1) / 2
        x = (column + dx[row, column]) * stride + middle
        y = (row + dy[row, column]) * stride + middle
        found = np.stack(
            [
                (x + 0.5) * width / w - 0.5,
                (y + 0.5) * height / h - 0.5,
                radius[row, column] * width / w,
                aspect[row, column],
                score[row, column],
            ],
            axis=1,
        )
        inside = (x >= -0.5) & (y >= -0.5) & (x <= w - 0.5) & (y <= h - 0.5)
        return np.asarray(found[inside], np.float64)


def merge(boxes: np.ndarray) -> np.ndarray:
    """Keep one box of those that share a centre.

    Parameters
    ----------
    boxes : (k, 5)
        x, y, major half-axis, aspect, score.

    Returns
    -------
    (m, 5)
        Best score first. A box falls to a better one when its centre lies within a third of the smaller half-axis
        of the other's, or both sizes agree within a factor 1.5 and it lies within half a half-axis. The one kept
        takes the larger radius of a concentric pair when the scores are close: a painted ring inside the
        plate is a disc as well, and the plate is the outer one.
    """
    order = np.argsort(-boxes[:, 4], kind="stable")
    kept: list[np.ndarray] = []
    for row in boxes[order]:
        for better in kept:
            gap = float(np.hypot(row[0] - better[0], row[1] - better[1]))
            small, large = sorted((float(row[2]), float(better[2])))
            if gap < small / 3 or (large < 1.5 * small and gap < small / 2):
                if row[2] > better[2] and row[4] > 0.6 * better[4] and large < 1.6 * small:
                    better[2] = row[2]
                    better[3] = row[3]
                break
        else:
            kept.append(row.copy())
    return np.array(kept).reshape(-1, 5)
