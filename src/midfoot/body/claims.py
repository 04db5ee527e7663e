"""How much speaks for somebody being the lifter: the way that his hold went with the bar, or carried something."""

from __future__ import annotations

import numpy as np

from midfoot.body.bar_place import Bar
from midfoot.body.carried import TOGETHER, shared
from midfoot.body.persons import Person, covered
from midfoot.body.regions import BODY_PER_SIDE
from midfoot.body.search import HELD, SHOULDERS
from midfoot.records.base import FloatArray
from midfoot.records.body import People, PersonTrack

HIDES = 0.5
"""Share of the near disc's radius by which a hand behind it may seem off the bar."""
CLEAR_HANDS = 0.6
"""Least peak of both wrists for them to speak in the squat, where the plate often covers them."""


def hold_joints(lift: str) -> tuple[int, ...]:
    """Give the joints that move as one with the bar: the shoulders in the squat, else the hands."""
    return SHOULDERS if lift == "squat" else HELD


def hands_above_shoulders(track: PersonTrack) -> float:
    """Give 0.05..1: on the bench the lifter's hands are never below his shoulders in the picture; others' hang."""
    body = track.region[:, 2] * BODY_PER_SIDE
    below = (track.xy_px[:, list(HELD), 1].mean(axis=1) - track.xy_px[:, list(SHOULDERS), 1].mean(axis=1)) / body
    return float(np.clip((0.05 - np.percentile(below, 30)) / 0.15, 0.05, 1.0))


def held_path(track: PersonTrack, lift: str, long_side_px: float) -> float:
    """Give a track's claim without a bar: way held together, in body lengths, weighted by size and clarity."""
    if len(track.t_s) < 3 or len(track.carried_px) != len(track.t_s):
        return 0.0
    body = track.region[1:, 2] * BODY_PER_SIDE
    moves = np.concatenate([np.diff(_smooth(track.xy_px[:, list(HELD), 1]), axis=0), track.carried_px[1:]], axis=1)
    held = float((np.abs(shared(moves)) / body).sum())
    clear = float((track.presence * (0.3 + track.peak.mean(axis=1))).mean())
    size = float(np.median(body)) / long_side_px
    lying = hands_above_shoulders(track) if lift == "bench" else 1.0
    return 100 * held * lying * size * clear


def reach_px(people: People) -> float:
    """Give a length that stands for the picture where its size is not told: the furthest joint of anybody, px."""
    return max(float(np.nanpercentile(t.xy_px, 99)) for t in people.tracks)


def _smooth(y: FloatArray) -> FloatArray:
    out = y.copy()
    out[1:-1] = (y[:-2] + 2 * y[1:-1] + y[2:]) / 4
    return out


def bar_share(person: Person, bar: Bar, looked_t_s: FloatArray, lift: str) -> tuple[float, float]:
    """Give how a person's hold went with the bar's vertical way.

    Returns
    -------
    rate : share 0..1 of the bar's way, while he was followed, that his hold went with, at the bar.
    coverage : share 0..1 of the bar's whole way during which he was followed.
    """
    looked = bar.at(looked_t_s)
    steps = np.concatenate([[0.0], np.nan_to_num(np.abs(np.diff(looked[:, 1])))])
    whole = float(steps.sum())
    if whole <= 0:
        return 0.0, 0.0
    together = np.zeros(len(looked_t_s))
    during = np.zeros(len(looked_t_s), bool)
    for track in person.tracks:
        during |= covered(track, looked_t_s)
        part = went_together(track, bar, lift)
        if lift == "bench":
            part = part * hands_above_shoulders(track)
        look = np.clip(np.searchsorted(looked_t_s, track.t_s[1:] - 1e-6), 0, len(looked_t_s) - 1)
        np.maximum.at(together, look, part)
    followed = float(steps[during].sum())
    if followed <= 0:
        return 0.0, 0.0
    return min(1.0, float(together.sum()) / followed), followed / whole


def went_together(track: PersonTrack, bar: Bar, lift: str) -> FloatArray:
    """Give for every step of a track the way, px, that its hold went with the bar, weighted by nearness."""
    place = bar.at(track.t_s)
    down = np.diff(place[:, 1])
    body = track.region[:, 2] * BODY_PER_SIDE
    # hands behind the plate are put at its rim
    behind = np.zeros(len(body)) if lift == "squat" else HIDES * bar.radius_px / body
    near = np.clip((0.5 + behind - _apart(track, place, body, lift)) / 0.25, 0.0, 1.0)
    hold = list(HELD) + (list(SHOULDERS) if lift == "squat" else [])
    moves = np.diff(_smooth(track.xy_px[:, hold, 1]), axis=0)
    firm = np.median(moves, axis=1) if lift == "squat" else moves.mean(axis=1)
    way = np.abs(shared(np.stack([firm, down], axis=1)))
    out: FloatArray = np.nan_to_num(way * np.minimum(near[1:], near[:-1]))
    return out


def _apart(track: PersonTrack, place: FloatArray, body: FloatArray, lift: str) -> FloatArray:
    """Give how far the bar's end is from the line through the hands (squat: or the shoulders), in bodies."""
    xy = track.xy_px
    hands = _off_line(xy[:, HELD[0]], xy[:, HELD[1]], place, body)
    if lift != "squat":
        return hands
    left, right = xy[:, SHOULDERS[0]], xy[:, SHOULDERS[1]]
    line = np.minimum(hands, _off_line(left, right, place, body))
    height = np.abs(place[:, 1] - (left[:, 1] + right[:, 1]) / 2) / body
    apart = np.maximum(line * 0.7, height - 0.1)
    clear = track.peak[:, list(HELD)].min(axis=1) >= CLEAR_HANDS  # a side spotter's hang below the plates
    return np.where(clear, np.maximum(apart, hands), apart)


def _off_line(left: FloatArray, right: FloatArray, place: FloatArray, body: FloatArray) -> FloatArray:
    """Give how far a place (n, 2) is from the line through two joints, or from the nearer one, in bodies."""
    line = right - left
    span = np.hypot(line[:, 0], line[:, 1])
    unit = line / np.maximum(span, 1e-9)[:, None]
    offset = place - (left + right) / 2
    along = np.abs((offset * unit).sum(axis=1))
    across = np.abs(offset[:, 0] * unit[:, 1] - offset[:, 1] * unit[:, 0])
    on_line = np.hypot(across, np.maximum(along - 2.0 * span, 0.0))
    to_joint = np.minimum(np.hypot(*(place - left).T), np.hypot(*(place - right).T))
    out: FloatArray = np.where(span < TOGETHER * body, to_joint, np.minimum(on_line, to_joint)) / body
    return out
