"""Deadlift: the bar leaves the body."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import NOT_FRONT, PATH_OBLIQUE, PATH_SIDE

FINDING = FindingDefinition(
    id="deadlift_bar_leaves",
    lift="deadlift",
    title="The bar swings away from the body",
    what="In the pull the bar goes farther forward of its place at lift-off than in the reference rep.",
    why="Every centimetre that the bar is away from the legs lengthens the arm at hips and back.",
    how=(PATH_SIDE, PATH_OBLIQUE, NOT_FRONT),
    lies="A camera that is not level tilts every path alike, so only differences count; a bar that stays behind "
    "its own vertical does not go forward. A bar that rolls before it leaves changes where the rep begins.",
    signs=(
        Sign(measure="path_forward_mm", words="forward of lift-off in the pull",
             said="the bar went {size} farther forward in the pull than in {ref}", limit="forward_drift",
             chance_by="path_departure_mm"),
        # In sets that were measured before there was the first measure.
        Sign(measure="path_departure_mm", words="from the vertical through lift-off in the pull",
             said="the bar went {size} farther forward in the pull than in {ref}", limit="forward_drift",
             most="likely"),
    ),
    join="first_seen",
    beside=(
        ("hip_lead_ratio", "hip rise against bar rise"),
        ("start_shift_mm", "shift of the bar's place on the floor"),
        ("knee_angle_start_deg", "knee flexion at lift-off"),
    ),
    causes=(
        PossibleCause(
            id="start_forward", text="The bar starts farther from the shins",
            clues=(
                Clue(measure="start_shift_mm", clear=15.0, against="nothing",
                     says_for="the bar lay farther forward on the floor than in the first rep",
                     says_against="the bar lay where it lay in the first rep"),
            ),
        ),
        PossibleCause(
            id="hips_lead", text="The hips shoot up and the bar swings out",
            clues=(
                Clue(measure="hip_lead_ratio", clear=0.10, says_for="the hips rise more for each millimetre of "
                     "the bar",
                     says_against="hips and bar rise together as in the reference rep"),
            ),
        ),
        PossibleCause(
            id="knees_in_the_way", text="The knees stand in the bar's way and push it out",
            clues=(
                Clue(measure="knee_angle_start_deg", clear=8.0, says_for="the knees are more bent at lift-off",
                     says_against="the knees are bent as before"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="deadlift_leaves_lats", kind="cue", measure="path_forward_mm",
                       text="Sweep the bar back into the legs with straight arms, from the floor to the lockout."),
        PossibleChange(id="deadlift_leaves_start", kind="setup", measure="path_forward_mm",
                       text="Start every rep with the bar over the middle of the foot, and walk back to it when "
                       "it rolls."),
        PossibleChange(id="deadlift_leaves_pause", kind="drill", measure="path_forward_mm",
                       text="Pulls with a two-second stop at mid-shin, the bar touching.", max_load_pct=70.0),
    ),
)  # fmt: skip
