"""Which clips to make: random sets, sets with a planted fault, and sets with one thing changed at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from attrs import evolve, frozen

from lab.bench_records import SIZES
from lab.made import asked_set
from lab.render.faults import GRIP, Fault
from lab.render.recipe import LIFTS, SetRecipe, recipe

SWEEPS: dict[str, tuple[float, ...]] = {
    "yaw_deg": (0, 10, 20, 30, 45, 60), "fps": (24, 30, 60, 120), "long_side_px": (640, 960, 1280, 1920),
    "noise": (1, 4, 8, 14), "shake_deg": (0, 0.1, 0.3, 0.6), "exposure_ms": (0, 8, 16, 33),
    "plate_wrong_pct": (0, 3, 6),
}  # fmt: skip
USUAL = {"yaw_deg": 3.0, "fps": 30.0, "long_side_px": 1280.0, "shake_deg": 0.0, "exposure_ms": 0.0,
         "plate_wrong_pct": 0.0}  # fmt: skip
"""What a sweep's set has where nothing is changed; its noise is the set's own."""
VIEWS: dict[str, tuple[float, float]] = {"side": (-10.0, 10.0), "oblique": (15.0, 45.0), "front": (62.0, 85.0)}
FRONT_SIZES: dict[str, tuple[float, float]] = {"bar_tilts": (1.3, 3.0), GRIP: (0.04, 0.08)}
"""What only a view that shows both ends, or the front, gives: degrees, m."""
MOST_HOLD_S = 1.0
MOST_REPS = 3


@frozen
class Job:
    """One clip to be made and measured; `changed` is what of a sweep, `view` the kind of view of a planted set."""

    name: str
    made: SetRecipe
    told_mm: float | None
    changed: tuple[str, float] | None = None
    view: str | None = None


def largest_mm(made: SetRecipe) -> float:
    """Diameter of the largest disc, mm."""
    return 1000.0 * max(d.diameter_m for d in made.discs)


def random_jobs(seeds: Iterable[int], difficulty: str, lift: str | None = None) -> Iterator[Job]:
    """Random sets of at most 3 reps, no long waits; every second one is told the plate's diameter."""
    for seed in seeds:
        made = shorter(recipe(seed, difficulty, lift=lift))
        yield Job(f"{difficulty}-{seed}", made, largest_mm(made) if seed % 2 else None)


def shorter(made: SetRecipe) -> SetRecipe:
    """Leave out first reps and long waits, so that more sets are had; an attempt that fails is the last rep."""
    reps = made.reps[-MOST_REPS:]
    return evolve(made, reps=tuple(evolve(p, hold_s=min(p.hold_s, MOST_HOLD_S)) for p in reps))


def planted_jobs(seeds: Iterable[int]) -> Iterator[Job]:
    """Sets of 3 or 4 reps that vary as people do; half of them with one fault from some rep on."""
    for seed in seeds:
        rng = np.random.default_rng([seed, 301])
        lift = LIFTS[seed % len(LIFTS)]
        view = str(rng.choice(list(VIEWS), p=[0.58, 0.30, 0.12]))
        yaw = float(rng.uniform(*VIEWS[view]))
        count = int(rng.choice([3, 4], p=[0.85, 0.15]))
        faults: tuple[Fault, ...] = ()
        if rng.random() < 0.5:
            kinds = {"side": SIZES[lift], "oblique": {**SIZES[lift], "bar_tilts": FRONT_SIZES["bar_tilts"]},
                     "front": FRONT_SIZES}[view]  # fmt: skip
            kind = list(kinds)[int(rng.integers(len(kinds)))]
            faults = (Fault(kind, float(rng.uniform(*kinds[kind])), int(rng.integers(2, count + 1))),)
        made = asked_set(seed, lift, reps_done=count, yaw_deg=yaw, faults=faults)
        reps = tuple(evolve(p, hold_s=min(p.hold_s, MOST_HOLD_S)) for p in made.reps)
        eye = evolve(made.eye, fill=max(made.eye.fill, 0.9))
        # Short clips: blur and rolling shutter in a quarter of the sets, a squat's walkout in a third.
        still = seed % 4 != 0
        take = evolve(made.take, fps=30.0, exposure_s=0.0 if still else made.take.exposure_s,
                      readout_s=0.0 if still else made.take.readout_s)  # fmt: skip
        style = evolve(made.style, rack_m=made.style.rack_m if rng.random() < 1 / 3 else None)
        made = evolve(made, reps=reps, eye=eye, take=take, style=style)
        yield Job(f"planted-{seed}", made, largest_mm(made) if seed % 2 else None, view=view)


def sweep_jobs(seeds: Iterable[int]) -> Iterator[Job]:
    """Sets on a tripod near side-on with two reps, one thing changed at a time; the usual is filmed once."""
    for seed in seeds:
        base = recipe(seed, "still", lift=LIFTS[seed % 3], reps=2)
        base = evolve(base, reps=tuple(evolve(p, hold_s=min(p.hold_s, MOST_HOLD_S)) for p in base.reps))
        yield Job(f"sweep-usual-0-{seed}", *swept(base, "usual", 0.0), changed=("usual", 0.0))
        for what, values in SWEEPS.items():
            for value in values:
                if USUAL.get(what) != value:
                    made, told = swept(base, what, value)
                    yield Job(f"sweep-{what}-{value:g}-{seed}", made, told, (what, float(value)))


def swept(base: SetRecipe, what: str, value: float) -> tuple[SetRecipe, float]:
    """Change one thing of a set (`usual`: nothing); gives the set and the diameter that is told, mm."""
    eye, take = evolve(base.eye, width_px=1280, height_px=720, yaw_deg=USUAL["yaw_deg"]), base.take
    told = largest_mm(base)
    if what == "yaw_deg":
        eye = evolve(eye, yaw_deg=value)
    elif what == "fps":
        take = evolve(take, fps=value)
    elif what == "long_side_px":
        eye = evolve(eye, width_px=int(value), height_px=int(2 * round(value * 9 / 32)))
        take = evolve(take, mbit_s=max(take.mbit_s * (value / 1280) ** 2, 1.0))
    elif what == "noise":
        take = evolve(take, noise=value)
    elif what == "shake_deg":
        eye = evolve(eye, rock_deg=value, shift_m=0.02 * value)
    elif what == "exposure_ms":
        take = evolve(take, exposure_s=value / 1000.0)
    elif what == "plate_wrong_pct":
        told *= 1.0 + value / 100.0
    return evolve(base, eye=eye, take=take), told


def mixed(parts: Sequence[Sequence[Job]]) -> list[Job]:
    """Give all jobs so that the first so many hold each part's share: a run cut short lacks some of each."""
    at = [((k + 0.5) / len(part), i, job) for i, part in enumerate(parts) for k, job in enumerate(part)]
    return [job for _, _, job in sorted(at, key=lambda x: x[:2])]
