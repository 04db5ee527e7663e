"""Squat: position lost before the first rep."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import PATH_OBLIQUE, SIDE_ONLY

FINDING = FindingDefinition(
    id="squat_unsettled_start",
    lift="squat",
    title="The position is not settled before the descent",
    what="The bar still travels forward and back in the last second before a descent, or the walkout takes many "
    "steps.",
    why="A squat that starts from a moving bar starts from another place each time, and steps cost strength.",
    how=(("side", "travel of the bar in the last second of the hold; steps of the near foot between unrack and "
          "first rep"), PATH_OBLIQUE, SIDE_ONLY),
    lies="A lifter who takes a big breath rocks the bar by 10-15 mm. A clip that begins after the walkout shows "
    "no steps. Hand-held phones add sway.",
    sources=("rulebooks: the lifter stands motionless with knees locked before the signal",),
    signs=(
        Sign(measure="hold_sway_mm", words="travel of the bar in the last second before the descent",
             against="nothing",
             said="the bar still travelled {size} in the second before the descent", limit="hold_sway"),
        Sign(measure="walkout_steps_count", words="steps of the near foot in the walkout", against="nothing",
             of_set=True,
             said="the near foot took {size} steps in the walkout", limit="walkout_steps", most="likely"),
    ),
    beside=(("wait_before_time_s", "time since the rep before"), ("start_shift_mm", "shift of the start")),
    part="start",
    changes=(
        PossibleChange(id="squat_start_breathe", kind="cue", measure="hold_sway_mm",
                       text="Stand, breathe, brace, and go down only when the bar is still."),
        PossibleChange(id="squat_start_steps", kind="setup", measure="walkout_steps_count",
                       text="Practise the walkout with the warm-ups: one step back with each foot, one to set "
                       "the stance.", max_load_pct=70.0),
    ),
)  # fmt: skip
