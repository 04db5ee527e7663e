"""The share of its height that a bar has risen over the time of its rise: sticking, sinking, missed, helped."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

Array = NDArray[np.float64]
Path = Callable[[Array], Array]
COMPLETED, MISSED, ASSISTED, DROPPED = "completed", "missed", "assisted", "dropped"
OUTCOMES = (COMPLETED, MISSED, ASSISTED, DROPPED)
DIP_WIDTH = 0.16
"""Share of the rise's time that a sinking takes."""


def rise(share: Array, stick: float, stick_at: float) -> Array:
    """Height share (0..1) over time share (0..1) of a rise that slows at the sticking point and never sinks."""
    fine = np.linspace(0.0, 1.0, 2001)
    speed = np.sin(np.pi * fine**0.92) ** 1.15
    speed *= 1.0 - np.clip(stick, 0.0, 0.97) * np.exp(-(((fine - stick_at) / 0.13) ** 2))
    height = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2.0)])
    return np.asarray(np.interp(share, fine, height / height[-1]))


def ease(share: Array | float) -> Array:
    """0..1 with no speed at either end."""
    s = np.clip(share, 0.0, 1.0)
    return np.asarray(s * s * s * (10.0 - 15.0 * s + 6.0 * s * s))


@frozen
class Ascent:
    """A rise: how long it takes, the height's share over the time's share, and when it is highest (time share)."""

    duration_s: float
    share: Path
    peak: float = 1.0


def ascent(
    *, up_s: float, stick: float, stick_at: float, outcome: str, stuck_at: float, dip: float, dip_at: float
) -> Ascent:
    """Make the rise of one rep.

    Parameters
    ----------
    up_s : time of a completed rise; a missed or assisted one takes a time that follows from it.
    stick, stick_at : how deep the dip in the velocity is and when.
    outcome : one of `OUTCOMES`; what is dropped rises like what is completed.
    stuck_at : share of the height at which a missed or assisted rise stands.
    dip, dip_at : the bar sinks by this share of the height at that share of it.
    """
    if outcome == MISSED:
        return _missed(up_s, stick_at, stuck_at)
    if outcome == ASSISTED:
        return _assisted(up_s, stick_at, stuck_at)
    if dip <= 0.0:
        return Ascent(up_s, lambda s: rise(s, stick, stick_at))

    def sinking(s: Array) -> Array:
        # The bar stops, sinks, and goes on: the rise is held where it is while the sinking is laid over it.
        begins = 0.62 * (1 - DIP_WIDTH)
        first = rise(np.clip(s / begins, 0, 1), 0.2, 0.4) * dip_at
        sink = ease((s - begins) / DIP_WIDTH) * dip
        rest = np.clip((s - begins - DIP_WIDTH) / (1 - begins - DIP_WIDTH), 0, 1)
        return np.asarray(first - sink + (1 - dip_at + dip) * rise(rest, 0.1, 0.4))

    return Ascent(up_s, sinking)


def _missed(up_s: float, stick_at: float, stuck_at: float) -> Ascent:
    """It slows to a stand and goes back down."""
    up, stand, back = 0.8 * up_s, 0.5, 0.9
    whole = up + stand + back

    def share(s: Array) -> Array:
        t = s * whole
        return stuck_at * rise(np.clip(t / up, 0, 1), 0.3, stick_at) - stuck_at * ease((t - up - stand) / back)

    return Ascent(whole, share, (up + stand / 2) / whole)


def _assisted(up_s: float, stick_at: float, stuck_at: float) -> Ascent:
    """It slows to a stand and goes on evenly with a helper's hands."""
    up, stand, on = 0.75 * up_s, 0.6, 1.5
    whole = up + stand + on

    def share(s: Array) -> Array:
        t = s * whole
        helped = (1 - stuck_at) * ease((t - up - stand) / on)
        return stuck_at * rise(np.clip(t / up, 0, 1), 0.3, stick_at) + helped

    return Ascent(whole, share)
