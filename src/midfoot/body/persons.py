"""Tracks that are one person: seen at the same place at the same time, or one after the other."""

from __future__ import annotations

import numpy as np
from attrs import frozen

from midfoot.body.regions import BODY_PER_SIDE
from midfoot.body.search import HIPS, SHOULDERS, TRUNK_AND_ARMS
from midfoot.records.base import FloatArray
from midfoot.records.body import PersonTrack

SAME_PLACE = 0.35
"""Trunk centres nearer than this, in bodies, at common times are one person's."""
PAUSE_S, PAUSE_PLACE = 1.2, 0.6
"""Of tracks that follow each other: longest pause, and how far the trunk may have gone in it, in bodies."""
LONG_PAUSE_S, PAUSE_PLACE_LONG = 3.0, 0.45
"""Longest pause after which somebody of the same size at the same place is the same person."""
SIZES = (0.6, 1.7)
COMMON_S = 0.06
OVERLAP_S = 0.4
LOST_S = 0.6
"""A track is taken to cover the time between its rows up to this pause."""


@frozen
class Person:
    """One person: his tracks."""

    tracks: tuple[PersonTrack, ...]

    def overlaps(self, other: Person) -> bool:
        """Tell whether both were followed at the same time for longer than a moment."""
        mine = [(t.t_s[0], t.t_s[-1]) for t in self.tracks]
        theirs = [(t.t_s[0], t.t_s[-1]) for t in other.tracks]
        return any(min(b, d) - max(a, c) > OVERLAP_S for a, b in mine for c, d in theirs)

    def seeds(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give times (m,), regions (m, 4) and worth (m,), at each time the track that fits best."""
        joints = list(TRUNK_AND_ARMS)
        t_s = np.concatenate([t.t_s for t in self.tracks])
        region = np.concatenate([t.region for t in self.tracks])
        worth = np.concatenate([t.presence * t.peak[:, joints].mean(axis=1) for t in self.tracks])
        order = np.lexsort((-worth, np.round(t_s, 4)))
        t_s, region, worth = t_s[order], region[order], worth[order]
        first = np.concatenate([[True], np.diff(t_s) > 1e-3]) if len(t_s) else np.zeros(0, bool)
        return t_s[first], region[first], worth[first]


def covered(track: PersonTrack, t_s: FloatArray) -> np.ndarray:
    """Tell for times (n,) whether the person was being followed."""
    after = np.clip(np.searchsorted(track.t_s, t_s), 1, len(track.t_s) - 1)
    inside = (t_s >= track.t_s[0] - 1e-6) & (t_s <= track.t_s[-1] + 1e-6)
    near: np.ndarray = inside & (track.t_s[after] - track.t_s[after - 1] <= LOST_S)
    return near


def gather(tracks: list[PersonTrack]) -> list[Person]:
    """Group tracks into persons."""
    groups: list[list[PersonTrack]] = []
    for track in sorted(tracks, key=lambda t: -len(t.t_s)):
        home = next((g for g in groups if any(_one(track, other) for other in g)), None)
        if home is None:
            groups.append([track])
        else:
            home.append(track)
    persons: list[Person] = []
    for person in (Person(tuple(g)) for g in groups):
        same = next((i for i, p in enumerate(persons) if not p.overlaps(person) and _takes_turns(p, person)), None)
        if same is None:
            persons.append(person)
        else:
            persons[same] = Person((*persons[same].tracks, *person.tracks))
    return persons


def _takes_turns(a: Person, b: Person) -> bool:
    """Tell whether two who were never in view together kept the same place at the same size: one person, lost."""
    places = [np.concatenate([_centre(t) for t in p.tracks]) for p in (a, b)]
    sides = [float(np.median(np.concatenate([t.region[:, 2] for t in p.tracks]))) for p in (a, b)]
    apart = np.hypot(*(np.median(places[0], axis=0) - np.median(places[1], axis=0)))
    return bool(apart < SAME_PLACE * BODY_PER_SIDE * min(sides) and SIZES[0] < sides[0] / sides[1] < SIZES[1])


def _centre(track: PersonTrack) -> FloatArray:
    joints = list(SHOULDERS + HIPS)
    out: FloatArray = track.xy_px[:, joints].mean(axis=1)
    return out


def _one(a: PersonTrack, b: PersonTrack) -> bool:
    if a.t_s[0] > b.t_s[0]:
        a, b = b, a
    body = BODY_PER_SIDE * float(np.median(np.concatenate([a.region[:, 2], b.region[:, 2]])))
    ca, cb = _centre(a), _centre(b)
    nearest = np.clip(np.searchsorted(b.t_s, a.t_s), 0, len(b.t_s) - 1)
    common = np.abs(b.t_s[nearest] - a.t_s) < COMMON_S
    if common.sum() >= 3:
        apart = np.hypot(*(ca[common] - cb[nearest[common]]).T)
        return bool(np.median(apart) < SAME_PLACE * body)
    pause = b.t_s[0] - a.t_s[-1]
    size = np.median(b.region[:5, 2]) / np.median(a.region[-5:, 2])
    if not (-0.5 < pause < LONG_PAUSE_S and SIZES[0] < size < SIZES[1]):
        return False
    left, came = np.median(ca[-5:], axis=0), np.median(cb[:5], axis=0)  # a pose about to be lost is off by itself
    return bool(np.hypot(*(came - left)) < (PAUSE_PLACE if pause < PAUSE_S else PAUSE_PLACE_LONG) * body)
