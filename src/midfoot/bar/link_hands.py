"""Whose hands go with a path: evidence, never a veto. Hands are often hidden by the plate itself."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.bar.link_motion import Thing
from midfoot.records.base import FloatArray
from midfoot.records.body import INDEX, People, PersonTrack

WRISTS = (INDEX["left_wrist"], INDEX["right_wrist"])
SHOULDERS = (INDEX["left_shoulder"], INDEX["right_shoulder"])
BODY_PER_SIDE = 1 / 2.5
"""Half a body's length over the side of a person's region: the unit of length here."""
BRIDGE_S = 0.35
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
    whole = _way(a)
    out = [h for track in people.tracks if (h := _one(a, track, whole, lift)) is not None]
    return sorted(out, key=lambda h: -_merit(h))


def _merit(h: Hands) -> float:
    return h.share * float(np.clip(1.5 - h.off_line / 0.5, 0.1, 1.0))


def _way(a: Thing) -> float:
    up = a.up[np.isfinite(a.up)] * a.radius_px
    return float(np.abs(np.diff(_smooth(up))).sum())


def _smooth(y: FloatArray) -> FloatArray:
    out = y.copy()
    out[1:-1] = (y[:-2] + 2 * y[1:-1] + y[2:]) / 4
    return out


def _one(a: Thing, track: PersonTrack, whole: float, lift: str) -> Hands | None:
    """Compare in the frame's own coordinates: shake moves both alike."""
    place = _at(a, track.t_s)
    known = np.isfinite(place[:, 0])
    if known.sum() < 6 or whole <= 0:
        return None
    hold = list(WRISTS) + (list(SHOULDERS) if lift == "squat" else [])
    firm = _smooth(np.median(track.xy_px[:, hold, 1], axis=1))
    steps = np.diff(track.t_s)
    pair = known[1:] & known[:-1] & (steps < 0.5)
    down, hand = np.diff(_smooth_known(place[:, 1], known)), np.diff(firm)
    down, hand = down[pair], hand[pair]
    way = float(np.abs(down).sum())
    if way < LEAST_WAY_RADII * a.radius_px:
        return None
    shared = np.where(down * hand > 0, np.minimum(np.abs(down), np.abs(hand)), 0.0)
    # hands that wave about go with anything now and then: what they do beside it counts against them
    against = np.maximum(np.abs(hand) - 1.6 * np.abs(down), 0.0) + np.where(down * hand < 0, np.abs(hand), 0.0)
    went = max(0.0, float(shared.sum() - 0.5 * against.sum())) / way
    body = track.region[:, 2] * BODY_PER_SIDE
    return Hands(
        track.id, min(1.0, went * way / whole), min(1.0, went), _off_line(track, place, body, known),
        a.radius_px / float(np.median(body)), float(steps[pair].sum()),
    )  # fmt: skip


def _smooth_known(y: FloatArray, known: np.ndarray) -> FloatArray:
    filled = np.interp(np.arange(len(y)), np.flatnonzero(known), y[known])
    return _smooth(filled)


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
