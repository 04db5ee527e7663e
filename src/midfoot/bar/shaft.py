"""The bar by its shaft, where no disc tells it: from front and rear, discs edge-on, or none in the picture.

The fists tell where to look to some centimetres; the shaft is a line near theirs in every frame. What belongs to
the room moves against the fists as they go up and down, and what belongs to the bar does not: of the lines of all
frames, those are taken that make one slow way beside the fists. Along the bar nothing but the fists tells the
place, and its error is theirs.

Rule for the next author: a row of numbers per frame is kept, and never a picture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from attrs import evolve
from numpy.typing import NDArray

from midfoot.bar.bodycues import SHOULDER_PAIR, body_cues
from midfoot.bar.coarse import Coarse
from midfoot.bar.hands import SIDE_SPAN, fists_of, held_rows, middle_of, running_median, trunk_px
from midfoot.bar.rows import steady
from midfoot.bar.shaft_ends import Placed, ends_of
from midfoot.bar.shaft_lines import NO_LINES, Grip, Lines, lines
from midfoot.bar.shaft_way import Way, cleaned, noise_of, way_of
from midfoot.records.bar import BarTrack, Sightings
from midfoot.records.base import FloatArray
from midfoot.records.body import INDEX, SEEN, BodyTrack
from midfoot.records.clip import Frame

STATURE_M = 1.72
"""Of adults; it only says how thick a bar is to be looked for."""
LEAST_GRIP_M = 0.22
"""Fists nearer to each other in the picture: the bar points at the camera, and its line is not looked for."""
BRIDGE_S = 0.35
LEAST_SHARE, LEAST_MOVING = 0.6, 0.5
"""Of the frames with the fists in view, and of those in which they move, so many must show the shaft."""
FOUND_SHARE = 0.5
"""... and of all frames, or it is unsure."""
BENDS_M = 0.005
"""The same in a deadlift: the line lies half way between the middle and the ends of a bent bar, whose middle rises
20-60 mm before the discs leave the floor and more in the pull than at rest."""
BENT_M = 0.006
"""How far off the line of the shaft between the hands an end of a bent bar lies, one end more than the other."""
SLOW_SD_M = 0.0015
"""Slow error of the height: what is behind and the light change which edge is the clearer one."""


class Shaft:
    """Consumer of frames: show it every frame with `see`, then take `result`.

    Parameters
    ----------
    body : the lifter, from the look before.
    lift : squat, bench or deadlift.
    """

    def __init__(self, body: BodyTrack, lift: str) -> None:
        self._lift, self._body = lift, body
        self._t_s: list[float] = []
        self._lines: list[Lines] = []
        self._worth = False
        if body.status != "seen" or len(body.t_s) < 8:
            return
        fists = fists_of(body)
        both = fists.both
        self._px_per_m = _px_per_m(body, lift)
        if both.sum() < 8 or not math.isfinite(self._px_per_m):
            return
        apart = float(np.median(np.hypot(*fists.span[both].T)))
        trunk = trunk_px(body)
        self._worth = apart > max(LEAST_GRIP_M * self._px_per_m, SIDE_SPAN * np.nan_to_num(trunk))
        self._middle, self._sd = middle_of(fists)
        half = 0.5 * running_median(body.t_s, fists.span, both)
        rows = np.flatnonzero(np.isfinite(half[:, 0]))
        half = np.stack([np.interp(np.arange(len(half)), rows, half[rows, k]) for k in (0, 1)], axis=1)
        self._half = half if np.median(half[:, 0]) > 0 else -half
        self._held = held_rows(body, fists, lift)

    @property
    def worth(self) -> bool:
        """Whether the fists are so far apart in the picture that the line between them can be looked for."""
        return self._worth

    def see(self, frame: Frame) -> None:
        """Look at the next frame."""
        self._t_s.append(frame.t_s)
        grip = self._grip(frame.t_s)
        self._lines.append(NO_LINES if grip is None else lines(frame.luma, grip))

    def result(
        self, held: BarTrack, sightings: Sightings | None, hypotheses: Sequence[Coarse] = ()
    ) -> BarTrack | None:
        """Give the track by the shaft, one row per frame seen; None where it is not seen beyond doubt.

        Parameters
        ----------
        held : the track of the bar at the hands (or `not_found` where nothing but hanging arms spoke for a bar).
        sightings : for the camera's own movement.
        hypotheses : things that may be the bar's ends, from `link`.
        """
        t = np.array(self._t_s)
        grips = [self._grip(float(at)) for at in t]
        known = np.array([g is not None for g in grips], bool)
        if known.sum() < 8:
            return None
        middle, along = np.full((len(t), 2), np.nan), np.tile([1.0, 0.0], (len(t), 1))
        for i, grip in enumerate(grips):
            if grip is not None:
                middle[i], along[i] = grip.middle_px, grip.along
        way = cleaned(t, way_of(t, self._lines, middle[:, 1]))
        seen = known & np.isfinite(way.height_m)
        moving = known & _moving(t, middle[:, 1], known)
        if seen.sum() < LEAST_SHARE * known.sum() or seen[moving].sum() < LEAST_MOVING * moving.sum():
            return None
        rows = np.flatnonzero(seen)
        gap_s = _gap_s(t, t[rows])
        height = np.interp(t, t[rows], way.height_m[rows])
        spread = 1.4826 * float(np.median(np.abs(way.height_m[rows] - np.median(way.height_m[rows]))))
        hand_sd = np.interp(t, self._body.t_s, np.nan_to_num(self._sd, nan=float(np.nanmax(self._sd))))
        slow = BENDS_M if self._lift == "deadlift" else SLOW_SD_M
        # the fists' error is slow: beside a frame that shows the bar it is mostly that frame's
        bridged_px = self._px_per_m * np.hypot(slow, max(spread, 0.004) * np.minimum(gap_s / BRIDGE_S, 2.0))
        own = np.fmax(noise_of(way.height_m), np.nan_to_num(way.sd_m))
        own_px = self._px_per_m * np.hypot(slow, own)
        sd_across = np.where(seen, own_px, bridged_px)
        across = np.column_stack([-along[:, 1], along[:, 0]])
        xy = middle + across * (height * self._px_per_m)[:, None]
        xy[~known | (gap_s > BRIDGE_S)] = np.nan
        sd = np.sqrt((along * hand_sd[:, None]) ** 2 + (across * sd_across[:, None]) ** 2)
        sd[~np.isfinite(xy[:, 0])] = np.nan
        share = seen.mean()
        status = "found" if share > FOUND_SHARE else "unsure"
        track = BarTrack(
            status, "shaft", t, xy, steady(t, xy, sightings), sd, seen, np.full_like(xy, np.nan),
            candidates=held.candidates,
            reason=f"The shaft of the bar is seen at the hands in {share:.0%} of the frames; its middle between "
            "the hands stands for the bar.",
        )  # fmt: skip
        return self._with_ends(track, way, along, across, hypotheses)

    def _with_ends(
        self, track: BarTrack, way: Way, along: FloatArray, across: FloatArray, hypotheses: Sequence[Coarse]
    ) -> BarTrack:
        """Put in where the ends are on the line, where both are told."""
        slope = np.where(track.seen, way.slope, np.nan)[:, None]
        line = along + slope * across
        line /= np.hypot(line[:, :1], line[:, 1:])
        ends = ends_of(Placed(track.t_s, np.where(track.seen[:, None], track.xy_px, np.nan), line, self._px_per_m),
                       hypotheses)  # fmt: skip
        if ends is None:
            return track
        near, far = (track.xy_px + place * line for place in ends)
        return evolve(
            track, near_xy_px=near, far_xy_px=far, far_sd_px=max(noise_of(way.slope) * abs(ends[1]), 0.2),
            far_common_sd_px=BENT_M * self._px_per_m,
        )  # fmt: skip

    def _grip(self, t_s: float) -> Grip | None:
        """The fists at a moment; None where they are not known near it, or hold no bar."""
        at = self._body.t_s
        after = int(np.clip(np.searchsorted(at, t_s - 1e-9), 0, len(at) - 1))
        before = after if abs(at[after] - t_s) < 1e-6 else max(after - 1, 0)
        if min(abs(at[before] - t_s), abs(at[after] - t_s)) > 0.1 or not (
            self._held[before] and self._held[after]
        ):
            return None
        share = 0.0 if after == before else float(np.clip((t_s - at[before]) / (at[after] - at[before]), 0.0, 1.0))
        middle, half = ((1 - share) * rows[before] + share * rows[after] for rows in (self._middle, self._half))
        if not np.isfinite(middle).all() or np.hypot(*half) < 4.0:
            return None
        return Grip(middle, half, self._px_per_m)


def _px_per_m(body: BodyTrack, lift: str) -> float:
    """The picture's scale at the lifter by his segments, of which a view from the end shortens most; px."""
    cues = body_cues(body, lift)
    found = [cues.stature_px / STATURE_M] if cues.stature_px is not None else []
    pair = [INDEX["left_shoulder"], INDEX["right_shoulder"]]
    both = (body.state[:, pair] == SEEN).all(axis=1)
    if both.sum() >= 8:
        width = np.hypot(*(body.xy_px[both][:, pair[0]] - body.xy_px[both][:, pair[1]]).T)
        found.append(float(np.percentile(width, 75.0)) / (SHOULDER_PAIR * STATURE_M))
    return max(found, default=math.nan)


def _moving(t: FloatArray, y_px: FloatArray, known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell in which frames the fists go up or down faster than in most."""
    y = np.interp(t, t[known], y_px[known])
    speed = np.abs(np.gradient(y, t))
    return np.asarray(speed > np.percentile(speed[known], 60.0))


def _gap_s(t: FloatArray, seen_s: FloatArray) -> FloatArray:
    """How far in time the next frame that shows the bar is."""
    after = np.clip(np.searchsorted(seen_s, t), 0, len(seen_s) - 1)
    before = np.maximum(after - 1, 0)
    return np.minimum(np.abs(seen_s[after] - t), np.abs(seen_s[before] - t))
