"""Where the bar is in the picture, as far as this stage needs it: from its track or from a coarse hypothesis."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from attrs import frozen

from midfoot.records.base import FloatArray, float_field

BRIDGE_S = 0.3
"""Furthest in time from a known place that one is still given."""


class BarEvidence(Protocol):
    """What is asked of a bar: a place over time. A bar track and a coarse hypothesis both have it."""

    @property
    def t_s(self) -> FloatArray:
        """Times (n,), s."""

    @property
    def xy_px(self) -> FloatArray:
        """Places (n, 2), px, NaN where not known."""


@frozen
class Bar:
    """The bar's place over time as this stage uses it, rows with a place only."""

    t_s: FloatArray = float_field(None)
    xy_px: FloatArray = float_field(None, 2)
    radius_px: float = 0.0

    def at(self, t_s: FloatArray) -> FloatArray:
        """Give the place (n, 2) at times (n,), NaN further than 0.3 s from a known one."""
        if len(self.t_s) < 2:
            return np.full((len(t_s), 2), np.nan)
        xy = np.stack([np.interp(t_s, self.t_s, self.xy_px[:, k]) for k in (0, 1)], axis=1)
        after = np.clip(np.searchsorted(self.t_s, t_s), 0, len(self.t_s) - 1)
        before = np.clip(after - 1, 0, None)
        gap = np.minimum(np.abs(self.t_s[after] - t_s), np.abs(self.t_s[before] - t_s))
        xy[gap > BRIDGE_S] = np.nan
        return xy


def bar_of(*evidence: object) -> Bar:
    """Take the first of `evidence` that says where the bar is: BarTrack, hypothesis, or None."""
    for item in evidence:
        if item is None or getattr(item, "status", "") == "not_found" or getattr(item, "source", "") == "hands":
            continue
        t_s, xy = np.asarray(getattr(item, "t_s", ())), np.asarray(getattr(item, "xy_px", ()))
        if len(t_s) < 2:
            continue
        known = np.isfinite(xy).all(axis=1)
        if known.sum() < 2:
            continue
        return Bar(t_s[known], xy[known], _radius(item))
    return Bar(np.zeros(0), np.zeros((0, 2)))


def _radius(item: object) -> float:
    diameter = getattr(item, "diameter_px", None)
    if diameter is not None:
        return float(getattr(diameter, "value", diameter)) / 2
    radius = getattr(item, "radius_px", None)
    if radius is None:
        return 0.0
    finite = np.asarray(radius, np.float64)
    finite = finite[np.isfinite(finite)]
    return float(np.median(finite)) if finite.size else 0.0
