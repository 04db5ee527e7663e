"""Squat: a rep is less deep than the lifter's own."""

from midfoot.findings.definition import Clue, FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.shared import HEIGHT_ANY, HEIGHT_FRONT

FINDING = FindingDefinition(
    id="squat_shallower",
    lift="squat",
    title="Depth gets less",
    what="The low of a rep stays higher than the low of the lifter's own reference rep in the same set.",
    why="Depth that shrinks under load is decided by the referees' eyes on the day. The lifter's own deeper rep "
    "shows that the depth is there.",
    how=(HEIGHT_ANY, HEIGHT_FRONT, ("side", "the near hip's height beside it, where the plate leaves the hip in "
                                    "view")),
    lies="The bar also stays higher when the trunk stays more upright at the same depth of the hips, and comes "
    "lower when the trunk tips. Where the hip is seen, its own height is shown beside the bar's.",
    signs=(
        Sign(measure="low_height_change_mm", words="low above the set's lowest low",
             said="the bar turned round {size} higher than in {ref}", limit="depth_change"),
        Sign(measure="depth_change_mm", words="hip above the set's lowest hip",
             said="the hips turned round {size} higher than in {ref}", limit="depth_change", most="likely"),
    ),
    beside=(("squat_depth_mm", "hip below the knee, by joint centres"), ("low_time_s", "time in the low")),
    part="low",
    causes=(
        PossibleCause(
            id="turns_early", text="The turn comes before the depth is reached",
            clues=(
                Clue(measure="low_time_s", worse="less", clear=0.10, says_for="less time is spent in the low",
                     says_against="as much time is spent in the low as before"),
                Clue(measure="descent_peak_velocity_m_s", worse="less", clear=0.08,
                     says_for="the descent is slower, as if braked early"),
            ),
        ),
        PossibleCause(
            id="trunk_upright", text="The trunk stays more upright at the same depth of the hips",
            clues=(
                Clue(measure="depth_change_mm", worse="more", clear=25.0,
                     says_for="", says_against="the hips themselves are higher too"),
                Clue(measure="trunk_angle_low_deg", worse="less", clear=6.0,
                     says_for="the trunk leans less at the low", says_against="the trunk leans as before"),
            ),
        ),
    ),
    changes=(
        PossibleChange(id="squat_shallower_touch", kind="setup", measure="low_height_change_mm", share=0.6,
                       text="Set a band or a soft box just below your own best depth, and touch it in every rep "
                       "of the warm-ups.", max_load_pct=75.0),
        PossibleChange(id="squat_shallower_pause", kind="drill", measure="low_height_change_mm", share=0.6,
                       text="Pause squats: two seconds at your own deepest low, then up.", max_load_pct=70.0),
        PossibleChange(id="squat_shallower_sit", kind="cue", measure="low_height_change_mm",
                       text="Finish the way down before you think of the way up."),
    ),
)  # fmt: skip
