"""Reading the bar's path: heights and places at moments, over stretches, at the turning points.

A reading is a straight or parabolic fit to the frames around the moment by their own timestamps, so that a turning
point is not flattened and a missing frame does no harm.
"""

from __future__ import annotations

import math

import numpy as np
from attrs import field, frozen

from midfoot.measures.definition import Unseen
from midfoot.measures.plane import Optics
from midfoot.measures.uncertain import Number, own
from midfoot.records.bar import BarPath
from midfoot.records.base import FloatArray

LEAST_REACH_S, REACH_FRAMES = 0.03, 2.6
"""Half the stretch that a reading is fitted to: five or six frames, more where frames are dense. Wider fits
flatten a short dip (0.14 s took a third off one of 11 mm), narrower ones cut corners at 30 frames a second."""
GAP_S = 0.2
"""Longest stretch without a position that is read across."""
BAND_MM = 10.0
"""The band of the moments' rule: what has come down by as much has left its highest point."""
PLATEAU_MM = 1.5
"""A held bar lies within this (or three times its frame noise) of the middle of its plateau."""
SWING_S = 0.3
"""A loaded bar swings about as long after it was stopped (0.2-0.5 s on drawn sets)."""
NO_BAR = "the bar was not followed in this clip"
NO_BAR_REMEDY = "give its place with --bar-at, or film from the side with the whole plate in the picture"


@frozen(eq=False)
class BarReader:
    """The path and how to read it.

    `optics` is None where the camera is not known well enough to say how a place depends on it; then the path's
    own common errors (scale, roll) are used. `unsure` when the bar stage was. `white_mm` is the part of the random
    error that differs from frame to frame, estimated from the path itself; the rest of the stated sd is slow and
    does not average out.
    """

    path: BarPath
    optics: Optics | None
    unsure: bool = False
    t_s: FloatArray = field(init=False)
    forward_mm: FloatArray = field(init=False)
    up_mm: FloatArray = field(init=False)
    sd_forward_mm: FloatArray = field(init=False)
    sd_up_mm: FloatArray = field(init=False)
    white_mm: tuple[float, float] = field(init=False)
    reach_s: float = field(init=False)

    def __attrs_post_init__(self) -> None:
        path = self.path
        # seen along its plane of motion (from the front), forward is never known and heights are
        known = np.isfinite(path.up_mm)
        if np.isfinite(path.forward_mm).any():
            known &= np.isfinite(path.forward_mm)
        for name in ("t_s", "forward_mm", "up_mm", "sd_forward_mm", "sd_up_mm"):
            object.__setattr__(self, name, getattr(path, name)[known])
        object.__setattr__(
            self,
            "white_mm",
            (frame_noise(self.t_s, self.forward_mm), frame_noise(self.t_s, self.up_mm)),
        )
        step = float(np.median(np.diff(path.t_s))) if len(path.t_s) > 1 else LEAST_REACH_S
        object.__setattr__(self, "reach_s", max(LEAST_REACH_S, REACH_FRAMES * step))

    @property
    def inferred(self) -> bool:
        """The bar was followed at the hands that hold it, not itself."""
        return self.path.source == "hands"

    @property
    def basis(self) -> str:
        """What was followed, in words."""
        words = {"plate": "near plate", "hands": "bar at the hands", "shaft": "shaft of the bar"}
        found = words.get(self.path.source, "bar")
        return f"{found} (not sure that it is the bar)" if self.unsure else found

    def rows(self, start_s: float, end_s: float) -> np.ndarray:
        """Give the indices of the frames of a stretch, ends included."""
        return np.flatnonzero((self.t_s >= start_s - 1e-6) & (self.t_s <= end_s + 1e-6))

    def at(self, t_s: float) -> tuple[Number, Number]:
        """Give forward and up at a moment."""
        rows = self._around(t_s)
        forward, sd_f = self._fit(rows, t_s, 0)
        up, sd_u = self._fit(rows, t_s, 1)
        return self.number(t_s, forward, up, sd_f, sd_u)

    def forward(self, t_s: float) -> Number:
        """Give forward at a moment."""
        return self.at(t_s)[0]

    def up(self, t_s: float) -> Number:
        """Give up at a moment."""
        return self.at(t_s)[1]

    def over(self, start_s: float, end_s: float) -> tuple[Number, Number]:
        """Give the mean place over a stretch."""
        rows = self.rows(start_s, end_s)
        if len(rows) < 3:
            return self.at((start_s + end_s) / 2)
        middle = float(np.mean(self.t_s[rows]))
        forward, up = float(np.mean(self.forward_mm[rows])), float(np.mean(self.up_mm[rows]))
        return self.number(middle, forward, up, self._sd(rows, 0, len(rows)), self._sd(rows, 1, len(rows)))

    def held(self, start_s: float, end_s: float) -> tuple[Number, Number]:
        """Give the place where the bar is held within a stretch: the middle of its plateau in height."""
        rows = self.rows(start_s, end_s)
        if len(rows) < 3:
            return self.at((start_s + end_s) / 2)
        level, swing = float(np.median(self.up_mm[rows])), self._swing(rows)
        rows = rows[np.abs(self.up_mm[rows] - level) <= max(PLATEAU_MM, 3 * self.white_mm[1])]
        if not len(rows):
            return self.at((start_s + end_s) / 2)
        middle = float(np.mean(self.t_s[rows]))
        forward, up = float(np.mean(self.forward_mm[rows])), float(np.mean(self.up_mm[rows]))
        ahead, above = self.number(middle, forward, up, self._sd(rows, 0, len(rows)), self._sd(rows, 1, len(rows)))
        return ahead, above.plus(f"own:swing {middle:.4f} s", swing)

    def _swing(self, rows: np.ndarray) -> float:
        """Give the error of a held height where the bar still swings: whole swings average out, parts do not."""
        away = self.up_mm[rows] - float(np.median(self.up_mm[rows]))
        beyond = (1.48 * float(np.median(np.abs(away)))) ** 2 - self.white_mm[1] ** 2
        times = max(1.0, float(self.t_s[rows[-1]] - self.t_s[rows[0]]) / SWING_S)
        return math.sqrt(max(beyond, 0.0) / times)

    def lowest_s(self, start_s: float, end_s: float) -> float:
        """Give the moment of the lowest point of a stretch, by a parabola through the frames around it."""
        return self._turn_s(start_s, end_s, -1.0)

    def highest_s(self, start_s: float, end_s: float) -> float:
        """Give the moment of the highest point of a stretch."""
        return self._turn_s(start_s, end_s, 1.0)

    def turned_s(self, start_s: float) -> float:
        """Give when the bar, from a moment on, has come down by the moments' band from its highest since."""
        rows = np.flatnonzero(self.t_s >= start_s - 1e-6)
        if not len(rows):
            return start_s
        up = self.up_mm[rows]
        fallen = np.flatnonzero(np.maximum.accumulate(up) - up > BAND_MM)
        return float(self.t_s[rows[fallen[0] if len(fallen) else -1]])

    def sharp(self, t_s: float, sign: float) -> Number:
        """Give the height of a turning point near a moment by the three frames at it: nothing is smoothed."""
        rows = np.flatnonzero(np.abs(self.t_s - t_s) <= self.reach_s)
        if len(rows) < 3:
            return self.up(t_s)
        top = int(rows[np.argmax(sign * self.up_mm[rows])])
        around = np.arange(max(top - 1, 0), min(top + 2, len(self.t_s)))
        height = float(self.up_mm[top])
        if len(around) == 3:
            bend, slope, _ = np.polyfit(self.t_s[around] - self.t_s[top], self.up_mm[around], 2)
            if sign * bend < 0:
                height -= float(slope**2 / (4.0 * bend))
        sd = self._sd(rows, 1, 1.0)
        return self.number(float(self.t_s[top]), float(self.forward_mm[top]), height, sd, sd)[1]

    def number(self, t_s: float, forward: float, up: float, sd_f: float, sd_u: float) -> tuple[Number, Number]:
        """Give forward and up with all their errors, from plain values at a moment."""
        parts_f, parts_u = self._effects(forward if np.isfinite(forward) else 0.0, up)
        f = own(forward, sd_f, f"bar forward {t_s:.4f}", inferred=self.inferred)
        u = own(up, sd_u, f"bar up {t_s:.4f}", inferred=self.inferred)
        for source, effect in parts_f.items():
            f = f.plus(source, effect)
        for source, effect in parts_u.items():
            u = u.plus(source, effect)
        return f, u

    def _effects(self, forward: float, up: float) -> tuple[dict[str, float], dict[str, float]]:
        if self.optics is not None and not self.optics.lens.distant:
            pixel = self.optics.lens.project(forward, up)
            if np.isfinite(pixel).all():
                return self.optics.effects(pixel, 0.0)
        scale, roll = self.path.scale_pct / 100.0, np.radians(self.path.roll_deg)
        return (
            {"scale": forward * scale, "roll": up * float(np.nan_to_num(roll, nan=0.026))},
            {"scale": up * scale, "roll": -forward * float(np.nan_to_num(roll, nan=0.026))},
        )

    def _around(self, t_s: float) -> np.ndarray:
        if not len(self.t_s):
            raise Unseen(NO_BAR, NO_BAR_REMEDY)
        before, after = self.t_s[self.t_s <= t_s + 1e-6], self.t_s[self.t_s >= t_s - 1e-6]
        edge = 0.06
        if not len(before) or not len(after):
            if min(abs(t_s - self.t_s[0]), abs(t_s - self.t_s[-1])) > edge:
                raise Unseen("the bar is out of sight at this moment", "keep the whole plate in the picture")
        elif after[0] - before[-1] > GAP_S:
            raise Unseen(
                "the bar is covered at this moment", "keep people and posts from between camera and plate"
            )
        rows = np.flatnonzero(np.abs(self.t_s - t_s) <= self.reach_s)
        if len(rows) < 3:
            rows = np.sort(np.argsort(np.abs(self.t_s - t_s))[:3])
        return rows

    def _fit(self, rows: np.ndarray, t_s: float, axis: int) -> tuple[float, float]:
        values = (self.forward_mm, self.up_mm)[axis][rows]
        x = self.t_s[rows] - t_s
        degree = 2 if len(rows) >= 5 else 1 if len(rows) >= 3 and np.ptp(x) > 0 else 0
        # The value at the moment is a fixed mix of the frames; its white error is the length of that mix.
        design = np.vander(x, degree + 1)
        mix = np.linalg.pinv(design)[-1]
        return float(mix @ values), self._sd(rows, axis, 1.0 / float(mix @ mix))

    def slow_mm(self, axis: int) -> float:
        """Give the part of the random error that changes slowly: what is stated beyond the frame noise.

        What rows read one after the other do is left out of the heights': velocities hold it by itself.
        """
        stated = (self.sd_forward_mm, self.sd_up_mm)[axis]
        known = stated[np.isfinite(stated)]
        middle = float(np.median(known)) if len(known) else 0.0
        apart = self.white_mm[axis] ** 2 + (self.path.rolled_mm**2 if axis else 0.0)
        return float(np.sqrt(max(middle**2 - apart, 0.0)))

    def _sd(self, rows: np.ndarray, axis: int, frames: float) -> float:
        """Give the random sd of a mix of frames that averages the white part over `frames` of them."""
        stated = float(np.median((self.sd_forward_mm, self.sd_up_mm)[axis][rows]))
        white = self.white_mm[axis]
        slow = max(stated**2 - white**2, 0.0) if np.isfinite(stated) else 0.0
        return float(np.sqrt(slow + white**2 / max(frames, 1.0)))

    def _turn_s(self, start_s: float, end_s: float, sign: float) -> float:
        rows = self.rows(start_s, end_s)
        if not len(rows):
            return self._middle_of(start_s, end_s)
        # A three-frame mean keeps a single noisy frame from being the turning point.
        height = sign * self.up_mm
        smooth = np.convolve(np.pad(height, 1, mode="edge"), np.ones(3) / 3, mode="valid")
        top = int(rows[np.argmax(smooth[rows])])
        at = float(self.t_s[top])
        around = np.flatnonzero(np.abs(self.t_s - at) <= 1.5 * self.reach_s)
        if len(around) >= 5:
            bend, slope, _ = np.polyfit(self.t_s[around] - at, height[around], 2)
            if bend < 0:
                at += float(np.clip(-slope / (2 * bend), -self.reach_s, self.reach_s))
        return float(np.clip(at, start_s, end_s))

    def _middle_of(self, start_s: float, end_s: float) -> float:
        middle = (start_s + end_s) / 2
        self._around(middle)
        return middle


def frame_noise(t_s: FloatArray, values: FloatArray) -> float:
    """Estimate the error that differs from frame to frame, one sd, from third differences.

    White noise of sd s has third differences of sd s sqrt(20); a lift's own third difference is under a millimetre
    at 30 frames a second (20 m/s3 over 1/30 s), and the median over the clip, most of which is slow, is smaller.
    """
    if len(values) < 12:
        return 0.0
    steps = np.diff(t_s)
    even = np.abs(steps - np.median(steps)) < 0.35 * np.median(steps)
    whole = even[:-2] & even[1:-1] & even[2:]
    third = np.diff(values, 3)[whole]
    if len(third) < 8:
        return 0.0
    return float(np.median(np.abs(third)) / 0.6745 / np.sqrt(20.0))
