"""From a recipe to a scene: the body takes the recipe's numbers as far as it reaches, and says how far it did."""

from __future__ import annotations

import numpy as np
from attrs import evolve, frozen
from scipy.ndimage import gaussian_filter1d

from lab.render import course_bench, course_deadlift, course_squat, film, gym
from lab.render.bank import body_of
from lab.render.barbell import Loading, Plate
from lab.render.body import Body
from lab.render.camera import Camera
from lab.render.draw import Light
from lab.render.figure import Outfit, dress
from lab.render.lifters import Lifter, Pressing, Pulling, Squatting
from lab.render.limbs import OutOfReach
from lab.render.motion import Course
from lab.render.others import Other
from lab.render.poses import Bench, Deadlift, Squat, Stance
from lab.render.recipe import Disc, Person, SetRecipe, Style
from lab.render.whip import whip

USUAL_M = 1.75
"""Widths and ways of a recipe are for this stature, and go with it."""
TRIES = 10


class NotPossible(ValueError):
    """A recipe that no body can do."""


@frozen
class MadeSet:
    """A recipe made: the lifter in his set and the style that his body could do."""

    recipe: SetRecipe
    style: Style
    body: Body
    lifter: Lifter
    loading: Loading
    rack: tuple[float, float] | None
    """Place of the hooks (forward, up), m, where the bar starts on hooks."""


def lifter_of(recipe: SetRecipe) -> MadeSet:
    """Make body and motion, without anything to be seen.

    Raises
    ------
    NotPossible
        When the body cannot reach the recipe's places even after small changes of its style.
    """
    body = body_of(recipe.person.shape, round(recipe.person.stature_m, 3))
    loading = Loading(tuple(_plate(d) for d in recipe.discs))
    style = recipe.style
    why: Exception | None = None
    for _ in range(TRIES):
        try:
            made = _bound(recipe, style, body, loading)
            for t in np.linspace(0.0, made.lifter.course.t_s[-1], 60):
                made.lifter.at(float(t))
            return made
        except (OutOfReach, ValueError) as error:
            why = error
            style = _eased(recipe.lift, style)
    raise NotPossible(f"seed {recipe.seed}, {recipe.difficulty}: {why}") from why


def _eased(lift: str, style: Style) -> Style:
    """A style that is a little easier to reach."""
    if lift == "squat":
        return evolve(style, depth_m=style.depth_m + 0.012, lean_deg=min(style.lean_deg + 1.5, 54.0),
                      stance_m=0.17 + 0.8 * (style.stance_m - 0.17),
                      grip_m=style.grip_m + 0.01)  # fmt: skip
    if lift == "bench":
        return evolve(
            style, grip_m=0.36 + 0.8 * (style.grip_m - 0.36), touch_m=0.105 + 0.8 * (style.touch_m - 0.105)
        )
    return evolve(style, knee_floor_deg=style.knee_floor_deg + 2.5, grip_m=style.grip_m - 0.005,
                  stance_m=0.95 * style.stance_m)  # fmt: skip


def _bound(recipe: SetRecipe, style: Style, body: Body, loading: Loading) -> MadeSet:
    rng = np.random.default_rng([recipe.seed, 100])
    by = body.stature_m / USUAL_M
    lifter: Lifter
    rack = None
    if recipe.lift == "squat":
        stance = Stance(style.stance_m * by, style.toes_deg)
        pose = Squat(
            body, stance, lean_top_deg=style.lean_top_deg, lean_low_deg=style.lean_deg,
            grip_half_m=style.grip_m * by, bar_below_m=style.bar_below_m * by, bar_over_m=0.05 * by,
        )  # fmt: skip
        low = pose.low_m(style.depth_m)
        course = course_squat.course(
            recipe.reps, over_m=pose.bar_over_m, top_m=pose.top_m, low_m=low, variation=recipe.scatter, rng=rng,
            rack_m=style.rack_m,
        )  # fmt: skip
        if style.rack_m is not None:
            rack = (pose.bar_over_m + style.rack_m, pose.top_m - 0.05)
        lifter = Squatting(pose, _whipped(course, style.sag_m, None), low)
    elif recipe.lift == "bench":
        press = Bench(
            body, Stance(style.stance_m * by, style.toes_deg, 0.37 * by), grip_half_m=style.grip_m * by,
            chest_deg=style.arch_deg,
        )  # fmt: skip
        shoulder = press.shoulder_m[0]
        top = press.top_m(bend_deg=9.0, forward_m=0.02)
        back = press.top_m(bend_deg=22.0, forward_m=-0.15)
        hooks = (back[0], back[1] - 0.05)
        places = np.linspace(shoulder + 0.02, shoulder + 0.27, 51)
        heights = gaussian_filter1d(np.array([press.chest_m(float(p)) for p in places]), 4.0, mode="nearest")
        course = course_bench.course(
            recipe.reps, top=top, touch_m=shoulder + style.touch_m * by, chest_at=np.stack([places, heights], 1),
            rng=rng, hooks=hooks, variation=recipe.scatter,
        )  # fmt: skip
        rack = hooks
        lifter = Pressing(press, _whipped(course, style.sag_m, None))
    else:
        pull = Deadlift(
            body, Stance(style.stance_m * by, style.toes_deg), grip_half_m=style.grip_m * by,
            plate_radius_m=loading.outer_diameter_m / 2, knee_floor_deg=style.knee_floor_deg,
            bar_over_m=(0.07 if style.variation == "sumo" else 0.10) * by, thigh_m=0.125 * by,
            hip_behind_m=0.04 * by,
        )  # fmt: skip
        course = course_deadlift.course(
            recipe.reps, over_m=pull.bar_over_m, floor_m=pull.floor_m, top=pull.top_m(), rng=rng,
            variation=recipe.scatter, slack_m=style.sag_m,
            slack_s=0.8 if style.variation != "touch_and_go" else 0.5,
        )  # fmt: skip
        lifter = Pulling(pull, _whipped(course, style.sag_m, pull.floor_m))
    return MadeSet(recipe, style, body, lifter, loading, rack)


def _whipped(course: Course, sag_m: float, floor_m: float | None) -> Course:
    return evolve(course, flex_m=whip(course.t_s, course.up_m, sag_m, floor_m))


def scene_of(made: MadeSet) -> tuple[film.Scene, film.Phone]:
    """Dress the lifter, build the room, put the camera and the others into it."""
    recipe = made.recipe
    around, eye, take = recipe.around, recipe.eye, recipe.take
    far = -1.0 if eye.side == "left" else 1.0
    bench = recipe.lift == "bench"
    press = made.lifter.pose if isinstance(made.lifter, Pressing) else None
    shoulder = press.shoulder_m[0] if press is not None else 0.0
    room = gym.Room(
        floor=around.floor, wall=around.wall, band=around.band, bricks=around.bricks, far_x_m=2.7 * far,
        uprights_at=() if made.rack is None else (made.rack[0] + (-0.075 if bench else 0.075),),
        upright_half_m=0.56, hooks_m=None if made.rack is None else made.rack[1],
        upright_height_m=1.2 if bench else 2.3, bench_m=0.43 if bench else None,
        bench_at=(shoulder - 0.42, shoulder + 0.75), stored=tuple(_plate(d) for d in around.stored),
        stored_forward_m=(-1.8, 1.6), posts_at=tuple((-far * x, y) for x, y in around.posts),
    )  # fmt: skip
    light = Light(around.lamp_m, around.power, around.ambient, around.tint)
    camera = camera_of(made)
    others = tuple(
        (_dressed(person, body_of(person.shape, round(person.stature_m, 3))), _other(person, where, made, -far, k))
        for k, (person, where) in enumerate(around.others)
    )
    scene = film.Scene(
        _dressed(recipe.person, made.body), made.lifter, made.loading, room, light, camera, recipe.seed, others
    )
    phone = film.Phone(
        fps=take.fps, variable=take.variable, rock_deg=eye.rock_deg, shift_m=eye.shift_m, noise=take.noise,
        blur_px=take.soft_px, gain=take.gain, warmth=take.warmth, stored_turned=take.turned,
        exposure_s=take.exposure_s, readout_s=take.readout_s, pan_deg=eye.pan_deg, zoom=eye.zoom, bend=eye.bend,
        mirrored=take.mirrored, real_speed=take.real_speed, caption=take.caption, codec=take.codec,
        mbit_s=take.mbit_s, preset="ultrafast",
    )  # fmt: skip
    return scene, phone


def camera_of(made: MadeSet) -> Camera:
    """Stand as far away as it takes to have the set in the picture."""
    eye, lift, stature_m = made.recipe.eye, made.recipe.lift, made.body.stature_m
    across = abs(np.cos(np.radians(eye.yaw_deg))), abs(np.sin(np.radians(eye.yaw_deg)))
    tall = 1.35 if lift == "bench" else 1.1 * stature_m + 0.1
    wide = across[0] * (2.0 if lift == "bench" else 1.35) + across[1] * 2.3
    focal = max(eye.width_px, eye.height_px) / 2 / np.tan(np.radians(eye.fov_deg) / 2)
    far = max(tall * focal / (eye.fill * eye.height_px), wide * focal / (eye.fill * eye.width_px))
    far = float(np.clip(far + 0.55 * across[0], 2.0, 4.25))
    aim = tall / 2 + eye.lower * tall
    return Camera(
        side=eye.side, yaw_deg=eye.yaw_deg, distance_m=far, height_m=eye.height_m,
        target_m=(0.0, -0.12 if lift == "bench" else 0.02, 0.0), aim_m=float(aim), roll_deg=eye.roll_deg,
        fov_deg=eye.fov_deg, width_px=eye.width_px, height_px=eye.height_px,
    )  # fmt: skip


def _plate(disc: Disc) -> Plate:
    letters = (0.9, 0.9, 0.88) if sum(disc.colour) < 1.2 else (0.1, 0.1, 0.1)
    return Plate(
        disc.diameter_m, disc.thickness_m, disc.colour, disc.lip, letters=letters, lip_share=disc.lip_share
    )


def _dressed(person: Person, body: Body) -> film.Figure:
    return dress(
        body,
        Outfit(
            skin=person.skin, hair=person.hair, shirt=person.shirt, legs=person.legs, shoes=person.shoes,
            long_legs=person.long_legs, bun=person.bun,
        ),
    )  # fmt: skip


def _other(person: Person, where: str, made: MadeSet, near: float, k: int) -> Other:
    """Put somebody into the room; `near` is the camera's side as a sign of x."""
    body = body_of(person.shape, round(person.stature_m, 3))
    course, bench = made.lifter.course, made.recipe.lift == "bench"
    if where == "behind":
        if bench and made.rack is not None:
            spot = (0.0, -made.rack[0] + 0.42)
            return Other(body, spot, spot, 0.0, course, 0.15, (0.30, made.rack[1] + 0.02), k)
        back = 0.75 if made.recipe.lift == "squat" else 1.25
        follows = 0.45 if made.recipe.lift == "squat" else 0.0
        return Other(body, (0.05, back), (0.05, back), 0.0, course, follows, (0.36, 0.62 * body.stature_m), k)
    if where == "passing":
        x = -near * 1.7
        return Other(body, (x, -2.6), (x, 2.6), 180.0, course, seed=k)
    side = near if where == "near_end" else -near
    spot = (side * 1.55, 0.05)
    return Other(body, spot, spot, -90.0 * side, course, 0.3 if made.recipe.lift == "squat" else 0.0, seed=k)
