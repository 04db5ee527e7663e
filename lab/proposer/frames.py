"""Frames of random sets with both ends' discs told: `python -m proposer.frames OUT --phone 91001-91035`.

Three frames a set, at a quarter, half and four fifths of it, through the set's own lens and sensor, kept as JPEG
of quality 95, 70 and 40; beside them one JSON a set: the camera's yaw and, for every frame, centre, half-axis
and aspect of the near and of the far end's largest disc. Needs the bank of bodies and OpenGL (lab/README.md), and
runs in lab/ with the project's root on PYTHONPATH.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from lab.render import film, truth
from lab.render.barbell import end_centres
from lab.render.build import NotPossible, lifter_of, scene_of
from lab.render.recipe import DIFFICULTIES, recipe
from lab.render.rotation import Y, about
from lab.render.sets import seeds_of

SHARES = (0.25, 0.5, 0.8)
QUALITIES = (95, 70, 40)
POINTS = 24


def rims(t_s: float, lifter: Any, view: Any, loading: Any, lay: Any) -> list[list[float]]:
    """Give x, y, major half-axis and aspect, px, of the near and of the far end's largest disc."""
    course = lifter.course
    middle = np.array([0.0, -float(course.at("forward_m", t_s)), float(course.at("up_m", t_s))])
    tilt = float(course.at("tilt_deg", t_s))
    ends = end_centres(middle, loading.largest_face_m, float(course.at("flex_m", t_s)), tilt)
    turn = np.linspace(0, 2 * np.pi, POINTS, endpoint=False)
    ring = np.stack([0 * turn, np.cos(turn), np.sin(turn)], 1) * loading.outer_diameter_m / 2
    rows = []
    for end in ends if view.camera.side == "left" else ends[::-1]:
        at = lay(np.vstack([end, end + ring @ about(Y, -tilt).T]))
        off = at[1:] - at[1:].mean(0)
        small, large = np.sqrt(np.linalg.eigvalsh(off.T @ off / POINTS) * 2)
        rows.append([float(at[0, 0]), float(at[0, 1]), float(large), float(small / large)])
    return rows


def take(seed: int, difficulty: str, out: Path) -> None:
    """Draw one set's frames and write them with their truth."""
    made = lifter_of(recipe(seed, difficulty))
    scene, phone = scene_of(made)
    times = np.array(SHARES) * float(scene.lifter.course.t_s[-1])
    kept: list[list[list[float]]] = []
    told = truth.of_frame

    def also(t_s: float, lifter: Any, posed: Any, view: Any, loading: Any, lay: Any = None, **more: Any) -> Any:
        kept.append(rims(t_s, lifter, view, loading, lay or view.project))
        return told(t_s, lifter, posed, view, loading, lay, **more)

    truth.of_frame = also
    try:
        for k, (picture, _) in enumerate(film.shoot(scene, phone, times, finer=1.0, marks_too=False)):
            bgr = np.ascontiguousarray(np.asarray(picture)[:, :, ::-1])
            path = out / f"{difficulty}-{seed}_{k}.jpg"
            cv2.imwrite(str(path), bgr, [cv2.IMWRITE_JPEG_QUALITY, QUALITIES[k]])
    finally:
        truth.of_frame = told
    row = {"yaw": made.recipe.eye.yaw_deg, "lift": made.recipe.lift, "rims": kept}
    (out / f"{difficulty}-{seed}.json").write_text(json.dumps(row))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    for name in DIFFICULTIES:
        parser.add_argument(f"--{name}", type=seeds_of, default=[], metavar="SEEDS")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for name in DIFFICULTIES:
        for seed in getattr(args, name):
            try:
                take(seed, name, args.out)
            except NotPossible as error:
                print(f"{name}-{seed}: {error}")


if __name__ == "__main__":
    main()
