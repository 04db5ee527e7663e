"""How the bar moves through a set: tempo, path, sticking, pauses, and how no two repetitions are alike.

A plan (what is asked of each repetition) becomes a dense, noise-free path on a grid of 2 ms. Everything that is
measured on a clip's truth is measured on that path.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from attrs import Factory, evolve, field, frozen
from numpy.typing import NDArray

from lab.render.ascent import COMPLETED, Ascent, ascent

Array = NDArray[np.float64]
Track = Callable[[Any], Any] | float
"""A track over a piece of the set: a function of the share of its time, or one value."""
STEP_S = 0.002
SMOOTH_S = 0.022


@frozen
class RepPlan:
    """What is asked of one repetition; lengths in m, times in s.

    Parameters
    ----------
    down_s, pause_s, up_s, hold_s : lowering, still at the low (deadlift: at the top), rising, held afterwards.
    stick : how deep the dip in the rising velocity is, 0 (none) to 1 (stops).
    stick_at : share of the rise's time at which it is deepest.
    deeper_m : lower than the set's usual low.
    drift_m : the bar runs this much forward early in the rise and comes back.
    lead_deg : the trunk tips this much more early in the rise (hips first).
    touch_m : bench: the bar comes down this much farther toward the feet.
    late_m : bench: this much of the forward way is left for the last third of the descent.
    short_m : the rise ends this much below the full lockout.
    dip_m : the bar sinks this much on its way up, at `dip_at` of the height.
    outcome : one of `ascent.OUTCOMES`; only a deadlift can be dropped. A missed squat or press ends the set.
    stuck_at : share of the height at which a missed or assisted rise stands.
    trunk_deg : squat: the trunk leans this much more at the low than usual.
    hips_m : bench: the hips come off the bench this much while the bar rises.
    shoulders_m : bench: the shoulders have moved this much toward the head end.
    tilt_deg : the bar's left end rises this much higher while it goes up.
    """

    down_s: float = 1.3
    pause_s: float = 0.05
    up_s: float = 1.2
    hold_s: float = 1.2
    stick: float = 0.35
    stick_at: float = 0.42
    deeper_m: float = 0.0
    drift_m: float = 0.0
    lead_deg: float = 0.0
    touch_m: float = 0.0
    late_m: float = 0.0
    short_m: float = 0.0
    dip_m: float = 0.0
    dip_at: float = 0.72
    outcome: str = COMPLETED
    stuck_at: float = 0.55
    trunk_deg: float = 0.0
    hips_m: float = 0.0
    shoulders_m: float = 0.0
    tilt_deg: float = 0.0

    def ascent(self, height_m: float) -> Ascent:
        """How the bar rises over a height, m."""
        return ascent(
            up_s=self.up_s, stick=self.stick, stick_at=self.stick_at, outcome=self.outcome,
            stuck_at=self.stuck_at, dip=self.dip_m / height_m, dip_at=self.dip_at,
        )  # fmt: skip


@frozen
class Variation:
    """Natural variation between repetitions, standard deviations."""

    path_m: float = 0.004
    tempo: float = 0.06
    depth_m: float = 0.009
    sway_m: float = 0.0025
    trunk_deg: float = 0.0


@frozen
class Course:
    """The bar's way through the set on an even, dense grid.

    `forward_m`, `up_m` is the bar's middle; `risen` 0..1 from low (floor) to top; `lead_deg` the trunk's extra
    tip; `ready` 0..1 how far a deadlift's slack is taken out; `walk_m` how far the feet and all stand forward of
    where the reps are done; `step_m`, `lift_m` (n, 2) each foot's place about that and its height.
    `hips_m` a bench lifter's hips off the bench, `shoulders_m` his shoulders' creep toward the head end;
    `hands_up_m` the height of the hands where they are not on the bar (empty: they are); `flex_m` how much
    higher than its middle the bar's ends are as it bends; `tilt_deg` the left end's being higher.
    `marks` are the generator's own times of each rep (start, turn, end, and the highest point of a missed one);
    they are not to be measured against. `outcomes` names what came of each.
    """

    t_s: Array = field(eq=False)
    forward_m: Array = field(eq=False)
    up_m: Array = field(eq=False)
    risen: Array = field(eq=False)
    lead_deg: Array = field(eq=False)
    marks: tuple[dict[str, float], ...] = ()
    outcomes: tuple[str, ...] = ()
    ready: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))
    walk_m: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))
    step_m: Array = field(eq=False, default=Factory(lambda: np.zeros((0, 2))))
    lift_m: Array = field(eq=False, default=Factory(lambda: np.zeros((0, 2))))
    hips_m: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))
    shoulders_m: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))
    hands_up_m: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))
    flex_m: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))
    tilt_deg: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))

    @property
    def plates_up_m(self) -> Array:
        """Height of the discs, the mean of both ends: the middle's and how the bar bends."""
        return self.up_m + self.flex_m if len(self.flex_m) else self.up_m

    def at(self, name: str, t_s: float | Array) -> Array:
        """Interpolate one of the arrays at times; what a course does not hold is 0."""
        values = getattr(self, name)
        if not len(values):
            return np.zeros_like(np.asarray(t_s, dtype=float))
        if values.ndim == 1:
            return np.asarray(np.interp(t_s, self.t_s, values))
        return np.stack([np.interp(t_s, self.t_s, values[:, k]) for k in range(values.shape[1])], axis=-1)


def fall(share: Array) -> Array:
    """Depth share (0..1) over time share (0..1) of a controlled descent."""
    fine = np.linspace(0.0, 1.0, 2001)
    speed = np.sin(np.pi * fine**0.85) ** 1.1
    depth = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2.0)])
    return np.asarray(np.interp(share, fine, depth / depth[-1]))


def sway(t_s: Array, sd: float, rng: np.random.Generator, low_hz: float = 0.12, high_hz: float = 0.9) -> Array:
    """Slow wandering with standard deviation `sd`: sums of sines between two frequencies."""
    hz = rng.uniform(low_hz, high_hz, 7)
    wave = np.sum(np.sin(2 * np.pi * hz[:, None] * t_s[None] + rng.uniform(0, 2 * np.pi, 7)[:, None]), axis=0)
    return np.asarray(wave * sd / np.sqrt(3.5))


class Writer:
    """Lay pieces of the set one behind the other."""

    def __init__(self) -> None:
        self.parts: dict[str, list[Array]] = {}
        self.time_s = 0.0

    def add(self, duration_s: float, **tracks: Track) -> tuple[float, float]:
        count = max(round(duration_s / STEP_S), 1)
        share = (np.arange(count) + 1) / count
        for name, track in tracks.items():
            values = track(share) if callable(track) else np.full(count, float(track))
            self.parts.setdefault(name, []).append(values)
        start = self.time_s
        self.time_s += count * STEP_S
        return start, self.time_s

    def done(self) -> tuple[Array, dict[str, Array]]:
        tracks = {name: np.concatenate(parts) for name, parts in self.parts.items()}
        count = len(next(iter(tracks.values())))
        return np.arange(count, dtype=np.float64) * np.float64(STEP_S), tracks


def varied(plans: Sequence[RepPlan], variation: Variation, rng: np.random.Generator) -> list[RepPlan]:
    """Give the plans with every rep's own tempo and depth."""
    out = []
    for plan in plans:
        pace = np.exp(rng.normal(0.0, variation.tempo, 4))
        out.append(
            evolve(
                plan, down_s=plan.down_s * pace[0], up_s=plan.up_s * pace[1], hold_s=plan.hold_s * pace[2],
                pause_s=plan.pause_s * pace[3], deeper_m=plan.deeper_m + rng.normal(0.0, variation.depth_m),
                trunk_deg=plan.trunk_deg + (rng.normal(0.0, variation.trunk_deg) if variation.trunk_deg else 0.0),
            )
        )  # fmt: skip
    return out
