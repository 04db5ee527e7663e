"""Deadlift: the bar dips or the knees bend again before the top: one event."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import HEIGHT_ANY, HEIGHT_FRONT, JOINTS_SIDE

FINDING = FindingDefinition(
    id="deadlift_bar_dips",
    lift="deadlift",
    title="The bar dips or the knees bend again before the top",
    what="Before the lockout the bar loses height it had reached, or the knees unlock again under it.",
    why="Rulebooks fault downward movement before the top and supporting the bar on the thighs.",
    how=(HEIGHT_ANY, HEIGHT_FRONT, JOINTS_SIDE),
    lies="Within 0.4 s of lift-off and lockout plates swing and bars bend, so a drop counts there only when the "
    "wrists come down too. Settling as the shoulders come back is allowed. Whether the thighs carry the bar is "
    "not seen from the side. The referee decides.",
    sources=("rulebooks: no downward movement before the final position; settling as the shoulders come back is "
             "excused; supporting the bar on the thighs is a fault",),
    signs=(
        Sign(measure="downward_movement_mm", words="height lost before the top", against="nothing",
             said="the bar came down {size} before the top", limit="downward"),
        Sign(measure="knee_rebend_deg", words="near knee bending again", against="nothing",
             said="the near knee bent again by {size}", limit="knee_rebend", most="likely"),
    ),
    beside=(
        ("path_forward_mm", "forward of lift-off"),
        ("sticking_velocity_m_s", "slowest velocity in the sticking region"),
    ),
    causes=(
        PossibleCause(
            id="bar_away", text="The bar is away from the body and has to be brought in",
            clues=(
                Clue(measure="path_forward_mm", clear=12.0, says_for="the bar goes farther forward in the pull",
                     says_against="the bar keeps its path"),
            ),
        ),
        PossibleCause(
            id="knees_again", text="The knees come under the bar again",
            clues=(
                Clue(measure="knee_rebend_deg", clear=8.0, against="nothing", says_for="the near knee bends again",
                     says_against="the near knee keeps straightening"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="deadlift_dips_hips", kind="cue", measure="downward_movement_mm",
                       text="Above the knee push the hips through and keep the knees where they are."),
        PossibleChange(id="deadlift_dips_blocks", kind="drill", measure="downward_movement_mm",
                       text="Pulls from blocks just below the knee, one smooth line to the top.",
                       max_load_pct=85.0,
                       max_rpe=8.0),
        PossibleChange(id="deadlift_dips_lighter", kind="load", measure="downward_movement_mm", share=0.8,
                       text="Stop the set one rep earlier, or take 5 % off, until every rep keeps rising.",
                       max_load_pct=95.0, max_rpe=8.0),
    ),
)  # fmt: skip
