"""Whose hands go with a path: evidence, never a veto. Hands are often hidden by the plate itself."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.bar.link_motion import Thing
from midfoot.records.base import FloatArray
from midfoot.records.body import INDEX, People, PersonTrack

WRISTS = (INDEX["left_wrist"], INDEX["right_wrist"])
SHOULDERS = (INDEX["left_shoulder"], INDEX["right_shoulder"])
NOT_HELD = tuple(
    INDEX[n] for n in ("nose", "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle")
)
CLEAR_PEAK = 0.5
BODY_PER_SIDE = 1 / 2.5
"""Half a body's length over the side of a person's region: the unit of length here."""
BRIDGE_S = 0.35
STEP_S, SMOOTH_S = 0.1, 0.3
STILL_RADII_S = 0.25
"""Slower than this, in radii per second, a bar counts as held."""
LEAST_WAY_RADII = 0.3
TOGETHER = 0.25
"""Hands nearer than this, in bodies, are one point in the picture: a side view."""


@frozen
class Hands:
    """How one person goes with one path.

    `person_id`; `share` of the path's vertical way, over the whole clip, that his hold went with it (0..1);
    `went` the same over the time in which he was followed; `off_line` median distance of the path from the line
    through his wrists, bodies; `radius_bodies` the disc's radius in his body lengths; `shared_s`.
    """

    person_id: int
    share: float
    went: float
    off_line: float
    radius_bodies: float
    shared_s: float


def hands_with(a: Thing, people: People | None, lift: str) -> list[Hands]:
    """Give how everybody's hands go with a path, the best first."""
    if people is None:
        return []
    whole = float(np.abs(_steps(a.t_s, a.xy_px[:, 1], a.radius_px)[1]).sum())
    out = [h for track in people.tracks if (h := _one(a, track, whole, lift)) is not None]
    return sorted(out, key=lambda h: -_merit(h))


def away_from_joints(a: Thing, people: People | None) -> float:
    """Give how far, radii, the path stays from the nearest joint that no bar rides on, of anybody, while it moves.

    Heads, hips and knees go up and down too, and some are round. A plate may pass a knee or cover a face; it does
    not stay there.
    """
    least = np.inf
    for track in people.tracks if people is not None else ():
        place = _at(a, track.t_s)
        known = np.isfinite(place[:, 0]) & (track.t_s >= a.swing_at_s[0]) & (track.t_s <= a.swing_at_s[2])
        if known.sum() < 8 or np.ptp(track.t_s[known]) < 0.6 * (a.swing_at_s[2] - a.swing_at_s[0]):
            continue
        apart = np.linalg.norm(track.xy_px[known][:, NOT_HELD] - place[known][:, None], axis=2) / a.radius_px
        # a joint that the plate hides is put just anywhere, often on the hand
        clear = np.mean(track.peak[known][:, NOT_HELD] > CLEAR_PEAK, axis=0) > 0.7
        if clear.any():
            least = min(least, float(np.percentile(apart[:, clear], 85, axis=0).min()))
    return least


def _merit(h: Hands) -> float:
    return h.share * float(np.clip(1.5 - h.off_line / 0.5, 0.1, 1.0))


def _even(t_s: FloatArray, y: FloatArray, at_s: FloatArray) -> FloatArray:
    """Give `y` at `at_s`, smoothed over some 0.4 s; NaN further than `BRIDGE_S` from a known one."""
    out = np.full(len(at_s), np.nan)
    for i, t in enumerate(at_s):
        first, last = np.searchsorted(t_s, (t - SMOOTH_S, t + SMOOTH_S))
        if last - first < 2 or np.abs(t_s[first:last] - t).min() > BRIDGE_S:
            continue
        weight = 1.0 - (np.abs(t_s[first:last] - t) / (SMOOTH_S + 1e-3)) ** 2
        # a line, not a mean: a mean would lag at the ends
        x = t_s[first:last] - t
        total = weight.sum()
        mx, my = (weight * x).sum() / total, (weight * y[first:last]).sum() / total
        xx = (weight * (x - mx) ** 2).sum()
        slope = (weight * (x - mx) * (y[first:last] - my)).sum() / xx if xx > 0 else 0.0
        out[i] = my - slope * mx
    return out


def _steps(t_s: FloatArray, y: FloatArray, radius_px: float) -> tuple[FloatArray, FloatArray]:
    """Give even times and the vertical steps to the next, px; steps slower than a held bar's wobble are 0."""
    at = np.arange(t_s[0], t_s[-1] + 1e-9, STEP_S)
    step = np.diff(_even(t_s, y, at))
    step[np.abs(step) < STILL_RADII_S * radius_px * STEP_S] = 0.0
    return at[:-1], np.nan_to_num(step)


def _one(a: Thing, track: PersonTrack, whole: float, lift: str) -> Hands | None:
    """Compare in the frame's own coordinates: shake moves both alike."""
    inside = (track.t_s >= a.t_s[0] - BRIDGE_S) & (track.t_s <= a.t_s[-1] + BRIDGE_S)
    if inside.sum() < 6 or whole <= 0:
        return None
    hold = list(WRISTS) + (list(SHOULDERS) if lift == "squat" else [])
    firm = np.median(track.xy_px[:, hold, 1], axis=1)
    at, down = _steps(a.t_s, a.xy_px[:, 1], a.radius_px)
    hand = np.diff(_even(track.t_s, firm, np.append(at, at[-1] + STEP_S)))
    both = np.isfinite(hand)
    down, hand = down[both], hand[both]
    way = float(np.abs(down).sum())
    if way < LEAST_WAY_RADII * a.radius_px:
        return None
    shared = np.where(down * hand > 0, np.minimum(np.abs(down), np.abs(hand)), 0.0)
    # hands that wave about go with anything now and then: what they do beside it counts against them
    against = np.maximum(np.abs(hand) - 1.8 * np.abs(down), 0.0) * (down * hand > 0)
    against += np.abs(hand) * (down * hand < 0)
    went = max(0.0, float(shared.sum() - 0.5 * against.sum())) / way
    body = track.region[:, 2] * BODY_PER_SIDE
    place = _at(a, track.t_s)
    known = np.isfinite(place[:, 0])
    off = _off_line(track, place, body, known) if known.any() else np.inf
    return Hands(
        track.id, min(1.0, went * way / whole), min(1.0, went), off, a.radius_px / float(np.median(body)),
        float(both.sum()) * STEP_S,
    )  # fmt: skip


def _at(a: Thing, t_s: FloatArray) -> FloatArray:
    xy = np.stack([np.interp(t_s, a.t_s, a.xy_px[:, k]) for k in (0, 1)], axis=1)
    after = np.clip(np.searchsorted(a.t_s, t_s), 0, len(a.t_s) - 1)
    before = np.clip(after - 1, 0, None)
    near = np.minimum(np.abs(a.t_s[after] - t_s), np.abs(a.t_s[before] - t_s))
    xy[near > BRIDGE_S] = np.nan
    return xy


def _off_line(track: PersonTrack, place: FloatArray, body: FloatArray, known: np.ndarray) -> float:
    left, right = track.xy_px[known][:, WRISTS[0]], track.xy_px[known][:, WRISTS[1]]
    at, unit = place[known], body[known]
    line = right - left
    span = np.hypot(line[:, 0], line[:, 1])
    offset = at - 0.5 * (left + right)
    across = np.abs(offset[:, 0] * line[:, 1] - offset[:, 1] * line[:, 0]) / np.maximum(span, 1e-9)
    to_hand = np.minimum(np.hypot(*(at - left).T), np.hypot(*(at - right).T))
    off = np.where(span < TOGETHER * unit, to_hand, np.minimum(across, to_hand)) / unit
    return float(np.median(off))
