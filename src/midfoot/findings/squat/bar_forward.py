"""Squat: the bar goes forward on the way up."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import NOT_FRONT, PATH_OBLIQUE, PATH_SIDE, heels_trial

FINDING = FindingDefinition(
    id="squat_bar_forward",
    lift="squat",
    title="The bar goes forward out of the bottom",
    what="On the way up the bar leaves the vertical through the low point farther forward than in the lifter's "
    "reference rep.",
    why="A bar that runs ahead of the feet has to be brought back on the way up. The lifter's own straighter rep "
    "shows the way.",
    how=(PATH_SIDE, PATH_OBLIQUE, NOT_FRONT),
    lies="A camera that is not level tilts every path alike, so only differences between reps count; a bar that "
    "stays behind its own vertical does not go forward. A lifter who turns a little on the spot looks as if the "
    "bar moved.",
    signs=(
        Sign(measure="path_forward_mm", words="forward of the low point on the way up",
             said="the bar went {size} farther forward on the way up than in {ref}", limit="forward_drift",
             chance_by="path_departure_mm"),
        # In sets that were measured before there was the first measure.
        Sign(measure="path_departure_mm", words="from the vertical through the low point on the way up",
             said="the bar went {size} farther forward on the way up than in {ref}", limit="forward_drift",
             most="likely"),
    ),
    join="first_seen",
    beside=(
        ("hip_lead_ratio", "hip rise against bar rise"),
        ("trunk_angle_slowest_deg", "trunk at the slowest point"),
        ("path_at_low_mm", "forward at the low"),
    ),
    causes=(
        PossibleCause(
            id="hips_lead", text="The hips rise faster than the bar",
            clues=(
                Clue(measure="hip_lead_ratio", clear=0.10, says_for="the hips rise more for each millimetre of "
                     "the bar",
                     says_against="hips and bar rise together as in the reference rep"),
                Clue(measure="trunk_angle_slowest_deg", clear=6.0, says_for="the trunk leans more at the slowest "
                     "point",
                     says_against="the trunk leans as in the reference rep"),
            ),
        ),
        PossibleCause(
            id="forward_at_low", text="The bar is already forward when it turns round",
            clues=(
                Clue(measure="path_at_low_mm", clear=12.0, says_for="the low itself lies farther forward",
                     says_against="the low lies where it did"),
            ),
        ),
        PossibleCause(
            id="onto_toes", text="The weight goes onto the toes",
            clues=(
                Clue(measure="heel_lift_mm", clear=30.0, says_for="the heels come up more"),
                Clue(measure="shank_angle_low_deg", clear=6.0, says_for="the shanks lean farther forward at the "
                     "low",
                     says_against="the shanks lean as before"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="squat_forward_back_into_bar", kind="cue", measure="path_forward_mm",
                       text="Out of the bottom, push your upper back into the bar and let chest and hips rise "
                       "together."),
        PossibleChange(id="squat_forward_tempo", kind="drill", measure="path_forward_mm",
                       text="Squats with three seconds up through the first third, the bar over the middle of "
                       "the foot.",
                       max_load_pct=70.0),
        PossibleChange(id="squat_forward_lighter", kind="load", measure="path_forward_mm", share=0.7,
                       text="Use the heaviest weight at which the bar still goes straight up, and build from "
                       "there.",
                       max_load_pct=90.0, max_rpe=8.0),
        heels_trial("squat_forward_heels", "path_forward_mm"),
    ),
)  # fmt: skip
