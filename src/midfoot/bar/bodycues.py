"""What the lifter's body says about the camera: which way he faces, how far he is turned, how large he is.

All of it is weak beside a followed plate; each cue is one number in pixels with an honest sd. Medians over the
clip are used because errors of landmarks are slow: more frames do not make them smaller.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import frozen

from midfoot.records.base import BoolArray, FloatArray, float_field
from midfoot.records.body import HIDDEN, INDEX, SEEN, BodyTrack

# Fractions of stature (Drillis & Contini 1966, in Winter, Biomechanics and Motor Control, fig. 4.1). Their
# population was never described, so they carry 4 %; landmarks of the pose network sit up to 40 mm off the joint.
SHANK, THIGH, TRUNK, SHOULDERS, HIPS = 0.246, 0.245, 0.288, 0.259, 0.191
# Landmarks stand inside the joints' outer width: what the network's own training set calls shoulder and hip.
SHOULDER_PAIR, HIP_PAIR = 0.20, 0.12
# What lies ahead of what, how far (fraction of stature), and how much that differs between people and moments.
# On the bench ahead is toward the feet: the trunk itself points the way.
BENCH_WAYS = (
    ("hip", "shoulder", 0.27, 0.12),
    ("hip", "ear", 0.38, 0.16),
    ("knee", "shoulder", 0.45, 0.20),
    ("hip", "nose", 0.38, 0.16),
)
UPRIGHT_WAYS = (
    ("foot_index", "heel", 0.11, 0.055),
    ("foot_index", "ankle", 0.08, 0.045),
    ("nose", "ear", 0.06, 0.035),
    ("eye", "ear", 0.05, 0.03),
    ("knee", "hip", 0.07, 0.09),
)
LANDMARK_SIZE_SD = 0.05
MIN_FRAMES = 8
# Where the lifter is at the bar: metres ahead of it, fraction of stature aside of its middle, each with its spread
# between people. Squats and deadlifts keep the bar over the middle of the foot, on the bench it moves between
# chest and shoulders; common practice.
ANCHORS = {
    "squat": (
        ("ankle", -0.04, 0.06, 0.11, 0.05),
        ("shoulder", 0.04, 0.07, 0.10, 0.02),
        ("wrist", 0.0, 0.05, 0.23, 0.05),
    ),
    "deadlift": (("ankle", -0.05, 0.06, 0.10, 0.05), ("wrist", 0.0, 0.04, 0.15, 0.03)),
    "bench": (("shoulder", -0.08, 0.09, 0.10, 0.02), ("wrist", 0.0, 0.05, 0.19, 0.05)),
}


@frozen(kw_only=True)
class Pair:
    """How far the left landmark of a pair appears to the right of the right one; its true width."""

    name: str
    at_px: FloatArray = float_field(2)
    left_minus_right_px: float
    sd_px: float
    width_of_stature: float


@frozen(kw_only=True)
class Direction:
    """A landmark that lies ahead of another: `px` how far to the right it appears, and how far it lies ahead."""

    name: str
    at_px: FloatArray = float_field(2)
    px: float
    sd_px: float
    length_of_stature: float
    spread: float


@frozen(kw_only=True)
class Anchor:
    """A landmark whose place along the bar is known from how the lift is done.

    `at_px` is where it appears when the bar is at its reference place (their median distance), `left` its side;
    it lies `ahead_m` ahead of the bar, `aside` of the stature to its side, each with its own spread.
    """

    name: str
    at_px: FloatArray = float_field(2)
    sd_px: float
    left: bool
    ahead_m: float
    ahead_sd_m: float
    aside: float
    aside_sd: float


@frozen
class BodyCues:
    """Everything the view takes from the body. None or empty where not seen.

    `stature_px` is what the lifter's standing height would measure in the picture at his own depth, with its
    relative sd; `floor_px` a place of the near foot; `depth` right minus left depth in metres (negative: right
    side nearer); `told` the body stage's own near side and its margin. `lying`: along the way he faces.
    """

    pairs: tuple[Pair, ...] = ()
    directions: tuple[Direction, ...] = ()
    anchors: tuple[Anchor, ...] = ()
    stature_px: float | None = None
    stature_rel_sd: float = 0.0
    feet_px: FloatArray | None = None
    right_minus_left_depth_m: float | None = None
    near_side: str | None = None
    near_side_margin: float = 0.0
    lying: bool = False


def _pick(body: BodyTrack, xy: FloatArray, names: tuple[str, ...]) -> tuple[FloatArray, FloatArray]:
    """Give the mean place (n, 2) and sd (n,) of some landmarks, NaN where one of them is not seen."""
    index = [INDEX[n] for n in names]
    ok: BoolArray = np.asarray((body.state[:, index] >= SEEN).all(axis=1))
    ok &= np.isfinite(xy[:, index]).all(axis=(1, 2))
    place = np.where(ok[:, None], np.where(ok[:, None, None], xy[:, index], 0.0).mean(axis=1), np.nan)
    sd = np.where(ok, np.where(ok[:, None], body.sd_px[:, index], 0.0).mean(axis=1), np.nan)
    return place, sd


def _difference(
    body: BodyTrack, xy: FloatArray, a: tuple[str, ...], b: tuple[str, ...]
) -> tuple[FloatArray, float, FloatArray] | None:
    """Median of place(a) - place(b), px, its slow sd, and the middle between both; None with too few frames."""
    pa, sa = _pick(body, xy, a)
    pb, sb = _pick(body, xy, b)
    both = np.isfinite(pa[:, 0]) & np.isfinite(pb[:, 0])
    if both.sum() < MIN_FRAMES:
        return None
    sd = float(np.median(np.hypot(sa[both], sb[both])))
    return np.median((pa - pb)[both], axis=0), max(sd, 1.0), np.median(0.5 * (pa + pb)[both], axis=0)


def _stature_px(body: BodyTrack, xy: FloatArray) -> tuple[float, float] | None:
    """Standing height in px at the lifter's depth from the long segments, and its relative sd."""
    found: list[float] = []
    weights: list[float] = []
    for side in ("left", "right"):
        for a, b, share in (("ankle", "knee", SHANK), ("knee", "hip", THIGH), ("hip", "shoulder", TRUNK)):
            pa, sa = _pick(body, xy, (f"{side}_{a}",))
            pb, sb = _pick(body, xy, (f"{side}_{b}",))
            both = np.isfinite(pa[:, 0]) & np.isfinite(pb[:, 0])
            if both.sum() < MIN_FRAMES:
                continue
            length = np.linalg.norm((pa - pb)[both], axis=1)
            # foreshortening only shortens: the longest the segment was seen, but not its one wildest frame
            longest = float(np.percentile(length, 90.0))
            sd = float(np.median(np.hypot(sa[both], sb[both])))
            found.append(longest / share)
            weights.append(1.0 / ((sd / max(longest, 1.0)) ** 2 + LANDMARK_SIZE_SD**2))
    if not found:
        return None
    mean = float(np.average(found, weights=weights))
    spread = math.sqrt(float(np.average((np.array(found) - mean) ** 2, weights=weights)) / len(found))
    rel = math.hypot(LANDMARK_SIZE_SD if len(found) > 1 else 1.6 * LANDMARK_SIZE_SD, spread / mean)
    return mean, rel


def _feet(body: BodyTrack, xy: FloatArray) -> FloatArray | None:
    """Median place of heel and toes of the nearer foot (the lower one in the picture), px.

    A foot seen in less than half as many frames as the other does not count.
    """
    found: list[tuple[int, FloatArray]] = []
    for side in ("left", "right"):
        place, _ = _pick(body, xy, (f"{side}_heel", f"{side}_foot_index"))
        n = int(np.isfinite(place[:, 0]).sum())
        if n >= MIN_FRAMES:
            found.append((n, np.nanmedian(place, axis=0)))
    most = max((n for n, _ in found), default=0)
    return max((place for n, place in found if 2 * n >= most), key=lambda p: float(p[1]), default=None)


def _anchors(
    body: BodyTrack, xy: FloatArray, lift: str, bar_px: FloatArray, reference_px: FloatArray
) -> tuple[Anchor, ...]:
    """Find where the landmarks of `ANCHORS` are beside the bar."""
    out = []
    for name, ahead, ahead_sd, aside, aside_sd in ANCHORS[lift]:
        for side in ("left", "right"):
            place, sd = _pick(body, xy, (f"{side}_{name}",))
            both = np.isfinite(place[:, 0]) & np.isfinite(bar_px[:, 0])
            if both.sum() < MIN_FRAMES:
                continue
            beside = float(np.median((place - bar_px)[both, 0]))
            height = float(np.median(place[both, 1]))
            out.append(
                Anchor(
                    name=f"{side} {name}",
                    at_px=np.array([reference_px[0] + beside, height]),
                    sd_px=float(np.median(sd[both])),
                    left=side == "left",
                    ahead_m=ahead,
                    ahead_sd_m=ahead_sd,
                    aside=aside,
                    aside_sd=aside_sd,
                )
            )
    return tuple(out)


def body_cues(
    body: BodyTrack,
    lift: str,
    shift_px: FloatArray | None = None,
    bar_px: FloatArray | None = None,
    reference_px: FloatArray | None = None,
) -> BodyCues:
    """Gather what the body says about the view; empty where the lifter was not seen.

    Parameters
    ----------
    shift_px : (n, 2), optional
        Carries every frame's pixels into those of the first frame (the camera's own movement).
    bar_px : (n, 2), optional
        The near plate at the body's times, in the first frame's pixels, NaN where not seen; with its reference
        place `reference_px` (2,).
    """
    if body.status != "seen" or body.t_s.size < MIN_FRAMES:
        return BodyCues()
    xy = body.xy_px if shift_px is None else body.xy_px + shift_px[:, None, :]
    pairs = []
    for name, width in (("shoulder", SHOULDER_PAIR), ("hip", HIP_PAIR)):
        got = _difference(body, xy, (f"left_{name}",), (f"right_{name}",))
        if got is not None:
            pairs.append(
                Pair(
                    name=name,
                    at_px=got[2],
                    left_minus_right_px=float(got[0][0]),
                    sd_px=got[1],
                    width_of_stature=width,
                )
            )
    directions = []

    def point(name: str, a: tuple[str, ...], b: tuple[str, ...], length: float, spread: float) -> None:
        got = _difference(body, xy, a, b)
        if got is not None:
            directions.append(
                Direction(
                    name=name,
                    at_px=got[2],
                    px=float(got[0][0]),
                    sd_px=got[1],
                    length_of_stature=length,
                    spread=spread,
                )
            )

    for side in ("left", "right"):
        for a, b, length, share in BENCH_WAYS if lift == "bench" else UPRIGHT_WAYS:
            there, here = (name if name == "nose" else f"{side}_{name}" for name in (a, b))
            point(f"{side} {a} from {b}", (there,), (here,), length, share)
    size = _stature_px(body, xy)
    depths = []
    for name in ("shoulder", "hip", "knee"):
        left, right = INDEX[f"left_{name}"], INDEX[f"right_{name}"]
        ok = (body.state[:, left] > HIDDEN) & (body.state[:, right] > HIDDEN)
        d = (body.depth_m[:, right] - body.depth_m[:, left])[ok]
        d = d[np.isfinite(d)]
        if d.size >= MIN_FRAMES:
            depths.append(float(np.median(d)))
    return BodyCues(
        pairs=tuple(pairs),
        directions=tuple(directions),
        anchors=() if bar_px is None or reference_px is None else _anchors(body, xy, lift, bar_px, reference_px),
        stature_px=None if size is None else size[0],
        stature_rel_sd=0.0 if size is None else size[1],
        feet_px=_feet(body, xy),
        right_minus_left_depth_m=float(np.mean(depths)) if depths else None,
        near_side=body.near_side,
        near_side_margin=body.near_side_margin,
        lying=lift == "bench",
    )
