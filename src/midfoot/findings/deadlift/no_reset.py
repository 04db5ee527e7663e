"""Deadlift: less time to reset between reps."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import TIME_ANY

FINDING = FindingDefinition(
    id="deadlift_no_reset",
    lift="deadlift",
    title="The reset between reps gets short",
    what="The time between the bar lying and the next pull is clearly shorter than before the reference rep.",
    why="A short reset leaves less time to find the start again. In touch-and-go sets it means nothing.",
    how=(TIME_ANY,),
    lies="A touch-and-go set has none by intention. A clip with cuts shortens it.",
    signs=(
        Sign(measure="wait_before_time_s", words="time since the rep before", worse="less",
             said="there was {size} less time before the pull than before {ref}", limit="reset", as_pct=True,
             most="likely"),
    ),
    beside=(
        ("hip_height_liftoff_mm", "hip above the bar at lift-off"),
        ("slack_time_s", "time taken for the slack"),
    ),
    part="start",
    causes=(
        PossibleCause(
            id="start_suffers", text="The start suffers from it",
            clues=(
                Clue(measure="hip_height_liftoff_mm", worse="away", clear=25.0,
                     says_for="the hips stand elsewhere at lift-off", says_against="the start stays the same"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="deadlift_reset_breath", kind="cue", measure="wait_before_time_s", direction="more",
                       text="One full breath and a new brace before every pull."),
    ),
)  # fmt: skip
