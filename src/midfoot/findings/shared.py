"""Words and tests that findings of several lifts share."""

from __future__ import annotations

from midfoot.findings.definition import Said
from midfoot.records.context import Context

NOT_FRONT = ("front or rear", "not told: forward and backward look alike from there")
PATH_SIDE = ("side", "the near plate's place in millimetres, each rep against the set's reference rep")
PATH_OBLIQUE = (
    "oblique",
    "the same, corrected for the camera's yaw; it must be twice as large, because depth and forward travel mix",
)
HEIGHT_ANY = ("side or oblique", "the bar's height, each rep against the set; yaw does not disturb heights")
HEIGHT_FRONT = ("front or rear", "the same with wider errors, so at most likely")
TIME_ANY = ("any view", "the clip's own timestamps at the moments of the reps")
JOINTS_SIDE = ("side", "joints of the near side, as far as the plate leaves them in view")
JOINTS_OBLIQUE = (
    "oblique",
    "the same with wider errors, so at most likely; not given from far to one side",
)
SIDE_ONLY = ("other views", "not told")
FRONT_ONLY = ("front or rear", "both sides of the body in the picture")
NOT_SIDE = ("side", "not told: one side of the body hides the other")
ALONG_BENCH = ("toward the feet", "toward the head")
FORE_AFT = ("forward", "back")
ENDS = ("near", "far")
VERY_HARD_RPE = 9.0


def hard(context: Context) -> str:
    """Say that the set was very hard, when that was said."""
    rpe = context.effort_rpe
    return f"it was said to be RPE {rpe:g}, and a set that hard slows by itself" if very_hard(context) else ""


def very_hard(context: Context) -> bool:
    """Tell whether a very hard set was reported: RPE 9 or more, one rep left or none."""
    return context.effort_rpe is not None and context.effort_rpe >= VERY_HARD_RPE


HARD_SET = Said(test=hard)
