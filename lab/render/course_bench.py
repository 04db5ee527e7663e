"""The bar's way through a bench set: off the hooks, the reps, and back onto them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from lab.render.ascent import MISSED, Ascent, ease
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
    w = Writer()
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
