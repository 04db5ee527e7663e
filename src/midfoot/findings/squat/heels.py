"""Squat: the heels come up."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="squat_heels_up",
    lift="squat",
    title="The heels come up",
    what="The near heel rises against the toes more than in the reference rep.",
    why="A heel that leaves the floor moves the pressure to the toes, and the bar tends to follow.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="Heels are small and shoes hide them. From the side it is never sure.",
    signs=(
        Sign(measure="heel_lift_mm", words="near heel against the toes",
             said="the near heel rose {size} more than in {ref}", limit="heel_lift", most="likely"),
    ),
    beside=(
        ("shank_angle_low_deg", "shank at the low"),
        ("path_forward_mm", "forward of the low on the way up"),
    ),
    part="low",
    needs_bar=False,
    causes=(
        PossibleCause(
            id="shanks_forward", text="The shanks lean farther than the ankles allow",
            clues=(
                Clue(measure="shank_angle_low_deg", clear=5.0, says_for="the shanks lean farther forward at the "
                     "low",
                     says_against="the shanks lean as before"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="squat_heels_press", kind="cue", measure="heel_lift_mm",
                       text="Feel the heels on the floor all the way down and out of the bottom."),
        PossibleChange(id="squat_heels_shoes", kind="equipment", measure="heel_lift_mm",
                       alters="heels", by_mm=20.0,
                       text="An experiment worth trying, film both: one light set "
                       "in flat shoes, and one in shoes with the heel "
                       "two centimetres up.", max_load_pct=60.0, max_rpe=6.0),
    ),
)  # fmt: skip
