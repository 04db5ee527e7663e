"""Follow the near plate through every frame, to a fraction of a pixel, starting from a coarse path.

Two looks: `learn` is shown a few dozen chosen frames and makes the averaged disc; `see` is then shown every frame
and lays the average on it. A place counts as seen only where the average fits; otherwise the row is bridged, with
a wider error, and says so.

Use::

    follower = Follower(info, coarse, sightings)
    while follower.sample_times_s:
        follower.learn(frames_at(clip, follower.sample_times_s, reading))
    for frame in frames(clip, reading):
        follower.see(frame)
    track = follower.result()

Rule for the next author: nothing kept per frame may be larger than a row of numbers.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from attrs import evolve

from midfoot.bar.coarse import Coarse
from midfoot.bar.disc_model import MAX_SAMPLES, Sample, sample
from midfoot.bar.lay import Laid, lay_on, search_for
from midfoot.bar.plate_look import PlateLook, learn_look
from midfoot.bar.rows import coarsely_followed, finished, steady
from midfoot.bar.tap_trail import TapTrail
from midfoot.records.bar import BarTrack, Sightings
from midfoot.records.base import FloatArray
from midfoot.records.clip import ClipInfo, Frame

ACCEPT, STRONG = 0.55, 0.72
"""Shares of the good samples' likeness: below the first the plate is not seen; the second re-starts a lost one."""
SEARCH_LOCKED, SEARCH_LOST = 0.22, 0.45
"""How far the plate is looked for around where it is expected, radii."""
FAR_ASIDE = 0.4
"""A learnt plate whose centre lies farther off the coarse path, radii, is another thing: boxes are off by 0.1."""
UNEXPECTED, UNBOXED, NEARER = 0.12, 0.18, 0.7
"""A poor fit farther off the expected place and off the boxes than this, radii, is not believed, unless it lies
clearly nearer to the boxes: by this share of the other distance."""
LOST_AFTER_S = 0.4
LEAST_TRAIL = 8
RADIUS_TOLD, MOST_ROUNDS = (0.75, 1.35), 3
"""Ratio of the found radius to the coarse one within which the samples need not be cut anew."""


class Follower:
    """Follow one hypothesis of the near plate through the clip."""

    def __init__(self, info: ClipInfo, coarse: Coarse, sightings: Sightings | None) -> None:
        self._info, self._coarse, self._sightings = info, coarse, sightings
        self._look: PlateLook | None = None
        self._boxed_px = float(np.nanmedian(coarse.radius_px)) if np.isfinite(coarse.radius_px).any() else np.nan
        self._why = coarse.reason
        self._laid: list[Laid] = []
        self._last: list[Laid] = []
        start_s = float(sightings.boxes_t_s[0]) if sightings is not None and len(sightings.boxes_t_s) else 0.0
        self._trail = TapTrail(info, coarse, start_s) if len(coarse.t_s) == 1 else None
        self._tapped = self._trail is not None
        self._rounds = 0
        self._times = self._trail.times_s if self._trail is not None else _sample_times(coarse)

    @property
    def sample_times_s(self) -> tuple[float, ...]:
        """Moments whose frames `learn` wants to see next, ascending; empty when it wants none."""
        return self._times

    @property
    def look(self) -> PlateLook | None:
        """What was learnt of the plate; None before, or where there is no plate to be seen."""
        return self._look

    @property
    def place(self) -> FloatArray | None:
        """Where the rim's centre is in the frame seen last, (2,) px; None where it was not found there."""
        if self._look is None or not self._laid or not np.isfinite(self._laid[-1].x_px):
            return None
        at, here = self._laid[-1].t_s, np.array([[self._laid[-1].x_px, self._laid[-1].y_px]])
        radius = np.array([self._look.radius_at(at)])
        return np.asarray(self._look.rim_at(here, self._steadied(np.array([at]), here), radius)[0])

    def learn(self, chosen: Iterable[Frame]) -> None:
        """Look at the frames at `sample_times_s`, in order."""
        if self._trail is not None:
            self._learn_path(self._trail, chosen)
            return
        samples: list[Sample] = []
        radius = float(np.nanmedian(self._coarse.radius_px))
        seen: set[float] = set()
        for frame in chosen:
            place = _coarse_at(self._coarse, frame.t_s)
            if place is None or frame.t_s in seen:
                continue
            seen.add(frame.t_s)
            samples.append(sample(frame.luma, frame.t_s, float(place[0]), float(place[1]), radius))
        self._times = ()
        self._rounds += 1
        look = learn_look(samples, max(self._info.width_px, self._info.height_px), self._steadied)
        if isinstance(look, str):
            self._why = look
            return
        there = np.array([np.interp(look.t_s, self._coarse.t_s, self._coarse.xy_px[:, i]) for i in (0, 1)]).T
        ring = look.xy_px - look.radius_px[:, None] * np.array(look.aside)
        aside = float(np.hypot(*np.median(ring - there, axis=0)))
        if aside > FAR_ASIDE * max(radius, float(np.median(look.radius_px))) and not self._tapped:
            self._why = "What is seen along the coarse path lies aside of the discs that it was made of."
            return
        self._look = look
        ratio = float(np.median(look.radius_px)) / radius
        if not RADIUS_TOLD[0] < ratio < RADIUS_TOLD[1] and self._rounds < MOST_ROUNDS:
            # The coarse size was far off: samples of the right size hold more of the plate, or less of the room.
            self._coarse = _moved_onto(self._coarse, look)
            self._times = _sample_times(self._coarse)

    def _learn_path(self, trail: TapTrail, chosen: Iterable[Frame]) -> None:
        for frame in chosen:
            trail.see(frame)
        found, self._trail, self._times = trail.path(), None, ()
        if found is None or len(found[0]) < LEAST_TRAIL:
            self._why = "What is under the tap cannot be followed from there."
            return
        times, places, radius = found
        self._coarse = evolve(self._coarse, t_s=times, xy_px=places, radius_px=np.full(len(times), radius))
        self._times = _sample_times(self._coarse)

    def see(self, frame: Frame) -> None:
        """Look at the next frame."""
        if self._look is None:
            self._laid.append(Laid.none(frame.t_s))
            return
        best = self._found(frame, self._look)
        seen = best is not None and best.fit >= ACCEPT * self._look.fit
        self._laid.append(best if seen and best is not None else Laid.none(frame.t_s))
        if seen and best is not None:
            self._last = [*self._last[-3:], best]

    def result(self) -> BarTrack:
        """Give the track, one row per frame seen."""
        if self._look is None:
            times = [row.t_s for row in self._laid]
            return coarsely_followed(self._coarse, times, self._why, self._sightings)
        return finished(self._look, self._laid, self._coarse, self._sightings, self._boxed_px)

    def _steadied(self, times: FloatArray, places: FloatArray) -> FloatArray:
        return steady(times, places, self._sightings)

    def _found(self, frame: Frame, look: PlateLook) -> Laid | None:
        radius = look.radius_at(frame.t_s)
        expected = self._expected(frame.t_s)
        best: Laid | None = None
        if expected is not None:
            best = search_for(frame, look, expected, radius, SEARCH_LOCKED)
        if best is None or best.fit < STRONG * look.fit:
            # Not sure: look around the coarse path as well; it takes over only by fitting clearly better.
            place = _coarse_at(self._coarse, frame.t_s)
            if place is not None:
                other = search_for(frame, look, place, radius, SEARCH_LOST)
                if other is not None and (
                    best is None or (other.fit >= STRONG * look.fit and other.fit > 1.15 * best.fit)
                ):
                    best = other
        if best is None or best.fit < 0.9 * ACCEPT * look.fit:
            return None
        place = _coarse_at(self._coarse, frame.t_s)
        if expected is not None and place is not None and best.fit < STRONG * look.fit:
            # Half covered: what is in front draws the place along, and a piece of a ring fits there, too. A bar
            # that is dropped or caught is blurred and off what is expected as well, but about where the boxes are.
            here = np.array([best.x_px, best.y_px])
            off, aside = (float(np.hypot(*(here - there))) / radius for there in (expected, place))
            if off > UNEXPECTED and aside > max(UNBOXED, NEARER * off):
                return None
        return lay_on(frame, look, best, radius)

    def _expected(self, t_s: float) -> FloatArray | None:
        """Where the plate goes on to at its last velocity; None when it was lost too long ago."""
        if not self._last or t_s - self._last[-1].t_s > LOST_AFTER_S:
            return None
        now = self._last[-1]
        place = np.array([now.x_px, now.y_px])
        if len(self._last) >= 2:
            first = self._last[0]
            span = now.t_s - first.t_s
            if 0 < span < 0.3:
                place = place + (place - [first.x_px, first.y_px]) / span * (t_s - now.t_s)
        return place


def _sample_times(coarse: Coarse) -> tuple[float, ...]:
    """Moments spread evenly over the path's height and over time, so that every place of the plate is in."""
    if not len(coarse.t_s):
        return ()
    count = MAX_SAMPLES
    by_time = np.linspace(coarse.t_s[0], coarse.t_s[-1], count // 2)
    travel = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(coarse.xy_px, axis=0), axis=1))])
    if travel[-1] <= 0:
        by_way = np.zeros(0)
    else:
        by_way = np.interp(np.linspace(0, travel[-1], count - len(by_time)), travel, coarse.t_s)
    return tuple(float(t) for t in np.unique(np.concatenate([by_time, by_way])))


def _moved_onto(coarse: Coarse, look: PlateLook) -> Coarse:
    """Move a coarse path onto the centre, and to the size, of the plate that was seen along it."""
    there = np.array([np.interp(look.t_s, coarse.t_s, coarse.xy_px[:, i]) for i in (0, 1)]).T
    offset = np.median(look.xy_px - there, axis=0)
    radius = np.interp(coarse.t_s, look.t_s, look.radius_px)
    return evolve(coarse, xy_px=coarse.xy_px + offset, radius_px=radius)


def _coarse_at(coarse: Coarse, t_s: float, bridge_s: float = 0.35) -> FloatArray | None:
    """The coarse place at a moment; None where the coarse path has no rows near it."""
    at = int(np.searchsorted(coarse.t_s, t_s))
    before, after = max(0, at - 1), min(at, len(coarse.t_s) - 1)
    if min(abs(coarse.t_s[before] - t_s), abs(coarse.t_s[after] - t_s)) > bridge_s:
        return None
    return np.array([np.interp(t_s, coarse.t_s, coarse.xy_px[:, i]) for i in (0, 1)])
