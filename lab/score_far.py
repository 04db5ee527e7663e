"""How well the far end of the bar is told in drawn scenes: `python -m lab.score_far [--scenes 60] [--first 0]`.

Every scene is drawn by the tests' own pinhole (tests/drawn_bar.py): a camera anywhere within 50 degrees of the
side, plates dark or light, noise, discs on the wall, a bar that tips; one in three has nothing on its far end.
The near plate is handed over with errors as the follower makes them. Printed is one line a scene, then a summary.
"""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from midfoot.bar.far_bar import Ends, inner_span
from midfoot.bar.far_learn import believed
from midfoot.bar.far_shots import FarShots, NearSeen
from midfoot.records.base import Value
from midfoot.records.clip import Asked, Frame

RIGHT = 0.3
"""A place within so many near radii of the true one is on the far disc."""


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--scenes", type=int, default=60)
    parser.add_argument("--first", type=int, default=0)
    args = parser.parse_args()
    rows = [scene(seed) for seed in range(args.first, args.first + args.scenes)]
    print("\n".join(summary(rows)))


def scene(seed: int) -> dict[str, Any]:
    """Draw one scene and look for its far end."""
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
    from drawn_bar import Film
    from pinhole import random_shot

    rng = np.random.default_rng(seed)
    yaw = float(rng.normal(0.0, 8.0) if rng.random() < 0.5 else rng.uniform(-50.0, 50.0))
    shot = replace(random_shot(rng), yaw_deg=yaw, tilt_deg=0.0, distance_m=float(rng.uniform(2.8, 4.8)))
    far, dark = bool(rng.random() < 2.0 / 3.0), bool(rng.random() < 0.4)
    film = Film(
        shot, every=5, far=far, seed=seed, wall=int(rng.uniform(80, 200)), face=int(rng.uniform(30, 90)),
        lip=45 if dark else int(rng.uniform(60, 200)), noise=float(rng.uniform(1.0, 5.0)),
        stored=tuple((float(x), float(y)) for x, y in rng.uniform((-1.5, 0.2), 1.5, (rng.integers(4), 2))),
        tilt_deg=(float(rng.normal(0.0, 0.5)), float(abs(rng.normal(0.0, 0.4)))),
    )  # fmt: skip
    truth, t_s = film.truth(), film.course()[0]
    shots = FarShots()
    for _ in shots.beside(Frame(i, float(t), p, p.copy) for i, (t, p) in enumerate(zip(t_s, film.pictures()))):
        pass
    radius = float(np.median(truth["radius"])) * (1.0 + rng.normal(0.0, 0.015))
    aspect, lean = float(np.median(truth["aspect"])), float(np.median(truth["lean"]))
    near = NearSeen(t_s, truth["near"] + rng.normal(0.0, 0.2, truth["near"].shape), np.full(len(t_s), radius),
                    aspect, lean)  # fmt: skip
    row: dict[str, Any] = {"seed": seed, "lift": shot.lift, "yaw": yaw, "far": far, "told": False}
    layers = shots.layers(near, None)
    if layers is not None:
        w, h = shot.size_px
        roll = math.radians(shot.roll_deg + rng.normal(0.0, 0.7))
        ends = Ends(layers.near_px, np.median(layers.near_px, axis=0), radius, ((w - 1) / 2, (h - 1) / 2), roll,
                    inner_span(Asked(shot.lift)).value, shot.plate_mm / 2000.0)  # fmt: skip
        lens = 0.5 * max(w, h) / math.tan(math.radians(30.0))
        learnt = believed(shots, layers, near, ends, Value(lens, 0.2 * lens), Value(aspect, 0.012), None)
        if learnt is not None:
            camera = learnt.look.camera
            off = (
                np.median(camera.ellipse_centres(ends.far_m(camera), ends.radius_m) - truth["far"], axis=0)
                / radius
            )
            turn = math.degrees(camera.turn_rad) - (yaw if shot.near_side == "right" else -yaw)
            row |= {"told": True, "off": off, "sd": learnt.sd, "turn": turn,
                    "right": far and float(np.hypot(*off)) <= RIGHT}  # fmt: skip
    told = f"off {row['off'].round(3)} sd {row['sd']:.3f} turn {row['turn']:.1f}" if row["told"] else "not told"
    wrong = " WRONG" if row["told"] and not row["right"] else ""
    print(f"{seed} {shot.lift} yaw {yaw:.0f} far end {'drawn' if far else 'bare'}: {told}{wrong}", flush=True)
    return row


def summary(rows: list[dict[str, Any]]) -> list[str]:
    """Say in a few lines what came of all scenes."""
    out = []
    for name, low, high in (("within 15 degrees of the side", 0.0, 15.0), ("15 to 50 degrees", 15.0, 90.0)):
        mine = [r for r in rows if low <= abs(r["yaw"]) < high]
        drawn, bare = [r for r in mine if r["far"]], [r for r in mine if not r["far"]]
        right = [r for r in drawn if r["told"] and r["right"]]
        out.append(
            f"{name}: {len(right)} of {len(drawn)} right, {sum(r['told'] for r in drawn) - len(right)} wrong; "
            f"without a far plate {sum(r['told'] for r in bare)} of {len(bare)} told"
        )
        if right:
            off = np.array([np.abs(r["off"]) / r["sd"] for r in right])
            turn = np.array([r["turn"] for r in right])
            out.append(
                f"  turn off by {np.sqrt(np.mean(turn**2)):.2f} degrees rms; place within 1 sd "
                f"{np.mean(off <= 1.0):.0%}, within 2 sd {np.mean(off <= 2.0):.0%}"
            )
    return out


if __name__ == "__main__":
    main()
