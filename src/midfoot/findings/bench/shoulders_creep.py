"""Bench press: shoulders and hips creep along the bench."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import ALONG_BENCH, JOINTS_OBLIQUE, JOINTS_SIDE

FINDING = FindingDefinition(
    id="bench_body_creeps",
    lift="bench",
    title="Shoulders or hips creep along the bench",
    what="From rep to rep the near shoulder or hip lies elsewhere along the bench than at the first start.",
    why="The rack, the touch point and the leg drive were set for the first place. A body that creeps changes "
    "all three.",
    how=(JOINTS_SIDE, JOINTS_OBLIQUE, ("front or rear", "not told")),
    lies="Below 10 mm the network's own scatter is as large. The shoulder is read at the lockouts, because the "
    "plate covers it at the touch.",
    signs=(
        Sign(measure="shoulder_shift_mm", words="shoulder toward the feet of the first start", worse="away",
             against="nothing", said="the shoulders lay {size} {way} from their place at the first start",
             ways=ALONG_BENCH,
             limit="body_creep"),
        Sign(measure="hip_shift_mm", words="hip toward the feet of the first start", worse="away",
             against="nothing",
             said="the hips lay {size} {way} from their place at the first start", ways=ALONG_BENCH,
             limit="body_creep"),
    ),
    beside=(("touch_point_mm", "touch from the shoulder"), ("feet_shift_mm", "shift of the near foot")),
    part="finish",
    needs_bar=False,
    causes=(
        PossibleCause(
            id="leg_drive", text="The legs push the body along the bench instead of into it",
            clues=(
                Clue(measure="feet_shift_mm", clear=30.0, worse="away", against="nothing",
                     says_for="the feet move too", says_against="the feet stay where they are"),
                Clue(measure="hip_shift_mm", clear=15.0, worse="away", against="nothing",
                     says_for="hips and shoulders move together"),
            ),
        ),
        PossibleCause(
            id="unrack", text="The position was lost in the unrack already",
            clues=(
                Clue(measure="unrack_shoulder_shift_mm", clear=20.0, worse="away", against="nothing",
                     says_for="the shoulders shifted by the unrack", says_against="the unrack left them in place"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="bench_creep_reset", kind="cue", measure="shoulder_shift_mm", direction="zero",
                       text="Between reps put the shoulder blades back and press them into the bench before the "
                       "next descent."),
        PossibleChange(id="bench_creep_grip_bench", kind="equipment", measure="shoulder_shift_mm",
                       direction="zero",
                       text="Chalk on the upper back, or a bench cover that grips, and compare one set."),
        PossibleChange(id="bench_creep_legs", kind="drill", measure="shoulder_shift_mm", direction="zero",
                       text="Sets of three with the feet pressed down and slightly forward, not back, the hips "
                       "staying on their spot.", max_load_pct=75.0),
    ),
)  # fmt: skip
