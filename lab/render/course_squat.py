"""The bar's way through a squat set: off the hooks, out, the reps, and back."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from lab.render.ascent import MISSED, Ascent, Path, ease
from lab.render.motion import (
    SMOOTH_S,
    STEP_S,
    Course,
    RepPlan,
    Track,
    Variation,
    Writer,
    fall,
    sway,
    varied,
)

Array = NDArray[np.float64]


def course(
    plans: Sequence[RepPlan], *, over_m: float, top_m: float, low_m: float, variation: Variation,
    rng: np.random.Generator, rack_m: float | None = None, hooks_below_m: float = 0.05,
    lead_in_s: float = 1.2, lead_out_s: float = 1.0,
) -> Course:  # fmt: skip
    """A squat set; with `rack_m` the bar starts on hooks so far forward, is walked out and walked back."""
    w = Writer()
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
