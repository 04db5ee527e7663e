"""Film the sets that `midfoot demo` measures: `python -m lab.render.demo [squat deadlift bench]`.

The people, the sets and what is wrong with them are invented.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from attrs import frozen
from scipy.ndimage import gaussian_filter1d

from lab.render import course_bench, course_deadlift, course_squat, film, gym, truth
from lab.render.barbell import Loading, Plate
from lab.render.body import load
from lab.render.camera import Camera
from lab.render.draw import Light
from lab.render.figure import Outfit, dress
from lab.render.lifters import Lifter, Pressing, Pulling, Squatting
from lab.render.motion import RepPlan, Variation
from lab.render.poses import Bench, Deadlift, Squat, Stance

ROOT = Path(__file__).resolve().parents[2]
CLIPS = ROOT / "src" / "midfoot" / "demo"
TRUTH = ROOT / "tests" / "data" / "demo"

BLACK, RED, BLUE, GREEN = (0.055, 0.055, 0.06), (0.50, 0.07, 0.07), (0.07, 0.13, 0.40), (0.08, 0.30, 0.14)
WHITE, GREY = (0.75, 0.75, 0.74), (0.28, 0.28, 0.29)


@frozen
class Set:
    """One demo set, ready to be filmed."""

    name: str
    lift: str
    scene: film.Scene
    phone: film.Phone
    planted: tuple[str, ...]
    seed: int


def squat_five() -> Set:
    """Runa's five, from her left side: from rep 4 the hips lead and the bar runs forward out of the low."""
    seed = 510
    body = load(0.92, 0.62, 0.75, 0.52, 0.52, 0.6)
    pose = Squat(body, Stance(0.185, 24.0), lean_top_deg=13.0, lean_low_deg=41.0, grip_half_m=0.42)
    low = pose.low_m(-0.022)
    rng = np.random.default_rng(seed)
    plans = [
        RepPlan(down_s=1.35, up_s=1.05, hold_s=1.0, stick=0.25),
        RepPlan(down_s=1.35, up_s=1.10, hold_s=1.0, stick=0.30),
        RepPlan(down_s=1.35, up_s=1.22, hold_s=1.1, stick=0.42),
        RepPlan(down_s=1.35, up_s=1.45, hold_s=1.3, stick=0.55, drift_m=0.034, lead_deg=5.0),
        RepPlan(down_s=1.30, up_s=1.75, hold_s=0.9, stick=0.68, drift_m=0.050, lead_deg=8.0),
    ]
    rack = 0.42
    course = course_squat.course(
        plans,
        over_m=pose.bar_over_m,
        top_m=pose.top_m,
        low_m=low,
        variation=Variation(path_m=0.003),
        rng=rng,
        rack_m=rack,
    )
    bumper = Plate(0.45, 0.058, BLACK, RED, letters=WHITE)
    change = Plate(0.23, 0.022, GREY, GREY)
    room = gym.Room(
        wall=(0.66, 0.63, 0.58), band=(0.24, 0.33, 0.36), uprights_at=(pose.bar_over_m + rack + 0.075,),
        hooks_m=pose.top_m - 0.05, upright_half_m=0.57, far_x_m=-2.7,
        stored=(bumper, Plate(0.45, 0.06, BLUE, WHITE), bumper, Plate(0.45, 0.058, BLACK, GREY), bumper),
        stored_forward_m=(-1.9, 1.7),
    )  # fmt: skip
    outfit = Outfit(
        skin=(0.66, 0.46, 0.36), hair=(0.20, 0.11, 0.06), shirt=(0.42, 0.18, 0.26), legs=(0.05, 0.06, 0.09),
        shoes=(0.72, 0.72, 0.70), long_legs=True, bun=True,
    )  # fmt: skip
    camera = Camera(
        side="left", yaw_deg=3.0, distance_m=3.25, height_m=0.95, target_m=(0.0, -0.14, 0.0), aim_m=0.90,
        roll_deg=0.4, fov_deg=62.0, width_px=1280, height_px=720,
    )  # fmt: skip
    scene = film.Scene(
        dress(body, outfit), Squatting(pose, course, low),
        Loading((bumper, change), collar=(0.6, 0.6, 0.62)), room,
        Light(lamp_m=(2.0, -1.6, 3.5)), camera, seed,
    )  # fmt: skip
    return Set(
        "squat", "squat", scene, film.Phone(noise=2.2),
        ("reps 4 and 5: the hips lead out of the low and the bar runs 34 and 50 mm forward before it comes back",
         "reps 3 to 5 are slower and stick"), seed,
    )  # fmt: skip


def deadlift_double() -> Set:
    """Teo's double, from his right front, phone in hand and upright: rep 2 dips and is locked out short."""
    seed = 220
    body = load(0.06, 0.60, 0.85, 0.62, 0.50, 0.5)
    pose = Deadlift(body, Stance(0.135, 14.0))
    rng = np.random.default_rng(seed)
    plans = [
        RepPlan(up_s=1.35, pause_s=0.75, down_s=1.1, hold_s=1.9, stick=0.30, stick_at=0.45),
        RepPlan(
            up_s=2.30, pause_s=0.60, down_s=1.0, hold_s=0.6, short_m=0.026, dip_m=0.016, dip_at=0.70, drift_m=0.016
        ),
    ]
    course = course_deadlift.course(
        plans, over_m=pose.bar_over_m, floor_m=pose.floor_m, top=pose.top_m(), rng=rng,
        variation=Variation(depth_m=0.0, sway_m=0.0018), lead_in_s=2.4, lead_out_s=1.6,
    )  # fmt: skip
    big = Plate(0.45, 0.062, GREEN, WHITE, letters=WHITE)
    room = gym.Room(
        wall=(0.55, 0.50, 0.46), band=(0.36, 0.22, 0.18), bricks=True, platform=(0.46, 0.33, 0.20), far_x_m=2.8,
        stored=(big, Plate(0.45, 0.06, BLACK, WHITE), big, Plate(0.45, 0.062, RED, WHITE)),
        stored_forward_m=(-1.8, 1.2),
    )  # fmt: skip
    outfit = Outfit(
        skin=(0.40, 0.25, 0.17), hair=(0.05, 0.04, 0.04), shirt=(0.72, 0.70, 0.64), legs=(0.10, 0.16, 0.26),
        shoes=(0.10, 0.10, 0.11), socks=(0.15, 0.15, 0.16), belt=(0.20, 0.12, 0.07),
    )  # fmt: skip
    camera = Camera(
        side="right", yaw_deg=27.0, distance_m=3.4, height_m=1.15, target_m=(0.0, -0.05, 0.0), aim_m=0.86,
        roll_deg=-0.8, fov_deg=58.0, width_px=720, height_px=1280,
    )  # fmt: skip
    scene = film.Scene(
        dress(body, outfit), Pulling(pose, course), Loading((big, big)), room,
        Light(lamp_m=(-1.8, -2.0, 3.3), tint=(1.0, 0.95, 0.86)), camera, seed,
    )  # fmt: skip
    return Set(
        "deadlift", "deadlift", scene,
        film.Phone(variable=True, rock_deg=0.10, shift_m=0.003, noise=2.6, warmth=0.02, stored_turned=True),
        ("rep 2: the bar sinks 16 mm at 70 % of its way and is locked out 26 mm short", "rep 2 is slower"), seed,
    )  # fmt: skip


def bench_eight() -> Set:
    """Mattis's eight, from his left side: the touch wanders toward the feet and the pause gets shorter."""
    seed = 830
    body = load(0.04, 0.68, 0.95, 0.66, 0.55, 0.55)
    pose = Bench(body, Stance(0.27, 22.0, 0.37), grip_half_m=0.40)
    rng = np.random.default_rng(seed)
    shoulder = pose.shoulder_m[0]
    pauses = (0.62, 0.60, 0.55, 0.50, 0.40, 0.32, 0.25, 0.20)
    touches = (0.0, 0.0, 0.004, 0.009, 0.016, 0.023, 0.031, 0.040)
    ups = (0.92, 0.95, 1.0, 1.05, 1.12, 1.22, 1.36, 1.6)
    plans = [
        RepPlan(
            down_s=0.95, pause_s=p, up_s=u, hold_s=0.40, stick=0.25 + 0.06 * k, stick_at=0.45, touch_m=f,
            late_m=0.25 * f,
        )
        for k, (p, f, u) in enumerate(zip(pauses, touches, ups, strict=True))
    ]  # fmt: skip
    top = pose.top_m(bend_deg=9.0, forward_m=0.02)
    back = pose.top_m(bend_deg=22.0, forward_m=-0.15)
    hooks = (back[0], back[1] - 0.05)
    places = np.linspace(shoulder + 0.04, shoulder + 0.24, 41)
    heights = gaussian_filter1d(np.array([pose.chest_m(float(p)) for p in places]), 4.0, mode="nearest")
    chest = np.stack([places, heights], axis=1)
    course = course_bench.course(
        plans, top=top, touch_m=shoulder + 0.105, chest_at=chest, rng=rng, hooks=hooks,
        variation=Variation(path_m=0.004, depth_m=0.0, sway_m=0.002), lead_in_s=0.8, lead_out_s=0.6,
    )  # fmt: skip
    big = Plate(0.45, 0.030, BLACK, BLACK, letters=GREY, lip_share=0.90)
    small = Plate(0.40, 0.026, BLACK, GREY, lip_share=0.91)
    room = gym.Room(
        floor=(0.14, 0.15, 0.16), wall=(0.58, 0.62, 0.64), band=(0.20, 0.22, 0.26), bench_m=0.43,
        bench_at=(shoulder - 0.42, 0.30), uprights_at=(hooks[0] - 0.075,), upright_height_m=1.18,
        upright_half_m=0.55, hooks_m=hooks[1], far_x_m=-2.5, stored=(big, small, big, big, small),
        stored_forward_m=(-1.7, 1.5),
    )  # fmt: skip
    outfit = Outfit(
        skin=(0.70, 0.50, 0.40), hair=(0.42, 0.28, 0.14), shirt=(0.14, 0.27, 0.42), legs=(0.16, 0.16, 0.17),
        shoes=(0.62, 0.20, 0.14), socks=(0.80, 0.80, 0.80),
    )  # fmt: skip
    camera = Camera(
        side="left", yaw_deg=-4.0, distance_m=3.2, height_m=0.85, target_m=(0.0, 0.12, 0.0), aim_m=0.74,
        roll_deg=-0.3, fov_deg=62.0, width_px=1280, height_px=720,
    )  # fmt: skip
    scene = film.Scene(
        dress(body, outfit), Pressing(pose, course), Loading((big, small)), room,
        Light(lamp_m=(1.7, -1.2, 3.4), power=0.85, ambient=0.38), camera, seed,
    )  # fmt: skip
    return Set(
        "bench", "bench", scene, film.Phone(noise=2.4, gain=0.92, blur_px=0.6),
        ("the touch wanders 40 mm toward the feet from rep 3 to 8", "the pause shortens from 0.6 to 0.2 s",
         "the press slows from 0.9 to 1.6 s"), seed,
    )  # fmt: skip


SETS = {"squat": squat_five, "deadlift": deadlift_double, "bench": bench_eight}


def make(chosen: Set, clips: Path, truths: Path, whole: Path | None) -> None:
    """Film one set; its thinned truth goes to `truths`, the whole one to `whole` where that is given."""
    clips.mkdir(parents=True, exist_ok=True)
    path = clips / f"{chosen.name}.mp4"
    frames = film.film(chosen.scene, chosen.phone, path)
    lifter: Lifter = chosen.scene.lifter
    body = chosen.scene.figure.bare
    told = truth.of_clip(
        name=path.name, lift=chosen.lift, lifter=lifter, camera=chosen.scene.camera, loading=chosen.scene.loading,
        frames=frames, keypoints=body.keypoints, stature_m=body.stature_m, planted=chosen.planted,
        extra={
            "seed": chosen.seed, "width_px": chosen.scene.camera.width_px,
            "height_px": chosen.scene.camera.height_px, "variable_rate": chosen.phone.variable,
            "stored_turned": chosen.phone.stored_turned,
        },
    )  # fmt: skip
    truth.write(truth.thinned(told, every=10), truths / f"{chosen.name}.json")
    if whole is not None:
        truth.write(told, whole / f"{chosen.name}.json")


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("sets", nargs="*", default=list(SETS), choices=list(SETS))
    asked.add_argument("--out", type=Path, help="write clips and whole truth here and not into the package")
    args = asked.parse_args()
    for name in args.sets:
        made = SETS[name]()
        if args.out is None:
            make(made, CLIPS, TRUTH, None)
        else:
            make(made, args.out, args.out, args.out / "whole")


if __name__ == "__main__":
    main()
