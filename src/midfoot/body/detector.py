"""Finds people in one square cut-out: anchors, decoding, and merging of overlapping answers.

The network (BlazePose detector, 224 px) answers at 2254 fixed places; each answer is a box, the middle of the
hips and a point on the circle round the whole body, from which the region for the landmark network follows.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from midfoot.body.network import Network
from midfoot.body.regions import Region, cut, region_of
from midfoot.records.base import FloatArray

SIZE = 224
LAYERS = ((28, 2), (14, 2), (7, 6))
"""Cells along a side and anchors per cell: strides 8, 16 and 32 px."""
OVERLAP = 0.3
"""Intersection over union from which two boxes are taken for the same person."""


def anchor_centres() -> FloatArray:
    """Give the anchors' centres (2254, 2) as fractions of the picture's side."""
    rows = []
    for cells, repeats in LAYERS:
        at = (np.arange(cells) + 0.5) / cells
        y, x = np.meshgrid(at, at, indexing="ij")
        rows.append(np.repeat(np.stack([x.ravel(), y.ravel()], axis=1), repeats, axis=0))
    return np.concatenate(rows)


@frozen
class Detection:
    """A person found: score 0..1 and the region for the landmark network, in px of the picture."""

    score: float
    region: Region = field()


def decode(
    raw: NDArray[np.floating], logits: NDArray[np.floating], centres: FloatArray, threshold: float
) -> FloatArray:
    """Turn the network's answers into rows.

    Parameters
    ----------
    raw : (2254, 12)
        Box centre, box size and four points, in px from the anchor's centre.
    logits : (2254,)
    centres : (2254, 2)
    threshold : float
        Least score, 0..1.

    Returns
    -------
    (m, 9) : score, x0, y0, x1, y1, hips x, y, end of the circle x, y as fractions of the side, best first.
    """
    keep = np.flatnonzero(logits > np.log(threshold / (1 - threshold)))
    keep = keep[np.argsort(-logits[keep], kind="stable")]
    score = 1 / (1 + np.exp(-logits[keep].astype(np.float64)))
    at = raw[keep].astype(np.float64) / SIZE
    c = centres[keep]
    middle, half = at[:, 0:2] + c, at[:, 2:4] / 2
    return np.concatenate([score[:, None], middle - half, middle + half, at[:, 4:6] + c, at[:, 6:8] + c], axis=1)


def merge(rows: FloatArray, overlap: float = OVERLAP) -> FloatArray:
    """Merge rows of `decode` that overlap the best one, weighting by score; the best score stays.

    Order of the rows does not matter; rows further apart than `overlap` stay apart.
    """
    rest = rows[np.argsort(-rows[:, 0], kind="stable")]
    merged = []
    while len(rest):
        best = rest[0]
        near = _overlaps(best[1:5], rest[:, 1:5]) > overlap
        near[0] = True
        group = rest[near]
        mean = (group[:, 1:] * group[:, :1]).sum(axis=0) / group[:, 0].sum()
        merged.append(np.concatenate([best[:1], mean]))
        rest = rest[~near]
    return np.array(merged).reshape(-1, rows.shape[1])


def _overlaps(box: FloatArray, boxes: FloatArray) -> FloatArray:
    low = np.maximum(box[:2], boxes[:, :2])
    high = np.minimum(box[2:], boxes[:, 2:])
    both = np.prod(np.maximum(high - low, 0), axis=1)
    area = np.prod(np.maximum(boxes[:, 2:] - boxes[:, :2], 0), axis=1)
    own = float(np.prod(np.maximum(box[2:] - box[:2], 0)))
    union = own + area - both
    share: FloatArray = np.divide(both, union, out=np.zeros_like(both), where=union > 0)
    return share


class Detector:
    """The detector network on turned square cut-outs."""

    def __init__(self, path: Path) -> None:
        self._network = Network(path, (0, 1))
        self._centres = anchor_centres()

    def look(self, rgb: NDArray[np.uint8], square: Region, threshold: float) -> list[Detection]:
        """Give the people found in `square` of the picture, best first."""
        picture = cut(rgb, square, SIZE, replicate=False)
        raw, logits = self._network(picture, 1 / 127.5, -1.0)
        rows = merge(decode(raw[0], logits[0, :, 0], self._centres, threshold))
        found = []
        for row in rows:
            points = square.to_picture(row[5:9].reshape(2, 2) * SIZE, SIZE)
            region = region_of(points[0], points[1])
            if region.side_px > 8:
                found.append(Detection(float(row[0]), region))
        return found


def whole(width_px: int, height_px: int) -> Region:
    """Give the square that holds the whole picture, the picture in its middle."""
    return Region(width_px / 2, height_px / 2, float(max(width_px, height_px)))
