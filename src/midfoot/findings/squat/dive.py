"""Squat: diving into the low."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import HEIGHT_ANY, HEIGHT_FRONT

FINDING = FindingDefinition(
    id="squat_dive",
    lift="squat",
    title="The descent turns into a dive",
    what="The bar reaches a clearly higher speed on the way down than in the reference rep.",
    why="A faster descent must be caught at the bottom, where position is easiest to lose. Some lifters use it "
    "well: what matters is whether it changes within the set.",
    how=(HEIGHT_ANY, HEIGHT_FRONT),
    lies="Speed says nothing of control. Below 15 frames a second there is no speed at all.",
    signs=(
        Sign(measure="descent_peak_velocity_m_s", words="highest speed on the way down",
             said="the bar came down {size} faster than in {ref}", limit="descent_speed", as_pct=True),
    ),
    beside=(("descent_time_s", "time of the descent"), ("low_time_s", "time in the low")),
    part="descent",
    causes=(
        PossibleCause(
            id="rebound", text="The bottom is used as a spring",
            clues=(
                Clue(measure="low_time_s", worse="less", clear=0.08, says_for="less time is spent in the low",
                     says_against="as much time is spent in the low as before"),
                Clue(measure="low_height_change_mm", worse="less", clear=12.0, says_for="the low is deeper with "
                     "it"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="squat_dive_count", kind="cue", measure="descent_peak_velocity_m_s",
                       text="Pull yourself down at the pace of your first rep."),
        PossibleChange(id="squat_dive_tempo", kind="drill", measure="descent_peak_velocity_m_s",
                       text="Squats with three seconds down and a short stop at the low.", max_load_pct=70.0),
    ),
)  # fmt: skip
