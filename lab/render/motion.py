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

from lab.render.ascent import COMPLETED, DROPPED, MISSED, Ascent, Path, ascent, ease

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
                trunk_deg=plan.trunk_deg + (rng.normal(0.0, variation.trunk_deg) if variation.trunk_deg else 0.0),
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
    none: dict[str, Track] = {
        "off": 0.0,
        "lead": 0.0,
        "tilt": 0.0,
        "stepL": 0.0,
        "stepR": 0.0,
        "liftL": 0.0,
        "liftR": 0.0,
    }

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
    held, reps = top_m, varied(plans, variation, rng)
    for plan in reps:
        low = low_m - plan.deeper_m
        a1, a2, low_off = rng.normal((0.010, -0.004, 0.007), variation.path_m)
        height = top_m - plan.short_m - low
        rises = plan.ascent(height)

        def down(s: Array, low: float = low, held: float = held) -> Array:
            return held - (held - low) * fall(s)

        def up(s: Array, low: float = low, height: float = height, rises: Ascent = rises) -> Array:
            return low + height * rises.share(s)

        def off_down(s: Array, a1: float = a1, low_off: float = low_off) -> Array:
            f = fall(s)
            return low_off * f + a1 * np.sin(np.pi * f)

        def off_up(s: Array, plan: RepPlan = plan, a2: float = a2, low_off: float = low_off,
                   rises: Ascent = rises) -> Array:  # fmt: skip
            u = np.clip(rises.share(s), 0, 1)
            return low_off * (1 - u) + a2 * np.sin(np.pi * u) + plan.drift_m * np.sin(np.pi * u**0.55) ** 2

        def tip(s: Array, plan: RepPlan = plan, rises: Ascent = rises) -> Array:
            u = np.clip(rises.share(s), 0, 1)
            return plan.lead_deg * np.sin(np.pi * u**0.55) ** 2 + plan.trunk_deg * (1 - u)

        risen_down = lambda s: 1.0 - fall(s)  # noqa: E731
        risen_up = lambda s, rises=rises: np.clip(rises.share(s), 0, 1)  # noqa: E731
        lean = lambda s, plan=plan: plan.trunk_deg * fall(s)  # noqa: E731
        tilt = lambda s, plan=plan, rises=rises: plan.tilt_deg * np.sin(np.pi * rises.share(s)) ** 2  # noqa: E731
        base = {**none, "walk": 0.0}
        start, turn = w.add(
            plan.down_s, **{**base, "up": down, "off": off_down, "risen": risen_down, "lead": lean}
        )
        low_tip = plan.trunk_deg
        w.add(plan.pause_s, **{**base, "up": low, "off": low_off, "risen": 0.0, "lead": low_tip})
        rising = {**base, "up": up, "off": off_up, "risen": risen_up, "lead": tip, "tilt": tilt}
        from_s, end = w.add(rises.duration_s, **rising)
        held = low if plan.outcome == MISSED else top_m - plan.short_m
        after = {"up": held, "risen": 0.0, "lead": low_tip, "off": low_off} if held == low else {"up": held}
        w.add(plan.hold_s, **{**base, "risen": 1.0, **after})
        marks.append({"start": start, "turn": turn, "end": end, "peak": from_s + rises.peak * rises.duration_s})
        if plan.outcome == MISSED:
            break
    if held < top_m - 0.2:
        w.add(lead_out_s, **{**none, "walk": 0.0, **after})
    elif rack_m is not None:
        w.add(0.4, **none, up=lambda s: held - (held - top_m + 0.036) * ease(s), walk=0.0, risen=1.0)
        walk(1.0, 0.0)
        hooks = top_m - hooks_below_m
        w.add(
            0.6, **none, up=lambda s: top_m - 0.036 + (hooks - top_m + 0.036) * ease(s), walk=start_walk, risen=1.0
        )
        w.add(lead_out_s, **none, up=hooks, walk=start_walk, risen=1.0)
    else:
        w.add(lead_out_s, **none, up=held, walk=0.0, risen=1.0)
    t, tr = w.done()
    smooth = {k: gaussian_filter1d(v, SMOOTH_S / STEP_S, mode="nearest") for k, v in tr.items()}
    on_hooks = np.ones_like(t)
    if rack_m is not None:
        on_hooks = ease(t / lead_in_s - 0.5) * ease((t[-1] - t) / lead_out_s - 0.5)
    forward = over_m + smooth["walk"] + smooth["off"] + sway(t, variation.sway_m, rng) * on_hooks
    breath = 0.0009 * np.sin(2 * np.pi * 0.42 * t + rng.uniform(0, 6)) * on_hooks
    return Course(
        t_s=t, forward_m=forward, up_m=smooth["up"] + breath, risen=smooth["risen"], lead_deg=smooth["lead"],
        marks=tuple(marks), outcomes=tuple(p.outcome for p in reps[: len(marks)]), ready=np.ones_like(t),
        walk_m=smooth["walk"], tilt_deg=smooth["tilt"],
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
    still: dict[str, Track] = {"lead": 0.0, "hips": 0.0, "creep": 0.0, "tilt": 0.0}
    over_hooks = hooks[1] + 0.045
    w.add(lead_in_s, **still, up=hooks[1], forward=hooks[0], risen=1.0)
    w.add(0.6, **still, up=lambda s: hooks[1] + (over_hooks - hooks[1]) * ease(s), forward=hooks[0], risen=1.0)
    w.add(
        1.0, **still, up=lambda s: over_hooks + (top[1] - over_hooks) * ease(s),
        forward=lambda s: hooks[0] + (top[0] - hooks[0]) * ease(s), risen=1.0,
    )  # fmt: skip
    w.add(1.0, **still, up=top[1], forward=top[0], risen=1.0)
    held_m, crept, reps = top[1], 0.0, varied(plans, variation, rng)
    for plan in reps:
        touch = touch_m + plan.touch_m + rng.normal(0.0, variation.path_m)
        low = float(np.interp(touch, chest_at[:, 0], chest_at[:, 1]))
        bow = rng.normal(0.004, variation.path_m * 0.6)
        bend = rng.normal(0.62, 0.05)
        way, height = touch - top[0], top[1] - plan.short_m - low
        rises = plan.ascent(height)

        def down(s: Array, low: float = low, held: float = held_m) -> Array:
            return held - (held - low) * fall(s)

        def go(s: Array, plan: RepPlan = plan, way: float = way, bow: float = bow) -> Array:
            f = fall(s)
            late = plan.late_m * np.clip((f - 0.667) / 0.333, 0.0, 1.0) ** 1.5
            return top[0] + (way - plan.late_m) * f**0.95 + late + bow * np.sin(np.pi * f)

        def up(s: Array, low: float = low, height: float = height, rises: Ascent = rises) -> Array:
            return low + height * rises.share(s)

        def back(
            s: Array, touch: float = touch, way: float = way, bend: float = bend, rises: Ascent = rises,
            plan: RepPlan = plan,
        ) -> Array:  # fmt: skip
            u = np.clip(rises.share(s), 0, 1)
            return touch - way * u**bend + plan.drift_m * np.sin(np.pi * u**0.7) ** 2

        def hips(s: Array, rises: Ascent = rises, plan: RepPlan = plan) -> Array:
            return plan.hips_m * np.sin(np.pi * np.clip(rises.share(s) * 1.1, 0, 1) ** 0.6) ** 2

        def creep(s: Array, a: float = crept, b: float = plan.shoulders_m) -> Array:
            return a + (b - a) * ease(s)

        risen_down = lambda s: 1.0 - fall(s)  # noqa: E731
        risen_up = lambda s, rises=rises: np.clip(rises.share(s), 0, 1)  # noqa: E731
        tilt = lambda s, plan=plan, rises=rises: plan.tilt_deg * np.sin(np.pi * rises.share(s)) ** 2  # noqa: E731
        crept = plan.shoulders_m
        there: dict[str, Track] = {**still, "creep": crept}
        start, turn = w.add(plan.down_s, **{**still, "creep": creep}, up=down, forward=go, risen=risen_down)
        w.add(plan.pause_s, **there, up=low, forward=touch, risen=0.0)
        from_s, end = w.add(
            rises.duration_s, **{**there, "hips": hips, "tilt": tilt}, up=up, forward=back, risen=risen_up
        )
        missed = plan.outcome == MISSED
        held_m = low if missed else top[1] - plan.short_m
        w.add(plan.hold_s, **there, up=held_m, forward=touch if missed else top[0], risen=0.0 if missed else 1.0)
        marks.append({"start": start, "turn": turn, "end": end, "peak": from_s + rises.peak * rises.duration_s})
        if missed:
            break
    if reps[len(marks) - 1].outcome == MISSED:
        w.add(lead_out_s, **there, up=held_m, forward=touch, risen=0.0)
    else:
        w.add(
            0.9, **there, up=lambda s: held_m + (over_hooks - held_m) * ease(s),
            forward=lambda s: top[0] + (hooks[0] - top[0]) * ease(s), risen=1.0,
        )  # fmt: skip
        down_on = lambda s: over_hooks + (hooks[1] - over_hooks) * ease(s)  # noqa: E731
        w.add(0.5, **there, up=down_on, forward=hooks[0], risen=1.0)
        w.add(lead_out_s, **there, up=hooks[1], forward=hooks[0], risen=1.0)
    t, tr = w.done()
    smooth = {k: gaussian_filter1d(v, SMOOTH_S / STEP_S, mode="nearest") for k, v in tr.items()}
    held = ease(t / lead_in_s - 0.5) * ease((t[-1] - t) / lead_out_s - 0.5)
    free = held * np.clip(smooth["risen"], 0, 1)
    forward = smooth["forward"] + sway(t, variation.sway_m * 0.7, rng) * free
    up_m = smooth["up"] + sway(t, variation.sway_m * 0.35, rng) * free
    return Course(
        t, forward, up_m, smooth["risen"], smooth["lead"], tuple(marks),
        tuple(p.outcome for p in reps[: len(marks)]),
        ready=np.ones_like(t), hips_m=smooth["hips"], shoulders_m=smooth["creep"], tilt_deg=smooth["tilt"],
    )  # fmt: skip


def deadlift(
    plans: Sequence[RepPlan], *, over_m: float, floor_m: float, top: tuple[float, float], variation: Variation,
    rng: np.random.Generator, lead_in_s: float = 2.0, lead_out_s: float = 1.2, slack_s: float = 0.8,
    slack_m: float = 0.0,
) -> Course:  # fmt: skip
    """A deadlift set that starts and ends with the bar on the floor.

    `slack_m` is how far the middle of a bar that bends is pulled up before each rise.
    """
    w = _Writer()
    marks: list[dict[str, float]] = []
    height, way = top[1] - floor_m, top[0] - over_m
    rest: dict[str, Track] = {"lead": 0.0, "tilt": 0.0, "hands": floor_m}
    w.add(lead_in_s, **rest, up=floor_m, off=0.0, risen=0.0, ready=0.0)
    reps = varied(plans, variation, rng)
    dropped = (0.0, 0.0, 0.0)
    for plan in reps:
        close, open_ = rng.normal((-0.018, -0.006), variation.path_m)
        full = height - plan.short_m
        tight: dict[str, Track] = {**rest, "up": lambda s: floor_m + slack_m * ease(s)}
        tight["hands"] = tight["up"]
        w.add(slack_s, **tight, off=0.0, risen=0.0, ready=lambda s: ease(s))

        rises = plan.ascent(full)
        share = rises.share

        def up(s: Array, share: Path = share, full: float = full) -> Array:
            return np.asarray(floor_m + slack_m + (full - slack_m) * share(s))

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

        def tip(s: Array, share: Path = share, plan: RepPlan = plan) -> Array:
            return plan.lead_deg * np.sin(np.pi * np.clip(share(s), 0, 1) ** 0.55) ** 2

        tilt = lambda s, plan=plan, share=share: plan.tilt_deg * np.sin(np.pi * share(s)) ** 2  # noqa: E731
        going: dict[str, Track] = {"up": up, "off": off, "risen": risen_up, "lead": tip, "tilt": tilt, "hands": up}
        start, turn = w.add(rises.duration_s, **going, ready=1.0)
        peak = start + rises.peak * rises.duration_s
        if plan.outcome == MISSED:
            _, end = start, turn
        else:
            up_there: dict[str, Track] = {**rest, "hands": floor_m + full}
            w.add(plan.pause_s, **up_there, up=floor_m + full, off=way, risen=cut, ready=1.0)
            lowering: dict[str, Track] = {
                **rest,
                "up": lower,
                "off": off_down,
                "risen": risen_down,
                "hands": lower,
            }
            if plan.outcome == DROPPED:
                drop_s, let_go = _dropped(full)
                fall_s = drop_s + 0.8
                lowering["up"] = lambda s, f=let_go, d=fall_s: floor_m + f(s * d)
                lowering["off"] = lambda s, d=fall_s, full=full: way + 0.01 * ease(s * d / 0.3)
                bent = lambda s, full=full: floor_m + full * (1 - 0.25 * ease(s * 1.2))  # noqa: E731
                lowering["hands"] = bent
                lowering["risen"] = lambda s, cut=cut: cut * (1 - 0.25 * ease(s * 1.2))
                _, end = w.add(fall_s, **lowering, ready=1.0)
                end = end - 0.8
                w.add(plan.hold_s, **{**rest, "hands": floor_m + 0.75 * full}, up=floor_m, off=way + 0.01,
                      risen=0.75 * cut, ready=1.0)  # fmt: skip
                marks.append({"start": start, "turn": turn, "end": end, "peak": peak})
                dropped = (way + 0.01, 0.75 * full, 0.75 * cut)
                break
            _, end = w.add(plan.down_s, **lowering, ready=1.0)
        w.add(plan.hold_s, **rest, up=floor_m, off=0.0, risen=0.0, ready=lambda s: 1 - ease(s * 1.5))
        marks.append({"start": start, "turn": turn, "end": end, "peak": peak})
    off_end, hands_end, risen_end = dropped
    w.add(
        lead_out_s, **{**rest, "hands": floor_m + hands_end}, up=floor_m, off=off_end, risen=risen_end, ready=0.0
    )
    t, tr = w.done()
    smooth = {k: gaussian_filter1d(v, SMOOTH_S / STEP_S, mode="nearest") for k, v in tr.items()}
    if dropped[1]:
        # A falling bar is stopped by the floor at once: nothing rounds that off.
        last = t > marks[-1]["turn"] + reps[len(marks) - 1].pause_s + 0.05
        smooth["up"] = np.where(last, tr["up"], smooth["up"])
    free = np.clip((smooth["up"] - floor_m) / 0.06, 0.0, 1.0)
    forward = over_m + smooth["off"] + sway(t, variation.sway_m, rng) * free
    up_m = smooth["up"] + sway(t, variation.sway_m * 0.35, rng) * free
    # Hands sway with the bar that they hold; of a bar let go only the heights part.
    held = np.where(np.abs(smooth["hands"] - smooth["up"]) < 0.004, up_m, smooth["hands"])
    return Course(
        t, forward, up_m, smooth["risen"], smooth["lead"], tuple(marks),
        tuple(p.outcome for p in reps[: len(marks)]),
        ready=smooth["ready"], hands_up_m=held if dropped[1] else np.zeros(0), tilt_deg=smooth["tilt"],
    )  # fmt: skip


def _dropped(height_m: float) -> tuple[float, Path]:
    """Free fall from a height, and two bounces: the time until it first lands, and height over time, s."""
    lands = float(np.sqrt(2 * height_m / 9.81))

    def at(t: Array) -> Array:
        out = np.maximum(height_m - 9.81 / 2 * t**2, 0.0)
        from_s = lands
        for up in (0.05 * height_m, 0.012 * height_m):
            half = float(np.sqrt(2 * up / 9.81))
            hop = up - 9.81 / 2 * (t - from_s - half) ** 2
            out = np.where((t > from_s) & (t < from_s + 2 * half), hop, out)
            from_s += 2 * half
        return np.asarray(out)

    return lands, at
