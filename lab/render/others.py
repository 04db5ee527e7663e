"""Other people in the room: spotters who stand, crouch along and reach out, and somebody who walks by."""

from __future__ import annotations

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from lab.render.body import Body, Posed, chain
from lab.render.limbs import SIDES, Grip, OutOfReach, arm, sign
from lab.render.motion import Course
from lab.render.poses import Stance, _legs, _trunk
from lab.render.rotation import X, Z, about, unit

Array = NDArray[np.float64]
STRIDE_M, PACE_S = 0.32, 0.55


@frozen
class Other:
    """Somebody who is not the lifter.

    Parameters
    ----------
    body : who.
    from_m, to_m : (x, y) where they stand at the clip's start and end.
    facing_deg : turn about the vertical, anticlockwise from above; 0 faces the way the lifter does.
    course : the set; who `follows` crouches by that share of the bar's way down.
    reach_m : (forward, up) of the hands, m from the feet.
    """

    body: Body
    from_m: tuple[float, float]
    to_m: tuple[float, float]
    facing_deg: float
    course: Course
    follows: float = 0.0
    reach_m: tuple[float, float] = (0.32, 1.05)
    seed: int = 0

    def at(self, t_s: float) -> Posed:
        """The body at a time."""
        course = self.course
        share = float(np.clip(t_s / course.t_s[-1], 0, 1))
        way = np.subtract(self.to_m, self.from_m)
        walks = float(np.hypot(*way)) > 0.3
        down = 0.03 + self.follows * max(float(np.max(course.up_m)) - float(course.at("up_m", t_s)), 0.0)
        down = min(down, 0.30 * self.body.stature_m)
        down += 0.012 * np.sin(2 * np.pi * 0.31 * t_s + self.seed)
        step = STRIDE_M * np.sin(np.pi * t_s / PACE_S + self.seed) if walks else 0.0
        lift = 0.05 * np.abs(np.cos(np.pi * t_s / PACE_S + self.seed)) if walks else 0.0
        up_left = np.cos(np.pi * t_s / PACE_S + self.seed) > 0
        stance = Stance(0.13, 12.0, 0.0, lift_m=(lift, 0.0) if up_left else (0.0, lift), step_m=(step, -step))
        lean = 6.0 + 55.0 * (down - 0.03)
        turned = about(X, lean)
        turns = _trunk(turned, turned, about(X, 0.5 * lean))
        hips = np.array([0.0, 0.10 + 0.55 * down, float(self.body.head("upperleg01.L")[2]) - down])
        rest = (self.body.head("upperleg01.L") + self.body.head("upperleg01.R")) / 2.0
        root = hips - turned @ (rest - self.body.heads_m[0])
        posed = chain(self.body, turns, root)
        turns.update(_legs(self.body, posed, stance))
        swing = 0.22 * np.sin(np.pi * t_s / PACE_S + self.seed) if walks else 0.0
        for side in SIDES:
            s = sign(side)
            shoulder = posed.start(f"upperarm01.{side}")
            forward, up = (0.1 + s * swing, 0.52 * self.body.stature_m) if walks else self.reach_m
            held = np.array([s * 0.24, -forward, up - 0.6 * (down - 0.03)])
            grip = Grip(reach=unit(held - shoulder), palm=np.array([-s * 1.0, 0.0, 0.2]))
            try:
                turns.update(arm(self.body, side, shoulder, held, grip, np.array([s * 0.6, 0.7, -0.3])))
            except OutOfReach:
                near = shoulder + unit(held - shoulder) * 0.42 * self.body.stature_m * 0.6
                turns.update(arm(self.body, side, shoulder, near, grip, np.array([s * 0.6, 0.7, -0.3])))
        here = chain(self.body, turns, root)
        spin = about(Z, self.facing_deg)
        place = np.array([*(np.asarray(self.from_m) + way * share), 0.0])
        return Posed(self.body, spin @ here.turns, here.starts_m @ spin.T + place)
