"""What a random set is made of: `recipe(seed, difficulty)` draws it, as numbers only; `build` makes it.

The same seed and difficulty give the same recipe. Ranges: stature 1.50-1.95 m (adults); rep-to-rep scatter of
people: path 8-12 mm, depth 12 mm, tempo 6 %, trunk 2 degrees; lean at a squat's low 30-55 degrees; discs of 400,
425 and 450 mm (IPF and IWF discs are 450; smaller ones: common practice, no source). Where no source is named the
range is common practice.

Difficulties: `still` (a tripod near side-on, even light, nothing in the way), `phone` (as most clips come), `hard`
(any camera, people and posts in the way, captions, discs cut by the picture, poor light and files).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import evolve, frozen

from lab.render.ascent import ASSISTED, COMPLETED, DROPPED, MISSED
from lab.render.faults import Fault, planted
from lab.render.mesh import Colour
from lab.render.motion import RepPlan, Variation

LIFTS = ("squat", "bench", "deadlift")
DIFFICULTIES = ("still", "phone", "hard")
VARIATIONS = {
    "squat": ("high_bar", "low_bar", "paused"),
    "bench": ("competition", "touch_and_go", "close_grip", "wide_grip"),
    "deadlift": ("conventional", "sumo", "touch_and_go"),
}
KINDS = ("bumper", "iron", "competition")
PAINTS: tuple[Colour, ...] = (
    (0.055, 0.055, 0.06), (0.50, 0.07, 0.07), (0.07, 0.13, 0.40), (0.08, 0.30, 0.14), (0.60, 0.48, 0.07),
    (0.28, 0.28, 0.29), (0.72, 0.72, 0.70), (0.16, 0.10, 0.08),
)  # fmt: skip
LIPS: tuple[Colour, ...] = ((0.75, 0.75, 0.74), (0.055, 0.055, 0.06), (0.28, 0.28, 0.29), (0.55, 0.12, 0.10))


@frozen
class Disc:
    """One disc of a pair, from the inside out."""

    diameter_m: float
    thickness_m: float
    colour: Colour
    lip: Colour
    lip_share: float


@frozen
class Person:
    """A body and what it wears."""

    shape: int
    stature_m: float
    skin: Colour
    hair: Colour
    shirt: Colour
    legs: Colour
    shoes: Colour
    long_legs: bool
    bun: bool


@frozen
class Style:
    """How this lifter lifts; what does not belong to the lift is not used.

    Lengths in m. `depth_m` is how far the hip joints are above the knees at a squat's low, `touch_m` how far
    toward the feet of the shoulders a bench touches, `sag_m` how far the bar's ends hang when held, `lead_deg`
    how far the trunk tips as the hips rise first, fault or no fault.
    """

    variation: str
    stance_m: float
    toes_deg: float
    grip_m: float
    lean_deg: float
    lean_top_deg: float
    bar_below_m: float
    depth_m: float
    touch_m: float
    arch_deg: float
    knee_floor_deg: float
    rack_m: float | None
    sag_m: float
    lead_deg: float


@frozen
class Eye:
    """The camera. Angles in degrees; pan is the turn over the clip, zoom the factor at its end."""

    side: str
    yaw_deg: float
    height_m: float
    fill: float
    roll_deg: float
    fov_deg: float
    width_px: int
    height_px: int
    bend: float = 0.0
    rock_deg: float = 0.0
    shift_m: float = 0.0
    pan_deg: float = 0.0
    zoom: float = 1.0
    lower: float = 0.0


@frozen
class Take:
    """What phone and file do. `exposure_s` blurs, `readout_s` is the rolling shutter from first to last row."""

    fps: float
    variable: bool
    exposure_s: float
    readout_s: float
    noise: float
    soft_px: float
    gain: float
    warmth: float
    codec: str
    mbit_s: float
    turned: bool
    mirrored: bool
    real_speed: float
    caption: str


@frozen
class Surroundings:
    """Room, light, who else is there and what stands in the way."""

    floor: Colour
    wall: Colour
    band: Colour
    bricks: bool
    lamp_m: tuple[float, float, float]
    power: float
    ambient: float
    tint: Colour
    stored: tuple[Disc, ...]
    posts: tuple[tuple[float, float], ...]
    others: tuple[tuple[Person, str], ...]


@frozen
class SetRecipe:
    """One set to be made. `reps` hold what is asked of each repetition, faults included."""

    seed: int
    difficulty: str
    lift: str
    person: Person
    style: Style
    reps: tuple[RepPlan, ...]
    scatter: Variation
    discs: tuple[Disc, ...]
    eye: Eye
    take: Take
    around: Surroundings
    faults: tuple[Fault, ...] = ()


def recipe(
    seed: int, difficulty: str = "phone", *, lift: str | None = None, faults: Sequence[Fault] = (),
    reps: int | None = None,
) -> SetRecipe:  # fmt: skip
    """Draw a set. `lift` and `reps` are drawn unless told, and the rest does not depend on `reps` and `faults`."""
    if difficulty not in DIFFICULTIES:
        raise ValueError(f"difficulty: expected one of {DIFFICULTIES}, got {difficulty!r}")
    streams = [np.random.default_rng([seed, DIFFICULTIES.index(difficulty), k]) for k in range(8)]
    chosen = str(streams[0].choice(LIFTS))
    chosen = lift or chosen
    style = _style(streams[1], chosen)
    plans = _plans(streams[2], chosen, style.variation, difficulty, reps)
    plans = tuple(evolve(p, lead_deg=style.lead_deg) for p in plans)
    scatter = Variation(
        path_m=float(streams[3].uniform(0.004, 0.006)), tempo=0.06,
        depth_m=0.0 if chosen != "squat" else 0.012, sway_m=float(streams[3].uniform(0.0015, 0.003)),
        trunk_deg=2.0 if chosen == "squat" else 0.0,
    )  # fmt: skip
    made = SetRecipe(
        seed=seed, difficulty=difficulty, lift=chosen, person=_person(streams[4]), style=style, reps=plans,
        scatter=scatter, discs=_discs(streams[5]), eye=_eye(streams[6], difficulty, chosen),
        take=_take(streams[7], difficulty),
        around=_around(np.random.default_rng([seed, DIFFICULTIES.index(difficulty), 8]), difficulty, chosen),
    )  # fmt: skip
    return with_faults(made, faults)


def with_faults(made: SetRecipe, faults: Sequence[Fault]) -> SetRecipe:
    """Plant faults into a set."""
    plans, grip_m = planted(made.lift, made.reps, faults)
    style = evolve(made.style, grip_m=made.style.grip_m + grip_m)
    return evolve(made, reps=plans, style=style, faults=tuple(faults))


def _pick(rng: np.random.Generator, of: Sequence[float]) -> float:
    return float(of[int(rng.integers(len(of)))])


def _hue(rng: np.random.Generator, low: float = 0.05, high: float = 0.7) -> Colour:
    r, g, b = np.clip(rng.uniform(low, high) + rng.normal(0, 0.10, 3), 0.03, 0.85)
    return (float(r), float(g), float(b))


def _person(rng: np.random.Generator) -> Person:
    woman = rng.random() < 0.5
    stature = rng.normal(1.64, 0.065) if woman else rng.normal(1.77, 0.07)
    tone = float(rng.uniform(0.25, 1.0))
    skin = (0.72 * tone + 0.02, 0.53 * tone, 0.42 * tone)
    hair = _hue(rng, 0.04, 0.35)
    return Person(
        shape=int(rng.integers(8)) + (8 if woman else 0), stature_m=float(np.clip(stature, 1.50, 1.95)), skin=skin,
        hair=hair, shirt=_hue(rng), legs=_hue(rng, 0.05, 0.4), shoes=_hue(rng), long_legs=bool(rng.random() < 0.5),
        bun=bool(woman and rng.random() < 0.7),
    )  # fmt: skip


def _style(rng: np.random.Generator, lift: str) -> Style:
    kinds = VARIATIONS[lift]
    kind = str(kinds[int(rng.integers(len(kinds)))])
    low_bar = lift == "squat" and (kind == "low_bar" or rng.random() < 0.3)
    grip = {"squat": (0.34, 0.50), "bench": (0.33, 0.405), "deadlift": (0.24, 0.29)}[lift]
    grip = {"close_grip": (0.25, 0.30), "wide_grip": (0.38, 0.415), "sumo": (0.20, 0.25)}.get(kind, grip)
    stance = {"squat": (0.14, 0.26), "bench": (0.24, 0.34), "deadlift": (0.11, 0.17)}[lift]
    stance = (0.32, 0.42) if kind == "sumo" else stance
    toes = {"squat": (12, 32), "bench": (10, 30), "deadlift": (5, 20)}[lift]
    toes = (30, 42) if kind == "sumo" else toes
    return Style(
        variation=kind, stance_m=float(rng.uniform(*stance)), toes_deg=float(rng.uniform(*toes)),
        grip_m=float(rng.uniform(*grip)), lean_deg=float(rng.uniform(38, 53) if low_bar else rng.uniform(31, 44)),
        lean_top_deg=float(rng.uniform(13, 18) if low_bar else rng.uniform(9, 14)),
        bar_below_m=float(rng.uniform(0.035, 0.06)) if low_bar else 0.0, depth_m=float(rng.uniform(-0.08, -0.01)),
        touch_m=float(rng.uniform(0.085, 0.15)), arch_deg=float(rng.uniform(10, 20)),
        knee_floor_deg=float(rng.uniform(76, 92) if kind != "sumo" else rng.uniform(80, 94)),
        rack_m=float(rng.uniform(0.32, 0.50)) if rng.random() < 0.6 else None,
        sag_m=float(np.exp(rng.uniform(np.log(0.002), np.log(0.008 if lift == "bench" else 0.030)))),
        lead_deg=float(rng.uniform(5.0, 13.0)) if lift == "squat" else 0.0,
    )  # fmt: skip


def _plans(
    rng: np.random.Generator, lift: str, kind: str, difficulty: str, told: int | None
) -> tuple[RepPlan, ...]:
    count = told or int(rng.choice([1, 2, 3, 4, 5], p=[0.25, 0.3, 0.25, 0.12, 0.08]))
    fresh, tired = rng.uniform(0.95, 1.8), rng.uniform(1.0, 1.45)
    stick = rng.uniform(0.1, 0.45)
    pause = {"squat": 0.05, "bench": 0.6, "deadlift": 0.5}[lift]
    pause = {"paused": 1.4, "touch_and_go": 0.08, "close_grip": 0.3}.get(kind, pause) * rng.uniform(0.8, 1.3)
    between = {"squat": 1.2, "bench": 0.9, "deadlift": 1.6}[lift] * rng.uniform(0.8, 1.5)
    if kind == "touch_and_go" and lift == "deadlift":
        between, pause = 0.25, 0.5
    down = {"squat": 1.35, "bench": 1.05, "deadlift": 1.1}[lift] * rng.uniform(0.8, 1.3)
    plans = []
    for k in range(count):
        share = (k / (count - 1)) if count > 1 else 1.0
        plans.append(
            RepPlan(
                down_s=float(down),
                pause_s=float(pause),
                up_s=float(fresh * (1 + (tired - 1) * share**1.5)),
                hold_s=float(max(between, 0.2)),
                stick=float(min(stick + 0.3 * (tired - 1) * share, 0.75)),
                stick_at=float(rng.uniform(0.36, 0.5)),
            )
        )
    roll = rng.random()
    if told is None and difficulty != "still" and roll < 0.18:
        ends = {"squat": (MISSED, ASSISTED), "bench": (MISSED, ASSISTED), "deadlift": (MISSED, DROPPED)}[lift]
        outcome = ends[0] if roll < 0.09 else ends[1]
        plans[-1] = evolve(plans[-1], outcome=outcome, stuck_at=float(rng.uniform(0.35, 0.65)), up_s=1.8)
    assert all(p.outcome == COMPLETED for p in plans[:-1])
    return tuple(plans)


def _discs(rng: np.random.Generator) -> tuple[Disc, ...]:
    kind = str(rng.choice(KINDS))
    big = 0.45 if kind != "iron" else _pick(rng, (0.40, 0.425, 0.45))
    thick = {"bumper": rng.uniform(0.05, 0.08), "iron": rng.uniform(0.028, 0.04), "competition": 0.0265}[kind]
    paint = PAINTS[int(rng.integers(len(PAINTS)))] if kind != "iron" else PAINTS[int(rng.choice([0, 0, 5, 7]))]
    lip = LIPS[int(rng.integers(len(LIPS)))] if rng.random() < 0.7 else paint
    share = float(rng.uniform(0.88, 0.97))
    count = int(rng.choice([1, 2, 3, 4, 5], p=[0.25, 0.3, 0.2, 0.15, 0.1]))
    large = int(rng.integers(1, count + 1))
    out = [Disc(big, float(thick), paint, lip, share)] * large
    for small in sorted(rng.choice([0.23, 0.28, 0.32, 0.35], count - large, replace=False), reverse=True):
        out.append(Disc(float(small), float(thick * 0.8), PAINTS[int(rng.integers(len(PAINTS)))], lip, share))
    return tuple(out)


def _eye(rng: np.random.Generator, difficulty: str, lift: str) -> Eye:
    sizes = (
        ((1280, 720), (720, 1280)) if difficulty != "hard" else ((1280, 720), (720, 1280), (960, 540), (544, 960))
    )
    width, height = sizes[int(rng.integers(len(sizes)))]
    yaw = rng.uniform(-8, 8)
    if difficulty == "phone":
        spans = ((-10.0, 10.0), (10.0, 50.0), (-45.0, -10.0), (50.0, 80.0))
        low, high = spans[int(rng.choice(4, p=[0.45, 0.33, 0.17, 0.05]))]
        yaw = rng.uniform(low, high)
    if difficulty == "hard":
        yaw = rng.uniform(-90, 90)
    still = difficulty == "still" or rng.random() < 0.4
    moves = difficulty == "hard"
    return Eye(
        side="left" if rng.random() < 0.5 else "right", yaw_deg=float(yaw),
        height_m=float(rng.uniform(0.7, 1.2) if difficulty == "still" else rng.uniform(0.35, 1.6)),
        fill=float(rng.uniform(0.72, 0.95)), roll_deg=float(rng.normal(0, 2.0 if moves else 0.8)),
        fov_deg=float(rng.uniform(54, 76)), width_px=width, height_px=height,
        bend=float(rng.uniform(-0.05, 0.02)) if difficulty != "still" else 0.0,
        rock_deg=0.0 if still else float(rng.uniform(0.05, 0.35)),
        shift_m=0.0 if still else float(rng.uniform(0.001, 0.008)),
        pan_deg=float(rng.normal(0, 4.0)) if moves and rng.random() < 0.3 else 0.0,
        zoom=float(rng.uniform(0.85, 1.2)) if moves and rng.random() < 0.2 else 1.0,
        lower=float(rng.uniform(0.1, 0.3)) if moves and rng.random() < 0.25 else 0.0,
    )  # fmt: skip


def _take(rng: np.random.Generator, difficulty: str) -> Take:
    moves = difficulty == "hard"
    plain = difficulty == "still"
    fps = 30.0 if plain else _pick(rng, (24.0, 25.0, 30.0, 30.0, 30.0, 60.0))
    caption = (
        "" if not moves or rng.random() < 0.7 else str(rng.choice(["PR ATTEMPT", "top set 140 kg", "day 12"]))
    )
    retimed = moves and rng.random() < 0.06
    return Take(
        fps=fps, variable=bool(not plain and rng.random() < 0.5),
        exposure_s=0.0 if plain else float(rng.choice([0.0, 1 / 120, 1 / 60, 1 / 48], p=[0.5, 0.2, 0.2, 0.1])),
        readout_s=0.0 if plain or rng.random() < 0.6 else float(rng.uniform(0.008, 0.022)),
        noise=float(rng.uniform(1.0, 3.0) if not moves else rng.uniform(1.0, 6.0)),
        soft_px=float(rng.uniform(0.4, 0.8) if not moves else rng.uniform(0.4, 1.4)),
        gain=float(rng.uniform(0.85, 1.1) if not moves else rng.uniform(0.45, 1.25)),
        warmth=float(rng.normal(0, 0.03)), codec="h264" if plain else _codec(float(rng.random())),
        mbit_s=float(rng.uniform(4, 10) if not moves else np.exp(rng.uniform(np.log(1.2), np.log(10)))),
        turned=bool(not plain and rng.random() < 0.5), mirrored=bool(not plain and rng.random() < 0.06),
        real_speed=2.0 if retimed else 1.0, caption=caption,
    )  # fmt: skip


def _codec(share: float) -> str:
    return "h264" if share < 0.7 else "hevc" if share < 0.94 else "hevc_hdr"


def _around(rng: np.random.Generator, difficulty: str, lift: str) -> Surroundings:
    stored = []
    for _ in range(int(rng.integers(0, 6) if difficulty != "hard" else rng.integers(2, 8))):
        stored.append(_discs(rng)[0])
    posts: list[tuple[float, float]] = []
    if difficulty == "hard" and rng.random() < 0.35:
        posts.append((float(rng.uniform(0.95, 1.15)), float(rng.uniform(-0.25, 0.35))))
    others: list[tuple[Person, str]] = []
    if difficulty != "still" and rng.random() < (0.55 if difficulty == "hard" else 0.3):
        others.append((_person(rng), "behind"))
    if difficulty == "hard" and rng.random() < 0.35:
        others.append((_person(rng), str(rng.choice(["far_end", "passing", "near_end"], p=[0.45, 0.4, 0.15]))))
    dark = difficulty == "hard" and rng.random() < 0.3
    tint = rng.normal((1.0, 0.97, 0.92), 0.03)
    return Surroundings(
        floor=_hue(rng, 0.08, 0.3), wall=_hue(rng, 0.3, 0.75), band=_hue(rng, 0.1, 0.5),
        bricks=bool(rng.random() < 0.3),
        lamp_m=(float(rng.uniform(-2, 2)), float(rng.uniform(-2.2, 1.5)), float(rng.uniform(3.0, 3.8))),
        power=float(rng.uniform(0.6, 1.1)) * (0.5 if dark else 1.0),
        ambient=float(rng.uniform(0.32, 0.55)) * (0.5 if dark else 1.0),
        tint=(float(tint[0]), float(tint[1]), float(tint[2])), stored=tuple(stored), posts=tuple(posts),
        others=tuple(others),
    )  # fmt: skip
