"""Heads in the clip, whoever they belong to: where they are over time, so that they can be made unrecognisable."""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from attrs import field, frozen

from midfoot.records.base import FloatArray, float_field, floats, one_of, shaped


@frozen
class HeadTrack:
    """One head followed over part of the clip.

    `t_s` (m,), `xy_px` (m, 2) its middle and `radius_px` (m,) a circle that holds hair to chin, in the upright
    clip's own pixels. `by` says what found it: `face` a face network, `body` the head of a followed body, whose
    `hips_px` (m, 2) then say whose it is; no rows otherwise. `perhaps` is what may be a head and was not made out.
    `score` 0..1 is the best that a second look gave it, and `seen_s` (k,) are the moments at which it was seen
    itself; in between the picture carried it. No rows there: seen at every row.
    """

    by: str = field(validator=one_of("face", "body", "perhaps"))
    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, 2)
    radius_px: FloatArray = float_field(None)
    hips_px: FloatArray = field(
        factory=lambda: np.zeros((0, 2)), converter=floats, validator=shaped(None, 2), eq=False
    )
    score: float = 1.0
    seen_s: FloatArray = field(factory=lambda: np.zeros(0), converter=floats, validator=shaped(None), eq=False)

    BEFORE_S: ClassVar[float] = 0.35
    AFTER_S: ClassVar[float] = 0.5
    LONGEST_GAP_S: ClassVar[float] = 4.0
    GROWN: ClassVar[float] = 1.25

    def at(self, t_s: float) -> tuple[float, float, float] | None:
        """Give x, y and radius at a moment, None where the head is not known to be there.

        Between its rows by line; shortly before the first and after the last it is taken to be there still, with
        a larger circle. A longer pause between two rows counts as two ends.
        """
        if not len(self.t_s):
            return None
        after = int(np.searchsorted(self.t_s, t_s))
        before = after - 1
        if 0 < after < len(self.t_s) and self.t_s[after] - self.t_s[before] <= self.LONGEST_GAP_S:
            share = (t_s - self.t_s[before]) / max(1e-9, float(self.t_s[after] - self.t_s[before]))
            x, y = self.xy_px[before] + share * (self.xy_px[after] - self.xy_px[before])
            gap = float(self.t_s[after] - self.t_s[before])
            radius = max(self.radius_px[before], self.radius_px[after]) * (self.GROWN if gap > self.AFTER_S else 1)
            return float(x), float(y), float(radius)
        if after < len(self.t_s) and self.t_s[after] - t_s <= self.BEFORE_S:
            row = after
        elif before >= 0 and t_s - self.t_s[before] <= self.AFTER_S:
            row = before
        else:
            return None
        grown = 1.0 if abs(self.t_s[row] - t_s) < 1e-6 else self.GROWN
        return float(self.xy_px[row, 0]), float(self.xy_px[row, 1]), float(self.radius_px[row] * grown)

    def stretches(self) -> list[tuple[int, int]]:
        """Give the first and the last row of every stretch without a longer pause."""
        if not len(self.t_s):
            return []
        cuts = np.flatnonzero(np.diff(self.t_s) > self.LONGEST_GAP_S)
        return list(zip([0, *(cuts + 1).tolist()], [*cuts.tolist(), len(self.t_s) - 1], strict=True))


@frozen
class Heads:
    """Every head that was found in a stretch of a clip, from `from_s` to `to_s`.

    `width_px` and `height_px` are the upright clip's; 0 where nobody said.
    """

    from_s: float
    to_s: float
    tracks: tuple[HeadTrack, ...] = ()
    width_px: int = 0
    height_px: int = 0
