"""Making heads unrecognisable: whose, and how. Whoever is not surely the lifter is covered.

What is under the cover is gone: a few tiles of mean colour, drawn smooth. Nothing of it can be computed back.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from attrs import frozen

from midfoot.publish.look import Picture
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, BodyTrack
from midfoot.records.heads import Heads, HeadTrack

BLOCKS = 6
"""Tiles across a head at most: no face is told by so few (common practice, no source)."""
LEAST_BLOCK_PX = 5.0
EDGE = 0.12
"""Width of the soft rim over the radius; it lies outside the head."""
NEAR, ALIKE = 1.3, 0.6
"""Distance, in radii of the larger circle, up to which a head is where another is; up to which two are one."""
SHARE, LEAST_ROWS = 0.7, 3
"""A track is the lifter's when so much of it, in at least so many rows, is where his head is known to be."""
HEAD_LANDMARKS = list(range(11))
HEAD_PER_TRUNK = 0.30
"""Radius of a head with some room over shoulder to hip: 0.065 and 0.288 of the stature (segment tables, from
memory), and a third more."""

Circle = tuple[float, float, float]
NOWHERE = HeadTrack("body", np.zeros(0), np.zeros((0, 2)), np.zeros(0))


def own_head(body: BodyTrack) -> HeadTrack:
    """Give where the lifter's head is: by its landmarks, else above his shoulders; else no row."""
    if body.status != "seen" or not len(body.t_s):
        return NOWHERE
    xy = np.where(np.asarray(body.state != HIDDEN)[..., None], body.xy_px, np.nan)
    shoulders, hips = (_mean(xy[:, [INDEX[f"left_{j}"], INDEX[f"right_{j}"]]]) for j in ("shoulder", "hip"))
    trunk = np.hypot(*(shoulders - hips).T)
    if not np.isfinite(trunk).any():
        return NOWHERE
    long = float(np.nanquantile(trunk, 0.9))  # a trunk that points at the camera looks short
    head = _mean(xy[:, HEAD_LANDMARKS])
    with np.errstate(invalid="ignore", divide="ignore"):
        above = shoulders + (shoulders - hips) / trunk[:, None] * (0.5 * long)
    place = np.where(np.isfinite(head), head, above)
    known = np.flatnonzero(np.isfinite(place).all(axis=1))
    return HeadTrack("body", body.t_s[known], place[known], np.full(len(known), HEAD_PER_TRUNK * long))


def _mean(points: FloatArray) -> FloatArray:
    known = np.asarray(np.isfinite(points).all(axis=2))
    count = known.sum(axis=1)[:, None]
    total = np.where(known[:, :, None], points, 0.0).sum(axis=1)
    out: FloatArray = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return out


@frozen(kw_only=True)
class Veil:
    """Who is covered in a clip.

    `heads` are all that were found, `own` where the lifter's is, `mine` the places in `heads.tracks` that are the
    lifter's, `with_lifter` whether he is covered too.
    """

    heads: Heads
    own: HeadTrack
    mine: frozenset[int] = frozenset()
    with_lifter: bool = False

    def circles(self, t_s: float) -> list[Circle]:
        """Give what is covered at a moment of the clip, px of the upright clip.

        Raises
        ------
        ValueError
            When the heads were not looked for at that moment: nothing may leave uncovered by mistake.
        """
        if not self.heads.from_s - 0.1 <= t_s <= self.heads.to_s + 0.1:
            span = f"{self.heads.from_s:g} to {self.heads.to_s:g} s"
            raise ValueError(f"heads: looked for from {span}, not at {t_s:g} s")
        own = self.own.at(t_s)
        out, spared = [], []
        for place, track in enumerate(self.heads.tracks):
            circle = track.at(t_s)
            if circle is None:
                continue
            if not self.with_lifter and place in self.mine and own is not None and _apart(circle, own) <= NEAR:
                spared.append((track.by, _apart(circle, own), circle))
            else:
                out.append(circle)
        for by in ("face", "body"):
            same = sorted((s for s in spared if s[0] == by), key=lambda s: s[1])
            out += [c for _, _, c in same[1:] if _apart(c, same[0][2]) > ALIKE]
        if self.with_lifter and own is not None:
            out.append(own)
        return out

    def over(self, rgb: Picture, t_s: float, zoom: float = 1.0) -> Picture:
        """Give a copy of the upright frame at a moment with everybody covered who is to be.

        `zoom` is px of the picture per px of the clip.
        """
        picture = rgb.copy()
        for x, y, radius in self.circles(t_s):
            cover(picture, (x * zoom, y * zoom, radius * zoom))
        return picture


def veil_of(heads: Heads, body: BodyTrack, *, with_lifter: bool) -> Veil:
    """Tell whose the heads are.

    A head is the lifter's only when it was where the body stage saw the lifter's for most of its time; where the
    lifter was not seen, nobody is spared.
    """
    own = own_head(body)
    mine = set()
    for place, track in enumerate(heads.tracks):
        known = [
            _apart((float(xy[0]), float(xy[1]), float(r)), at)
            for t, xy, r in zip(track.t_s, track.xy_px, track.radius_px, strict=True)
            if (at := own.at(float(t))) is not None
        ]
        if len(known) >= LEAST_ROWS and np.mean(np.array(known) <= NEAR) >= SHARE:
            mine.add(place)
    return Veil(heads=heads, own=own, mine=frozenset(mine), with_lifter=with_lifter)


def _apart(a: Circle, b: Circle) -> float:
    """Distance of two circles in radii of the larger one."""
    return float(np.hypot(a[0] - b[0], a[1] - b[1]) / max(a[2], b[2], 1e-9))


def cover(picture: Picture, circle: Circle) -> None:
    """Cover a circle of a picture in place: a few tiles of mean colour, drawn smooth; a soft rim outside it."""
    x, y, radius = circle
    reach = radius * (1 + EDGE)
    left, right = (int(np.clip(v, 0, picture.shape[1])) for v in (np.floor(x - reach), np.ceil(x + reach) + 1))
    top, bottom = (int(np.clip(v, 0, picture.shape[0])) for v in (np.floor(y - reach), np.ceil(y + reach) + 1))
    if right - left < 1 or bottom - top < 1 or radius <= 0:
        return
    part = picture[top:bottom, left:right]
    block = max(2 * reach / BLOCKS, LEAST_BLOCK_PX)
    tiles = tuple(int(np.clip(np.floor(size / block), 1, BLOCKS)) for size in (right - left, bottom - top))
    few: Any = cv2.resize(part, tiles, interpolation=cv2.INTER_AREA)
    flat: Any = cv2.resize(few, (right - left, bottom - top), interpolation=cv2.INTER_LINEAR)
    rows, columns = np.ogrid[top:bottom, left:right]
    away = np.hypot((columns - x).astype(np.float32), (rows - y).astype(np.float32))
    weight = np.clip((reach - away) / np.float32(max(reach - radius, 1e-6)), 0.0, 1.0)
    part[:] = cv2.blendLinear(flat, np.ascontiguousarray(part), weight, 1 - weight)
