"""Squat: a rep ends short of the lifter's own standing height."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import HEIGHT_ANY, HEIGHT_FRONT, JOINTS_SIDE

FINDING = FindingDefinition(
    id="squat_soft_lockout",
    lift="squat",
    title="A rep ends before it is locked out",
    what="The bar is held lower after the ascent than after the set's tallest rep, or the knees stay bent.",
    why="Rulebooks ask for an upright stand with knees locked at the start and the finish.",
    how=(HEIGHT_ANY, HEIGHT_FRONT, JOINTS_SIDE),
    lies="A lifter who stands with other feet, or a bar that still swings, is some millimetres off with straight "
    "knees.",
    sources=("rulebooks: upright with knees locked at start and finish",),
    signs=(
        Sign(measure="lockout_shortfall_mm", words="held below the set's tallest lockout", against="nothing",
             said="the bar was held {size} below the set's tallest lockout", limit="lockout_shortfall",
             of_extreme=True),
        Sign(measure="knee_lockout_gap_deg", words="bend left in the near knee",
             said="the near knee stayed {size} more bent than in {ref}", limit="knee_gap", most="hint"),
    ),
    part="finish",
    causes=(
        PossibleCause(
            id="soft_knees", text="The knees stay soft",
            clues=(
                Clue(measure="knee_lockout_gap_deg", clear=6.0, against="nothing",
                     says_for="the near knee stays bent", says_against="the near knee is as straight as it gets"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="squat_lockout_tall", kind="cue", measure="lockout_shortfall_mm",
                       text="Stand all the way up, knees straight, before the next breath."),
        PossibleChange(id="squat_lockout_wait", kind="drill", measure="lockout_shortfall_mm",
                       text="Hold every lockout for a full second in training.", max_load_pct=80.0),
    ),
)  # fmt: skip
