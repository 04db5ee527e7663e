"""What stays sharp where everything else is blurred: the lifter's outline and the bar's, from what was measured.

The outline is drawn from the landmarks as limbs of a body's usual thickness, close on purpose: whoever stands
behind the lifter is seen beside it only by what lies under it.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from midfoot.records.bar import BarTrack
from midfoot.records.base import FloatArray
from midfoot.records.body import HIDDEN, INDEX, BodyTrack

LIMBS = (
    ("shoulder", "hip", 0.20), ("shoulder", "elbow", 0.16), ("elbow", "wrist", 0.13), ("wrist", "index", 0.13),
    ("hip", "knee", 0.22), ("knee", "ankle", 0.16), ("ankle", "foot_index", 0.11), ("heel", "foot_index", 0.11),
)  # fmt: skip
ACROSS = (("shoulder", 0.14), ("hip", 0.20))
TRUNK, NECK, HEAD = 0.27, 0.15, 0.9
"""Half widths over shoulder to hip: girths of the segment tables over 2 pi (from memory), room for clothes; the
head's is what it has without the room that a cover leaves."""
REACH, FAR, ARM = 1.2, 1.9, 0.13
"""Farthest from shoulder to hand and from knee to shoulder, and half an arm's width, over shoulder to hip."""
PER_TRUNK = {("hip", "knee"): 0.245 / 0.288, ("knee", "ankle"): 0.246 / 0.288}
"""Lengths over shoulder to hip (segment tables), for where a plate hides the shoulders throughout."""
LONGEST_GAP_S, STAYS = 1.5, 0.25
"""A landmark that is not known for no longer than this, or comes back within so many trunks, stays on a line."""
NEAREST_S = 0.12
SHAFT, RIM = 0.06, 1.04
"""Half width of the shaft over the plate's diameter, and how far beyond its rim a plate stays sharp."""
RIM_BLUR = 0.004
"""Softness of the edge over the picture's long side."""

Point = tuple[float, float]
Limb = tuple[Point, Point, float]
Disc = tuple[Point, Point, float]


@frozen(kw_only=True)
class Outline:
    """The lifter and the bar at a moment: limbs (ends, half width), discs (middle, half axes, turn in degrees)."""

    limbs: tuple[Limb, ...] = ()
    discs: tuple[Disc, ...] = ()

    def holds(self, x: float, y: float, room: float = 0.0) -> bool:
        """Tell whether a point lies in it, or no farther from it than `room`, px."""
        for (x0, y0), (x1, y1), half in self.limbs:
            long = max((x1 - x0) ** 2 + (y1 - y0) ** 2, 1e-9)
            share = float(np.clip(((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / long, 0, 1))
            if np.hypot(x - x0 - share * (x1 - x0), y - y0 - share * (y1 - y0)) <= half + room:
                return True
        for (xm, ym), (a, b), turn in self.discs:
            c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
            along, beside = (x - xm) * c + (y - ym) * s, (y - ym) * c - (x - xm) * s
            if (along / (a + room)) ** 2 + (beside / (b + room)) ** 2 <= 1:
                return True
        return False

    def mask(self, shape: tuple[int, ...], zoom: float) -> NDArray[np.float32]:
        """Give how sharp every pixel stays, 0..1, float32; `zoom` is px of the picture per px of the clip."""
        out: Any = np.zeros(shape[:2], np.uint8)
        for one, two, half in self.limbs:
            ends = [(round(x * zoom), round(y * zoom)) for x, y in (one, two)]
            cv2.line(out, ends[0], ends[1], 255, max(1, round(2 * half * zoom)), cv2.LINE_AA)
        for (x, y), (a, b), turn in self.discs:
            axes = (max(1, round(a * zoom)), max(1, round(b * zoom)))
            cv2.ellipse(out, (round(x * zoom), round(y * zoom)), axes, turn, 0, 360, 255, -1, cv2.LINE_AA)
        sigma = max(0.5, RIM_BLUR * max(shape[:2]))
        return np.asarray(cv2.GaussianBlur(out, (0, 0), sigma), np.float32) / np.float32(255)


NOTHING = Outline()


def _gapless(t_s: FloatArray, xy: FloatArray, trunk_px: float) -> FloatArray:
    """Fill pauses of points (n, k, 2) by line: short ones, and of what comes back where it was."""
    out = xy.copy()
    for k in range(xy.shape[1]):
        known = np.flatnonzero(np.isfinite(xy[:, k]).all(axis=1))
        for a, b in pairwise(known.tolist()):
            stays = np.hypot(*(xy[b, k] - xy[a, k])) <= STAYS * trunk_px
            if b - a > 1 and (stays or t_s[b] - t_s[a] <= LONGEST_GAP_S):
                share = ((t_s[a:b] - t_s[a]) / (t_s[b] - t_s[a]))[:, None]
                out[a:b, k] = xy[a, k] + share * (xy[b, k] - xy[a, k])
    return out


@frozen(kw_only=True)
class Sharp:
    """What stays sharp in a clip: outlines over time.

    `body_t_s` (n,), `points` (n, 33, 2) px with NaN where not known, `trunk_px` the lifter's shoulder to hip,
    `head` (n, 3) middle and radius of his head; `bar` the bar as it was followed.
    """

    body_t_s: FloatArray = field(factory=lambda: np.zeros(0))
    points: FloatArray = field(factory=lambda: np.zeros((0, 33, 2)))
    trunk_px: float = 0.0
    head: FloatArray = field(factory=lambda: np.zeros((0, 3)))
    bar: BarTrack | None = None

    def at(self, t_s: float, *, head: bool = True) -> Outline:
        """Give the outline at a moment, with his head or without; nothing where neither was seen."""
        row = _row(self.body_t_s, t_s)
        middle = np.full(3, np.nan) if row is None or not head else self.head[row]
        limbs = [] if row is None else self._limbs(self.points[row], middle, self._near(t_s))
        shaft, discs = self._bar(t_s, None if row is None else self.points[row])
        return Outline(limbs=(*limbs, *shaft), discs=tuple(discs))

    def body_at(self, t_s: float) -> Outline:
        """Give limbs and trunk at a moment where their landmarks are known: no head, no bar, nothing reckoned."""
        row = _row(self.body_t_s, t_s)
        if row is None:
            return NOTHING
        xy = self.points[row]
        ends = [(xy[INDEX[f"{side}_{a}"]], xy[INDEX[f"{side}_{b}"]], half)
                for side in ("left", "right") for a, b, half in LIMBS]  # fmt: skip
        ends.append((_middle(xy, "shoulder"), _middle(xy, "hip"), TRUNK))
        known = [(a, b, half) for a, b, half in ends if np.isfinite(a).all() and np.isfinite(b).all()]
        return Outline(
            limbs=tuple(
                ((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), half * self.trunk_px)
                for a, b, half in known
            )
        )

    def _near(self, t_s: float) -> FloatArray:
        """Give where the bar's near end, or the bar, is; NaN where it is not known."""
        row = None if self.bar is None else _row(self.bar.t_s, t_s)
        return np.full(2, np.nan) if self.bar is None or row is None else self.bar.xy_px[row]

    def _limbs(self, xy: FloatArray, head: FloatArray, bar: FloatArray) -> list[Limb]:
        out: list[Limb] = []

        def add(a: FloatArray, b: FloatArray, half: float) -> None:
            if np.isfinite(a).all() and np.isfinite(b).all():
                out.append(((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), half * self.trunk_px))

        for side in ("left", "right"):
            for one, two, half in LIMBS:
                add(xy[INDEX[f"{side}_{one}"]], xy[INDEX[f"{side}_{two}"]], half)
        for joint, half in ACROSS:
            add(xy[INDEX[f"left_{joint}"]], xy[INDEX[f"right_{joint}"]], half)
        shoulders, hips = (_middle(xy, j) for j in ("shoulder", "hip"))
        if np.isfinite(head).all():
            add(head[:2], head[:2], HEAD * float(head[2]) / self.trunk_px)
            add(shoulders, head[:2], NECK)
        hand = _middle(xy, "wrist") if np.isfinite(_middle(xy, "wrist")).all() else bar
        top = shoulders if np.isfinite(shoulders).all() else head[:2]
        below, knees = hips, _middle(xy, "knee")
        if not np.isfinite(hips).all():
            below = knees  # straight from there, where the hips were not made out
        if not np.isfinite(top).all() and _within(bar, below, (REACH if below is hips else FAR) * self.trunk_px):
            top = bar  # a plate before shoulders and head
        add(top, below, TRUNK)
        if _within(hand, top, REACH * self.trunk_px):
            add(top, hand, ARM)  # an arm that was not made out goes to the bar
        return out

    def _bar(self, t_s: float, xy: FloatArray | None) -> tuple[list[Limb], list[Disc]]:
        bar = self.bar
        row = None if bar is None else _row(bar.t_s, t_s)
        if bar is None or row is None:
            return [], []
        near = bar.xy_px[row]
        if bar.near_xy_px is not None and not np.isfinite(near).all():
            near = bar.near_xy_px[row]
        far = bar.far_xy_px[row] if len(bar.far_xy_px) else np.full(2, np.nan)
        grips = xy[[INDEX["left_wrist"], INDEX["right_wrist"]]].mean(axis=0) if xy is not None else far
        if np.isfinite(near).all() and not np.isfinite(far).all() and np.isfinite(grips).all():
            far = 2 * grips - near
        size = bar.diameter_px.value if bar.diameter_px else 1.5 * self.trunk_px  # 0.45 m, trunk 0.288 x 1.75 m
        discs: list[Disc] = []
        if bar.diameter_px and bar.source == "plate" and np.isfinite(near).all():
            half = RIM * size / 2
            axes = (half, half * (bar.aspect.value if bar.aspect else 1.0))
            discs.append(((float(near[0]), float(near[1])), axes, bar.axis_deg or 0.0))
        if bar.far_diameter_px and len(bar.far_xy_px) and np.isfinite(bar.far_xy_px[row]).all():
            half, at = RIM * bar.far_diameter_px.value / 2, bar.far_xy_px[row]
            axes = (half, half * (bar.aspect.value if bar.aspect else 1.0))
            discs.append(((float(at[0]), float(at[1])), axes, bar.axis_deg or 0.0))
        if not (np.isfinite(near).all() and np.isfinite(far).all()):
            return [], discs
        ends = (float(near[0]), float(near[1])), (float(far[0]), float(far[1]))
        return [(*ends, SHAFT * size)], discs


def sharp_of(body: BodyTrack, bar: BarTrack | None, head_t_s: FloatArray, head: FloatArray) -> Sharp:
    """Tell what stays sharp in a clip.

    Parameters
    ----------
    head_t_s, head : (m,) s and (m, 3) px
        Middle and radius of the lifter's head where it is known.
    """
    if body.status != "seen" or not len(body.t_s):
        return Sharp(bar=bar)
    known = np.where(np.asarray(body.state != HIDDEN)[..., None], body.xy_px, np.nan)
    trunk = _trunk(known)
    if trunk is None:
        return Sharp(bar=bar)
    xy = _gapless(body.t_s, known, trunk)
    heads = np.full((len(body.t_s), 3), np.nan)
    if len(head_t_s):
        rows = np.searchsorted(body.t_s, head_t_s).clip(0, len(body.t_s) - 1)
        heads[rows] = head
    return Sharp(body_t_s=body.t_s, points=xy, trunk_px=trunk, head=heads, bar=bar)


def _trunk(xy: FloatArray) -> float | None:
    """Give the length of shoulder to hip, px, else from the legs; None where neither is seen."""

    def long(one: str, two: str) -> float | None:
        apart = np.hypot(*(_middle(xy, one) - _middle(xy, two)).T)
        if not np.isfinite(apart).any():
            return None
        return float(np.nanquantile(apart, 0.9))  # what points at the camera looks short

    own = long("shoulder", "hip")
    legs = [length / share for (one, two), share in PER_TRUNK.items() if (length := long(one, two)) is not None]
    return own if own is not None else max(legs, default=None)


def _middle(xy: FloatArray, joint: str) -> FloatArray:
    """Give the middle of a left and a right landmark (..., 33, 2), or the one that is known; NaN without both."""
    return known_mean(xy[..., [INDEX[f"left_{joint}"], INDEX[f"right_{joint}"]], :])


def known_mean(points: FloatArray) -> FloatArray:
    """Give the mean of those points (..., k, 2) that are known, (..., 2); NaN where none is."""
    known = np.asarray(np.isfinite(points).all(axis=-1))[..., None]
    count = known.sum(axis=-2)
    total = np.where(known, points, 0.0).sum(axis=-2)
    out: FloatArray = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return out


def _within(one: FloatArray, two: FloatArray, far: float) -> bool:
    return bool(np.hypot(*(one - two)) <= far)  # never where one is not known


def _row(t_s: FloatArray, at_s: float) -> int | None:
    if not len(t_s):
        return None
    row = int(np.argmin(np.abs(t_s - at_s)))
    return row if abs(float(t_s[row]) - at_s) <= NEAREST_S else None
