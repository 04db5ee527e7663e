"""A coarse path of the near plate: where to look, not a measurement.

Rule for the next author: whatever is here may be wrong by a fifth of a radius in place, by half in radius, and
altogether wrong over a stretch; who uses it must look for himself.
"""

from __future__ import annotations

import numpy as np
from attrs import field, frozen

from midfoot.records.bar import BAR_SOURCE, BAR_STATUS, Candidate
from midfoot.records.base import FloatArray, RecordError, float_field, one_of
from midfoot.records.clip import Tap


@frozen
class Coarse:
    """One hypothesis of where the near plate is over the clip.

    Attributes
    ----------
    status : str
        `found`, `unsure`, `not_found`; the last has no rows.
    t_s : (m,) s, ascending
        Moments looked at, a row every few frames; stretches may be missing. One row is a single tap.
    xy_px : (m, 2) px
        Centre of the disc in the frame's own coordinates; within about 0.2 radii.
    radius_px : (m,) px
        Major half-axis; within about 60 %. NaN where nothing is known of the size (a tap).
    score : float
        How good the hypothesis is among its rivals, 0..1.
    candidates : tuple of Candidate
        Places offered for one tap by a person when unsure.
    person_ids : tuple of int
        People of the first look whose hands move with it, best first.
    reason : str
        Why the status is what it is, in one sentence.
    source : str
        `plate`, `shaft`, `hands` or `none`: what the path is of.
    """

    status: str = field(validator=one_of(*BAR_STATUS))
    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, 2)
    radius_px: FloatArray = float_field(None)
    score: float = 0.0
    candidates: tuple[Candidate, ...] = ()
    person_ids: tuple[int, ...] = ()
    reason: str = ""
    source: str = field(default="plate", validator=one_of(*BAR_SOURCE))

    def __attrs_post_init__(self) -> None:
        if not len(self.t_s) == len(self.xy_px) == len(self.radius_px):
            raise RecordError(
                f"t_s, xy_px, radius_px: expected as many rows in each, got "
                f"{len(self.t_s)}, {len(self.xy_px)}, {len(self.radius_px)}"
            )
        if len(self.t_s) > 1 and not (self.t_s[1:] > self.t_s[:-1]).all():
            raise RecordError("t_s: expected ascending moments, got some out of order")

    @classmethod
    def of_tap(cls, tap: Tap, radius_px: float = float("nan"), reason: str = "a person pointed at it") -> Coarse:
        """Start from a single tap; the size is unknown unless given."""
        at, place = np.array([tap.at_s]), np.array([[tap.x_px, tap.y_px]])
        return cls("found", at, place, np.array([radius_px]), score=1.0, reason=reason)
