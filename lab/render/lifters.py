"""Bind a course of the bar to a body: the pose at any time of a set."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from lab.render.body import Posed
from lab.render.motion import Course
from lab.render.poses import Bench, Deadlift, Squat

Array = NDArray[np.float64]


class Lifter(Protocol):
    """A lifter in a set: the body at a time."""

    @property
    def course(self) -> Course: ...

    def at(self, t_s: float) -> Posed: ...


def bar_at(course: Course, t_s: float) -> tuple[float, float]:
    """Place of the bar's middle (forward, up), m."""
    return float(course.at("forward_m", t_s)), float(course.at("up_m", t_s))


@frozen
class Squatting:
    """A squat set being done."""

    pose: Squat
    course: Course
    low_m: float

    def at(self, t_s: float) -> Posed:
        forward, up = bar_at(self.course, t_s)
        walk = float(self.course.at("walk_m", t_s))
        step, lift = self.course.at("step_m", t_s), self.course.at("lift_m", t_s)
        feet = evolve(
            self.pose.stance, step_m=(float(step[0]), float(step[1])), lift_m=(float(lift[0]), float(lift[1]))
        )
        lead = float(self.course.at("lead_deg", t_s))
        posed = self.pose.pose((forward - walk, up), self.low_m, lead, feet)
        return evolve(posed, starts_m=posed.starts_m + np.array([0.0, -walk, 0.0]))


@frozen
class Pulling:
    """A deadlift set being done; before each pull the hips come down as the slack is taken out.

    The course's `lead_deg` straightens the knees ahead of the bar; a bar let go leaves the hands.
    """

    pose: Deadlift
    course: Course
    loose_deg: float = -9.0

    def at(self, t_s: float) -> Posed:
        risen = float(self.course.at("risen", t_s))
        loose = (1.0 - float(self.course.at("ready", t_s))) * self.loose_deg
        ahead = float(self.course.at("lead_deg", t_s))
        forward, up = bar_at(self.course, t_s)
        if len(self.course.hands_up_m):
            up = float(self.course.at("hands_up_m", t_s))
        return self.pose.pose((forward, up), risen, knee_extra_deg=loose - ahead, gaze_deg=2.0)


@frozen
class Pressing:
    """A bench press set being done."""

    pose: Bench
    course: Course

    def at(self, t_s: float) -> Posed:
        hips = float(self.course.at("hips_m", t_s))
        crept = float(self.course.at("shoulders_m", t_s))
        return self.pose.pose(bar_at(self.course, t_s), hips, crept)
