"""The bar's way through a deadlift set: from the floor and back to it, laid down or dropped."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from lab.render.ascent import DROPPED, MISSED, Path, ease
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
    plans: Sequence[RepPlan], *, over_m: float, floor_m: float, top: tuple[float, float], variation: Variation,
    rng: np.random.Generator, lead_in_s: float = 2.0, lead_out_s: float = 1.2, slack_s: float = 0.8,
    slack_m: float = 0.0,
) -> Course:  # fmt: skip
    """A deadlift set that starts and ends with the bar on the floor.

    `slack_m` is how far the middle of a bar that bends is pulled up before each rise.
    """
    w = Writer()
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
