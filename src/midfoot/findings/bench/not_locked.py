"""Bench press: a rep ends before the arms are straight."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import HEIGHT_ANY, HEIGHT_FRONT, JOINTS_SIDE

FINDING = FindingDefinition(
    id="bench_not_locked",
    lift="bench",
    title="A rep ends before the arms are straight",
    what="The bar is held lower after the press than after the set's tallest lockout, or the near elbow stays "
    "bent.",
    why="Rulebooks ask for elbows locked at the start and at the end.",
    how=(HEIGHT_ANY, HEIGHT_FRONT, JOINTS_SIDE),
    lies="Shoulders that were pushed up in one rep make the others look short. The plate often covers the wrist, "
    "which leaves the elbow to bones.",
    sources=("rulebooks: arms straight with elbows locked",),
    signs=(
        Sign(measure="lockout_shortfall_mm", words="held below the set's tallest lockout", against="nothing",
             said="the bar was held {size} below the set's tallest lockout", limit="lockout_shortfall",
             of_extreme=True),
        Sign(measure="elbow_lockout_gap_deg", words="bend left in the near elbow",
             said="the near elbow stayed {size} more bent than in {ref}", limit="elbow_gap", most="likely"),
    ),
    part="finish",
    causes=(
        PossibleCause(
            id="soft_elbows", text="The elbows stay bent",
            clues=(
                Clue(measure="elbow_lockout_gap_deg", clear=10.0, says_for="the near elbow stays more bent",
                     says_against="the near elbow is as straight as before"),
            ),
        ),
        PossibleCause(
            id="shoulders", text="The shoulders give way or were pushed up in another rep",
            clues=(
                Clue(measure="elbow_lockout_gap_deg", worse="less", clear=10.0,
                     says_for="the near elbow is straighter and the bar still lower"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="bench_locked_finish", kind="cue", measure="lockout_shortfall_mm",
                       text="Finish every rep with straight elbows, then breathe."),
        PossibleChange(id="bench_locked_hold", kind="drill", measure="lockout_shortfall_mm",
                       text="Hold each lockout for a full second.", max_load_pct=80.0),
    ),
)  # fmt: skip
