"""Which edge is the plate's outermost rim: whole ellipses fitted to all that stands about the followed ring.

Most plates carry a lip, painted or not, at 0.9-0.985 of the radius, and the clearest ring is often that one:
taken for the rim it makes every length too large by as much. No single direction tells them apart, so whole
ellipses are fitted: first the clearest ring, in all five numbers, which gives the shape of the face; then, with
that shape and size and place open, one ring after the other, each taking with it the edges that it explains. The
outermost that stands over three tenths of the outline, some of it above the short axis and some below, is the rim.
The plate's side, seen beyond the face of an oblique plate, is the same ring farther back: it lies aside by more
than a lip may, and is not taken.

About the ring an ellipse is nearly a circle, and its ratio to the ring is a sum of five waves over the direction:
so every fit is linear, from many starts at once, and nothing is drawn at random.

Rule for the next author: the answer must not hang on the ring that happened to be followed, nor on the start.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from midfoot.bar.disc_model import Sample
from midfoot.bar.rim import Ellipse
from midfoot.bar.standing import DIRECTIONS, Standing, standing, turns
from midfoot.records.base import FloatArray

SLEEVE = 0.2
"""Directions nearer to the short axis than this (sine) are not asked: the sleeve comes out over the rim there."""
CLOSE_PX, CLOSE = 0.35, 0.003
"""How close to an ellipse an edge must lie to count: samples' pixels, and at least this share of the half-axis."""
COUNTS = 0.25
RUN, OF_RUN = 7, 5
"""Edges count where so many of so many neighbouring directions have one: a plate's edge goes on, chance ends."""
EITHER_HALF, WHOLE_SHARE = 0.12, 0.30
"""Least share of the half above the short axis, of the half below, and of the whole outline."""
QUARTER, ONE_SIDED, SEEN_HALF = 0.25, 0.5, 0.2
"""A half with less of it leaves a doubt; what one half needs where the other is out of the frame, which it is when
less of its directions show anything."""
MOST_RINGS, LEAST_WORTH = 7, 0.10
FIRST_SIZES, FIRST_SHIFTS = (0.88, 1.12, 0.004), (-0.06, 0.061, 0.02)
SCAN_SIZES, SCAN_STEP = (0.94, 1.25), 0.002
DEPTH = 0.05
"""How far before or behind each other the rings of one face may lie, radii."""
SURE_SD, UNTOLD_SD, ONE_HALF_SD, SIDE_SD = 0.012, 0.04, 0.02, 0.04
"""Relative sd: one rim seen against the room (random drawn clips with a told plate: docs/accuracy.md); no ring
told, so that the followed one may be a lip or lie across two; a rim told nearly by one half alone, whose place
along the long axis is then the face's; and, times the sine of the turn, what the side of a thick plate, or of a
second one beside it, may be taken for where it is seen beyond the face."""
RIVAL_SHARE, RIVAL_REACH = 0.2, 1.12
"""A ring farther out with this share of the outline, but not enough of it, leaves a doubt; so far out at most."""

TIGHT = np.array([9.0, 0.01, 0.008, 0.008, 0.008])
"""How far a ring may leave the shape of the face, by waves; its size is free."""
SAME = 0.02
"""A ring that is farther out by less is the same edge, drawn out."""
LIP, CLEAR_EDGE = 0.06, 0.5

TURN = turns()
WAVES = np.column_stack([np.ones(DIRECTIONS), np.cos(TURN), np.sin(TURN), np.cos(2 * TURN), np.sin(2 * TURN)])
ASKED = np.abs(np.sin(TURN)) > SLEEVE
BELOW = np.sin(TURN) > 0


@frozen
class Rim:
    """The outermost rim against the followed ring (centre 0, half-axis 1).

    `ellipse` is the rim; `face` the clearest ring, whose shape is the plate's; `rel_sd` the relative sd of the
    rim's size, `aspect_sd` that of the shape; `told` is false where nothing told which edge the rim is and the
    ring was kept.
    """

    ellipse: Ellipse
    face: Ellipse
    rel_sd: float
    aspect_sd: float
    told: bool

    @property
    def grow(self) -> float:
        """How many times as large as the followed ring it is."""
        return self.ellipse.a


@frozen(eq=False)
class _Ring:
    """A fitted ring: its five waves, shares of the outline (below, above, whole), and its worth."""

    waves: FloatArray
    below: float
    above: float
    whole: float
    worth: float
    told: bool


def outermost_rim(samples: tuple[Sample, ...], ring: Ellipse) -> Rim:
    """Find the rim from samples centred on the followed ring.

    Parameters
    ----------
    samples : laid over each other, sizes counted in the ring's major half-axis.
    ring : centre 0, half-axis 1.
    """
    seen = standing(samples, ring)
    radius_px = float(np.median([s.unit * s.scale * s.step_px for s in samples]))
    close = max(CLOSE, CLOSE_PX / seen.unit)
    tangent = math.sqrt(max(0.0, 1.0 / max(ring.aspect, 0.3) ** 2 - 1.0))
    aspect_sd = 0.5 / radius_px + 0.004
    base = _clearest(seen, close, tangent)
    rings = [] if base is None else _one_after_the_other(seen, base, close, tangent)
    told = [r for r in rings if r.told]
    if base is None or not told:
        return Rim(ring, ring, UNTOLD_SD, 2 * aspect_sd + 0.01, told=False)
    best = max(told, key=lambda r: r.waves[0])
    waves, drawn_out = _with_its_own(best, rings)
    still = _only_still(best.waves, seen, close)
    half = ONE_HALF_SD if min(best.below, best.above) < QUARTER else 0.0
    side = SIDE_SD * math.sqrt(max(0.0, 1.0 - min(ring.aspect, 1.0) ** 2))
    sd = math.hypot(max(SURE_SD, 0.25 / radius_px), drawn_out, still, half, side, _doubt(best, rings))
    return Rim(_ellipse(waves, ring), _ellipse(base, ring), sd, aspect_sd, told=True)


def _clearest(seen: Standing, close: float, tangent: float) -> FloatArray | None:
    """The five waves of the ring that most edges lie on, whatever its shape; None when there are no edges."""
    weight = seen.weight
    sizes, shifts = np.arange(*FIRST_SIZES), np.arange(*FIRST_SHIFTS)
    starts = np.array([(size, shift, 0.0, 0.0, 0.0) for size in sizes for shift in shifts])
    loose = np.array([9.0, 0.01 + 0.06 * tangent, 0.006, 0.02, 0.02])
    found = _settled(starts, np.zeros(5), loose, seen.ratio, weight, close)
    near = _nearness(found, seen.ratio, weight, close)
    worth = (near * _running(near))[:, ASKED].mean(axis=1)
    best = int(np.argmax(worth))
    return found[best] if worth[best] > LEAST_WORTH else None


def _one_after_the_other(seen: Standing, base: FloatArray, close: float, tangent: float) -> list[_Ring]:
    """Rings of the face's shape, the best first; each takes with it the edges that it explains."""
    weight = seen.weight.copy()
    most = 0.006 + DEPTH * tangent
    shifts = np.arange(-most, most + 1e-9, min(0.004, most / 2))
    sizes = np.arange(*SCAN_SIZES, SCAN_STEP) * base[0]
    scan = np.array([(size, base[1] + shift, *(base[2:] * size / base[0])) for size in sizes for shift in shifts])
    out: list[_Ring] = []
    for _ in range(MOST_RINGS):
        near = _nearness(scan, seen.ratio, weight, close)
        start = scan[int(np.argmax((near * _running(near))[:, ASKED].mean(axis=1)))]
        waves = _settled(start[None], start * [0, 1, 1, 1, 1], TIGHT, seen.ratio, weight, close)
        near = _nearness(waves, seen.ratio, weight, close)
        on = _running(near)[0]
        worth = float((near[0] * on)[ASKED].mean())
        if worth < LEAST_WORTH:
            break
        below, above = _share(on, BELOW & seen.known), _share(on, ~BELOW & seen.known)
        whole = _share(on, seen.known)
        told = _is_told((below, above, whole), seen.known)
        out.append(_Ring(waves[0], below, above, whole, worth, told))
        reached = np.abs(seen.ratio - (WAVES @ waves[0])[:, None]) < 2.5 * close
        weight[reached & (on | ~ASKED)[:, None]] = 0.0
    return out


def _is_told(shares: tuple[float, float, float], known: NDArray[np.bool_]) -> bool:
    """Whether enough of the outline stands, above the short axis and below; a half out of frame is not asked."""
    below, above, whole = shares
    halves = [(share, float(known[ASKED & half].mean())) for share, half in ((below, BELOW), (above, ~BELOW))]
    asked = [share for share, shown in halves if shown >= SEEN_HALF]
    if len(asked) == 1:
        return asked[0] >= ONE_SIDED
    return len(asked) == 2 and min(asked) >= EITHER_HALF and whole >= WHOLE_SHARE


def _with_its_own(best: _Ring, rings: list[_Ring]) -> tuple[FloatArray, float]:
    """Waves of the rim together with what is left of it farther out, and the relative sd that leaves.

    Bevel, blur and a shape that goes with the place draw one edge out; its better half takes the other along late.
    """
    close = [r for r in rings if 0.0 <= r.waves[0] / best.waves[0] - 1.0 < SAME and r.whole >= RIVAL_SHARE]
    share = np.array([r.whole for r in close])
    waves = np.array([r.waves for r in close])
    mean = np.asarray(share @ waves / share.sum())
    return mean, float(np.sqrt(share @ (waves[:, 0] / mean[0] - 1.0) ** 2 / share.sum()))


def _only_still(waves: FloatArray, seen: Standing, close: float) -> float:
    """What it adds to the relative sd that only the end of stillness tells the rim, while an edge lies within it.

    The far plate and the plate's own side stay still with it as well: where they are seen beyond the rim, the
    stillness ends too far out.
    """
    off = seen.ratio - (WAVES @ waves)[:, None]
    on = (np.abs(off) < 2 * close) & (seen.weight > COUNTS)
    edge = (on & seen.is_edge).any(axis=1)
    end = (on & ~seen.is_edge).any(axis=1) & ~edge & ASKED
    within = (off < -2 * close) & (off > -LIP) & (seen.weight > CLEAR_EDGE) & seen.is_edge
    gap = np.where(within, -off, 0.0).max(axis=1)
    return float(0.5 * gap[end].sum() / max((end | (edge & ASKED)).sum(), 1))


def _doubt(best: _Ring, rings: list[_Ring]) -> float:
    """What rings that could be the rim as well add to its relative sd."""
    doubt = 0.0
    for one in rings:
        ratio = float(one.waves[0] / best.waves[0])
        if 1.0 + SAME <= ratio < RIVAL_REACH and one.whole >= RIVAL_SHARE:
            doubt = max(doubt, 0.5 * (ratio - 1.0) * min(1.0, one.whole / WHOLE_SHARE))
        if ratio < 1.0 and best.whole < ONE_SIDED:
            short = (ONE_SIDED - best.whole) / (ONE_SIDED - WHOLE_SHARE)
            doubt = max(doubt, 0.5 * min(1.0 - ratio, RIVAL_REACH - 1.0) * min(1.0, short))
    return doubt


def _settled(
    starts: FloatArray, toward: FloatArray, loose: FloatArray, ratio: FloatArray, weight: FloatArray, close: float
) -> FloatArray:
    """Fit waves (k, 5) to the nearest edges, from wide to close; `loose`: how far each wave may leave `toward`."""
    hold = np.diag((close / loose) ** 2) * 6.0
    waves, use = starts, weight * ASKED[:, None]
    for turn in range(12):
        reach = close * (3.0 - 2.0 * min(1.0, turn / 9))
        off = ratio[None] - (waves @ WAVES.T)[:, :, None]
        pull = use[None] * np.exp(-0.5 * (off / reach) ** 2)
        at = pull.argmax(axis=2)[:, :, None]
        force = np.take_along_axis(pull, at, 2)[:, :, 0]
        force = np.where(force < 1e-3, 0.0, force)
        target = np.take_along_axis(np.broadcast_to(ratio[None], pull.shape), at, 2)[:, :, 0]
        left = np.einsum("kn,na,nb->kab", force, WAVES, WAVES) + hold
        mean = np.where(np.arange(5) == 0, waves, toward)
        right = np.einsum("kn,na->ka", force * np.where(force > 0, target, 0.0), WAVES) + mean @ hold
        waves = np.linalg.solve(left, right[:, :, None])[:, :, 0]
    return waves


def _nearness(waves: FloatArray, ratio: FloatArray, weight: FloatArray, close: float) -> FloatArray:
    """How well every direction has an edge on rings (k, 5): (k, directions), 0..1."""
    out = np.empty((len(waves), DIRECTIONS))
    # single precision: thousands of rings against every edge, and nothing of it is kept
    at, share = (ratio / close).astype(np.float32), weight.astype(np.float32)
    rings = (waves @ WAVES.T / close).astype(np.float32)
    for some in np.array_split(np.arange(len(waves)), max(1, len(waves) // 100)):
        off = at[None] - rings[some][:, :, None]
        np.multiply(off, off, out=off)
        np.multiply(off, np.float32(-0.5), out=off)
        out[some] = (share[None] * np.exp(off, out=off)).max(axis=2)
    return out


def _running(near: FloatArray) -> NDArray[np.bool_]:
    """Where edges go on from direction to direction."""
    on = near > COUNTS
    along = sum(np.roll(on, k, axis=-1).astype(int) for k in range(-(RUN // 2), RUN // 2 + 1))
    return np.asarray(on & (along >= OF_RUN), bool)


def _share(on: NDArray[np.bool_], of: NDArray[np.bool_]) -> float:
    asked = ASKED & of
    return float(on[asked].mean()) if asked.any() else 0.0


def _ellipse(waves: FloatArray, ring: Ellipse) -> Ellipse:
    """The ellipse that the waves make of the ring."""
    grown = (WAVES @ waves)[:, None] * ring.points(DIRECTIONS)[0]
    (x, y), (minor, major), turn = cv2.fitEllipse((1000.0 * grown).astype(np.float32))
    if minor > major:
        minor, major, turn = major, minor, turn + 90.0
    lean = (float(turn) + 90.0) % 180.0 - 90.0
    return Ellipse(x / 1000.0, y / 1000.0, major / 2000.0, float(minor / major), lean)
