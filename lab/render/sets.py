"""Write sets as clips with their exact truth: `python -m lab.render.sets --seeds 1-20 --difficulty phone`.

Needs a bank of bodies (`python -m lab.render.bank`, once) and OpenGL through EGL.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import Any

import attrs
import numpy as np

from lab.render import film, truth
from lab.render.build import MadeSet, NotPossible, lifter_of, scene_of
from lab.render.recipe import DIFFICULTIES, LIFTS, SetRecipe, recipe

BODY_EVERY = 5


def write_set(asked: SetRecipe, folder: Path, name: str, *, finer: float = 1.0) -> dict[str, Any]:
    """Film a recipe into `name`.mp4 with the truth beside it in `name`.json; gives the truth."""
    made = lifter_of(asked)
    scene, phone = scene_of(made)
    folder.mkdir(parents=True, exist_ok=True)
    frames = film.film(scene, phone, folder / f"{name}.mp4", finer=finer, marks_too=False, told=lambda _line: None)
    told = truth_of(made, scene, phone, frames, name)
    truth.write(told, folder / f"{name}.json")
    return told


def truth_of(
    made: MadeSet, scene: film.Scene, phone: film.Phone, frames: list[truth.FrameTruth], name: str
) -> dict[str, Any]:
    """Put a made set's truth together; the body in every fifth frame only."""
    asked = made.recipe
    told = truth.of_clip(
        name=f"{name}.mp4", lift=asked.lift, lifter=made.lifter, camera=scene.camera, loading=scene.loading,
        frames=frames, keypoints=made.body.keypoints, stature_m=made.body.stature_m,
        planted=[f"{f.kind} {f.size:g} from rep {f.from_rep}" for f in asked.faults],
        extra={
            "seed": asked.seed, "difficulty": asked.difficulty, "variation": made.style.variation,
            "width_px": scene.camera.width_px, "height_px": scene.camera.height_px, "fps": phone.fps,
            "variable_rate": phone.variable, "mirrored": phone.mirrored, "real_speed": phone.real_speed,
            "recipe": attrs.asdict(asked),
        },
    )  # fmt: skip
    told["body_every"] = BODY_EVERY
    for key in ("joints_px", "joints_m"):
        told[key] = told[key][::BODY_EVERY]
    for key in ("keypoints_px", "keypoints_m", "bar_px"):
        told.pop(key)
    return told


def seeds_of(words: str) -> list[int]:
    """Read "3", "1-20" or "1,4,7"."""
    out: list[int] = []
    for part in words.split(","):
        low, _, high = part.partition("-")
        out += range(int(low), int(high or low) + 1)
    return out


def main() -> None:
    """Run from the command line."""
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("--seeds", default="1-3", type=seeds_of)
    asked.add_argument("--difficulty", default="phone", choices=DIFFICULTIES)
    asked.add_argument("--lift", choices=LIFTS)
    asked.add_argument("--out", type=Path, default=Path("out/sets"))
    args = asked.parse_args()
    for seed in args.seeds:
        begun = time.perf_counter()
        try:
            told = write_set(recipe(seed, args.difficulty, lift=args.lift), args.out, f"{args.difficulty}-{seed}")
        except NotPossible as error:
            print(error)
            continue
        spent = time.perf_counter() - begun
        count = len(told["t_s"])
        print(f"{told['clip']}: {told['lift']} {told['variation']}, {len(told['events'])} reps, {count} frames, "
              f"{1000 * spent / count:.0f} ms a frame, yaw {told['camera']['yaw_deg']:.0f}, "
              f"outcomes {' '.join(np.unique(told['outcomes']))}")  # fmt: skip


if __name__ == "__main__":
    main()
