"""How often the camera model's stated sds hold on random shots, with and without far end, body, ellipse.

    python -m lab.camera_coverage [SHOTS] [far=0] [body=0] [aspect=0] [told=0]

The shots are those of tests/pinhole.py: an independent pinhole, phones of many lenses, yaw -60..60 degrees. Where
the plate is not told it is one of 450, 425 and 400 mm.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from pinhole import REAL_NOISE, random_shot, take

from midfoot.bar.path import bar_path
from midfoot.bar.view import view_and_scale

UNTOLD_MM = (450.0, 450.0, 425.0, 400.0)
"""Plates of shots whose diameter is not told: half full size, half club iron."""
LENGTHS = ("distance", "mm_per_px", "body_mm_per_px")


def main() -> None:
    """Print the coverage of every quantity and the path's errors."""
    shots = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    options = {k: v != "0" for k, v in (a.split("=") for a in sys.argv[2:])}
    z: dict[str, list[float]] = {}
    error: dict[str, list[float]] = {}
    told, right, forward, up = 0, 0, [], []
    for seed in range(shots):
        shot = random_shot(np.random.default_rng(1000 + seed))
        if not options.get("told", True):
            shot = replace(shot, plate_mm=float(np.random.default_rng(seed).choice(UNTOLD_MM)))
        t = take(shot, REAL_NOISE, seed=seed, **options)
        view, scale, _ = view_and_scale(t.track, t.body, t.asked, t.info)
        got = {
            "yaw": view.yaw_deg,
            "roll": view.roll_deg,
            "pitch": view.pitch_deg,
            "distance": view.distance_m,
            "height": view.height_m,
        }
        if scale is not None:
            got |= {"mm_per_px": scale.mm_per_px, "body_mm_per_px": scale.body_mm_per_px}
        for name, value in got.items():
            truth = t.truth[name]
            if name == "yaw" and view.near_side is None and shot.near_side == "left":
                truth = -truth
            off = value.value - truth
            z.setdefault(name, []).append(off / value.sd)
            error.setdefault(name, []).append(100 * off / truth if name in LENGTHS else off)
        told += view.near_side is not None
        right += view.near_side == shot.near_side
        path = bar_path(t.track, view, scale, t.body, t.asked, t.info)
        if path is not None and view.near_side == shot.near_side:
            forward.append(float(np.std(path.forward_mm - t.forward_mm)))
            up.append(float(np.std(path.up_mm - t.up_mm)))
    print(f"{shots} shots; side told in {told}, right in {right}")
    for name, values in z.items():
        v = np.abs(values)
        rms = np.sqrt(np.mean(np.square(error[name])))
        unit = "%" if name in LENGTHS else ("m" if name == "height" else "deg")
        print(
            f"{name:15s} within 1 sd {np.mean(v < 1):.2f}  2 sd {np.mean(v < 2):.3f}  error rms {rms:.2f} {unit}"
        )
    for name, values in (("forward", forward), ("up", up)):
        if values:
            middle, ninety = np.median(values), np.percentile(values, 90)
            print(f"{name:8s} rms about the mean, mm: median {middle:.1f}, 90th {ninety:.1f}")


if __name__ == "__main__":
    main()
