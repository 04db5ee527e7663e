"""Whole-body poses of the three lifts: the bar's place gives the body's.

Each lift is a small object made once per clip (body, stance, how the lifter moves) whose `pose` gives the body for
a place of the bar in the plane of motion: forward (the way the lifter faces; toward the feet on the bench) and up,
in metres, as `bar_m`. World axes as in `lab.render.body`: forward is -y.
"""

from __future__ import annotations

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy.optimize import brentq

from lab.render.body import Body, Posed, chain
from lab.render.limbs import SIDES, Grip, arm, bend_at, leg, sign, span_at
from lab.render.rotation import X, Y, Z, about, part, unit

Array = NDArray[np.float64]
SHAFT_RADIUS_M = 0.014


def _trunk(pelvis: Array, chest: Array, head: Array) -> dict[str, Array]:
    """Turns of the trunk's bones, the spine bending evenly between pelvis and chest."""
    turns = {"root": pelvis}
    for i, name in enumerate(("spine05", "spine04", "spine03", "spine02", "spine01")):
        turns[name] = part(pelvis, chest, (i + 1) / 5.0)
    for name, share in (("neck01", 0.3), ("neck02", 0.5), ("neck03", 0.75), ("head", 1.0)):
        turns[name] = part(chest, head, share)
    return turns


def _shoulders(chest: Array, forward_deg: float, up_deg: float) -> dict[str, Array]:
    """Turns of the shoulder girdle: + forward rounds the shoulders, + up shrugs them."""
    turns = {}
    for side in SIDES:
        s = sign(side)
        girdle = chest @ about(Z, -s * forward_deg) @ about(Y, -s * up_deg)
        turns[f"clavicle.{side}"] = girdle
        turns[f"shoulder01.{side}"] = girdle
    return turns


@frozen
class Stance:
    """Where the feet stand: ankles' distance from the middle, m; toes turned out; ankles' place forward, m."""

    half_width_m: float
    toes_out_deg: float
    ankle_forward_m: float = 0.0
    lift_m: tuple[float, float] = (0.0, 0.0)
    step_m: tuple[float, float] = (0.0, 0.0)

    def ankle(self, body: Body, side: str) -> Array:
        i = 0 if side == "L" else 1
        height = float(body.head(f"foot.{side}")[2]) + self.lift_m[i]
        return np.array([sign(side) * self.half_width_m, -self.ankle_forward_m - self.step_m[i], height])

    def foot_turn(self, side: str) -> Array:
        return about(Z, sign(side) * self.toes_out_deg)

    def pole(self, side: str) -> Array:
        out = np.radians(self.toes_out_deg)
        return np.array([sign(side) * np.sin(out), -np.cos(out), 0.0])


def _legs(body: Body, posed: Posed, stance: Stance) -> dict[str, Array]:
    """Turns of both legs. While stepping, the heel of a foot that trails comes off the floor;
    standing, it gives way by 4 mm at most (a shoe's sole)."""
    turns: dict[str, Array] = {}
    reach = sum(_leg_lengths(body)) * 0.9985
    stepping = any(stance.step_m) or any(stance.lift_m)
    for side in SIDES:
        hip = posed.start(f"upperleg01.{side}")
        ankle = stance.ankle(body, side)
        foot = stance.foot_turn(side)
        far = float(np.linalg.norm(ankle - hip))
        if far > reach and (stepping or far < reach + 0.004):
            raised = ankle + (hip - ankle) * ((far - reach) / far)
            foot = foot @ about(X, float(np.degrees(np.arctan2(raised[2] - ankle[2], 0.15))))
            ankle = raised
        turns.update(leg(body, side, hip, ankle, stance.pole(side), foot))
    return turns


def _leg_lengths(body: Body) -> tuple[float, float]:
    return body.length("upperleg01.L", "lowerleg01.L"), body.length("lowerleg01.L", "foot.L")


def back_surface_m(body: Body, height_m: float) -> float:
    """How far behind the spine's plane the back lies at `height_m` (rest), m."""
    trunk = body.follows("spine", "clavicle", "shoulder", "neck") > 0.8
    near = np.abs(body.vertices_m[:, 2] - height_m) < 0.02
    wide = np.abs(body.vertices_m[:, 0]) < 0.13
    return float(np.max(body.vertices_m[trunk & near & wide, 1]))


@frozen
class Squat:
    """A back squat. The trunk leans and the knees bend in step; `lead_deg` of `pose` lets the hips run ahead.

    `bar_below_m` is how far below the place on top of the shoulders the bar lies (low bar: 0.04 to 0.07).
    """

    body: Body
    stance: Stance
    lean_top_deg: float = 16.0
    lean_low_deg: float = 44.0
    grip_half_m: float = 0.40
    bar_over_m: float = 0.065
    knee_top_deg: float = 9.0
    bar_below_m: float = 0.0
    attach: Array = field(init=False, eq=False)

    def __attrs_post_init__(self) -> None:
        height = float(self.body.head("upperarm01.L")[2]) + 0.015 - self.bar_below_m
        behind = back_surface_m(self.body, height) + SHAFT_RADIUS_M - 0.004
        object.__setattr__(self, "attach", np.array([0.0, behind, height]))

    def _hip_to_bar(self, lean_deg: float) -> Array:
        hips = (self.body.head("upperleg01.L") + self.body.head("upperleg01.R")) / 2.0
        return about(X, lean_deg) @ (self.attach - hips)

    def _knee_deg(self, bar: Array, lean_deg: float) -> float:
        """Knee bend for a place of the bar and a lean of the trunk; above 0 only where the legs reach."""
        hip = bar - self._hip_to_bar(lean_deg)
        hip[0] = float(self.body.head("upperleg01.L")[0])
        span = float(np.linalg.norm(hip - self.stance.ankle(self.body, "L")))
        thigh, shank = _leg_lengths(self.body)
        if span >= thigh + shank:
            return max(-4000.0 * (span - thigh - shank), -12.0)
        return bend_at(thigh, shank, span)

    @property
    def top_m(self) -> float:
        """Height of the bar when the lifter stands, m."""
        thigh, shank = _leg_lengths(self.body)
        span = span_at(thigh, shank, self.knee_top_deg)
        ankle = self.stance.ankle(self.body, "L")
        lever = self._hip_to_bar(self.lean_top_deg)
        hip_y = -self.bar_over_m - float(lever[1])
        aside = float(self.body.head("upperleg01.L")[0]) - float(ankle[0])
        rise = np.sqrt(span**2 - aside**2 - (hip_y - float(ankle[1])) ** 2)
        return float(ankle[2] + rise + lever[2])

    def low_m(self, hip_minus_knee_m: float) -> float:
        """Height of the bar at which the hip joints stand `hip_minus_knee_m` above the knees, m."""

        def over(height: float) -> float:
            posed = self._legs_at(np.array([0.0, -self.bar_over_m, height]), self.lean_low_deg)
            hip, knee = posed.start("upperleg01.L"), posed.start("lowerleg01.L")
            return float(hip[2] - knee[2]) - hip_minus_knee_m

        # From the top down: far below, where no leg folds any more, there are answers that nobody stands in.
        heights = self.top_m - np.linspace(0.20, 0.85, 14)
        above = heights[0]
        for height in heights[1:]:
            if over(float(height)) < 0.0:
                return float(brentq(over, float(height), float(above)))
            above = height
        raise ValueError(f"hip_minus_knee_m: {hip_minus_knee_m:.3f} m is deeper than this body and stance go")

    def _legs_at(self, bar: Array, lean_deg: float) -> Posed:
        hips = bar - self._hip_to_bar(lean_deg)
        rest = (self.body.head("upperleg01.L") + self.body.head("upperleg01.R")) / 2.0
        pelvis = about(X, lean_deg)
        root = hips - pelvis @ (rest - self.body.heads_m[0])
        posed = chain(self.body, {"root": pelvis}, root)
        return chain(self.body, {"root": pelvis, **_legs(self.body, posed, self.stance)}, root)

    def lean_deg(self, bar: Array, low_m: float, lead_deg: float = 0.0) -> float:
        """Lean of the trunk with the bar at `bar` (3,), m: trunk and knees share the way down evenly."""
        knee_low = self._knee_deg(np.array([0.0, -self.bar_over_m, low_m]), self.lean_low_deg)
        span_knee = knee_low - self.knee_top_deg
        span_lean = self.lean_low_deg - self.lean_top_deg

        def gap(lean: float) -> float:
            down_trunk = (lean - lead_deg - self.lean_top_deg) / span_lean
            return down_trunk - (self._knee_deg(bar, lean) - self.knee_top_deg) / span_knee

        # Below this the hips would hang ahead of the feet, where a second, unnatural answer lies.
        least = self.lean_top_deg - 4.0
        if gap(least) > 0.0:
            # A bar a breath above the standing height: the legs are straight, the trunk stays as it stands.
            near = np.linspace(least, self.lean_top_deg + 2.0, 25)
            return float(near[int(np.argmin([abs(gap(float(lean))) for lean in near]))])
        return float(brentq(gap, least, 85.0))

    def pose(
        self, bar_m: tuple[float, float], low_m: float, lead_deg: float = 0.0, feet: Stance | None = None
    ) -> Posed:
        """The body with the bar at `bar_m` (forward, up) m; `low_m` is the set's usual low.

        `feet` stand elsewhere than the stance says while the lifter steps.
        """
        bar = np.array([0.0, -bar_m[0], bar_m[1]])
        lean = self.lean_deg(bar, low_m, lead_deg)
        turned = about(X, lean)
        head = about(X, 0.45 * lean + 4.0)
        turns = _trunk(turned, turned, head)
        turns.update(_shoulders(turned, -14.0, 4.0))
        hips = bar - self._hip_to_bar(lean)
        rest = (self.body.head("upperleg01.L") + self.body.head("upperleg01.R")) / 2.0
        root = hips - turned @ (rest - self.body.heads_m[0])
        posed = chain(self.body, turns, root)
        turns.update(_legs(self.body, posed, feet or self.stance))
        for side in SIDES:
            s = sign(side)
            grip = Grip(
                reach=turned @ unit(np.array([s * 0.10, -0.25, 0.95])),
                palm=turned @ np.array([0.0, -1.0, -0.25]),
                along_m=0.075,
            )
            held = bar + np.array([s * self.grip_half_m, 0.0, 0.0])
            pole = turned @ np.array([s * 0.25, 0.45, -0.85])
            turns.update(arm(self.body, side, posed.start(f"upperarm01.{side}"), held, grip, pole))
        return chain(self.body, turns, root)


@frozen
class Deadlift:
    """A deadlift, arms straight. Knees give the way to the bar, the trunk follows from the two ends."""

    body: Body
    stance: Stance
    grip_half_m: float = 0.26
    plate_radius_m: float = 0.225
    bar_over_m: float = 0.100
    knee_floor_deg: float = 84.0
    knee_top_deg: float = 3.0
    ahead_floor_m: float = 0.045
    thigh_m: float = 0.125
    hip_behind_m: float = 0.040

    def _reach_yz(self) -> float:
        """Length of the straight arm down to the bar's axis, in the plane of motion, m."""
        upper = self.body.length("upperarm01.L", "lowerarm01.L")
        fore = self.body.length("lowerarm01.L", "wrist.L")
        aside = self.grip_half_m - float(self._shoulder()[0])
        return float(np.sqrt((upper + fore) ** 2 * 0.998 - aside**2)) + 0.08

    def _girdle(self, chest: Array) -> dict[str, Array]:
        return _shoulders(chest, 6.0, -5.0)

    def _shoulder(self) -> Array:
        """Shoulder joint in the trunk's own frame (rest place with the girdle let down), m."""
        turns = self._girdle(np.eye(3))
        return chain(self.body, turns, self.body.heads_m[0]).start("upperarm01.L")

    def _trunk_line(self) -> Array:
        return self._shoulder() - self.body.head("upperleg01.L")

    def _span_yz(self, knee_deg: float) -> float:
        thigh, shank = _leg_lengths(self.body)
        aside = self.stance.half_width_m - float(self.body.head("upperleg01.L")[0])
        return float(np.sqrt(span_at(thigh, shank, knee_deg) ** 2 - aside**2))

    @property
    def floor_m(self) -> float:
        return self.plate_radius_m

    def top_m(self) -> tuple[float, float]:
        """Place of the bar (forward, up) m at the lockout: straight legs, upright trunk, bar on the thighs."""
        ankle = self.stance.ankle(self.body, "L")
        hip_y = float(ankle[1]) + self.hip_behind_m
        hip_z = float(ankle[2]) + np.sqrt(self._span_yz(self.knee_top_deg) ** 2 - self.hip_behind_m**2)
        line = about(X, -2.0) @ self._trunk_line()
        shoulder = np.array([hip_y + line[1], hip_z + line[2]])
        bar_y = hip_y - self.thigh_m
        drop = np.sqrt(self._reach_yz() ** 2 - (bar_y - shoulder[0]) ** 2)
        return -bar_y, float(shoulder[1] - drop)

    def hip_yz(self, bar_yz: Array, knee_deg: float, ahead_m: float) -> tuple[Array, Array]:
        """Hip and shoulder (y, z) m; the shoulder is `ahead_m` ahead of the bar."""
        shoulder = np.array([bar_yz[0] - ahead_m, bar_yz[1] + np.sqrt(self._reach_yz() ** 2 - ahead_m**2)])
        ankle = self.stance.ankle(self.body, "L")[1:]
        near, far = self._span_yz(knee_deg), float(np.linalg.norm(self._trunk_line()[1:]))
        line = shoulder - ankle
        distance = float(np.linalg.norm(line))
        if distance >= near + far:
            near, far = near * distance / (near + far), far * distance / (near + far)
        along = (near**2 - far**2 + distance**2) / (2.0 * distance)
        off = np.sqrt(max(near**2 - along**2, 0.0))
        across_line = np.array([line[1], -line[0]]) / distance
        return ankle + line / distance * along + across_line * off, shoulder

    def pose(
        self, bar_m: tuple[float, float], risen: float, *, knee_extra_deg: float = 0.0, gaze_deg: float = 0.0
    ) -> Posed:
        """The body with the bar at `bar_m` (forward, up) m, having risen `risen` (0..1) of its way to the top."""
        knee = self.knee_deg(risen) + knee_extra_deg
        ahead = self.ahead_m(risen)
        hip, shoulder = self.hip_yz(np.array([-bar_m[0], bar_m[1]]), knee, ahead)
        rest = self._trunk_line()[1:]
        now = shoulder - hip
        lean = float(np.degrees(np.arctan2(-now[0], now[1]) - np.arctan2(-rest[0], rest[1])))
        turned = about(X, lean)
        head = about(X, 0.62 * lean + gaze_deg)
        turns = _trunk(turned, turned, head)
        turns.update(self._girdle(turned))
        hips = np.array([0.0, hip[0], hip[1]])
        middle = (self.body.head("upperleg01.L") + self.body.head("upperleg01.R")) / 2.0
        root = hips - turned @ (middle - self.body.heads_m[0])
        posed = chain(self.body, turns, root)
        turns.update(_legs(self.body, posed, self.stance))
        for side in SIDES:
            s = sign(side)
            shoulder_3d = posed.start(f"upperarm01.{side}")
            held = np.array([s * self.grip_half_m, -bar_m[0], bar_m[1]])
            down = unit(held - shoulder_3d)
            grip = Grip(reach=down, palm=Y, along_m=0.085, out_m=0.022)
            pole = np.array([s * 0.8, 0.6, 0.0])
            turns.update(arm(self.body, side, shoulder_3d, held, grip, pole))
        return chain(self.body, turns, root)

    def knee_deg(self, risen: float) -> float:
        """Knee bend over the bar's way: most of it is gone when the bar passes the knees (about 45 %)."""
        x = np.array([-0.05, 0.0, 0.12, 0.28, 0.45, 0.62, 0.8, 0.93, 1.0, 1.05])
        y = np.array([1.05, 1.0, 0.80, 0.55, 0.36, 0.27, 0.19, 0.07, 0.0, 0.0])
        share = float(_smooth_through(x, y, risen))
        return self.knee_top_deg + (self.knee_floor_deg - self.knee_top_deg) * share

    def ahead_m(self, risen: float) -> float:
        """How far the shoulders stand ahead of the bar, m; behind it at the lockout."""
        top_y, _ = self.top_m()
        ankle = self.stance.ankle(self.body, "L")
        hip_y = float(ankle[1]) + self.hip_behind_m
        line = about(X, -2.0) @ self._trunk_line()
        at_top = -top_y - (hip_y + float(line[1]))
        x = np.array([-0.05, 0.0, 0.3, 0.55, 0.75, 0.9, 1.0, 1.05])
        y = np.array([1.0, 1.0, 1.25, 1.1, 0.7, 0.25, 0.0, 0.0])
        share = float(_smooth_through(x, y, risen))
        return at_top + (self.ahead_floor_m - at_top) * share


def _smooth_through(x: Array, y: Array, at: float) -> Array:
    from scipy.interpolate import PchipInterpolator

    return np.asarray(PchipInterpolator(x, y)(np.clip(at, x[0], x[-1])))


@frozen
class Bench:
    """A bench press: a still, arched body on a bench, arms that follow the bar."""

    body: Body
    stance: Stance
    bench_m: float = 0.43
    grip_half_m: float = 0.40
    pelvis_deg: float = 4.0
    chest_deg: float = 16.0
    hip_forward_m: float = 0.0
    lying: Posed = field(init=False, eq=False)

    def __attrs_post_init__(self) -> None:
        object.__setattr__(self, "lying", self._lie())

    def _lie(self) -> Posed:
        pelvis = about(X, -90.0 + self.pelvis_deg)
        chest = about(X, -90.0 - self.chest_deg)
        head = about(X, -90.0 + 8.0)
        turns = _trunk(pelvis, chest, head)
        turns.update(_shoulders(chest, -16.0, -6.0))
        root = np.array([0.0, 0.0, 0.6])
        posed = chain(self.body, turns, root)
        trunk = self.body.follows("root", "pelvis", "spine", "clavicle", "shoulder") > 0.6
        lowest = float(posed.vertices()[trunk, 2].min())
        root = root + np.array([0.0, 0.0, self.bench_m - 0.008 - lowest])
        posed = chain(self.body, turns, root)
        for side in SIDES:
            s = sign(side)
            hip = posed.start(f"upperleg01.{side}")
            pole = np.array([s * 0.35, -0.6, 0.8])
            ankle = self.stance.ankle(self.body, side)
            turns.update(leg(self.body, side, hip, ankle, pole, self.stance.foot_turn(side)))
        return chain(self.body, turns, root)

    @property
    def shoulder_m(self) -> tuple[float, float]:
        """Place of the shoulder joints, (forward, up) m."""
        at = self.lying.start("upperarm01.L")
        return -float(at[1]), float(at[2])

    def top_m(self, bend_deg: float = 9.0, forward_m: float = 0.0) -> tuple[float, float]:
        """Place of the bar (forward, up) m with the arms nearly straight, `forward_m` from over the shoulders."""
        upper = self.body.length("upperarm01.L", "lowerarm01.L")
        fore = self.body.length("lowerarm01.L", "wrist.L")
        shoulder = self.lying.start("upperarm01.L")
        span = span_at(upper, fore, bend_deg)
        forward = self.shoulder_m[0] + forward_m
        wrist_off = self._grip("L").wrist(np.zeros(3))
        aside = self.grip_half_m + float(wrist_off[0]) - float(shoulder[0])
        along = forward_m - float(wrist_off[1])
        up = np.sqrt(span**2 - aside**2 - along**2)
        return forward, float(shoulder[2] + up - wrist_off[2])

    def chest_m(self, forward_m: float) -> float:
        """Height of the bar's axis when it lies on the chest at a place forward of the world's origin, m."""
        trunk = self.body.follows("spine", "breast", "clavicle", "shoulder01") > 0.7
        at = self.lying.vertices()
        near = trunk & (np.abs(at[:, 1] + forward_m) < 0.015) & (np.abs(at[:, 0]) < 0.12)
        return float(at[near, 2].max()) + SHAFT_RADIUS_M - 0.004

    def _grip(self, side: str) -> Grip:
        return Grip(
            reach=unit(np.array([sign(side) * 0.05, 0.30, 0.95])),
            palm=np.array([0.0, -1.0, 0.35]),
            along_m=0.062,
            out_m=0.028,
        )

    def pose(self, bar_m: tuple[float, float], hips_m: float = 0.0, shoulders_m: float = 0.0) -> Posed:
        """The body with the bar at `bar_m` (forward, up) m.

        `hips_m` is how far the hips are off the bench: the trunk turns about the shoulders. `shoulders_m` is how
        far the whole trunk has crept toward the head end; the feet stay.
        """
        lying = self._moved(hips_m, shoulders_m) if hips_m or shoulders_m else self.lying
        turns = {name: lying.turns[i] for i, name in enumerate(self.body.bones)}
        for side in SIDES:
            s = sign(side)
            held = np.array([s * self.grip_half_m, -bar_m[0], bar_m[1]])
            pole = unit(np.array([s * 0.75, -0.45, -0.55]))
            shoulder = lying.start(f"upperarm01.{side}")
            turns.update(arm(self.body, side, shoulder, held, self._grip(side), pole))
        return chain(self.body, turns, lying.starts_m[0])

    def _moved(self, hips_m: float, shoulders_m: float) -> Posed:
        """The lying body with hips raised and shoulders crept; legs follow with the feet where they stood."""
        still = self.lying
        shoulder = (still.start("upperarm01.L") + still.start("upperarm01.R")) / 2.0
        hip = (still.start("upperleg01.L") + still.start("upperleg01.R")) / 2.0
        way = float(np.hypot(*(hip - shoulder)[1:]))
        # Positive about +x takes -y (toward the feet) downward, so raising the hips turns the other way.
        turned = about(X, -float(np.degrees(np.arcsin(hips_m / way))))
        turns = {name: turned @ still.turns[i] for i, name in enumerate(self.body.bones)}
        crept = np.array([0.0, shoulders_m, 0.0])
        root = shoulder + turned @ (still.starts_m[0] - shoulder) + crept
        trunk = chain(self.body, turns, root)
        for side in SIDES:
            pole = np.array([sign(side) * 0.35, -0.6, 0.8])
            start = trunk.start(f"upperleg01.{side}")
            ankle = self.stance.ankle(self.body, side)
            turns.update(leg(self.body, side, start, ankle, pole, self.stance.foot_turn(side)))
            foot = self.body.index(f"foot.{side}")
            for i, parent in enumerate(self.body.parents):
                if parent >= foot and self.body.bones[i].endswith(f".{side}") and "toe" in self.body.bones[i]:
                    turns[self.body.bones[i]] = still.turns[i]
        return chain(self.body, turns, root)
