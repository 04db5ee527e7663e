"""The bar at the hands, where no disc could be followed.

The fists hold the bar, so the middle of both is a place on it; from the side the near fist alone. The error is
that of the landmarks, some centimetres, and the path says so. Where the hands let go (the grip's width or slope
is not what it was while the bar moved, or the hands hang below a squatter's shoulders) nothing is claimed; nor
where the arms are not as they are on a bar (`held`).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from midfoot.bar.held import sign_of_bar
from midfoot.bar.nothing import unfollowed
from midfoot.bar.tracklets import camera_at
from midfoot.records.bar import BarTrack, Candidate, Sightings
from midfoot.records.base import FloatArray
from midfoot.records.body import INDEX, SEEN, BodyTrack

BEYOND_WRIST = 1.1
"""The network puts the wrist up the forearm; the bar lies about where it puts the knuckles, this share of the way.
By hand marks on eight real clips the wrist is 0.08-0.17 half body lengths off, this place 0.01-0.03 on six of them
and 0.09-0.11 on two."""
PALM_SD_OF_HAND = 0.5
BOTH_SHARE = 0.5
"""Both fists are used when both are seen in this share of the frames in which any is."""
SIDE_SPAN = 0.25
"""Fists nearer than this share of the trunk's length, in the median, are one point: a side view."""
GRIP_WIDER, GRIP_TURN_DEG = 0.35, 14.0
HANGING = 0.5
"""A squatter's fists further below the shoulders than this share of the trunk hold no bar."""
BRIDGE_S = 0.35
LEAST_SHARE = 0.3
SHARED_ERROR = 1.3
"""Errors of both fists are partly the same (posture): the mean is not better by the root of two."""


@frozen
class Fists:
    """Both fists over time: `left` and `right` (n, 2) px, NaN where hidden, and their sds (n,) px."""

    left: FloatArray
    right: FloatArray
    left_sd: FloatArray
    right_sd: FloatArray

    @property
    def both(self) -> NDArray[np.bool_]:
        """Where both are seen."""
        return np.isfinite(self.left[:, 0]) & np.isfinite(self.right[:, 0])

    @property
    def span(self) -> FloatArray:
        """Vector from the left to the right fist (n, 2) px."""
        return np.asarray(self.right - self.left)


def fists_of(body: BodyTrack) -> Fists:
    """Give the places of the fists from wrists and knuckles; hidden wrists are NaN."""
    out: list[FloatArray] = []
    sds: list[FloatArray] = []
    for side in ("left", "right"):
        wrist = INDEX[f"{side}_wrist"]
        knuckles = [INDEX[f"{side}_{n}"] for n in ("index", "pinky")]
        seen = body.state[:, wrist] == SEEN
        known = seen & (body.state[:, knuckles] == SEEN).all(axis=1)
        hand = body.xy_px[:, knuckles].mean(axis=1) - body.xy_px[:, wrist]
        # the hand's own direction is noisy from frame to frame and slow by nature: its running median
        reach = running_median(body.t_s, hand, known)
        place = body.xy_px[:, wrist] + BEYOND_WRIST * np.nan_to_num(reach)
        size = np.hypot(reach[:, 0], reach[:, 1])
        usual = float(np.nanmedian(size)) if np.isfinite(size).any() else 0.0
        doubt = PALM_SD_OF_HAND * np.where(np.isfinite(size), usual, 2.0 * usual)
        place[~seen] = np.nan
        out.append(place)
        sds.append(np.where(seen, np.hypot(body.sd_px[:, wrist], doubt), np.nan))
    return Fists(out[0], out[1], sds[0], sds[1])


def running_median(
    t_s: FloatArray, values: FloatArray, known: NDArray[np.bool_], half_s: float = 0.4
) -> FloatArray:
    """Give the median of the known rows of `values` (n, k) within `half_s` of each of the times (n,) s."""
    out = np.full(values.shape, np.nan)
    if not known.any():
        return out
    at, rows = t_s[known], values[known]
    for i, t in enumerate(t_s):
        a, b = np.searchsorted(at, (t - half_s - 1e-6, t + half_s + 1e-6))
        if b > a:
            out[i] = np.median(rows[a:b], axis=0)
    return out


def trunk_px(body: BodyTrack) -> float:
    """Median length of the trunk in the picture, px; NaN when it is never seen."""
    lengths = []
    for side in ("left", "right"):
        a, b = INDEX[f"{side}_shoulder"], INDEX[f"{side}_hip"]
        ok = (body.state[:, [a, b]] == SEEN).all(axis=1)
        lengths.append(np.hypot(*(body.xy_px[ok, a] - body.xy_px[ok, b]).T))
    joined = np.concatenate(lengths)
    return float(np.percentile(joined, 80)) if len(joined) else np.nan


def track_from_hands(
    body: BodyTrack, lift: str, sightings: Sightings | None = None, candidates: tuple[Candidate, ...] = ()
) -> BarTrack:
    """Follow the bar at the lifter's hands.

    Parameters
    ----------
    body : the lifter's landmarks.
    lift : squat, bench or deadlift.
    sightings : for the camera's own movement; without it the camera counts as still.
    candidates : discs that may be the bar's end; they go into the track.

    Returns
    -------
    BarTrack
        `source` is `hands`; a row per frame where `sightings` tell the frames, else the rows of `body`.
        `not_found` when the hands are hidden nearly throughout, or when the arms show that they hold no bar.
    """
    return evolve(_track(body, lift, sightings, candidates), candidates=candidates)


def _track(body: BodyTrack, lift: str, sightings: Sightings | None, candidates: tuple[Candidate, ...]) -> BarTrack:
    if body.status != "seen" or len(body.t_s) < 3:
        return unfollowed(body.t_s, "No plate was found, and no lifter whose hands could be followed.")
    fists = fists_of(body)
    any_seen = np.isfinite(fists.left[:, 0]) | np.isfinite(fists.right[:, 0])
    if any_seen.mean() < LEAST_SHARE:
        return unfollowed(body.t_s, f"No plate was found; hands are seen in {any_seen.mean():.0%} of the frames.")
    xy, sd, what = _place(body, fists, any_seen)
    holding = _holding(body, fists, lift, what == "middle")
    seen = np.isfinite(xy[:, 0]) & holding
    sign = sign_of_bar(body, fists.left, fists.right, seen, trunk_px(body), lift, candidates)
    if sign.held == "no":
        return unfollowed(body.t_s, f"No plate was found, and nothing shows a bar in the hands: {sign.why}.")
    xy, sd = np.where(seen[:, None], xy, np.nan), np.where(seen, sd, np.nan)
    if seen.mean() < LEAST_SHARE:
        return unfollowed(body.t_s, f"No plate was found; hands hold a bar in {seen.mean():.0%} of the frames.")
    xy, sd = _bridged(body.t_s, xy, sd, seen)
    t_s, steady = body.t_s, xy
    if sightings is not None and len(sightings.camera_t_s):
        t_s = sightings.camera_t_s
        xy, sd, seen = _at_every_frame(t_s, body.t_s, xy, sd, seen)
        camera, _ = camera_at(sightings, np.asarray(t_s))
        steady = np.einsum("nij,nj->ni", camera[:, :, :2], xy) + camera[:, :, 2]
    share = f"{seen.mean():.0%} of the frames"
    bare = "" if sign.held == "yes" else f" Only that {sign.why} speaks for a bar."
    reason = {
        "middle": f"No plate was followed: the middle of both fists stands for the bar ({share}).",
        "left": f"No plate was followed: the left fist stands for the bar ({share}).",
        "right": f"No plate was followed: the right fist stands for the bar ({share}).",
    }[what]
    status = "found" if seen.mean() > 0.6 and sign.held == "yes" else "unsure"
    return BarTrack(
        status, "hands", t_s=t_s, xy_px=xy, steady_px=steady,
        sd_px=np.stack([sd, sd], axis=1), seen=seen, far_xy_px=np.full(xy.shape, np.nan), reason=f"{reason}{bare}",
    )  # fmt: skip


def _place(body: BodyTrack, fists: Fists, any_seen: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray, str]:
    """Give one place per frame, its sd, and whether it is the middle or one fist."""
    both, span = fists.both, fists.span
    width = np.hypot(span[:, 0], span[:, 1])
    apart = float(np.median(width[both])) if both.any() else 0.0
    trunk = trunk_px(body)
    if both.sum() >= BOTH_SHARE * any_seen.sum() and apart > SIDE_SPAN * (trunk if np.isfinite(trunk) else 0.0):
        return (*middle_of(fists), "middle")
    n_left, n_right = (int(np.isfinite(p[:, 0]).sum()) for p in (fists.left, fists.right))
    side = body.near_side
    if side is None or (n_left if side == "left" else n_right) < 0.5 * max(n_left, n_right):
        side = "left" if n_left >= n_right else "right"
    return (fists.left, fists.left_sd, "left") if side == "left" else (fists.right, fists.right_sd, "right")


def middle_of(fists: Fists) -> tuple[FloatArray, FloatArray]:
    """Give the middle of both fists (n, 2) px and its sd (n,) px.

    Where one fist is hidden it is the other plus half the grip as it is around that time.
    """
    both = fists.both
    xy = 0.5 * (fists.left + fists.right)
    sd = 0.5 * SHARED_ERROR * np.hypot(fists.left_sd, fists.right_sd)
    rows = np.flatnonzero(both)
    half = np.stack([np.interp(np.arange(len(xy)), rows, 0.5 * fists.span[rows, k]) for k in (0, 1)], axis=1)
    spread = 0.5 * float(np.median(np.abs(fists.span[rows] - np.median(fists.span[rows], axis=0))) * 1.48)
    for place, own_sd, sign in ((fists.left, fists.left_sd, 1.0), (fists.right, fists.right_sd, -1.0)):
        alone = ~both & np.isfinite(place[:, 0])
        xy[alone] = place[alone] + sign * half[alone]
        sd[alone] = np.hypot(own_sd[alone], spread)
    return xy, sd


def held_rows(body: BodyTrack, fists: Fists, lift: str) -> NDArray[np.bool_]:
    """Tell in which frames (n,) both hands are as they are while they hold the bar."""
    return _holding(body, fists, lift, True)


def _holding(body: BodyTrack, fists: Fists, lift: str, two: bool) -> NDArray[np.bool_]:
    """Tell in which frames the hands are as they are while the bar moves."""
    out = np.ones(len(body.t_s), bool)
    if two:
        both, span = fists.both, fists.span
        height = np.nan_to_num(0.5 * (fists.left[:, 1] + fists.right[:, 1]))
        moving = both & (np.abs(np.gradient(height, body.t_s)) > _speed_bound(height, body.t_s, both))
        use = moving if moving.sum() >= 8 else both
        width = np.hypot(span[:, 0], span[:, 1])
        usual = float(np.median(width[use]))
        turn = np.degrees(np.arctan2(span[:, 1], np.abs(span[:, 0])))
        level = float(np.median(turn[use]))
        off = (np.abs(width / usual - 1.0) > GRIP_WIDER) | (np.abs(turn - level) > GRIP_TURN_DEG)
        out &= ~(both & off)
    if lift == "squat":
        trunk = trunk_px(body)
        shoulders = body.xy_px[:, [INDEX["left_shoulder"], INDEX["right_shoulder"]], 1]
        highest = np.fmin(shoulders[:, 0], shoulders[:, 1])
        lowest = np.fmax(fists.left[:, 1], fists.right[:, 1])
        with np.errstate(invalid="ignore"):
            out &= ~(lowest - highest > HANGING * trunk)
    return out


def _speed_bound(height: FloatArray, t_s: FloatArray, known: NDArray[np.bool_]) -> float:
    speed = np.abs(np.gradient(height, t_s))[known]
    return float(np.percentile(speed, 60)) if len(speed) else 0.0


def _bridged(
    t_s: FloatArray, xy: FloatArray, sd: FloatArray, seen: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    """Cross short gaps by a line, with an sd that grows to the middle of the gap; leave long ones open."""
    rows = np.flatnonzero(seen)
    out, out_sd = xy.copy(), sd.copy()
    for a, b in pairwise(rows):
        if b - a < 2 or t_s[b] - t_s[a] > BRIDGE_S:
            continue
        inside = np.arange(a + 1, b)
        share = ((t_s[inside] - t_s[a]) / (t_s[b] - t_s[a]))[:, None]
        out[inside] = (1 - share) * xy[a] + share * xy[b]
        way = float(np.hypot(*(xy[b] - xy[a])))
        out_sd[inside] = np.hypot(max(sd[a], sd[b]), 0.25 * way + 0.5 * max(sd[a], sd[b]))
    return out, out_sd


def _at_every_frame(
    frames_s: FloatArray, t_s: FloatArray, xy: FloatArray, sd: FloatArray, seen: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Give place, sd and seen at every frame; the body is looked at in every second or so."""
    after = np.clip(np.searchsorted(t_s, frames_s - 1e-9), 0, len(t_s) - 1)
    before = np.clip(np.where(t_s[after] > frames_s + 1e-9, after - 1, after), 0, None)
    step = t_s[after] - t_s[before]
    share = np.clip(np.where(step > 0, (frames_s - t_s[before]) / np.where(step > 0, step, 1.0), 0.0), 0.0, 1.0)
    near = (step <= BRIDGE_S) & (frames_s >= t_s[0] - 0.1) & (frames_s <= t_s[-1] + 0.1)
    place = (1 - share)[:, None] * xy[before] + share[:, None] * xy[after]
    place[~near] = np.nan
    wide = np.where(near, np.fmax(sd[before], sd[after]), np.nan)
    wide[~np.isfinite(place[:, 0])] = np.nan
    return place, wide, seen[before] & seen[after] & near
