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
from scipy.ndimage import gaussian_filter1d

Array = NDArray[np.float64]
Path = Callable[[Array], Array]
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
    dip_m : deadlift: the bar sinks this much on its way up, at `dip_at` of the height.
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


@frozen
class Variation:
    """Natural variation between repetitions, standard deviations."""

    path_m: float = 0.004
    tempo: float = 0.06
    depth_m: float = 0.009
    sway_m: float = 0.0025


@frozen
class Course:
    """The bar's way through the set on an even, dense grid.

    `forward_m`, `up_m` is the bar's middle; `risen` 0..1 from low (floor) to top; `lead_deg` the trunk's extra
    tip; `ready` 0..1 how far a deadlift's slack is taken out; `walk_m` how far the feet and all stand forward of
    where the reps are done; `step_m`, `lift_m` (n, 2) each foot's place about that and its height.
    `marks` are the generator's own times of each rep (start, turn, end); they are not to be measured against.
    """

    t_s: Array = field(eq=False)
    forward_m: Array = field(eq=False)
    up_m: Array = field(eq=False)
    risen: Array = field(eq=False)
    lead_deg: Array = field(eq=False)
    marks: tuple[dict[str, float], ...] = ()
    ready: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))
    walk_m: Array = field(eq=False, default=Factory(lambda: np.zeros(0)))
    step_m: Array = field(eq=False, default=Factory(lambda: np.zeros((0, 2))))
    lift_m: Array = field(eq=False, default=Factory(lambda: np.zeros((0, 2))))

    def at(self, name: str, t_s: float | Array) -> Array:
        """Interpolate one of the arrays at times."""
        values = getattr(self, name)
        if values.ndim == 1:
            return np.asarray(np.interp(t_s, self.t_s, values))
        return np.stack([np.interp(t_s, self.t_s, values[:, k]) for k in range(values.shape[1])], axis=-1)


def rise(share: Array, stick: float, stick_at: float) -> Array:
    """Height share (0..1) over time share (0..1) of a rise that slows at the sticking point and never sinks."""
    fine = np.linspace(0.0, 1.0, 2001)
    speed = np.sin(np.pi * fine**0.92) ** 1.15
    speed *= 1.0 - np.clip(stick, 0.0, 0.97) * np.exp(-(((fine - stick_at) / 0.13) ** 2))
    height = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2.0)])
    return np.asarray(np.interp(share, fine, height / height[-1]))


def fall(share: Array) -> Array:
    """Depth share (0..1) over time share (0..1) of a controlled descent."""
    fine = np.linspace(0.0, 1.0, 2001)
    speed = np.sin(np.pi * fine**0.85) ** 1.1
    depth = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2.0)])
    return np.asarray(np.interp(share, fine, depth / depth[-1]))


def ease(share: Array | float) -> Array:
    """0..1 with no speed at either end."""
    s = np.clip(share, 0.0, 1.0)
    return np.asarray(s * s * s * (10.0 - 15.0 * s + 6.0 * s * s))


def sway(t_s: Array, sd: float, rng: np.random.Generator, low_hz: float = 0.12, high_hz: float = 0.9) -> Array:
    """Slow wandering with standard deviation `sd`: sums of sines between two frequencies."""
    hz = rng.uniform(low_hz, high_hz, 7)
    wave = np.sum(np.sin(2 * np.pi * hz[:, None] * t_s[None] + rng.uniform(0, 2 * np.pi, 7)[:, None]), axis=0)
    return np.asarray(wave * sd / np.sqrt(3.5))


class _Writer:
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
            )
        )  # fmt: skip
    return out


def squat(
    plans: Sequence[RepPlan], *, over_m: float, top_m: float, low_m: float, variation: Variation,
    rng: np.random.Generator, rack_m: float | None = None, hooks_below_m: float = 0.05,
    lead_in_s: float = 1.2, lead_out_s: float = 1.0,
) -> Course:  # fmt: skip
    """A squat set; with `rack_m` the bar starts on hooks so far forward, is walked out and walked back."""
    w = _Writer()
    marks: list[dict[str, float]] = []
    none: dict[str, Track] = {"off": 0.0, "lead": 0.0, "stepL": 0.0, "stepR": 0.0, "liftL": 0.0, "liftR": 0.0}

    def walk(sign: float, start: float) -> None:
        """Two steps; the feet swap places with the rest of the body between them (sign -1: backward)."""
        way = rack_m or 0.0
        share = (0.0, 0.55, 1.0)
        place = {"L": 0.0, "R": 0.0}
        for k, foot in enumerate(("L", "R")):
            other = "R" if foot == "L" else "L"
            a, b = start + sign * way * share[k], start + sign * way * share[k + 1]
            spot_from, spot_to = place[foot], sign * way
            still = place[other]

            def body(s: Array, a: float = a, b: float = b) -> Array:
                return a + (b - a) * ease(s)

            def stepping(s: Array, body: Path = body, lo: float = spot_from, hi: float = spot_to) -> Array:
                return np.asarray(start + lo + (hi - lo) * ease(s) - body(s))

            def standing(s: Array, body: Path = body, still: float = still) -> Array:
                return np.asarray(start + still - body(s))

            tracks: dict[str, Track] = {f"step{foot}": stepping, f"step{other}": standing}
            tracks[f"lift{foot}"] = lambda s: 0.045 * np.sin(np.pi * s)
            dip = lambda s, k=k: top_m - 0.036 - 0.008 * np.sin(np.pi * s) ** 2  # noqa: E731
            w.add(0.75, **{**none, **tracks, "up": dip, "walk": body, "risen": 1.0})
            place[foot] = spot_to

    start_walk = rack_m or 0.0
    if rack_m is not None:
        hooks = top_m - hooks_below_m
        w.add(lead_in_s, **none, up=hooks, walk=start_walk, risen=1.0)
        w.add(0.7, **none, up=lambda s: hooks + (top_m - hooks) * ease(s), walk=start_walk, risen=1.0)
        w.add(0.5, **none, up=lambda s: top_m - 0.036 * ease(s), walk=start_walk, risen=1.0)
        walk(-1.0, start_walk)
        w.add(0.45, **none, up=lambda s: top_m - 0.036 * (1 - ease(s)), walk=0.0, risen=1.0)
        w.add(1.1, **none, up=top_m, walk=0.0, risen=1.0)
    else:
        w.add(lead_in_s, **none, up=top_m, walk=0.0, risen=1.0)
    for plan in varied(plans, variation, rng):
        low = low_m - plan.deeper_m
        a1, a2, low_off = rng.normal((0.010, -0.004, 0.007), variation.path_m)
        height = top_m - low

        def down(s: Array, low: float = low, height: float = height) -> Array:
            return top_m - height * fall(s)

        def up(s: Array, plan: RepPlan = plan, low: float = low, height: float = height) -> Array:
            return low + (height - plan.short_m) * rise(s, plan.stick, plan.stick_at)

        def off_down(s: Array, a1: float = a1, low_off: float = low_off) -> Array:
            f = fall(s)
            return low_off * f + a1 * np.sin(np.pi * f)

        def off_up(s: Array, plan: RepPlan = plan, a2: float = a2, low_off: float = low_off) -> Array:
            u = rise(s, plan.stick, plan.stick_at)
            return low_off * (1 - u) + a2 * np.sin(np.pi * u) + plan.drift_m * np.sin(np.pi * u**0.55) ** 2

        def tip(s: Array, plan: RepPlan = plan) -> Array:
            u = rise(s, plan.stick, plan.stick_at)
            return plan.lead_deg * np.sin(np.pi * u**0.55) ** 2

        risen_down = lambda s: 1.0 - fall(s)  # noqa: E731
        risen_up = lambda s, plan=plan: rise(s, plan.stick, plan.stick_at)  # noqa: E731
        base = {**none, "walk": 0.0}
        start, turn = w.add(plan.down_s, **{**base, "up": down, "off": off_down, "risen": risen_down})
        w.add(plan.pause_s, **{**base, "up": low, "off": low_off, "risen": 0.0})
        _, end = w.add(plan.up_s, **{**base, "up": up, "off": off_up, "risen": risen_up, "lead": tip})
        w.add(plan.hold_s, **{**base, "up": top_m - plan.short_m, "risen": 1.0})
        marks.append({"start": start, "turn": turn, "end": end})
    if rack_m is not None:
        w.add(0.4, **none, up=lambda s: top_m - 0.036 * ease(s), walk=0.0, risen=1.0)
        walk(1.0, 0.0)
        hooks = top_m - hooks_below_m
        w.add(
            0.6, **none, up=lambda s: top_m - 0.036 + (hooks - top_m + 0.036) * ease(s), walk=start_walk, risen=1.0
        )
        w.add(lead_out_s, **none, up=hooks, walk=start_walk, risen=1.0)
    else:
        w.add(lead_out_s, **none, up=top_m, walk=0.0, risen=1.0)
    t, tr = w.done()
    smooth = {k: gaussian_filter1d(v, SMOOTH_S / STEP_S, mode="nearest") for k, v in tr.items()}
    on_hooks = np.ones_like(t)
    if rack_m is not None:
        on_hooks = ease(t / lead_in_s - 0.5) * ease((t[-1] - t) / lead_out_s - 0.5)
    forward = over_m + smooth["walk"] + smooth["off"] + sway(t, variation.sway_m, rng) * on_hooks
    breath = 0.0009 * np.sin(2 * np.pi * 0.42 * t + rng.uniform(0, 6)) * on_hooks
    return Course(
        t_s=t, forward_m=forward, up_m=smooth["up"] + breath, risen=smooth["risen"], lead_deg=smooth["lead"],
        marks=tuple(marks), ready=np.ones_like(t), walk_m=smooth["walk"],
        step_m=np.stack([smooth["stepL"], smooth["stepR"]], 1),
        lift_m=np.stack([smooth["liftL"], smooth["liftR"]], 1),
    )  # fmt: skip


def bench(
    plans: Sequence[RepPlan], *, top: tuple[float, float], touch_m: float, chest_at: Array,
    variation: Variation, rng: np.random.Generator, hooks: tuple[float, float],
    lead_in_s: float = 1.0, lead_out_s: float = 0.8,
) -> Course:  # fmt: skip
    """A bench set: off the hooks, the reps, back onto them.

    Parameters
    ----------
    top, hooks : (forward, up) m of the bar at arm's length and on the hooks.
    touch_m : where the bar usually touches the chest, m forward.
    chest_at : (n, 2), m: heights of the bar lying on the chest over places forward.
    """
    w = _Writer()
    marks: list[dict[str, float]] = []
    still: dict[str, Track] = {"lead": 0.0}
    over_hooks = hooks[1] + 0.045
    w.add(lead_in_s, **still, up=hooks[1], forward=hooks[0], risen=1.0)
    w.add(0.6, **still, up=lambda s: hooks[1] + (over_hooks - hooks[1]) * ease(s), forward=hooks[0], risen=1.0)
    w.add(
        1.0, **still, up=lambda s: over_hooks + (top[1] - over_hooks) * ease(s),
        forward=lambda s: hooks[0] + (top[0] - hooks[0]) * ease(s), risen=1.0,
    )  # fmt: skip
    w.add(1.0, **still, up=top[1], forward=top[0], risen=1.0)
    for plan in varied(plans, variation, rng):
        touch = touch_m + plan.touch_m + rng.normal(0.0, variation.path_m)
        low = float(np.interp(touch, chest_at[:, 0], chest_at[:, 1]))
        bow = rng.normal(0.004, variation.path_m * 0.6)
        bend = rng.normal(0.62, 0.05)
        way, height = touch - top[0], top[1] - low

        def down(s: Array, height: float = height) -> Array:
            return top[1] - height * fall(s)

        def go(s: Array, plan: RepPlan = plan, way: float = way, bow: float = bow) -> Array:
            f = fall(s)
            late = plan.late_m * np.clip((f - 0.667) / 0.333, 0.0, 1.0) ** 1.5
            return top[0] + (way - plan.late_m) * f**0.95 + late + bow * np.sin(np.pi * f)

        def up(s: Array, plan: RepPlan = plan, low: float = low, height: float = height) -> Array:
            return low + (height - plan.short_m) * rise(s, plan.stick, plan.stick_at)

        def back(
            s: Array, plan: RepPlan = plan, touch: float = touch, way: float = way, bend: float = bend
        ) -> Array:
            return touch - way * rise(s, plan.stick, plan.stick_at) ** bend

        risen_down = lambda s: 1.0 - fall(s)  # noqa: E731
        risen_up = lambda s, plan=plan: rise(s, plan.stick, plan.stick_at)  # noqa: E731
        start, turn = w.add(plan.down_s, **still, up=down, forward=go, risen=risen_down)
        w.add(plan.pause_s, **still, up=low, forward=touch, risen=0.0)
        _, end = w.add(plan.up_s, **still, up=up, forward=back, risen=risen_up)
        w.add(plan.hold_s, **still, up=top[1] - plan.short_m, forward=top[0], risen=1.0)
        marks.append({"start": start, "turn": turn, "end": end})
    w.add(
        0.9, **still, up=lambda s: top[1] + (over_hooks - top[1]) * ease(s),
        forward=lambda s: top[0] + (hooks[0] - top[0]) * ease(s), risen=1.0,
    )  # fmt: skip
    w.add(0.5, **still, up=lambda s: over_hooks + (hooks[1] - over_hooks) * ease(s), forward=hooks[0], risen=1.0)
    w.add(lead_out_s, **still, up=hooks[1], forward=hooks[0], risen=1.0)
    t, tr = w.done()
    smooth = {k: gaussian_filter1d(v, SMOOTH_S / STEP_S, mode="nearest") for k, v in tr.items()}
    held = ease(t / lead_in_s - 0.5) * ease((t[-1] - t) / lead_out_s - 0.5)
    free = held * np.clip(smooth["risen"], 0, 1)
    forward = smooth["forward"] + sway(t, variation.sway_m * 0.7, rng) * free
    up_m = smooth["up"] + sway(t, variation.sway_m * 0.35, rng) * free
    return Course(t, forward, up_m, smooth["risen"], smooth["lead"], tuple(marks), ready=np.ones_like(t))


def deadlift(
    plans: Sequence[RepPlan], *, over_m: float, floor_m: float, top: tuple[float, float], variation: Variation,
    rng: np.random.Generator, lead_in_s: float = 2.0, lead_out_s: float = 1.2, slack_s: float = 0.8,
) -> Course:  # fmt: skip
    """A deadlift set that starts and ends with the bar on the floor."""
    w = _Writer()
    marks: list[dict[str, float]] = []
    height, way = top[1] - floor_m, top[0] - over_m
    rest: dict[str, Track] = {"lead": 0.0}
    w.add(lead_in_s, **rest, up=floor_m, off=0.0, risen=0.0, ready=0.0)
    reps = varied(plans, variation, rng)
    for plan in reps:
        close, open_ = rng.normal((-0.018, -0.006), variation.path_m)
        full = height - plan.short_m
        w.add(slack_s, **rest, up=floor_m, off=0.0, risen=0.0, ready=lambda s: ease(s))

        def share(s: Array, plan: RepPlan = plan, full: float = full) -> Array:
            u = rise(s, plan.stick, plan.stick_at)
            if plan.dip_m <= 0.0:
                return u
            # The bar stops, sinks, and goes on: the rise is held where it is while the sinking is laid over it.
            reach, width = plan.dip_at, 0.16
            first = rise(np.clip(s / (0.62 * (1 - width)), 0, 1), 0.2, 0.4) * reach
            sink = ease((s - 0.62 * (1 - width)) / width) * plan.dip_m / full
            last = (1 - reach + plan.dip_m / full) * rise(
                np.clip((s - 0.62 * (1 - width) - width) / (1 - 0.62 * (1 - width) - width), 0, 1), 0.1, 0.4
            )
            return np.asarray(first - sink + last)

        def up(s: Array, share: Path = share, full: float = full) -> Array:
            return np.asarray(floor_m + full * share(s))

        def off(s: Array, share: Path = share, close: float = close, plan: RepPlan = plan) -> Array:
            u = np.clip(share(s), 0, 1)
            bow = close * np.sin(np.pi * u**0.8) ** 2
            return np.asarray(way * u + bow + plan.drift_m * np.sin(np.pi * u**0.5) ** 2)

        def off_down(s: Array, open_: float = open_) -> Array:
            u = 1.0 - fall(s)
            return np.asarray(way * u + open_ * np.sin(np.pi * u))

        cut = full / height

        def risen_up(s: Array, share: Path = share, cut: float = cut) -> Array:
            return cut * share(s)

        def lower(s: Array, full: float = full) -> Array:
            return floor_m + full * (1 - fall(s))

        def risen_down(s: Array, cut: float = cut) -> Array:
            return cut * (1 - fall(s))

        start, turn = w.add(plan.up_s, **rest, up=up, off=off, risen=risen_up, ready=1.0)
        w.add(plan.pause_s, **rest, up=floor_m + full, off=way, risen=cut, ready=1.0)
        _, end = w.add(
            plan.down_s, **rest, up=lower, off=off_down, risen=risen_down, ready=1.0,
        )  # fmt: skip
        w.add(plan.hold_s, **rest, up=floor_m, off=0.0, risen=0.0, ready=lambda s: 1 - ease(s * 1.5))
        marks.append({"start": start, "turn": turn, "end": end})
    w.add(lead_out_s, **rest, up=floor_m, off=0.0, risen=0.0, ready=0.0)
    t, tr = w.done()
    smooth = {k: gaussian_filter1d(v, SMOOTH_S / STEP_S, mode="nearest") for k, v in tr.items()}
    free = np.clip((smooth["up"] - floor_m) / 0.06, 0.0, 1.0)
    forward = over_m + smooth["off"] + sway(t, variation.sway_m, rng) * free
    up_m = smooth["up"] + sway(t, variation.sway_m * 0.35, rng) * free
    return Course(t, forward, up_m, smooth["risen"], smooth["lead"], tuple(marks), ready=smooth["ready"])
