"""Deadlift: short or soft lockout."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import HEIGHT_ANY, HEIGHT_FRONT, JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="deadlift_short_lockout",
    lift="deadlift",
    title="The lockout is short",
    what="At the top the bar is held lower than at the set's tallest lockout, or knees or hips stay bent.",
    why="Rulebooks ask for an erect stand with knees straight and shoulders back at the top.",
    how=(HEIGHT_ANY, HEIGHT_FRONT, JOINTS_SIDE, JOINTS_OBLIQUE),
    lies="A rep with shrugged shoulders makes the others look short. From the side the plate covers the hip at "
    "the top.",
    sources=("rulebooks: standing erect, knees locked, shoulders back",),
    signs=(
        Sign(measure="lockout_shortfall_mm", words="held below the set's tallest lockout", against="nothing",
             said="the bar was held {size} below the set's tallest lockout", limit="lockout_shortfall",
             of_extreme=True),
        Sign(measure="knee_lockout_gap_deg", words="bend left in the near knee",
             said="the near knee stayed {size} more bent than in {ref}", limit="knee_gap", most="likely"),
        Sign(measure="hip_lockout_gap_deg", words="bend left in the near hip",
             said="the near hip stayed {size} more bent than in {ref}", limit="knee_gap", most="likely"),
    ),
    beside=(("top_time_s", "time at the top"), ("body_lean_top_deg", "lean at the top")),
    part="finish",
    causes=(
        PossibleCause(
            id="soft_knees", text="The knees stay soft",
            clues=(
                Clue(measure="knee_lockout_gap_deg", clear=6.0, says_for="the near knee stays more bent",
                     says_against="the near knee is as straight as before"),
            ),
        ),
        PossibleCause(
            id="hips_not_through", text="The hips are not through",
            clues=(
                Clue(measure="hip_lockout_gap_deg", clear=6.0, says_for="the near hip stays more bent",
                     says_against="the near hip is as straight as before"),
                Clue(measure="body_lean_top_deg", clear=3.0, says_for="the body leans farther forward at the top",
                     says_against="the body stands as before"),
            ),
        ),
        PossibleCause(
            id="hurried", text="The top is hurried",
            clues=(
                Clue(measure="top_time_s", worse="less", clear=0.15, says_for="less time is spent at the top",
                     says_against="as much time is spent at the top"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="deadlift_lockout_squeeze", kind="cue", measure="lockout_shortfall_mm",
                       text="Stand tall, knees straight and hips to the bar, then wait for a count of one."),
        PossibleChange(id="deadlift_lockout_hold", kind="drill", measure="lockout_shortfall_mm",
                       text="Hold every lockout for two seconds.", max_load_pct=80.0),
        PossibleChange(id="deadlift_lockout_blocks", kind="drill", measure="lockout_shortfall_mm",
                       text="Pulls from blocks at knee height, each one finished tall.", max_load_pct=90.0,
                       max_rpe=8.0),
    ),
)  # fmt: skip
