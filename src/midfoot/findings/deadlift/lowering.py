"""Deadlift: the bar is let fall."""

from midfoot.findings.definition import FindingDefinition, PossibleChange, Sign
from midfoot.findings.shared import TIME_ANY

FINDING = FindingDefinition(
    id="deadlift_lowering",
    lift="deadlift",
    title="The lowering gets hasty",
    what="The bar comes down in clearly less time than in the reference rep.",
    why="Rulebooks ask for both hands in control of the bar until it lies. A bar that is thrown down rolls, and "
    "the next rep starts elsewhere.",
    how=(TIME_ANY,),
    lies="On a platform where bars may be dropped after the signal it means little in training.",
    sources=("rulebooks: the bar is returned under the control of both hands",),
    signs=(
        Sign(measure="descent_time_s", words="time of the lowering", worse="less",
             said="the lowering took {size} less time than in {ref}", limit="lowering_speed", as_pct=True),
    ),
    beside=(("start_shift_mm", "shift of the bar's place on the floor"),),
    part="finish",
    changes=(
        PossibleChange(id="deadlift_lowering_follow", kind="cue", measure="descent_time_s", direction="more",
                       text="Follow the bar down, hips back first, hands on it until it lies still."),
    ),
)  # fmt: skip
