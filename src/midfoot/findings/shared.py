"""Words and tests that findings of several lifts share."""

from __future__ import annotations

from midfoot.findings.definition import Clue, PossibleChange, Said, Sign
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

COMES_DOWN = Sign(
    measure="downward_movement_mm", words="height lost on the way up", against="nothing",
    said="the bar came down {size} on the way up", limit="downward",
)  # fmt: skip
BESIDE_DIPS = (
    ("whole_bar_drop_mm", "both ends of the bar coming down"),
    ("sticking_velocity_m_s", "slowest velocity in the sticking region"),
)
BESIDE_SLOWING = (
    ("sticking_velocity_m_s", "slowest velocity in the sticking region"),
    ("sticking_height_mm", "height of the slowest point"),
    ("ascent_mean_velocity_m_s", "mean velocity"),
)
FARTHER_FORWARD = Clue(
    measure="path_forward_mm", clear=12.0, says_for="the bar also goes farther forward",
    says_against="the path stays the same",
)  # fmt: skip
LIES_TILTED = Clue(
    measure="bar_tilt_deg", clear=1.0, worse="away", against="nothing",
    says_for="the bar is tilted through the whole ascent", says_against="the bar is level on the whole",
)  # fmt: skip


def heels_trial(change_id: str, measure: str) -> PossibleChange:
    """Give the trial of a heel two centimetres higher, for a finding that shows in `measure`."""
    return PossibleChange(
        id=change_id, kind="equipment", measure=measure, alters="heels", by_mm=20.0,
        text="An experiment worth trying, film both: one light set in flat shoes, and one in shoes with the heel "
        "two centimetres up, and see how far the trunk leans.", max_load_pct=60.0, max_rpe=6.0,
    )  # fmt: skip
