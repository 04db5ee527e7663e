"""Squat: hands, elbows and shoulders under the bar change."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import FRONT_ONLY, NOT_SIDE

FINDING = FindingDefinition(
    id="squat_grip_elbows",
    lift="squat",
    title="Hands, elbows or shoulders change under the bar",
    what="Between reps the forearms point elsewhere, the hands move on the bar, or the shoulders creep up to the "
    "ears.",
    why="Hands, elbows and upper back hold the bar in its place. What changes there during a set lets the bar "
    "move.",
    how=(FRONT_ONLY, ("oblique", "the hands' distance on the bar, with wide errors"), NOT_SIDE),
    lies="Forearms that point at the camera have no direction in the picture. Nodding the head looks like "
    "shrugging.",
    signs=(
        Sign(measure="forearm_sideways_deg", words="forearms from the vertical", worse="away",
             said="the forearms stood {size} {way} than in {ref}", ways=("farther out", "farther in"),
             limit="forearms_out", most="likely"),
        Sign(measure="grip_width_mm", words="distance between the forefingers", worse="away",
             said="the hands stood {size} {way} on the bar than in {ref}", ways=("farther apart", "closer"),
             limit="grip", most="likely"),
        Sign(measure="shrug_change_mm", words="shoulders nearer to the ears", worse="more", against="nothing",
             said="the shoulders came {size} nearer to the ears than at the first start", limit="shrug",
             most="likely"),
    ),
    part="start",
    needs_bar=False,
    changes=(
        PossibleChange(id="squat_grip_same", kind="setup", measure="grip_width_mm", direction="same", share=0.0,
                       text="Take the same marks of the bar in every set, and set the upper back before the "
                       "unrack.",
                       alters=""),
        PossibleChange(id="squat_grip_width", kind="setup", measure="forearm_sideways_deg", direction="same",
                       share=0.5,
                       text="As an experiment, film one light set a finger wider and one a finger narrower, and "
                       "keep what holds the bar still.", alters="grip", max_load_pct=60.0, max_rpe=6.0),
    ),
)  # fmt: skip
